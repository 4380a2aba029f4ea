"""A book of a test's own, where `run` looks for it."""

import shutil

import pytest


@pytest.fixture
def book(kept, tmp_path):
    """A copy of the kept book: sweep 1 fresh, sweep 2 later, with a dead string and a false one."""
    return shutil.copytree(kept, tmp_path / "book")

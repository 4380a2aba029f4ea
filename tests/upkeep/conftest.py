"""A book with one pedal harp, of which nothing is recorded yet."""

import pytest

from toneprobe.book.stringing import add_harp
from toneprobe.instrument import load_instrument


@pytest.fixture
def book(empty_book):
    return empty_book


@pytest.fixture
def harp(book):
    return add_harp(book, "Wren", load_instrument("pedal-47"))

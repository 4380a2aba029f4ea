"""A file is there whole, or as it was before."""

import errno
import os
import sqlite3

import pytest

from toneprobe.book.disk import whole_file
from toneprobe.book.faults import describe


def test_what_fails_half_way_leaves_the_old_file_and_nothing_beside_it(tmp_path):
    path = tmp_path / "kept" / "file.json"
    with whole_file(path) as part:
        part.write_text("old")
    with pytest.raises(RuntimeError), whole_file(path) as part:
        part.write_text("new, but")
        raise RuntimeError
    assert path.read_text() == "old" and list(path.parent.iterdir()) == [path]


def test_a_full_disk_is_told_alike_whether_the_tables_or_a_file_beside_them_cannot_grow():
    full = sqlite3.OperationalError("database or disk is full")
    full.sqlite_errorname = "SQLITE_FULL"
    assert describe(OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))) == describe(full) == "cannot be written: the disk is full"

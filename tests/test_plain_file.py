"""Files that somebody names are written whole or not at all."""

import errno
import os

import pytest

from toneprobe.plain_file import write_whole


def test_what_cannot_be_written_leaves_the_old_file_and_nothing_beside_it(tmp_path, monkeypatch):
    """The disk is full in the midst of it (an error put in here)."""
    path = tmp_path / "page.html"
    path.write_bytes(b"old")
    path.chmod(0o640)

    def full(*arguments):
        raise OSError(errno.ENOSPC, "No space left on device")

    for target in (path, tmp_path / "new.html"):
        with monkeypatch.context() as patch, pytest.raises(OSError, match="No space left"):
            patch.setattr("os.replace", full)
            write_whole(b"new", target)
    assert path.read_bytes() == b"old" and os.listdir(tmp_path) == ["page.html"]
    write_whole(b"new", path)
    assert path.read_bytes() == b"new" and path.stat().st_mode & 0o777 == 0o640 and os.listdir(tmp_path) == ["page.html"]


def test_through_a_link_the_file_is_written_that_it_leads_to(tmp_path):
    (tmp_path / "link.html").symlink_to(tmp_path / "page.html")
    write_whole(b"new", tmp_path / "link.html")
    assert (tmp_path / "link.html").is_symlink() and (tmp_path / "page.html").read_bytes() == b"new"

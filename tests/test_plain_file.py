"""Files that somebody names are written whole or not at all."""

import errno
import os
from pathlib import Path

import pytest

from toneprobe.plain_file import open_plain, read_octets, write_whole


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


def test_a_new_file_may_be_read_by_whom_this_computer_lets_read_new_files(tmp_path):
    """As any program's: what POSIX's umask leaves of 0666 (open, 2)."""
    mask = os.umask(0o027)
    try:
        write_whole(b"new", tmp_path / "page.html")
    finally:
        assert os.umask(mask) == 0o027  # asked, and left as it was
    assert (tmp_path / "page.html").stat().st_mode & 0o777 == 0o640


def test_a_device_is_written_to_as_it_stands(monkeypatch):
    monkeypatch.setattr("os.replace", None)
    write_whole(b"gone", Path(os.devnull))
    assert Path(os.devnull).is_char_device()


@pytest.mark.parametrize(("most", "octets"), [(2, None), (3, b"abc"), (4, b"abc")])
def test_all_octets_of_a_file_are_read_up_to_so_many(tmp_path, most, octets):
    (tmp_path / "harp.toml").write_bytes(b"abc")
    assert read_octets(tmp_path / "harp.toml", most=most) == octets


@pytest.mark.parametrize(("name", "why"), [(".", "it is a folder"), (os.devnull, "it is not a file"), ("none", os.strerror(errno.ENOENT))])
def test_what_is_no_plain_file_is_not_opened(tmp_path, name, why):
    with pytest.raises(OSError) as refused:
        open_plain(tmp_path / name)
    assert refused.value.strerror == why


def test_through_a_link_the_file_is_written_that_it_leads_to(tmp_path):
    (tmp_path / "link.html").symlink_to(tmp_path / "page.html")
    write_whole(b"new", tmp_path / "link.html")
    assert (tmp_path / "link.html").is_symlink() and (tmp_path / "page.html").read_bytes() == b"new"

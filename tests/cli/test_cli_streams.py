"""A reader who has seen enough (`… | head -1`) ends no command: it is quiet, ends as done, and has written all that it was to write."""

import os
import shutil
import subprocess
import sys

import pytest

PROGRAM = [sys.executable, "-c", "from toneprobe.cli import main; main()"]


def unread(*arguments, stream="stdout", **given):
    """Run the program with nobody at the other end of that stream: every write to it fails from the first one on."""
    reading, writing = os.pipe()
    os.close(reading)
    other = {"stdout": "stderr", "stderr": "stdout"}[stream]
    try:
        return subprocess.run([*PROGRAM, *map(str, arguments)], text=True, **{stream: writing, other: subprocess.PIPE}, **given)
    finally:
        os.close(writing)


@pytest.fixture
def book(kept, tmp_path, monkeypatch):
    monkeypatch.delenv("TONEPROBE_DEBUG", raising=False)
    return shutil.copytree(kept, tmp_path / "book")


@pytest.mark.parametrize("arguments, words", [
    (["--help"], ""), (["log"], ""), (["log", "export"], "12 entries written.\n"),
])
def test_a_command_that_nobody_reads_to_its_end_is_quiet_and_done(book, arguments, words):
    more = [] if arguments[0].startswith("--") else ["--book", book]
    done = unread(*arguments, *more)
    assert (done.returncode, done.stderr) == (0, words)  # with machine output on standard output the words are on standard error


def test_a_reports_page_and_picture_are_written_although_its_table_is_not_read(book):
    for old in (book / "reports").iterdir():
        old.unlink()
    done = unread("report", "--book", book)
    assert (done.returncode, done.stderr) == (0, "")
    written = sorted(path.name for path in (book / "reports").iterdir())
    assert written == ["2024-09-07-sweep-2.html", "2024-09-07-sweep-2.png"]


def test_a_refusal_that_nobody_reads_keeps_its_code(book):
    assert unread("report", "--sweep", 99, "--book", book, stream="stderr").returncode == 2

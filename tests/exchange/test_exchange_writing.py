"""What may be written over: an older report, never what is there only once."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from toneprobe.errors import ToneprobeError
from toneprobe.exchange.writing import require_targets, write_json

FIXTURES = Path(__file__).parents[2] / "fixtures"


def book(path):
    with closing(sqlite3.connect(path)) as tables, tables:
        tables.execute("CREATE TABLE book (id INTEGER)")


@pytest.mark.parametrize("make", [book, *(lambda path, name=name: shutil.copy(FIXTURES / name, path) for name in (
    "three_plucks.flac", "three_plucks.m4a", "three_plucks_inverted_stereo.wav"))])
def test_no_recording_and_no_book_is_written_over(tmp_path, make):
    """One letter too few, and last month's sound would be gone for good."""
    path = tmp_path / "march"
    make(path)
    before = path.read_bytes()
    for write in (require_targets, lambda target: write_json({}, target)):
        with pytest.raises(ToneprobeError, match="cannot be written: a recording, a book or another file that is no text lies there"):
            write(str(path))
    assert path.read_bytes() == before and list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("older", [b"", b'{"schema": "toneprobe.plan/1"}\n', b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", b"%PDF-1.4\n\0"])
def test_what_was_written_here_before_is_written_over(tmp_path, older):
    """The beginnings of pictures: PNG, 2nd edition (W3C 2003), 5.2; ISO 32000-1, 7.5.2."""
    path = tmp_path / "april"
    path.write_bytes(older)
    require_targets(str(path))
    assert path.read_bytes() == older
    write_json({"schema": "new"}, str(path))
    assert path.read_text(encoding="utf-8") == '{\n "schema": "new"\n}\n'

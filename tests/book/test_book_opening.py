"""Where a book lies, and what is said of one that cannot serve."""

import os
import secrets
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import closing, contextmanager
from datetime import date
from pathlib import Path

import platformdirs
import pytest
from book_tables import tables_of
from stored_sweep import store_sweep

from toneprobe.book.check import check_book
from toneprobe.book.connect import writing
from toneprobe.book.diary import add_event, events_of
from toneprobe.book.opening import create_book, open_book
from toneprobe.book.place import book_folder
from toneprobe.book.read import harps, plucks_of, sweeps
from toneprobe.book.stringing import add_harp
from toneprobe.errors import BookError
from toneprobe.events import Event


def test_the_argument_goes_before_the_setting_and_that_before_the_users_folder(tmp_path):
    setting = {"TONEPROBE_BOOK": str(tmp_path / "set")}
    assert book_folder(tmp_path / "given", environ=setting) == tmp_path / "given"
    assert book_folder(environ=setting) == tmp_path / "set"
    assert book_folder("", environ={"TONEPROBE_BOOK": ""}) == Path(platformdirs.user_data_dir("toneprobe", appauthor=False)) / "book"
    assert book_folder("~/harps", environ={}) == Path.home() / "harps"


def test_looking_for_the_book_loads_no_database_library():
    program = "import sys, toneprobe.book.place as p; p.book_folder(); print({'sqlalchemy', 'numpy', 'soundfile'} & set(sys.modules))"
    assert subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout == "set()\n"


def test_a_new_book_opens_and_making_it_again_keeps_it(tmp_path, made):
    folder = tmp_path / "odd ?#% name" / "book"
    add_harp(create_book(folder), "Linnet", made.instrument)
    assert [one.name for one in harps(create_book(folder))] == [one.name for one in harps(open_book(folder))] == ["Linnet"]
    assert {path.name for path in folder.iterdir()} == {"book.sqlite", "plucks", "reports"}
    assert check_book(open_book(folder)) == ()


def refusal(folder):
    with pytest.raises(BookError) as caught:
        open_book(folder)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_what_is_no_book_is_named(tmp_path):
    assert "if it was moved, or its disk is not connected, put that right; else make one with 'toneprobe new" in refusal(tmp_path / "no")
    assert "is not a book: it holds no book.sqlite" in refusal(tmp_path)
    (tmp_path / "file").write_text("x")
    assert "is a file; a book is a folder" in refusal(tmp_path / "file")
    with tables_of(tmp_path) as other:
        other.execute("CREATE TABLE shopping (item)")
    assert "none of a book's tables" in refusal(tmp_path)
    with pytest.raises(BookError, match="none of a book's tables"):
        create_book(tmp_path)
    (tmp_path / "two\nlines").mkdir()
    assert "two\\nlines" in refusal(tmp_path / "two\nlines")


def test_who_has_no_book_yet_is_told_how_to_make_one(tmp_path, monkeypatch):
    """In the user's data folder, which nobody named, nothing was moved or is not connected."""
    monkeypatch.setattr(platformdirs, "user_data_path", lambda *_, **__: tmp_path / "data")
    assert refusal(tmp_path / "data" / "book").endswith("/data/book: make one with 'toneprobe new NAME'")


def test_a_folder_with_other_things_is_not_made_a_book(tmp_path):
    (tmp_path / "letter.txt").write_text("x")
    with pytest.raises(BookError, match="holds other things"):
        create_book(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_a_book_whose_making_was_cut_short_is_made_anew(tmp_path, made):
    (tmp_path / "book.sqlite").touch()
    assert add_harp(create_book(tmp_path), "Linnet", made.instrument).id == 1


@pytest.mark.parametrize("lost", ["emptied", "gone"])
def test_no_new_book_is_made_over_the_sounds_of_an_old_one(book, harp, made, lost):
    """Of two sweeps the sounds are there, and nothing else: a disk that was full, or a copy that was broken off."""
    for letter in "ab":
        store_sweep(book, made.sweep(harp.id, letters=letter))
    file = book.folder / "book.sqlite"
    file.write_bytes(b"") if lost == "emptied" else file.unlink()
    said = refusal(book.folder)
    assert "is damaged: it holds the sounds of 2 sweeps" in said and "Put back a copy of the book" in said
    with pytest.raises(BookError, match="the sounds of 2 sweeps"):
        create_book(book.folder)
    assert (file.read_bytes() == b"") if lost == "emptied" else not file.exists()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("make", [Path.mkdir, lambda path: path.symlink_to(path), os.mkfifo], ids=["folder", "loop", "pipe"])
def test_what_is_called_as_the_database_but_is_no_file_is_damage(tmp_path, make):
    make(tmp_path / "book.sqlite")
    said = refusal(tmp_path)
    assert "what is called book.sqlite in it is no file. Put back a copy" in said and "holds no" not in said
    with pytest.raises(BookError, match="is no file"):
        create_book(tmp_path)


def test_a_newer_book_is_refused_and_left_alone(book, harp):
    file = book.folder / "book.sqlite"
    with closing(sqlite3.connect(file)) as direct, direct:
        direct.execute("UPDATE book SET schema_version = 99")
    before = file.read_bytes()
    assert "written by a newer toneprobe (schema 99" in refusal(book.folder) and "update toneprobe" in refusal(book.folder)
    assert file.read_bytes() == before


@pytest.mark.parametrize("where", ["head", "all", "tables"])
def test_a_damaged_database_is_called_damaged(book, harp, made, where):
    record = store_sweep(book, made.sweep(harp.id))
    file = book.folder / "book.sqlite"
    whole = bytearray(file.read_bytes())
    start, stop = {"head": (0, 100), "all": (0, len(whole)), "tables": (4096, len(whole))}[where]
    whole[start:stop] = b"\xa5" * (stop - start)
    file.write_bytes(whole)
    with pytest.raises(BookError, match="damaged") as caught:
        plucks_of(open_book(book.folder), record.id)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("spoilt", ['{"string": "4C"', '{"string": "4C"}', "[]", '{"partials": 3}'])
def test_a_damaged_measurement_is_called_damaged(book, harp, made, spoilt):
    record = store_sweep(book, made.sweep(harp.id))
    with tables_of(book.folder) as direct:
        direct.execute("UPDATE plucks SET measurement = ?", (spoilt,))
    with pytest.raises(BookError, match="damaged"):
        plucks_of(book, record.id)


def test_the_check_finds_what_is_missing(book, harp, made):
    record = store_sweep(book, made.sweep(harp.id))
    assert check_book(book) == ()
    clip = plucks_of(book, record.id)[0].clip
    (book.folder / clip).unlink()
    with tables_of(book.folder) as direct:
        direct.execute("DELETE FROM fittings WHERE string = '4C'")
    assert set(check_book(book)) == {
        f"the clip {clip} is missing",
        "a row of plucks refers to a missing row of fittings",
        "a row of conditions refers to a missing row of fittings",
    }


@contextmanager
def without_roots_powers():
    """Permissions bind only those who are not root."""
    was = os.geteuid()
    if was == 0:
        os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(was)


@pytest.fixture
def shelf():
    """A folder that every user can enter (pytest's own are closed)."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)


def test_a_read_only_book_can_be_read_and_says_why_it_cannot_be_written(shelf, made):
    book = create_book(shelf / "book")
    harp = add_harp(book, "Linnet", made.instrument)
    record = store_sweep(book, made.sweep(harp.id, letters="a"))
    for path in [book.folder, *book.folder.rglob("*")]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    with without_roots_powers():
        assert sweeps(open_book(book.folder), harp.id) == (record,)
        for write in (lambda: add_harp(book, "Wren", made.instrument), lambda: store_sweep(book, made.sweep(harp.id, letters="b"))):
            with pytest.raises(BookError, match="cannot be written: check the permissions"):
                write()
        with pytest.raises(BookError, match="cannot be written: check the permissions"):
            create_book(book.folder / "another")


def test_a_closed_folder_gets_a_reason(shelf):
    book = create_book(shelf / "book")
    book.folder.chmod(0o000)
    with without_roots_powers():
        assert "cannot be read: Permission denied" in refusal(book.folder)


def test_a_second_writer_waits_for_the_first(book, made):
    order = []

    def first():
        with writing(book):
            held.set()
            time.sleep(0.3)
            order.append("first")

    held = threading.Event()
    thread = threading.Thread(target=first)
    thread.start()
    held.wait()
    add_harp(open_book(book.folder), "Linnet", made.instrument)
    order.append("second")
    thread.join()
    assert order == ["first", "second"]


def test_a_second_writer_that_waits_too_long_is_told_so(book, made):
    hasty = open_book(book.folder, wait_s=0.05)
    with writing(book), pytest.raises(BookError, match="is in use by another program: try again") as caught:
        add_harp(hasty, "Linnet", made.instrument)
    assert "\n" not in str(caught.value)
    assert harps(book) == ()


def test_a_reader_is_not_held_up_by_a_writer(book, harp):
    hasty = open_book(book.folder, wait_s=0.0)
    with writing(book):
        assert harps(hasty) == (harp,)


def test_a_reader_is_not_held_up_by_a_change_that_outgrows_the_cache(book, harp, made):
    """Verdicts of years judged again are some megabytes; SQLite's own cache holds two (sqlite.org/pragma.html#pragma_cache_size)."""
    hasty = open_book(book.folder, wait_s=0.0)
    with writing(book):
        for _ in range(8):
            add_event(book, harp.id, Event(date(2024, 5, 1), "other", secrets.token_hex(500_000)))
        assert harps(hasty) == (harp,)
    assert len(events_of(hasty, harp.id)) == 8


def test_two_programs_that_store_one_recording_store_it_once(book, harp, made):
    program = """
import sys, importlib.util
from pathlib import Path
from toneprobe.book.opening import open_book
from toneprobe.book.write import store_or_find_sweep
spec = importlib.util.spec_from_file_location("made", sys.argv[2])
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)
book = open_book(Path(sys.argv[1]))
sweep = made.sweep(1)
print(store_or_find_sweep(book, sweep, today=sweep.date)[0].id)
"""
    command = [sys.executable, "-c", program, str(book.folder), str(Path(__file__).with_name("conftest.py"))]
    running = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(2)]
    assert [one.communicate()[0] for one in running] == ["1\n", "1\n"]
    assert len(sweeps(book, harp.id)) == 1 and len(list(book.plucks.iterdir())) == 1

"""Books of older schemas come forward whole, with a copy of what they were."""

import json
import os
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from book_tables import tables_of
from old_books import OLDEST, SCHEMAS, STORED, restore, shape
from sqlalchemy import Column, Double, inspect, text

from toneprobe.audio import Remark
from toneprobe.audio.remark import CRUSHED, EIGHT_BITS, GAIN_MOVES, RINGS_BREAK_OFF, SINGLE_SOUNDS, TOO_NOISY
from toneprobe.book.check import check_book
from toneprobe.book.connect import connect_file, reading, writing
from toneprobe.book.convert import stored
from toneprobe.book.migrate import migrate, schema_version
from toneprobe.book.new_columns import add_columns
from toneprobe.book.opening import create_book, open_book
from toneprobe.book.read import conditions_of, current_fittings, fitting_log, fresh_plucks, harp, plucks_of, sweeps
from toneprobe.book.schema import SCHEMA
from toneprobe.book.steps import STEPS
from toneprobe.book.stringing import add_harp
from toneprobe.condition import Condition
from toneprobe.condition.next_steps import KINDS
from toneprobe.errors import BookError, DamagedError

SCHEMA_3, SCHEMA_4, SCHEMA_5, SCHEMA_6 = (SCHEMAS / f"schema_{number}.sql" for number in (3, 4, 5, 6))


def add_spares(connection):
    connection.execute(text("CREATE TABLE spares (id INTEGER PRIMARY KEY, string TEXT NOT NULL)"))
    connection.execute(text("INSERT INTO spares (id, string) SELECT id, string FROM fittings WHERE removed_on IS NULL"))


def add_colour(connection):
    connection.execute(text("ALTER TABLE fittings ADD COLUMN colour TEXT"))


TWO_STEPS = {1: add_spares, 2: add_colour}


def test_every_schema_has_its_stored_text_and_every_older_one_its_step():
    assert [int(path.stem.removeprefix("schema_")) for path in STORED] == list(range(1, SCHEMA + 1))
    assert sorted(STEPS) == list(range(1, SCHEMA))


@pytest.mark.parametrize("schema", STORED, ids=lambda path: path.stem)
def test_an_older_book_opens_with_all_that_was_in_it(schema, tmp_path, made):
    book = open_book(restore(schema, tmp_path / "old"))
    linnet = harp(book, "Linnet")
    (record,) = sweeps(book, linnet.id)
    assert (record.date, record.is_fresh, record.unheard, record.instrument) == (date(2024, 5, 1), True, ("4B",), made.instrument)
    expected = [made.measurement(name, place + 0.25) for place, name in enumerate(("4E", "4D", "4C"))]
    assert [pluck.measurement for pluck in plucks_of(book, record.id)] == expected
    assert [one.condition for one in conditions_of(book, record.id)] == [made.condition(name) for name in ("4E", "4D", "4C")]
    old, new = fitting_log(book, linnet.id, "4C")
    assert (old.why_removed, old.broke_at, new.material, new.fitted_on) == ("broke", "knot", "gut", date(2024, 3, 1))
    assert current_fittings(book, linnet.id, on=date(2024, 5, 1))["4C"] == new and len(fresh_plucks(book, new.id)) == 1
    assert check_book(book) == ()


@pytest.mark.parametrize("schema", STORED, ids=lambda path: path.stem)
def test_an_upgraded_book_is_built_like_a_new_one(schema, tmp_path):
    assert shape(open_book(restore(schema, tmp_path / "old"))) == shape(create_book(tmp_path / "new"))


def test_a_figure_s_new_columns_are_as_those_of_the_figures_before_it(book):
    with writing(book) as connection:
        add_columns(connection, "plucks", Column("later_figure", Double), Column("later_figure_se", Double))
    columns = shape(book)["plucks"][0]
    assert columns["later_figure"] == columns["pitch_hz"] and columns["later_figure_se"] == columns["pitch_hz_se"]


# Steps as release 0.1.0 words them, and what kind of step each is.
STEPS_OF_SCHEMA_3 = [
    ("Check once more before you spend money: pluck again, twice, with the neighbours damped.", "check first"),
    ("Condemned before: called dead on 1 May 2026. Change the string.", "otherwise condemned"),
    ("First make sure that it is not the room (see the notes on this recording); then change the string.", "maybe room"),
    ("Record it once more close to the strings, or in a room with curtains and carpets, plucked three times.", "elsewhere"),
    ("Sweep again in the tuning of the fresh sweep.", "other position"),
    ("Make sure which harp was recorded, and which strings are on it.", "other strings"),
    ("Check pedal or lever and the tuning pin. If the pin does not hold, show it to a harp technician.", "technician"),
    ("Check in the log which string is on. If it is the wrong one, change it.", "check log"),
    ("Change the string. Cracks, pins that slip or turn back: leave them alone and call a harp technician.", ""),
    ('Watch: "next_step": "at the next sweep".', ""),
]


@pytest.mark.parametrize(("step", "kind"), STEPS_OF_SCHEMA_3)
def test_the_kind_of_a_step_is_taken_from_its_words_once(step, kind, tmp_path):
    assert kind in KINDS
    folder = restore(SCHEMA_3, tmp_path / "old")
    with tables_of(folder) as direct:
        (whole,) = direct.execute("SELECT condition FROM conditions WHERE string = '4D'").fetchone()
        whole = json.dumps(json.loads(whole) | {"next_step": step})
        direct.execute("UPDATE conditions SET next_step = ?, condition = ? WHERE string = '4D'", (step, whole))
        direct.execute("UPDATE conditions SET next_step = x'ff' WHERE string = '4C'")  # no UTF-8
    book = open_book(folder)
    told = {name: json.loads(whole) for name, whole in rows(book, "SELECT string, condition FROM conditions")}
    assert told["4D"]["next_step"] == step and told["4D"].get("step_kind", "") == kind
    assert "step_kind" not in told["4E"] and "step_kind" not in told["4C"]


CUT_SHORT = b'{"string": "4D", "next_step": "Sweep again in the tun'  # a disk may keep the beginning alone
NO_TEXT = b'{"note": "\xff\xfe", "next_step": "'
NO_NUMBER = b'{"next_step": "", "a": NaN}'
DAMAGED = [("text", CUT_SHORT), ("text", NO_TEXT), ("text", NO_NUMBER), ("blob", CUT_SHORT), ("blob", b'{"next_step": "x"}')]


@pytest.mark.parametrize(("kind", "octets"), DAMAGED)
def test_a_condition_whose_json_is_damaged_stays_as_it_lies(kind, octets, tmp_path):
    folder = restore(SCHEMA_3, tmp_path / "old")
    with tables_of(folder) as direct:
        direct.execute("UPDATE conditions SET next_step = 'Sweep again in the tuning of the fresh sweep.'")
        direct.execute(f"UPDATE conditions SET condition = {'CAST(? AS TEXT)' if kind == 'text' else '?'} WHERE string = '4D'", (octets,))
    book = open_book(folder)
    asked = "SELECT typeof(condition), CAST(condition AS BLOB) FROM conditions WHERE string = '4D'"
    assert rows(book, asked) == [(kind, octets)]
    ((whole,),) = rows(book, "SELECT condition FROM conditions WHERE string = '4C'")
    assert json.loads(whole)["step_kind"] == "other position"  # the row beside it is taken forward


def test_a_damaged_letter_within_a_condition_is_kept_with_all_the_rest(tmp_path):
    folder = restore(SCHEMA_3, tmp_path / "old")
    octets = b'{"note": "C\xff4", "next_step": "Sweep again in the tuning of the fresh sweep."}'
    with tables_of(folder) as direct:
        direct.execute("UPDATE conditions SET next_step = 'Sweep again in the tuning of the fresh sweep.', condition = CAST(? AS TEXT) "
                       "WHERE string = '4D'", (octets,))
    ((kept,),) = rows(open_book(folder), "SELECT CAST(condition AS BLOB) FROM conditions WHERE string = '4D'")
    assert kept.replace(b'"step_kind": "other position", ', b"") == octets


# Remarks as release 0.1.0 words them, and what was read out of their words until then.
REMARKS_OF_SCHEMA_4 = [
    Remark("The plucks stand only 24 dB above the background, so decay and the upper partials are lost early. Record nearer to the strings "
           "or in a quieter room.", TOO_NOISY),
    Remark("The recorder changes its gain by itself, or fades or cuts the quiet parts: decay and loudness cannot be trusted. Switch off "
           "automatic gain and noise suppression, or use another recorder.", GAIN_MOVES),
    Remark("It was recorded with eight bits: their steps swallow what rings on quietly, so decay cannot be trusted and soft strings may be "
           "lost. Set the recorder to 16 or 24 bits.", EIGHT_BITS),
    Remark("Nearly every ring breaks off on its way down, as noise suppression makes it. Switch it off, above all for a fresh sweep.",
           RINGS_BREAK_OFF),
    Remark("It is compressed to few bits a sample (A-law): a noise goes with the sound, so of each string only the loud partials can be "
           "trusted. Set the recorder to PCM (WAV or FLAC) of 16 or 24 bits.", CRUSHED),
    Remark("It is compressed to 24 kbit/s a channel: what is quiet in the sound is left out or made up, so of each string only the loud "
           "partials can be trusted. Record without loss (WAV or FLAC), or at 128 kbit/s and more.", CRUSHED),
    Remark("Left out, because 5D rang along: 0F at 5.3 s, 1B at 14.1 s and 15.2 s.", SINGLE_SOUNDS, ("0F", "1B"), "5D"),
    Remark("Left out, because top string rang along: bass, the wound one at 5.3 s.", SINGLE_SOUNDS, ("bass, the wound one",), "top string"),
    Remark("Left out, because 2B and 5D sound at once: the sounds at 14.1 s and 15.2 s.", SINGLE_SOUNDS, ("2B",), "5D"),
    Remark("Left out, because 2B and 6D sound at once: the sound at 16.1 s.", SINGLE_SOUNDS),  # of 2B it was said: the first counted
    Remark("Left out, because too faint, or out of the sweep's order: the sounds at 22.3 s and 23.6 s.", SINGLE_SOUNDS),
    Remark("Not counted, because the name is doubtful: 2C at 9.2 s in again.flac. A pluck is named by those before and after it too: pluck "
           "it again between its two neighbours.", SINGLE_SOUNDS),
    Remark("Of doubtful name: 2C at 9.2 s. A pluck is named by those before and after it too: pluck it again between its two neighbours.",
           SINGLE_SOUNDS),
    Remark("The recording is overloaded, 0.1 s in all: the loudest attacks are cut flat, so their brightness and decay cannot be trusted. "
           "Lower the input level or move the microphone away, and record again."),
    Remark("Played in another tuning than was told: E instead of E♭."),
]


def test_what_a_sweep_s_remarks_say_is_taken_from_their_words_once(tmp_path):
    folder = restore(SCHEMA_4, tmp_path / "old")
    texts = [one.text for one in REMARKS_OF_SCHEMA_4]
    with tables_of(folder) as direct:
        direct.execute("UPDATE sweeps SET warnings = ?", (json.dumps(texts, ensure_ascii=False),))
    book = open_book(folder)
    (record,) = sweeps(book, 1)
    assert list(record.remarks) == REMARKS_OF_SCHEMA_4
    assert [json.loads(kept) for kept, in rows(book, "SELECT warnings FROM sweeps")] == [texts]  # to be read without this program


@pytest.mark.parametrize("octets", [b'["Left out, bec', b'["Left out, because \xff"]', b"5", b'[5, "a"]', b'{"a": "b"}'])
def test_a_sweep_whose_remarks_are_damaged_is_named_after_the_step_too(octets, tmp_path):
    folder = restore(SCHEMA_4, tmp_path / "old")
    with tables_of(folder) as direct:
        direct.execute("UPDATE sweeps SET warnings = CAST(? AS TEXT)", (octets,))
    book = open_book(folder)
    with pytest.raises(DamagedError, match="sweep 1 cannot be read"):
        sweeps(book, 1)
    assert rows(book, "SELECT CAST(warnings AS BLOB), CAST(remarks AS BLOB) FROM sweeps") == [(octets, octets)]


CONDEMNED = "Its colour fades early, as from dirt or wear: the upper partials die 50 % sooner than fresh (± 5)."
OPEN = "Whether it wavers more slowly than 3.2 times a second could not be told: it rings, or was let ring, too short for that."
FACTS_OF_SCHEMA_4 = [
    ("dead", [CONDEMNED], (True, False)), ("watch", [CONDEMNED, "Rings 9 % shorter than fresh (± 34)."], (True, False)),
    ("dead", ["Rings 50 % shorter than fresh (± 5).", CONDEMNED], (False, False)), ("unsure", [CONDEMNED], (False, False)),
    ("sound", ["Rings as when fresh (± 15 %).", OPEN], (False, True)), ("sound", ["Rings as when fresh (± 15 %)."], (False, False)),
    ("watch", ["Rings 9 % shorter than fresh (± 34).", OPEN], (False, False)), ("unrated", [], (False, False)),
]


@pytest.mark.parametrize(("verdict", "reasons", "facts"), FACTS_OF_SCHEMA_4)
def test_what_a_verdict_s_reasons_say_is_taken_from_their_words_once(verdict, reasons, facts, tmp_path):
    folder = restore(SCHEMA_4, tmp_path / "old")
    with tables_of(folder) as direct:
        (whole,) = direct.execute("SELECT condition FROM conditions WHERE string = '4D'").fetchone()
        whole = json.dumps(json.loads(whole) | {"verdict": verdict, "reasons": reasons}, ensure_ascii=False)
        direct.execute("UPDATE conditions SET verdict = ?, condition = ? WHERE string = '4D'", (verdict, whole))
        direct.execute("UPDATE conditions SET verdict = ?, condition = CAST(? AS TEXT) WHERE string = '4C'", (verdict, whole[:-9]))
    book = open_book(folder)
    told = dict(rows(book, "SELECT string, condition FROM conditions"))
    assert told["4C"] == whole[:-9]  # damaged: as it lies
    kept = stored(Condition, json.loads(told["4D"]))
    assert (kept.rests_on_upper_partials, kept.is_wavering_open) == facts and kept.reasons == tuple(reasons)
    assert json.loads(told["4D"]).items() >= json.loads(whole).items()


def rows(book, question):
    with tables_of(book.folder) as direct:
        return direct.execute(question).fetchall()


def test_columns_that_held_0_for_what_was_not_heard_are_empty_after_the_step(tmp_path):
    folder = restore(SCHEMA_5, tmp_path / "old")
    with tables_of(folder) as direct:
        direct.execute("UPDATE plucks SET ring_s = 0, snr_db = 0 WHERE string = '4D'")
        direct.execute("UPDATE plucks SET ring_s = CAST(x'ff' AS TEXT) WHERE string = '4C'")  # damaged
    found = rows(open_book(folder), "SELECT string, typeof(ring_s), CAST(ring_s AS BLOB), snr_db, measurement FROM plucks ORDER BY id")
    assert [one[:4] for one in found] == [("4E", "real", b"2.5", 41.0), ("4D", "null", None, None), ("4C", "text", b"\xff", 41.0)]
    assert all(json.loads(one[4])["ring_s"] == 2.5 for one in found)  # the measurement whole is not touched


def test_the_number_of_a_pluck_that_was_taken_out_is_given_to_none_after_the_step(tmp_path):
    """A copy of the book and the book must not give one number to two things."""
    folder = restore(SCHEMA_5, tmp_path / "old")
    with tables_of(folder) as direct:
        direct.execute("DELETE FROM plucks WHERE id > 1")
        direct.execute("UPDATE sqlite_sequence SET seq = 70 WHERE name = 'plucks'")
    with writing(open_book(folder)) as connection:
        names = "sweep_id, recording_id, place, is_fresh, string, note, onset_s, sureness, measurement, clip_gain"
        connection.exec_driver_sql(f"INSERT INTO plucks ({names}) SELECT {names} FROM plucks")
        assert connection.exec_driver_sql("SELECT max(id) FROM plucks").scalar() == 71


# Of each entry of the log what was put right in it, oldest first, as schema 6 kept it, and whether its first day was supposed then.
SUPPOSED_IN_SCHEMA_6 = [
    ([("fitted_on", "supposed 2024-03-01")], True), ([("fitted_on", "supposed 2024-03-01"), ("fitted_on", "2024-03-10")], False),
    ([("fitted_on", "2024-03-10"), ("fitted_on", "supposed 2024-03-01"), ("note", "the loud one"), ("removed_on", None)], True),
    ([("note", "supposed 2024-03-01")], False), ([("fitted_on", "supposed 2024-03-01"), ("fitted_on", None)], False), ([], False),
]


def test_that_a_first_day_is_supposed_is_taken_from_its_last_correction_once(tmp_path):
    """As schema 6 was asked: the last of the corrections of that day tells. They stay."""
    folder = restore(SCHEMA_6, tmp_path / "old")
    with tables_of(folder) as direct:
        for number, (told, _) in enumerate(SUPPOSED_IN_SCHEMA_6, 11):
            direct.execute("INSERT INTO fittings (id, harp_id, string) VALUES (?, 1, ?)", (number, f"string {number}"))
            direct.executemany('INSERT INTO corrections (fitting_id, field, "after", date) VALUES (?, ?, ?, \'2024-05-01\')',
                               [(number, field, after) for field, after in told])
    book = open_book(folder)
    assert [one for one, in rows(book, "SELECT is_supposed FROM fittings WHERE id > 10 ORDER BY id")] == [
        is_supposed for _, is_supposed in SUPPOSED_IN_SCHEMA_6]
    kept = rows(book, 'SELECT field, "after" FROM corrections WHERE fitting_id > 10 ORDER BY id')
    assert kept == [one for told, _ in SUPPOSED_IN_SCHEMA_6 for one in told]


def test_each_step_keeps_a_copy_of_the_database_before_it(tmp_path):
    book = connect_file(restore(OLDEST, tmp_path / "old"))
    with reading(book) as connection:
        before = [tuple(row) for row in connection.execute(text("SELECT * FROM plucks"))]
    migrate(book, steps=TWO_STEPS, target=3)
    assert schema_version(book) == 3
    with reading(book) as connection:
        assert [tuple(row) for row in connection.execute(text("SELECT * FROM plucks"))] == before
        assert connection.scalar(text("SELECT count(*) FROM spares")) == 3
        assert connection.scalar(text("SELECT count(*) FROM fittings WHERE colour IS NULL")) == 4
    copies = sorted(book.copies.iterdir())
    assert [path.name[:14] for path in copies] == ["book-schema-1-", "book-schema-2-"]
    for copy, schema, has_spares in zip(copies, (1, 2), (0, 1), strict=True):
        with closing(sqlite3.connect(copy)) as direct:
            assert direct.execute("SELECT schema_version FROM book").fetchone() == (schema,)
            assert direct.execute("SELECT count(*) FROM sqlite_master WHERE name = 'spares'").fetchone() == (has_spares,)
            assert direct.execute("SELECT count(*) FROM plucks").fetchone() == (3,)


def test_a_step_that_fails_changes_nothing(tmp_path):
    def fails(connection):
        add_spares(connection)
        connection.execute(text("INSERT INTO nowhere VALUES (1)"))

    book = connect_file(restore(OLDEST, tmp_path / "old"))
    with pytest.raises(BookError, match="no such table: nowhere"):
        migrate(book, steps={1: fails}, target=2)
    assert schema_version(book) == 1 and "spares" not in shape(book)
    assert len(list(book.copies.glob("*.sqlite"))) == 1
    migrate(book, steps={1: add_spares}, target=2)
    assert schema_version(book) == 2


def test_a_copy_that_the_disk_has_no_room_for_is_said_and_nothing_is_changed(tmp_path, monkeypatch):
    """SQLite's own error, of a copy that may have two pages; the book has more."""
    book, connect = connect_file(restore(OLDEST, tmp_path / "old")), sqlite3.connect

    def small(name, **options):
        connection = connect(name, **options)
        if str(name).endswith(".part"):
            connection.execute("PRAGMA max_page_count = 2")
        return connection

    with monkeypatch.context() as patch, pytest.raises(BookError, match="cannot be written: the disk is full"):
        patch.setattr(sqlite3, "connect", small)
        migrate(book, steps=TWO_STEPS, target=3)
    assert schema_version(book) == 1 and list(book.copies.iterdir()) == []


def test_what_a_killed_copy_leaves_is_cleared_by_the_next_opening(tmp_path):
    """A process that ends in the midst of the copy, as a kill or a power failure ends it; SQLite keeps a journal beside it then. The copies
    of the steps, and what else lies there, stay."""
    folder = restore(OLDEST, tmp_path / "old")
    killed = subprocess.run([sys.executable, "-c", KILLED_COPY, str(folder)], capture_output=True, text=True)
    left = sorted(path.suffix for path in (folder / "copies").iterdir())
    assert killed.returncode == 9 and left == [".part", ".part-journal"]
    (folder / "copies" / "mine.partial").touch()
    open_book(folder)
    names = [path.name for path in (folder / "copies").iterdir()]
    assert {Path(name).suffix for name in names} == {".sqlite", ".partial"} and "mine.partial" in names


KILLED_COPY = """
import os, sqlite3, sys
from pathlib import Path
from toneprobe.book import migrate
from toneprobe.book.connect import connect_file

def copy_and_die(book, path):
    new = sqlite3.connect(path)
    new.execute("CREATE TABLE half (x)")
    new.execute("BEGIN IMMEDIATE")
    new.execute("PRAGMA cache_size = 1")
    new.executemany("INSERT INTO half VALUES (?)", [("x" * 4000,)] * 50)
    os._exit(9)

migrate._copy_file = copy_and_die
migrate.migrate(connect_file(Path(sys.argv[1])))
"""


def test_two_programs_that_upgrade_at_once_take_each_step_once(tmp_path):
    book = connect_file(restore(OLDEST, tmp_path / "old"))
    ready = threading.Event()

    def other():
        ready.set()
        migrate(connect_file(book.folder), steps={1: add_spares}, target=2)  # would fail on the second CREATE TABLE

    with writing(book) as connection:
        thread = threading.Thread(target=other)
        thread.start()
        ready.wait()
        add_spares(connection)
        connection.execute(text("UPDATE book SET schema_version = 2"))
    thread.join()
    assert schema_version(book) == 2 and not book.copies.exists()


def test_a_gap_in_the_steps_is_said(tmp_path):
    with pytest.raises(BookError, match="has schema 1, which this program cannot bring forward"):
        migrate(connect_file(restore(OLDEST, tmp_path / "old")), steps={}, target=2)


ROWS_COPIED = """
import sys
from pathlib import Path
from toneprobe.book.connect import Book, reading
from toneprobe.book.migrate import keep_copy
from toneprobe.book.opening import open_book
book = open_book(Path(sys.argv[1]))
with reading(book) as connection:
    Book.is_sqlite = False  # as a database is that has no file to copy
    print(keep_copy(book, connection, 3))
"""


def rows_copied(folder):
    """The copy of all rows, made where the computer's own encoding is ASCII."""
    plain = {**os.environ, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    ran = subprocess.run([sys.executable, "-c", ROWS_COPIED, str(folder)], capture_output=True, text=True, env=plain)
    assert ran.returncode == 0, ran.stderr
    return json.loads(Path(ran.stdout.strip()).read_text(encoding="utf-8"))


def test_a_copy_of_rows_keeps_every_sign_whatever_the_computers_own_encoding(book, made):
    add_harp(book, "Linnet 🪕 über", made.instrument)
    assert [row["name"] for row in rows_copied(book.folder)["harps"]] == ["Linnet 🪕 über"]


def test_a_copy_of_rows_leaves_out_what_else_a_shared_database_holds(book, harp):
    with writing(book) as connection:
        connection.execute(text("CREATE TABLE salaries (id INTEGER PRIMARY KEY, harp_id INTEGER REFERENCES harps (id), euros INTEGER)"))
        connection.execute(text("INSERT INTO salaries VALUES (1, 1, 4200)"))
    copied = rows_copied(book.folder)
    assert "salaries" not in copied and [row["name"] for row in copied["harps"]] == ["Linnet"]
    with reading(book) as connection:  # whatever the steps of older schemas made is still among the tables copied
        assert set(copied) == set(inspect(connection).get_table_names()) - {"salaries"}

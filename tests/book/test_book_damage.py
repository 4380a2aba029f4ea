"""One damaged byte or value: what it is and where is said, what is whole is kept, and what is damaged can be taken out.

What counts as damage, and which sweep it is in, is derived here: each test spoils one place that it knows, in SQLite's own tables.
"""

import json
import re
from datetime import date

import pytest
from book_tables import tables_of
from stored_sweep import store_sweep

from toneprobe.book.check import check_book
from toneprobe.book.connect import reading, writing
from toneprobe.book.entries import OwnerSettings
from toneprobe.book.export import export_book
from toneprobe.book.read import conditions_of, harp_by_id, plucks_of, sweeps
from toneprobe.book.schema import sweep_recordings
from toneprobe.book.settings import keep_settings, settings_of
from toneprobe.book.taken_out import take_out_sweep
from toneprobe.errors import BookError, DamagedError, UsageError

TODAY = date(2024, 7, 1)
PLUCK = r"sweep 2, pluck 2 \(4D\)"
BYTE = "UPDATE plucks SET measurement = CAST(replace(measurement, 'ring_s', CAST(x'72ff6e675f73' AS TEXT)) AS TEXT) WHERE id = 5"


@pytest.fixture
def two(book, harp, made):
    """Sweeps 1 and 2 of three plucks each."""
    return [store_sweep(book, made.sweep(harp.id, day=date(2024, month, 1), letters=letter)) for month, letter in ((5, "a"), (6, "b"))]


def spoil(book, statement):
    with tables_of(book.folder) as direct:
        assert direct.execute(statement).rowcount == 1


SPOILT = {
    "a byte of a pluck": (BYTE, PLUCK, lambda book: plucks_of(book, 2)),
    "a pluck cut short": ("UPDATE plucks SET measurement = '{\"string\": \"4D\"' WHERE id = 5", PLUCK, lambda book: plucks_of(book, 2)),
    "a pluck of another shape": ("UPDATE plucks SET measurement = '{}' WHERE id = 5", PLUCK, lambda book: plucks_of(book, 2)),
    "a day": ("UPDATE sweeps SET date = 'yesterday' WHERE id = 2", "sweep 2", lambda book: sweeps(book, 1)),
    "remarks": ("UPDATE sweeps SET remarks = '5' WHERE id = 2", "sweep 2", lambda book: sweeps(book, 1)),
    "an instrument": ("UPDATE sweeps SET instrument = '{}' WHERE id = 2", "sweep 2", lambda book: sweeps(book, 1)),
    "a verdict": ("UPDATE conditions SET condition = '{}' WHERE sweep_id = 2 AND place = 1", r"sweep 2, the verdict on 4D",
                  lambda book: conditions_of(book, 2)),
    "a number": ("UPDATE recordings SET n_bytes = 'many' WHERE id = 2", "sweep 2, the recording b.wav", lambda book: sweeps(book, 1)),
    "a recording": ("UPDATE recordings SET quality = '[]' WHERE id = 2", "sweep 2, the recording b.wav", lambda book: sweeps(book, 1)),
}


@pytest.mark.parametrize("spoilt", SPOILT)
def test_what_is_damaged_is_named_with_what_to_do(book, two, spoilt):
    statement, what, read = SPOILT[spoilt]
    spoil(book, statement)
    with pytest.raises(BookError) as caught:
        read(book)
    told = str(caught.value)
    assert told.startswith(f"the book {book.name} is damaged: ") and re.search(what, told) and "\n" not in told
    assert "Put back a copy of the book, or take that sweep out: toneprobe withdraw 2" in told and "missing" not in told


@pytest.mark.parametrize("spoilt", SPOILT)
def test_an_export_saves_what_is_whole_and_what_is_damaged_as_it_was_found(book, two, spoilt, tmp_path):
    statement, what, _ = SPOILT[spoilt]
    export_book(book, tmp_path / "whole")
    spoil(book, statement)
    export_book(book, tmp_path / "out")
    whole, out = (json.loads((tmp_path / name / "book.json").read_text(encoding="utf-8"))["tables"] for name in ("whole", "out"))
    differ = [(table, key) for table in whole for one, other in zip(whole[table], out[table], strict=True)
              for key in one if one[key] != other[key]]
    assert len(differ) == 1
    (fault,) = check_book(book)
    assert re.match(what, fault) and differ[0][1] in fault
    if spoilt == "a byte of a pluck":
        assert '"r\\xffng_s": 2.5' in out["plucks"][4]["measurement"]


@pytest.mark.parametrize("spoilt", SPOILT)
def test_a_damaged_sweep_is_taken_out_and_the_rest_can_be_read(book, two, spoilt):
    spoil(book, SPOILT[spoilt][0])
    done = take_out_sweep(book, 1, 2, today=TODAY)
    assert sweeps(book, 1) == (two[0],) and len(plucks_of(book, 1)) == 3 and set(done.strings) == {"4E", "4D", "4C"}
    assert done.day <= date(2024, 6, 1)
    kept = json.loads(done.path.read_text(encoding="utf-8"))["tables"]
    assert (len(kept["plucks"]), len(kept["sweeps"]), kept["plucks"][0]["measurement"]["ring_s"]) == (3, 1, 2.5)


def test_what_belongs_to_no_sweep_is_named_too(book, two):
    spoil(book, "UPDATE harps SET instrument = '{\"a\": 1}' WHERE id = 1")
    with pytest.raises(BookError, match=r"is damaged: the harp Linnet cannot be read\. Put back a copy of the book$"):
        harp_by_id(book, 1)


@pytest.mark.parametrize("column, value", [("habits", "5"), ("habits", '{"settle_days": 5}'), ("tolerance", "7")])
def test_an_owners_figures_of_another_shape_are_named(book, harp, column, value):
    keep_settings(book, harp.id, OwnerSettings())
    spoil(book, f"UPDATE owner_settings SET {column} = '{value}'")
    with pytest.raises(DamagedError, match="is damaged: no. 1 of the table owner_settings cannot be read"):
        settings_of(book, harp.id)
    (fault,) = check_book(book)
    assert column in fault


@pytest.mark.parametrize("is_damaged", [False, True])
@pytest.mark.parametrize("fault", [ValueError, TypeError, KeyError, AttributeError])
@pytest.mark.parametrize("within", [reading, writing])
def test_a_fault_of_the_program_is_not_called_damage(book, two, within, fault, is_damaged):
    """Whatever is damaged elsewhere: whoever mends it needs the fault itself, and a player a book that is not blamed for it."""
    if is_damaged:
        spoil(book, BYTE)
    with pytest.raises(fault, match="of the program"), within(book):
        raise fault("of the program")


def test_what_is_asked_wrongly_is_not_called_damage(book, two):
    with pytest.raises(UsageError, match="no sweep 9"):
        take_out_sweep(book, 1, 9, today=TODAY)


def test_one_that_reads_after_another_was_told_names_the_same(book, two):
    """The error goes through as many readings as there are round it, and is looked into once."""
    spoil(book, BYTE)
    with pytest.raises(DamagedError, match=PLUCK) as caught, reading(book) as connection:
        connection.execute(sweep_recordings.select()).all()
        plucks_of(book, 2)
    assert str(caught.value).count("is damaged") == 1

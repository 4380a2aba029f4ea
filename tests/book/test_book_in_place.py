"""A sweep that takes an earlier one's place, in one transaction. What must be true afterwards was written down by hand before."""

import json
from datetime import date, datetime

import pytest
from stored_sweep import store_sweep

from toneprobe.book import pitch_checks, read
from toneprobe.book.check import check_book
from toneprobe.book.diary import add_event, events_of
from toneprobe.book.entries import NewCheck
from toneprobe.book.stringing import add_harp, replace_fitting
from toneprobe.book.taken_out import take_out_sweep
from toneprobe.book.write import store_or_find_sweep
from toneprobe.errors import BookError
from toneprobe.events import Event
from toneprobe.fittings import NewFitting, Removal
from toneprobe.measure.figure import Figure
from toneprobe.settling import PitchReading

FIRST, SECOND = date(2024, 3, 2), date(2024, 4, 6)


@pytest.fixture
def old(book, harp, made):
    """Sweep 2 of April, with the climate of its day and its pitches as a check; sweep 1 of March beside it."""
    store_sweep(book, made.sweep(harp.id, day=FIRST, letters="a", is_fresh=True))
    record = store_sweep(book, made.sweep(harp.id, day=SECOND, letters="b", strings=("4E", "4C")))
    add_event(book, harp.id, Event(SECOND, "climate", "", 20.0, 45.0, sweep_id=record.id))
    reading = PitchReading("4C", "C4", datetime(2024, 4, 6, 12), Figure(261.0, 0.1), sweep_id=record.id)
    pitch_checks.add_checks(book, harp.id, [NewCheck(reading)])
    return record


def heard(book, sweep_id):
    return [one.measurement.string for one in read.plucks_of(book, sweep_id)]


def test_the_old_one_is_in_the_file_and_the_new_one_in_the_book(book, harp, made, old):
    before = read.plucks_of(book, 1)
    new = store_sweep(book, made.sweep(harp.id, day=SECOND, letters="bc"), instead_of=[old.id], today=date(2024, 4, 9))
    assert [one.id for one in read.sweeps(book, harp.id)] == [1, new.id] and new.id == 3  # numbers are never used twice
    assert heard(book, new.id) == ["4E", "4D", "4C"] and read.plucks_of(book, 1) == before
    file = json.loads((book.withdrawn / "sweep-2.json").read_text(encoding="utf-8"))
    assert [row["string"] for row in file["tables"]["plucks"]] == ["4E", "4C"] and file["why"] == "sweep 3 is in its place"
    assert file["on"] == "2024-04-09"  # the day on which it was done, which the sweep's own is not
    assert [row["file_name"] for row in file["tables"]["recordings"]] == ["b.wav"]
    assert check_book(book) == ()


def test_what_was_noted_with_it_is_the_new_ones(book, harp, made, old):
    new = store_sweep(book, made.sweep(harp.id, day=SECOND, letters="bc"), instead_of=[old.id])
    (event,), (check,) = events_of(book, harp.id), pitch_checks.pitch_checks(book, harp.id)
    assert (event.sweep_id, event.humidity_pct, check.sweep_id, check.string) == (new.id, 45.0, new.id, "4C")


def test_all_or_nothing(book, harp, made, old):
    """The file of the old one cannot be written: nothing leaves the book, and no clip of the new one stays."""
    clips = sorted(book.plucks.rglob("*.flac"))
    book.withdrawn.write_text("a file where the folder should be")
    with pytest.raises(BookError):
        store_sweep(book, made.sweep(harp.id, day=SECOND, letters="bc"), instead_of=[old.id])
    assert [one.id for one in read.sweeps(book, harp.id)] == [1, 2] and heard(book, 2) == ["4E", "4C"]
    assert sorted(book.plucks.rglob("*.flac")) == clips and events_of(book, harp.id)[0].sweep_id == 2


def test_a_place_given_to_a_sweep_that_was_never_kept_is_forgotten(book, harp, made, old):
    """The file of sweep 2 is on the disk when the disk is full; number 3 is another sweep's then, which stood for none."""
    def fail(_):
        raise OSError(28, "No space left on device")

    with pytest.raises(BookError):
        store_or_find_sweep(book, made.sweep(harp.id, day=SECOND, letters="bc"), instead_of=[old.id], today=SECOND, then=fail)
    assert (book.withdrawn / "sweep-2.json").exists() and heard(book, 2) == ["4E", "4C"]
    other = store_sweep(book, made.sweep(harp.id, day=SECOND, letters="d"))
    assert take_out_sweep(book, harp.id, other.id, today=SECOND).stood_for == () and other.id == 3
    new = store_sweep(book, made.sweep(harp.id, day=SECOND, letters="bc"), instead_of=[old.id])
    assert take_out_sweep(book, harp.id, new.id, today=SECOND).stood_for == (book.withdrawn / "sweep-2.json",)


@pytest.mark.parametrize(("letters", "reason"), [("c", "taken back or replaced meanwhile"), ("abc", "leave it out")])
def test_only_with_its_recording_and_no_other_sweeps(book, harp, made, old, letters, reason):
    """Without b, as where another program gave the old one's place away; with b, and with a, which is in a sweep that stays."""
    with pytest.raises(BookError, match=reason):
        store_sweep(book, made.sweep(harp.id, day=SECOND, letters=letters), instead_of=[old.id])
    assert [one.id for one in read.sweeps(book, harp.id)] == [1, 2] and not book.withdrawn.exists()


def test_only_with_all_its_recordings(book, harp, made):
    old = store_sweep(book, made.sweep(harp.id, letters="ab"))
    with pytest.raises(BookError, match="a.wav"):
        store_sweep(book, made.sweep(harp.id, letters="ac"), instead_of=[old.id])
    assert read.sweeps(book, harp.id) == (old,)


def test_only_this_harps(book, harp, made, old):
    other = add_harp(book, "Wren", made.instrument)
    with pytest.raises(BookError, match="taken back or replaced"):
        store_sweep(book, made.sweep(other.id, day=SECOND, letters="bc"), instead_of=[old.id])


def test_a_string_stays_the_one_that_was_heard(book, harp, made, old):
    """4C and 4D are changed later that day; 4D was not heard in the morning, so in the new sweep it is the new string."""
    for name in ("4C", "4D"):
        replace_fitting(book, harp.id, NewFitting(name, SECOND), Removal(SECOND, "broke", "knot"))
    morning = {one.measurement.string: one.fitting_id for one in read.plucks_of(book, old.id)}
    on = read.current_fittings(book, harp.id, on=SECOND)
    assert morning["4C"] != on["4C"].id
    store_sweep(book, made.sweep(harp.id, day=SECOND, letters="bc"), instead_of=[old.id])
    assert {one.measurement.string: one.fitting_id for one in read.plucks_of(book, 3)} == {**morning, "4D": on["4D"].id}

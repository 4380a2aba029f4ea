"""A sweep or a pitch check that should not be in the book is taken out. What must be true afterwards was written down by hand before."""

import json
from dataclasses import replace
from datetime import date, datetime

import pytest
from sqlalchemy import text
from stored_sweep import store_sweep

from toneprobe.book import pitch_checks, read
from toneprobe.book.check import check_book
from toneprobe.book.clips import clip_path, read_clip
from toneprobe.book.connect import writing
from toneprobe.book.diary import add_event, events_of
from toneprobe.book.entries import NewCheck
from toneprobe.book.export import export_book
from toneprobe.book.leftovers import clear_leftovers
from toneprobe.book.place import DATABASE_FILE
from toneprobe.book.stringing import add_harp, replace_fitting
from toneprobe.book.taken_out import checks_of, take_out_check, take_out_note, take_out_sweep
from toneprobe.errors import BookError, DamagedError, UsageError
from toneprobe.events import Event
from toneprobe.fittings import NewFitting, Removal
from toneprobe.measure.figure import Figure
from toneprobe.settling import PitchReading, SettledRecord
from toneprobe.upkeep.taking_back import take_back

TODAY = date(2024, 6, 1)
FIRST, SECOND = date(2024, 3, 2), date(2024, 4, 6)
MORNING, EVENING = datetime(2024, 5, 2, 9), datetime(2024, 5, 2, 19, 30)


@pytest.fixture
def two(book, harp, made):
    """A fresh sweep in March, another in April, with the climate of its day."""
    first = store_sweep(book, made.sweep(harp.id, day=FIRST, letters="a", is_fresh=True))
    second = store_sweep(book, made.sweep(harp.id, day=SECOND, letters="b", strings=("4E", "4C")))
    add_event(book, harp.id, Event(SECOND, "climate", "", 20.0, 45.0, sweep_id=second.id))
    return first, second


def kept(done):
    return json.loads(done.path.read_text(encoding="utf-8"))


def test_a_sweep_is_gone_and_the_other_untouched(book, harp, two):
    first, second = two
    before = read.plucks_of(book, first.id), read.conditions_of(book, first.id)
    done = take_out_sweep(book, harp.id, second.id, today=TODAY, why="another harp")
    assert read.sweeps(book, harp.id) == (first,) and read.plucks_of(book, second.id) == () == read.conditions_of(book, second.id)
    assert (read.plucks_of(book, first.id), read.conditions_of(book, first.id)) == before
    assert events_of(book, harp.id) == () and check_book(book) == ()
    assert (done.day, set(done.strings), done.bare) == (SECOND, {"4E", "4C"}, ())


def test_nothing_is_lost(book, harp, two, tmp_path):
    """All that the export had of it stands in the file, the reason beside it; the clips are where they were."""
    export_book(book, tmp_path / "before")
    (_, second), before = two, json.loads((tmp_path / "before" / "book.json").read_text(encoding="utf-8"))["tables"]
    clips = {one.clip: read_clip(book.folder, one) for one in read.plucks_of(book, second.id)}
    file = kept(take_out_sweep(book, harp.id, second.id, today=TODAY, why="another harp"))
    assert (file["schema"], file["on"], file["why"]) == ("toneprobe.withdrawn/1", "2024-06-01", "another harp")
    for name in ("plucks", "conditions", "events", "sweep_recordings", "unheard"):
        assert file["tables"][name] == [row for row in before[name] if row["sweep_id"] == second.id], name
    assert file["tables"]["sweeps"] == [row for row in before["sweeps"] if row["id"] == second.id]
    assert [row["file_name"] for row in file["tables"]["recordings"]] == ["b.wav"]
    clear_leftovers(book)  # as every opening does
    assert len(clips) == 2 and all(clip_path(book.folder, name).is_file() for name in clips)


def test_the_same_recording_may_be_measured_again(book, harp, made, two):
    take_out_sweep(book, harp.id, two[1].id, today=TODAY)
    again = store_sweep(book, made.sweep(harp.id, day=date(2024, 4, 7), letters="b"))
    assert again.id == 3 and again.date == date(2024, 4, 7)  # numbers are never used twice


def test_measured_again_a_recording_is_what_the_new_hearing_found_in_it(book, harp, made, two):
    """What rides its gain by one hearing, of the wrong harp for instance, does not by the next, and all later verdicts go by that."""
    other, new = add_harp(book, "Rook", made.instrument), made.sweep(harp.id, day=SECOND, letters="b")
    heard = replace(new.recordings[0], quality=replace(made.quality, gain_riding=True), file_name="april.wav")
    take_out_sweep(book, harp.id, two[1].id, today=TODAY)
    assert store_sweep(book, replace(new, recordings=(heard,))).recordings == (heard,)
    third = store_sweep(book, made.sweep(other.id, day=SECOND, letters="b"))
    assert third.recordings == (heard,)  # the first harp's verdicts rest on it


def test_a_lost_baseline_is_named(book, harp, made, two):
    """4D was fresh in March only; 4E and 4C were again in May."""
    store_sweep(book, made.sweep(harp.id, day=date(2024, 5, 4), letters="c", strings=("4E", "4C"), is_fresh=True))
    done = take_out_sweep(book, harp.id, two[0].id, today=TODAY)
    assert done.bare == ("4D",)


def test_only_this_harps_sweeps(book, harp, made, two):
    other = add_harp(book, "Wren", made.instrument)
    for harp_id, sweep_id, why in ((other.id, 1, "another harp's"), (harp.id, 9, "no sweep 9")):
        with pytest.raises(UsageError, match=why):
            take_out_sweep(book, harp_id, sweep_id, today=TODAY)
    assert len(read.sweeps(book, harp.id)) == 2 and not book.withdrawn.exists()


@pytest.fixture
def checked(book, harp):
    """4C is new on 1 May; checked with 4D in the morning and in the evening of 2 May, and on the 9th, when it is noted that it had settled
    by the 5th or so: the likely day lies before the check that tells it.
    """
    fitting = replace_fitting(book, harp.id, NewFitting("4C", date(2024, 5, 1)), Removal(date(2024, 5, 1), "broke", "knot"))
    for at, letter in ((MORNING, "d"), (EVENING, "e"), (datetime(2024, 5, 9, 9), "f")):
        readings = [PitchReading(name, "C4", at, Figure(261.0, 0.1)) for name in ("4C", "4D")]
        pitch_checks.add_checks(book, harp.id, [NewCheck(one, letter * 64, None) for one in readings])
    pitch_checks.keep_settled(book, SettledRecord(fitting.id, "4C", date(2024, 5, 5), date(2024, 5, 9), 1.0))
    return fitting


def test_a_check_is_gone_with_all_its_strings(book, harp, checked):
    assert checks_of(book, harp.id, date(2024, 5, 2)) == {MORNING: ("4C", "4D"), EVENING: ("4C", "4D")}
    done = take_out_check(book, harp.id, EVENING, today=TODAY, why="the wrong file")
    assert checks_of(book, harp.id, date(2024, 5, 2)) == {MORNING: ("4C", "4D")}
    assert [one.at.day for one in pitch_checks.pitch_checks(book, harp.id)] == [2, 2, 9, 9]
    assert [row["string"] for row in kept(done)["tables"]["pitch_readings"]] == ["4C", "4D"]
    assert (done.day, done.strings) == (date(2024, 5, 2), ("4C", "4D")) and check_book(book) == ()


def test_what_was_settled_since_is_open_again(book, harp, checked):
    """The note of 9 May may rest on the check that is taken out; one of before would not."""
    done = take_out_check(book, harp.id, EVENING, today=TODAY)
    assert pitch_checks.settled_strings(book, harp.id) == ()
    assert [row["settled_on"] for row in kept(done)["tables"]["settled"]] == ["2024-05-05"] and done.wished == ()


def test_a_note_goes_with_the_check_that_it_was_told_by(book, harp, checked):
    """The check of 9 May told that 4C had settled by the 5th; and the wish that stood in the note is named."""
    pitch_checks.want_baseline(book, checked.id)
    done = take_out_check(book, harp.id, datetime(2024, 5, 9, 9), today=TODAY)
    assert pitch_checks.settled_strings(book, harp.id) == () and done.wished == (checked.id,)
    assert [(row["noted_on"], row["baseline_next"]) for row in kept(done)["tables"]["settled"]] == [("2024-05-09", True)]


def test_the_note_of_an_earlier_day_stays(book, harp, checked):
    reading = PitchReading("4C", "C4", datetime(2024, 5, 20, 9), Figure(261.0, 0.1))
    pitch_checks.add_checks(book, harp.id, [NewCheck(reading, "9" * 64, None)])
    take_out_check(book, harp.id, reading.at, today=TODAY)
    assert [one.string for one in pitch_checks.settled_strings(book, harp.id)] == ["4C"]


def test_a_check_that_came_with_a_sweep_goes_with_it(book, harp, made):
    record = store_sweep(book, made.sweep(harp.id, day=SECOND))
    at = datetime(2024, 4, 6, 12)
    pitch_checks.add_checks(book, harp.id, [NewCheck(PitchReading("4C", "C4", at, Figure(261.0, 0.1), sweep_id=record.id), "a" * 64, None)])
    with pytest.raises(UsageError, match=f"came with sweep {record.id}"):
        take_out_check(book, harp.id, at, today=TODAY)
    assert "pitch_readings" in kept(take_out_sweep(book, harp.id, record.id, today=TODAY))["tables"]
    assert pitch_checks.pitch_checks(book, harp.id) == ()


def test_a_sweep_whose_check_is_damaged_is_taken_back_with_all_that_follows(book, harp, made):
    """What is damaged says so, and to take that sweep out."""
    record = store_sweep(book, made.sweep(harp.id, day=SECOND))
    pitch_checks.add_checks(book, harp.id, [NewCheck(PitchReading("4C", "C4", MORNING, Figure(261.0, 0.1), sweep_id=record.id))])
    with writing(book) as connection:
        connection.execute(text("UPDATE pitch_readings SET found_hz = 'none'"))
    with pytest.raises(DamagedError, match="withdraw 1"):
        pitch_checks.pitch_checks(book, harp.id)
    assert "pitch_readings" in kept(take_back(book, harp, record.id, today=TODAY).done)["tables"]
    assert read.sweeps(book, harp.id) == () == pitch_checks.pitch_checks(book, harp.id)


def test_no_such_check(book, harp, checked):
    with pytest.raises(UsageError, match="no check of 2024-05-02 10:00"):
        take_out_check(book, harp.id, datetime(2024, 5, 2, 10), today=TODAY)


def test_where_the_file_cannot_be_written_the_book_stays_as_it_was(book, harp, two):
    book.withdrawn.write_text("a file where the folder should be")
    with pytest.raises(BookError, match="book"):
        take_out_sweep(book, harp.id, two[1].id, today=TODAY)
    assert len(read.sweeps(book, harp.id)) == 2 and len(read.plucks_of(book, two[1].id)) == 2


def test_a_note_goes_into_a_file_and_its_number_is_not_used_again(book, harp, two):
    note = add_event(book, harp.id, Event(date(2024, 5, 5), "moved", "to the hall"))
    done = take_out_note(book, harp.id, note.id, today=TODAY, why="another day")
    file = kept(done)
    assert done.path.name == f"note-{note.id}.json" and file["why"] == "another day" and check_book(book) == ()
    assert [(row["id"], row["kind"], row["note"], row["date"]) for row in file["tables"]["events"]] == [
        (note.id, "moved", "to the hall", "2024-05-05")]
    (climate,) = events_of(book, harp.id)
    assert add_event(book, harp.id, Event(date(2024, 5, 6), "moved", "to the hall")).id > note.id
    with pytest.raises(UsageError, match=f"came with sweep {two[1].id}"):
        take_out_note(book, harp.id, climate.id, today=TODAY)
    with pytest.raises(UsageError, match="no note 99"):
        take_out_note(book, harp.id, 99, today=TODAY)
    other = add_harp(book, "Finch", harp.instrument)
    with pytest.raises(UsageError, match=f"no note {climate.id}"):
        take_out_note(book, other.id, climate.id, today=TODAY)


def test_tables_put_back_from_an_older_copy_take_nothing_from_what_was_kept(book, harp):
    """A school's tables are saved apart from the folder: put back, they give their numbers again. Taken out once more, after the power
    failed for instance, the same rows are kept once."""
    older = (book.folder / DATABASE_FILE).read_bytes()

    def taken_back(text):
        (book.folder / DATABASE_FILE).write_bytes(older)
        note = add_event(book, harp.id, Event(SECOND, "moved", text))
        return take_out_note(book, harp.id, note.id, today=TODAY).path.name

    assert [taken_back(text) for text in ("home", "to the hall", "home", "away")] == [
        "note-1.json", "note-1-2.json", "note-1.json", "note-1-3.json"]
    told = [json.loads(path.read_text(encoding="utf-8"))["tables"]["events"][0]["note"] for path in sorted(book.withdrawn.iterdir())]
    assert sorted(told) == ["away", "home", "to the hall"]

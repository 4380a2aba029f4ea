"""Where recordings belong that are given together: a sweep that holds them, one whose place they take, or none, with what to do instead."""

from dataclasses import replace
from datetime import date

import pytest
from stored_sweep import store_sweep

from toneprobe.book.filing import file_state, filed, heard_before
from toneprobe.errors import BookError, UsageError

MAY, JUNE = date(2024, 5, 1), date(2024, 6, 1)


@pytest.fixture
def paths(tmp_path):
    """Files of one letter each, made here."""
    made = {letter: tmp_path / f"{letter}.wav" for letter in "abcd"}
    for letter, path in made.items():
        path.write_text(letter)
    return made


@pytest.fixture
def swept(book, harp, made, paths):
    """Store a sweep of recordings of that day."""

    def store(letters, day=MAY):
        new = made.sweep(harp.id, day=day, letters=letters)
        return store_sweep(book, replace(new, recordings=tuple(replace(one, sha256=file_state(paths[one.file_name[0]]).sha256)
                                                               for one in new.recordings)))

    return store


@pytest.fixture
def file(book, harp, paths):
    return lambda letters, day=None: filed(book, harp.id, [paths[letter] for letter in letters], day=day)


def test_all_recordings_of_a_sweep_are_that_sweep_and_with_one_more_they_take_its_place(swept, file):
    old = swept("ab")
    assert (file("ba").known, file("ba").day, file("ba").instead_of) == (old, MAY, ())
    for day in (None, MAY):
        more = file("abc", day)
        assert (more.known, more.instead_of, more.day, len(set(more.hashes))) == (None, (old,), MAY, 3)
    assert (file("cd").known, file("cd").instead_of, file("cd").day) == (None, (), None)
    with pytest.raises(UsageError, match="given twice"):
        file("aa")


@pytest.mark.parametrize(("given", "day", "again"), [("ac", None, "abc"), ("abc", JUNE, "abc"), ("ac", MAY, "abc")],
                         ids=["one is missing", "of another day", "missing, on its day"])
def test_a_sweep_that_cannot_give_its_place_is_to_be_measured_whole_on_its_own_day(swept, file, paths, given, day, again):
    swept("ab")
    with pytest.raises(BookError) as told:
        file(given, day)
    names = [str(paths[letter]) if letter in given else f"{letter}.wav" for letter in (*given, *sorted(set(again) - set(given)))]
    assert str(told.value) == ("recording 'a.wav' is in sweep 1 of 1 May 2024 already: leave it out, or measure its whole sweep again, on "
                               f"its day: toneprobe sweep {' '.join(names)} --date 2024-05-01")


def test_of_two_sweeps_of_one_day_what_is_missing_of_both_is_named(swept, file):
    swept("ab"), swept("cd")
    with pytest.raises(BookError) as told:
        file("ac")
    assert "c.wav b.wav d.wav --date 2024-05-01" in str(told.value)


@pytest.mark.parametrize(("day", "withdrawn"), [(None, 2), (MAY, 2), (JUNE, 1)])
def test_of_sweeps_of_two_days_the_one_of_the_other_day_is_to_be_taken_back_first(swept, file, day, withdrawn):
    swept("a"), swept("b", JUNE)
    with pytest.raises(BookError) as told:
        file("abc", day)
    assert f"is in sweep {withdrawn} of " in str(told.value)
    assert str(told.value).endswith(f"leave it out, or take that sweep back first: toneprobe withdraw {withdrawn}")


def test_what_was_heard_before_is_found_in_the_sweeps_that_are_asked(swept, book, harp, made):
    old = swept("a")
    plucks = [made.measurement(string, at_s, 261.5) for string in ("4E", "4D", "4C") for at_s in (1.0, 2.0)]
    again = [replace(one, measurement=pluck) for one, pluck in zip(made.sweep(harp.id).plucks * 2, plucks, strict=True)]
    new = store_sweep(book, replace(made.sweep(harp.id, day=JUNE, letters="b"), plucks=tuple(again)))
    assert heard_before(book, harp.id, plucks, leaving_out=()) == new
    assert heard_before(book, harp.id, plucks, leaving_out=[new.id]) is None and old.id != new.id

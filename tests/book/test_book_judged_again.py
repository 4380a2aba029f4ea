"""The log put right or filled in: which sweeps are judged again. Derived here: a verdict asks what was on, and whether it had settled."""

from datetime import date

import pytest
from stored_sweep import store_sweep

from toneprobe.book import read
from toneprobe.book.stringing import replace_fitting
from toneprobe.fittings import NewFitting, Removal
from toneprobe.judging.verdicts import JudgedAgain, recall
from toneprobe.notebook import LogRow
from toneprobe.upkeep import log_entries
from toneprobe.upkeep.log_entries import correct_entry, take_notebook, withdraw_entry
from toneprobe.upkeep.string_change import StringChange, change_string
from toneprobe.upkeep.taking_back import take_back

FRESH, LATER = date(2024, 3, 2), date(2024, 9, 7)
TODAY = date(2024, 10, 1)


@pytest.fixture
def swept(book, harp, made):
    """A book with two sweeps of strings that are on since before the log."""
    for day, letter in ((FRESH, "a"), (LATER, "b")):
        store_sweep(book, made.sweep(harp.id, day, letter))
    return book


def on(book, harp):
    return read.fitting_log(book, harp.id, "4C")[-1]


@pytest.fixture
def since(monkeypatch):
    """From which days on sweeps were judged again; nothing is judged."""
    days = []
    monkeypatch.setattr(log_entries, "judge_again", lambda book, harp_id, *, since, progress: days.append(since) or JudgedAgain())
    return days


JUDGING = {
    "a correction": lambda book, harp, show: correct_entry(book, on(book, harp), {"is_stand_in": True}, today=TODAY, why="", progress=show),
    "a notebook": lambda book, harp, show: take_notebook(
        book, harp.id, [LogRow(4, "4C", None, date(2024, 3, 1)), LogRow(5, "4C", date(2024, 3, 1))], today=TODAY, progress=show),
    "a change": lambda book, harp, show: change_string(book, harp, StringChange("4C", date(2024, 3, 1)), progress=show),
    "a sweep taken back": lambda book, harp, show: take_back(book, harp, 1, today=TODAY, progress=show),
}


@pytest.mark.parametrize("what", JUDGING)
def test_how_far_judging_again_is_reaches_whoever_asks(swept, harp, monkeypatch, what):
    monkeypatch.setattr("toneprobe.judging.verdicts._judge_anew", lambda book, sweep_id, lookups: [])
    seen = []
    JUDGING[what](swept, harp, lambda *now: seen.append(now))
    assert seen == ([(1, 1)] if what == "a sweep taken back" else [(1, 2), (2, 2)])


def test_of_two_sweeps_of_one_day_only_the_second_has_one_before_it(book, harp, made):
    first, second = (store_sweep(book, made.sweep(harp.id, LATER, letter)) for letter in "ab")
    assert recall(book, first).past.said == {}
    assert recall(book, second).past.said == dict.fromkeys(("4E", "4D", "4C"), {"sound": (LATER,)})


def test_a_change_that_never_happened_is_judged_again_from_its_day_on(swept, harp, monkeypatch):
    monkeypatch.setattr("toneprobe.judging.verdicts._judge_anew", lambda book, sweep_id, lookups: [])
    new, seen = replace_fitting(swept, harp.id, NewFitting("4C", LATER), Removal(LATER, "dead")), []
    done, judged = withdraw_entry(swept, new, today=TODAY, why="", progress=lambda *now: seen.append(now))
    assert (done.withdrawn.id, on(swept, harp).id, judged, seen) == (new.id, done.again.id, JudgedAgain(), [(1, 1)])


@pytest.mark.parametrize(("changes", "first"), [
    ({"note": "the loud one", "supplier": "a shop", "batch": "7", "gauge_mm": 1.1}, []),
    ({"fitted_on": date(2019, 5, 1)}, []),  # years old in either sweep, as it was
    ({"fitted_on": date(2024, 2, 28)}, [FRESH]),  # days old in the first: had it settled?
    ({"fitted_on": date(2024, 5, 1)}, [FRESH]),  # the first heard another one
    ({"is_stand_in": True}, [FRESH]), ({"material": "gut"}, []),
    ({"removed_on": date(2024, 9, 30)}, []), ({"removed_on": date(2024, 8, 1)}, [LATER]),
])
def test_only_sweeps_whose_verdicts_rest_on_what_was_put_right_are_judged_again(swept, harp, since, changes, first):
    entry, = read.fitting_log(swept, harp.id, "4C")
    _, trace, _ = correct_entry(swept, entry, changes, today=TODAY, why="")
    assert since == first and {one.field for one in trace} == set(changes)


def test_a_change_moved_by_days_touches_the_sweeps_from_then_on(swept, harp, since):
    new = replace_fitting(swept, harp.id, NewFitting("4C", LATER), Removal(LATER, "dead"))
    old = read.fitting_log(swept, harp.id, "4C")[0]
    correct_entry(swept, old, {"removed_on": date(2024, 9, 1)}, today=TODAY, why="")
    assert since == [LATER]  # the sweep of the seventh had heard the old one
    correct_entry(swept, new, {"fitted_on": date(2024, 9, 1)}, today=TODAY, why="")
    assert since == [LATER]  # on since that day or for six, it had not settled


def test_a_notebook_of_the_years_before_the_first_sweep_changes_no_verdict(swept, harp, since):
    take_notebook(swept, harp.id, [LogRow(2, "4C", date(2018, 1, 1), date(2021, 5, 1)), LogRow(3, "4C", date(2021, 5, 1))], today=TODAY)
    assert len(read.fitting_log(swept, harp.id, "4C")) == 2 and since == []
    take_notebook(swept, harp.id, [LogRow(4, "4D", None, date(2024, 5, 1)), LogRow(5, "4D", date(2024, 5, 1))], today=TODAY)
    assert since == [FRESH]  # which heard the one before

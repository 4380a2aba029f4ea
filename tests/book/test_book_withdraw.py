"""A string change that never happened is taken back. What must be true afterwards was written down by hand before."""

from datetime import date, datetime

import pytest
from stored_sweep import store_sweep

from toneprobe.book import corrections, pitch_checks, read, spare_box
from toneprobe.book.check import check_book
from toneprobe.book.entries import NewCheck
from toneprobe.book.stringing import replace_fitting
from toneprobe.book.withdrawals import withdraw_fitting, withdrawn_fittings
from toneprobe.book.write import mark_fresh
from toneprobe.errors import UsageError
from toneprobe.fittings import NewFitting, Removal
from toneprobe.measure.figure import Figure
from toneprobe.settling import PitchReading, SettledRecord
from toneprobe.spares import Spare

TODAY = date(2024, 6, 1)
FRESH, WRONG, LATER, NEXT = date(2024, 1, 10), date(2024, 3, 1), date(2024, 3, 20), date(2024, 5, 1)


def log_of(book, harp):
    return [(one.fitted_on, one.removed_on, one.why_removed, one.broke_at) for one in read.fitting_log(book, harp.id, "4C")]


def change(book, harp, day, why="broke", place="knot", **more):
    return replace_fitting(book, harp.id, NewFitting("4C", day), Removal(day, why, place), **more)


def heard_4c(book, sweep_id):
    (pluck,) = [one for one in read.plucks_of(book, sweep_id) if one.measurement.string == "4C"]
    return pluck


@pytest.fixture
def wrong(book, harp, made):
    """Fresh in January; in March a change of 4C with a spare that never happened, its pitch checks and its "fresh" sweep."""
    store_sweep(book, made.sweep(harp.id, day=FRESH, letters="a", is_fresh=True))
    (spare,) = spare_box.add_spares(book, [Spare("4C", bought_on=date(2024, 1, 1), harp_id=harp.id)])
    fitting = change(book, harp, WRONG, spare_id=spare.id)
    reading = PitchReading("4C", "C4", datetime(2024, 3, 2, 9), Figure(261.0, 0.1))
    pitch_checks.add_checks(book, harp.id, [NewCheck(reading, "d" * 64, None)])
    pitch_checks.keep_settled(book, SettledRecord(fitting.id, "4C", date(2024, 3, 8), date(2024, 3, 9), 2.0))
    mark_fresh(book, store_sweep(book, made.sweep(harp.id, day=LATER, letters="b")).id, strings=["4C"])
    return fitting


def test_the_string_that_was_on_is_on_again_with_all_that_was_heard_of_it(book, harp, wrong):
    (old, _) = read.fitting_log(book, harp.id, "4C")
    assert heard_4c(book, 2).fitting_id == wrong.id and heard_4c(book, 2).is_fresh  # before
    done = withdraw_fitting(book, wrong.id, today=TODAY, why="it was 4D")
    assert log_of(book, harp) == [(None, None, None, None)] and done.again.id == old.id
    assert [heard_4c(book, sweep_id).fitting_id for sweep_id in (1, 2)] == [old.id, old.id]
    assert {one.fitting_id for one in read.condition_history(book, harp.id, "4C")} == {old.id}
    assert {one.fitting_id for one in pitch_checks.pitch_checks(book, harp.id)} == {old.id}
    assert pitch_checks.settled_strings(book, harp.id) == ()
    assert check_book(book) == ()


def test_its_baseline_is_the_one_it_had(book, harp, wrong):
    """The March sweep was kept as the baseline of a new string; the old one had its own in January."""
    done = withdraw_fitting(book, wrong.id, today=TODAY)
    assert done.lost_baseline
    assert {one.date for one in read.fresh_plucks(book, done.again.id)} == {FRESH}
    assert [one.is_fresh for one in read.sweeps(book, harp.id)] == [True, False]


def test_a_string_without_another_baseline_keeps_what_was_kept(book, harp, made):
    fitting = change(book, harp, WRONG)
    store_sweep(book, made.sweep(harp.id, day=LATER, is_fresh=True))
    done = withdraw_fitting(book, fitting.id, today=TODAY)
    assert not done.lost_baseline and {one.date for one in read.fresh_plucks(book, done.again.id)} == {LATER}


def test_the_spare_is_on_the_list_again(book, harp, wrong):
    (spare,) = withdraw_fitting(book, wrong.id, today=TODAY).spares
    assert (spare.used_on, spare.fitting_id) == (None, None) and spare_box.spares_of(book, harp.id) == (spare,)


def test_what_was_written_stays_on_record(book, harp, wrong):
    withdraw_fitting(book, wrong.id, today=TODAY, why="it was 4D")
    (kept,) = withdrawn_fittings(book, harp.id, "4C")
    assert (kept.id, kept.fitted_on) == (wrong.id, WRONG)
    trace = [(one.field, one.before, one.after, one.why) for one in corrections.corrections_of(book, harp.id)]
    assert trace == [("entry", "2024-03-01 to today", None, "it was 4D"), ("removed_on", "2024-03-01", None, "it was 4D"),
                     ("why_removed", "broke", None, "it was 4D"), ("broke_at", "knot", None, "it was 4D")]


def test_a_change_between_two_others_leaves_one_string_for_both_times(book, harp, made):
    """On since before, "changed" in March, broke at the knot in May: without the change in March the first one broke in May."""
    wrong = change(book, harp, WRONG, "dead", None)
    last = change(book, harp, NEXT)
    withdraw_fitting(book, wrong.id, today=TODAY)
    assert log_of(book, harp) == [(None, NEXT, "broke", "knot"), (NEXT, None, None, None)]
    withdraw_fitting(book, last.id, today=TODAY)
    assert log_of(book, harp) == [(None, None, None, None)]


def test_of_two_changes_on_one_day_the_last_goes_first(book, harp):
    first, second = change(book, harp, WRONG), change(book, harp, WRONG, "false", None)
    assert withdraw_fitting(book, second.id, today=TODAY).again.id == first.id
    assert log_of(book, harp) == [(None, WRONG, "broke", "knot"), (WRONG, None, None, None)]


def test_what_is_no_change_cannot_be_withdrawn(book, harp, wrong):
    (old, _) = read.fitting_log(book, harp.id, "4C")
    with pytest.raises(UsageError, match="no change that could be withdrawn"):
        withdraw_fitting(book, old.id, today=TODAY)
    withdraw_fitting(book, wrong.id, today=TODAY)
    with pytest.raises(UsageError, match="withdrawn before"):
        withdraw_fitting(book, wrong.id, today=TODAY)
    again = change(book, harp, WRONG)  # the right day after all: it can be logged once more
    assert [one.id for one in read.fitting_log(book, harp.id, "4C")] == [old.id, again.id]

"""A string that a sweep begins. What is expected is derived here: nobody wrote it down, so it is as long as something was heard of it."""

from dataclasses import replace
from datetime import date

import pytest
from stored_sweep import store_sweep

from toneprobe.book.begun import begin_earlier
from toneprobe.book.check import check_book
from toneprobe.book.corrections import correct_fitting, corrections_of
from toneprobe.book.read import fitting_log, fresh_plucks, plucks_of_fitting
from toneprobe.book.stringing import add_harp
from toneprobe.book.taken_out import take_out_sweep
from toneprobe.book.withdrawals import withdraw_fitting

APRIL, MAY, JUNE, JULY = (date(2024, month, 1) for month in (4, 5, 6, 7))


@pytest.fixture
def linnet(book, made):
    return add_harp(book, "Linnet", made.instrument)


def log(book, harp):
    return fitting_log(book, harp.id, "4C")


def first_on(book, harp, day):
    """The string of 4C went on that day."""
    entry = next(one for one in log(book, harp) if one.removed_on is None)
    return correct_fitting(book, entry.id, {"fitted_on": day}, today=JULY)[0]


def swept(book, made, harp, day, **more):
    """As the main job stores a sweep."""
    begin_earlier(book, harp.id, made.instrument, {"4E", "4D", "4C"}, on=day, today=JULY)
    return store_sweep(book, made.sweep(harp.id, day, letters="abcdefg"[day.month - 1], **more), today=JULY)


def heard_of(book, fitting):
    return {one.date for one in plucks_of_fitting(book, fitting.id)}


def test_a_sweep_of_before_the_first_day_of_its_string_heard_the_one_before_it(book, made, linnet):
    """4C went on in July, says a log that was typed before any sweep was put in: what May heard was another, which came off then. Taken
    back, the two are one again."""
    new = first_on(book, linnet, JULY)
    swept(book, made, linnet, MAY, is_fresh=True)
    swept(book, made, linnet, JUNE)
    old, still = log(book, linnet)
    assert (old.fitted_on, old.removed_on, old.material) == (None, JULY, "nylon") and still == new
    assert {one.date for one in fresh_plucks(book, old.id)} == {MAY} and fresh_plucks(book, new.id) == ()
    assert len(fitting_log(book, linnet.id)) == 4  # one more, though two sweeps heard it; the others are of unknown day
    withdraw_fitting(book, new.id, today=JULY)
    (again,) = log(book, linnet)
    assert again == replace(old, removed_on=None) and {one.date for one in fresh_plucks(book, again.id)} == {MAY}


def test_what_earlier_sweeps_heard_is_of_that_string_too(book, made, linnet):
    """By a correction of its day the sweep of April was of no string."""
    swept(book, made, linnet, APRIL, is_fresh=True)
    new = first_on(book, linnet, JULY)
    assert heard_of(book, new) == set()
    swept(book, made, linnet, MAY)
    old, _ = log(book, linnet)
    assert heard_of(book, old) == {APRIL, MAY} and {one.date for one in fresh_plucks(book, old.id)} == {APRIL}


def test_it_leaves_the_log_with_the_last_sweep_that_heard_it(book, made, linnet):
    first_on(book, linnet, JULY)
    may, june = swept(book, made, linnet, MAY), swept(book, made, linnet, JUNE)
    assert take_out_sweep(book, linnet.id, may.id, today=JULY).begun == () and len(log(book, linnet)) == 2
    done = take_out_sweep(book, linnet.id, june.id, today=JULY)
    assert done.begun == ("4C",) and len(log(book, linnet)) == 1 and check_book(book) == ()
    assert '"removed_on": "2024-07-01"' in done.path.read_text(encoding="utf-8")  # what leaves the tables is in the file


def test_what_its_owner_told_of_it_stays(book, made, linnet):
    first_on(book, linnet, JULY)
    may = swept(book, made, linnet, MAY)
    old, _ = log(book, linnet)
    correct_fitting(book, old.id, {"why_removed": "broke"}, today=JULY)
    assert take_out_sweep(book, linnet.id, may.id, today=JULY).begun == ()
    assert log(book, linnet)[0] == replace(old, why_removed="broke")


@pytest.mark.parametrize(("day", "until"), [(JUNE, JUNE), (date(2024, 7, 2), date(2024, 7, 2)), (APRIL, None), (MAY, None), (None, None)])
def test_it_ends_when_the_first_string_went_on_wherever_that_day_is_moved(book, made, linnet, day, until):
    """None: by then none was heard, so the first string is what May heard."""
    new = first_on(book, linnet, JULY)
    swept(book, made, linnet, MAY)
    moved, _ = correct_fitting(book, new.id, {"fitted_on": day}, today=date(2024, 7, 3))
    *before, last = log(book, linnet)
    assert (last.id, [one.removed_on for one in before]) == (new.id, [until] if until else [])
    assert heard_of(book, last) == (set() if until else {MAY}) and check_book(book) == ()
    assert {one.fitting_id for one in corrections_of(book, linnet.id)} == {one.id for one in (*before, last)}

"""A stored sweep told again: which day, which sound and which other sweep stands beside each string, from made-up values."""

import pickle
import sqlite3
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from stored_sweep import store_sweep

from toneprobe.audio import Remark
from toneprobe.audio.remark import GAIN_MOVES
from toneprobe.book import read
from toneprobe.book.connect import reading, writing
from toneprobe.book.diary import add_event
from toneprobe.book.rows import to_condition
from toneprobe.book.stringing import replace_fitting
from toneprobe.book.taken_out import take_out_sweep
from toneprobe.errors import BookError, UsageError
from toneprobe.events import Event
from toneprobe.fittings import NewFitting, Removal
from toneprobe.retelling import compared, find_sweep, judged_between, retell, shelf_of

MARCH, MAY, JUNE = date(2024, 3, 2), date(2024, 5, 4), date(2024, 6, 1)


@pytest.fixture
def swept(book, harp, made):
    """Store a sweep of that day; `verdicts`: by string, those that are not sound."""

    def store(letter, day, *, fresh=(), strings=("4E", "4D", "4C"), clip=1, **verdicts):
        new = made.sweep(harp.id, day=day, letters=letter, strings=strings)
        conditions = tuple(made.condition(name, verdicts.get(f"_{name}", "sound")) for name in strings)
        plucks = tuple(replace(one, clip=made.clip(10 * clip + place)) for place, one in enumerate(new.plucks))
        return store_sweep(book, replace(new, plucks=plucks, conditions=conditions), fresh=fresh)

    return store


@pytest.fixture
def told(book):
    """By string, what is shown of a sweep."""
    return lambda record: {one.name: one for one in retell(book, record, "Linnet").strings}


def test_the_latest_sweep_is_told_where_none_is_named(book, harp, swept):
    with pytest.raises(BookError, match="no sweep yet"):
        find_sweep(book, harp.id)
    first, second = swept("a", MARCH), swept("b", MAY)
    assert find_sweep(book, harp.id) == second and find_sweep(book, harp.id, first.id) == first
    with pytest.raises(UsageError, match="no sweep 7; it has 1, 2"):
        find_sweep(book, harp.id, 7)


def test_a_string_without_a_baseline_is_told_of_the_one_that_it_got_later(swept, told):
    first, second = swept("a", MARCH, fresh=("4E",), _4E="unrated", _4D="unrated"), swept("b", MAY, fresh=("4D",), _4D="unrated")
    assert {name: one.fresh_later_on for name, one in told(first).items()} == {"4E": None, "4D": MAY, "4C": None}
    assert told(second)["4D"].fresh_later_on is None  # it is that one itself


def test_a_new_string_whose_checks_fail_to_show_it_settled_is_to_be_checked_first(swept, told, monkeypatch):
    """Which strings these are is `fresh_start`'s."""
    monkeypatch.setattr("toneprobe.retelling.unshown_strings", lambda book, state: {"4D": ("look again", MARCH)})
    one = told(swept("a", MAY, _4D="unrated"))["4D"]
    assert one.condition.next_step == "4D should have settled by 2 March 2024, but gets no fresh baseline yet. Look again."


def test_a_string_that_two_sweeps_condemned_and_that_is_fine_now_is_told_of(book, swept):
    """Once: the sweep after says nothing of it."""
    verdicts = ("dead", "dead", "sound", "sound")
    records = [swept("abcd"[n], MARCH + timedelta(n), _4C=verdict) for n, verdict in enumerate(verdicts)]
    told = [any("judged dead more than once, last on 3 March 2024" in one.text for one in retell(book, record, "Linnet").warnings)
            for record in records]
    assert told == [False, False, True, False]


def test_of_several_evenings_of_fresh_strings_each_knows_the_others(swept, told):
    evening = swept("a", MARCH, fresh=("4E",), strings=("4E",))
    swept("b", MARCH - timedelta(1), fresh=("4D",), strings=("4D",))
    assert {name: one.fresh_elsewhere_on for name, one in told(evening).items()} == {"4E": None, "4D": MARCH - timedelta(1), "4C": None}
    other = swept("c", MARCH, fresh=("4E",), strings=("4E", "4C"))
    assert told(other)["4D"].fresh_elsewhere_on is None  # no evening of fresh strings alone: 4D was missed


def test_a_sweep_shows_what_was_known_on_its_day(book, harp, swept, told):
    """Of its history what came until then, itself included; of what was noted what came since the sweep before."""
    first, second, third = swept("a", MARCH, fresh=("4C",)), swept("b", MAY), swept("c", JUNE)
    for day, what in ((MARCH - timedelta(9), "to the church"), (MARCH + timedelta(9), "to the hall"), (MAY + timedelta(9), "to the barn")):
        add_event(book, harp.id, Event(day, "moved", what))
    assert [len(told(one)["4C"].history) for one in (first, second, third)] == [1, 2, 3]
    warnings = [" ".join(one.text for one in retell(book, record, "Linnet").warnings) for record in (first, second, third)]
    assert [[place for place in ("church", "hall", "barn") if place in text] for text in warnings] == [[], ["hall"], ["barn"]]


def test_beside_each_other_are_heard_the_sound_of_now_and_the_fresh_one(book, made, swept, told):
    swept("a", MARCH, fresh=("4C",), clip=5)
    string = told(swept("b", MAY, clip=6))["4C"]
    for heard, seed in ((string.clip_now, 62), (string.clip_fresh, 52)):  # of the third pluck of each
        assert np.array_equal(heard().samples, made.clip(seed).samples)
    without = told(swept("c", JUNE, clip=7))["4D"]  # has no baseline
    assert without.clip_fresh is None and np.array_equal(without.clip_now().samples, made.clip(71).samples)


def test_of_a_string_that_was_changed_in_between_the_log_is_told_as_it_stood(book, harp, swept, told):
    first = swept("a", MARCH)
    replace_fitting(book, harp.id, NewFitting("4C", MAY, "nylon"), Removal(MAY, "broke", "knot"))
    assert [one.removed_on for one in told(first)["4C"].fittings] == [None]
    assert [one.removed_on for one in told(swept("b", JUNE))["4C"].fittings] == [MAY, None]


def test_how_old_a_string_was_when_it_became_its_own_measure_is_asked_of_the_first_day(book, swept):
    """The log does not know when 4C went on."""
    swept("a", MARCH, fresh=("4C",)), swept("b", MARCH + timedelta(7), fresh=("4C",))
    told = " ".join(one.text for one in retell(book, swept("c", JUNE), "Linnet").warnings)
    assert "does not know the age" in told and "2 March 2024" in told and "9 March" not in told


def test_two_sweeps_are_compared_from_the_earlier_day_to_the_later(book, swept):
    late, early = swept("a", MAY, _4C="dead"), swept("b", MARCH, fresh=("4C",))
    view = compared(book, [late, early], "Linnet")
    assert (view.before.date, view.after.date) == (MARCH, MAY)
    assert {one.name: one.verdict_between for one in view.strings}["4C"] == "dead"  # as the later was judged by the earlier, its baseline


def test_what_a_recording_could_not_carry_is_told_unless_the_comparison_speaks_of_it(book, harp, made):
    """Of a gain that moves the verdicts tell themselves where a string was compared."""
    remarks = (Remark("Nothing below 40 Hz."), Remark("The gain moves.", GAIN_MOVES))
    moving = replace(made.recording("b"), quality=replace(made.quality, gain_riding=True))
    store_sweep(book, made.sweep(harp.id, day=MARCH, letters="a"), fresh=("4C",))
    new = replace(made.sweep(harp.id, day=MAY, letters="b"), recordings=(moving,), remarks=remarks)
    told = [one.text for one in retell(book, store_sweep(book, new), "Linnet").warnings]
    assert "Nothing below 40 Hz." in told and "The gain moves." not in told and any("gain" in text for text in told)


def test_that_plucks_are_an_old_sweeps_is_told_as_long_as_that_is_in_the_book(book, harp, made):
    """That old sweep may be the one that was wrong, and taken back."""
    old = store_sweep(book, made.sweep(harp.id, day=MARCH, letters="a"))
    new = replace(made.sweep(harp.id, day=MAY, letters="b"), remarks=(Remark("The very same plucks.", as_sweep=old.id), Remark("Hum.")))
    record = store_sweep(book, new)

    def told():
        return [one.text for one in retell(book, read.sweep(book, record.id), "Linnet").warnings]

    assert told()[:2] == ["The very same plucks.", "Hum."]
    take_out_sweep(book, harp.id, old.id, today=JUNE)
    assert told()[:1] == ["Hum."]


def test_a_comparison_tells_the_stored_verdict_where_that_is_of_the_same_two_sweeps(book, harp, swept):
    """4C was fresh in the first alone; 4E in both, so its verdict is against both, and what changed since the first is judged anew."""
    first, _, third = swept("a", MARCH, fresh=("4E", "4C")), swept("b", MARCH + timedelta(7), fresh=("4E",)), swept("c", JUNE)
    stored = {one.condition.string: one.condition for one in read.conditions_of(book, third.id)}
    steps = judged_between(book, first, third)
    assert {name for name, one in steps.items() if one == stored[name]} == {"4C"} and set(steps) == {"4E", "4D", "4C"}


def test_what_another_process_writes_a_page_from_has_its_sounds(book, harp, swept):
    """Elsewhere than on Linux a process gets a copy of what it works on: by the standard library's pickle."""
    view = retell(book, swept("a", MARCH), "Linnet")
    here, there = (one.strings[0].clip_now() for one in (view, pickle.loads(pickle.dumps(view))))
    assert len(here.samples) and np.array_equal(here.samples, there.samples)


def test_all_pages_of_a_harp_ask_for_each_verdict_as_often_as_one_sweep_would(book, harp, swept, monkeypatch):
    """Ten years of sweeps would else read each verdict 120 times. Derived here: for all of them, for its own sweep, for the last step."""
    records = [swept(letter, MARCH + timedelta(30 * k), fresh=("4E",) if not k else (), _4D="watch") for k, letter in enumerate("abcde")]
    alone = [[one.history for one in retell(book, record, "Linnet").strings] for record in records]
    asked, done = [], []
    monkeypatch.setattr(read, "to_condition", lambda row: asked.append((row["sweep_id"], row["string"])) or to_condition(row))
    assert [[one.history for one in view.strings] for view in shelf_of(book, harp, progress=lambda *now: done.append(now)).views] == alone
    assert done == [(k, 5) for k in range(1, 6)]  # minutes for ten years: how far it is, is shown
    assert max(map(asked.count, asked)) <= 3


def test_a_sweep_is_told_in_one_view_of_the_book(book, swept, monkeypatch):
    """Each view of its own costs as much as what is asked in it, and of a harp there is much to ask."""
    swept("a", MARCH, fresh=("4E", "4D"))
    second, opened, connect = swept("b", MAY), [], sqlite3.connect
    monkeypatch.setattr("toneprobe.book.connect.sqlite3.connect", lambda *how, **more: opened.append(1) or connect(*how, **more))
    retell(book, second, "Linnet")
    assert len(opened) == 1


def test_a_view_within_another_is_the_same_and_ends_with_it(book, swept):
    with reading(book) as one, reading(book) as other:
        assert other is one
    assert one.closed
    swept("a", MARCH)  # and nobody waits for its end
    with writing(book) as one, reading(book) as other:
        assert other is one
    with reading(book) as other:
        assert other is not one and not other.closed

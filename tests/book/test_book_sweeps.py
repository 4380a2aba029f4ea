"""What goes into a book comes out of it, once, and exactly."""

import json
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stored_sweep import store_sweep

from toneprobe.audio import Remark
from toneprobe.audio.remark import SINGLE_SOUNDS
from toneprobe.book import read
from toneprobe.book.connect import reading
from toneprobe.book.convert import plain, stored, to_json
from toneprobe.book.entries import Clip, NewPluck
from toneprobe.book.opening import create_book
from toneprobe.book.stringing import add_harp
from toneprobe.book.write import mark_fresh, replace_conditions
from toneprobe.condition import VERDICTS, Condition
from toneprobe.condition.verdict import PartialsMoved
from toneprobe.errors import BookError, UsageError
from toneprobe.measure.figure import FIGURES, Figure, Partial, PluckMeasurement

number = st.floats(allow_nan=False, allow_infinity=False)
maybe = st.none() | number
text = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=12)
figure = st.builds(Figure, number, maybe) | st.builds(Figure, st.none(), st.none(), text)
partial = st.builds(Partial, st.integers(1, 60), number, number, number, number, maybe, maybe, maybe, maybe, maybe)
measured = st.builds(
    PluckMeasurement, text, text, number, maybe, number, maybe, *[figure] * 11,
    partials=st.lists(partial, max_size=3).map(tuple), flags=st.lists(text, max_size=2).map(tuple),
)  # fmt: skip
figures = st.dictionaries(st.sampled_from(FIGURES), figure, max_size=3)
moved = st.builds(PartialsMoved, *[st.lists(of, max_size=3).map(tuple) for of in (st.integers(1, 60), number, number)], st.integers(1, 60))
judged = st.builds(
    Condition, text, text, st.sampled_from(VERDICTS), maybe, maybe, st.integers(0, 9), st.lists(text, max_size=3).map(tuple), text,
    figures, figures, partials_moved=st.none() | moved,
)  # fmt: skip


@given(measured | judged)
def test_values_survive_json_exactly(value):
    assert stored(type(value), json.loads(to_json(plain(value)))) == value


def test_what_a_pluck_does_not_tell_stays_unknown(book, harp, made):
    told = replace(made.measurement(), ring_s=None, snr_db=None, partials=())
    record = store_sweep(book, replace(made.sweep(harp.id), plucks=(NewPluck(told, 0, made.clip()),)))
    assert read.plucks_of(book, record.id)[0].measurement == told
    with reading(book) as connection:
        assert connection.exec_driver_sql("SELECT ring_s, snr_db FROM plucks").all() == [(None, None)]


@pytest.fixture(scope="module")
def wide_book(tmp_path_factory):
    return create_book(tmp_path_factory.mktemp("wide") / "book")


@settings(max_examples=15, deadline=None)
@given(st.lists(measured, max_size=3), st.lists(judged, max_size=3, unique_by=lambda one: one.string))
def test_values_survive_the_book_exactly(wide_book, made, values, verdicts):
    harp = add_harp(wide_book, f"harp {len(read.harps(wide_book))}", made.instrument)
    new = replace(made.sweep(harp.id, strings=()), plucks=tuple(map(NewPluck, values)), conditions=tuple(verdicts))
    record = store_sweep(wide_book, new)
    assert [pluck.measurement for pluck in read.plucks_of(wide_book, record.id)] == values
    assert [one.condition for one in read.conditions_of(wide_book, record.id)] == verdicts


REMARKS = (Remark("Hum."), Remark("Left out, because 5D rang along: 4C at 5.3 s.", SINGLE_SOUNDS, ("4C",), "5D"))


def test_a_sweep_comes_back_as_it_was_stored(book, harp, made):
    new = made.sweep(harp.id, letters="ab", unheard=("4C", "4D"), remarks=REMARKS, is_fresh=True)
    record = store_sweep(book, new)
    assert (record.date, record.is_fresh, record.instrument) == (date(2024, 5, 1), True, made.instrument)
    assert (record.recordings, record.unheard, record.remarks) == (new.recordings, new.unheard, new.remarks)
    assert read.sweeps(book, harp.id) == (record,) and read.sweep(book, record.id) == record


def test_plucks_belong_to_what_is_on_the_harp(book, harp, made):
    record = store_sweep(book, made.sweep(harp.id))
    on = read.current_fittings(book, harp.id, on=record.date)
    for pluck in read.plucks_of(book, record.id):
        assert pluck.fitting_id == on[pluck.measurement.string].id
    assert len(read.plucks_of_fitting(book, on["4C"].id)) == 1


def test_the_same_recording_twice_adds_nothing(book, harp, made):
    first = store_sweep(book, made.sweep(harp.id, letters="ab"))
    clips = sorted(book.plucks.rglob("*"))
    assert store_sweep(book, made.sweep(harp.id, date(2024, 6, 1), letters="ba")) == first
    assert store_sweep(book, made.sweep(harp.id, letters="b")) == first
    assert read.sweeps(book, harp.id) == (first,) and sorted(book.plucks.rglob("*")) == clips
    assert read.find_sweep_by_recordings(book, harp.id, ["a" * 64]) == first
    assert read.find_sweep_by_recordings(book, harp.id, ["c" * 64]) is None


def test_a_recording_never_counts_in_two_sweeps_of_a_harp(book, harp, made):
    first = store_sweep(book, made.sweep(harp.id, letters="a"))
    with pytest.raises(BookError, match=f"'a.wav' is in sweep {first.id} of 1 May 2024 already"):
        store_sweep(book, made.sweep(harp.id, letters="ac"))
    assert read.sweeps(book, harp.id) == (first,)


def test_another_harp_may_be_heard_in_the_same_recording(book, harp, made):
    other = add_harp(book, "Wren", made.instrument)
    assert store_sweep(book, made.sweep(harp.id)).id != store_sweep(book, made.sweep(other.id)).id


@pytest.mark.parametrize("wrong", [float("nan"), float("inf")])
def test_what_is_no_number_stores_nothing_at_all(book, harp, made, wrong):
    with pytest.raises(BookError, match="no figure; nothing was stored"):
        store_sweep(book, replace(made.sweep(harp.id), plucks=(NewPluck(made.measurement(pitch_hz=wrong), 0, made.clip()),)))
    assert read.sweeps(book, harp.id) == () and list(book.plucks.iterdir()) == []


def test_a_clip_that_fails_halfway_stores_nothing_at_all(book, harp, made):
    broken = NewPluck(made.measurement(), 0, Clip(np.array([np.nan]), 8000))
    new = made.sweep(harp.id)
    with pytest.raises(BookError, match="all of them numbers; nothing was stored"):
        store_sweep(book, replace(new, plucks=(*new.plucks, broken)))
    assert read.sweeps(book, harp.id) == () and list(book.plucks.iterdir()) == []


def test_judging_again_replaces_verdicts_and_leaves_measurements(book, harp, made):
    record = store_sweep(book, made.sweep(harp.id))
    before = read.plucks_of(book, record.id)
    replace_conditions(book, record.id, [made.condition("4D", "dead")])
    assert [(one.condition.string, one.condition.verdict) for one in read.conditions_of(book, record.id)] == [("4D", "dead")]
    assert read.plucks_of(book, record.id) == before
    assert read.conditions_of(book, record.id)[0].fitting_id == before[1].fitting_id


def test_verdicts_of_a_string_come_oldest_first(book, harp, made):
    for letter, day in (("b", date(2024, 6, 1)), ("a", date(2024, 5, 1)), ("c", date(2024, 7, 1))):
        store_sweep(book, made.sweep(harp.id, day, letters=letter))
    assert [one.date.month for one in read.condition_history(book, harp.id, "4C")] == [5, 6, 7]


def test_fresh_plucks_are_those_of_fresh_sweeps(book, harp, made):
    for letter, is_fresh in (("a", True), ("b", False)):
        store_sweep(book, made.sweep(harp.id, letters=letter, is_fresh=is_fresh))
    string = read.current_fittings(book, harp.id, on=date(2024, 5, 1))["4C"].id
    assert [pluck.is_fresh for pluck in read.plucks_of_fitting(book, string)] == [True, False]
    assert [pluck.sweep_id for pluck in read.fresh_plucks(book, string)] == [1]
    assert mark_fresh(book, 2, strings=["4C"]).is_fresh
    assert [pluck.sweep_id for pluck in read.fresh_plucks(book, string)] == [1, 2]


def test_one_new_string_can_be_fresh_in_an_old_harps_sweep(book, harp, made):
    record = store_sweep(book, made.sweep(harp.id))
    assert mark_fresh(book, record.id, strings=["4C"]).is_fresh
    assert [pluck.measurement.string for pluck in read.plucks_of(book, record.id) if pluck.is_fresh] == ["4C"]


def test_unknown_numbers_get_a_plain_reason(book, harp, made):
    for ask in (lambda: read.sweep(book, 7), lambda: mark_fresh(book, 7, strings=["4C"]), lambda: replace_conditions(book, 7, [])):
        with pytest.raises(UsageError, match="no sweep 7"):
            ask()
    with pytest.raises(UsageError, match="no harp 7"):
        read.harp_by_id(book, 7)

"""Which plucks of a sweep are a baseline, since when a string has one, and which sweeps still join it."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from stored_sweep import store_sweep

from toneprobe.book import read
from toneprobe.book.rows import to_pluck
from toneprobe.book.stringing import add_harp, replace_fitting
from toneprobe.fittings import NewFitting, Removal
from toneprobe.judging.fresh_choice import FRESH_DAYS, FreshWish, baselines_kept, choose_fresh
from toneprobe.judging.past import Lookups, past_of
from toneprobe.upkeep.fresh_sweep import added_to_older, from_few_plucks

MARCH, JUNE = date(2024, 3, 2), date(2024, 6, 1)
NAMES = ("4E", "4D", "4C")
HEARD = dict.fromkeys(NAMES, "C4")  # the made-up plucks are all of this note


@pytest.fixture
def fresh(book, harp, made):
    """4E and 4C were fresh in March, 4E once more a week later; 4D never was."""
    store_sweep(book, made.sweep(harp.id, day=MARCH + timedelta(7), letters="b"), fresh=["4E"])
    return store_sweep(book, made.sweep(harp.id, day=MARCH, letters="a"), fresh=["4E", "4C"])


def test_only_a_baseline_of_the_same_position_is_added_to(book, harp, made, fresh):
    """4E and 4C were fresh in March. In June 4C is so in another lever position, which has a baseline of its own."""
    new = made.sweep(harp.id, day=JUNE, letters="c")
    moved = tuple(replace(one, measurement=replace(one.measurement, note="C#4")) if one.measurement.string == "4C" else one
                  for one in new.plucks)
    june = store_sweep(book, replace(new, plucks=moved), fresh=NAMES)
    for heard, note in (("C#4", "C#4"), ("C4", "C4"), ("D4", "C4"), (None, "C4")):  # in none that it was fresh in, or unheard: the first
        past = past_of(book, harp.id, on=JUNE, heard={"4C": heard} if heard else None)
        assert past.baselines["4C"].reading.note == note
    assert added_to_older(book, june, NAMES) == {"4E": MARCH}
    assert from_few_plucks(book, june, NAMES) == {"4D": 1, "4C": 1}  # one pluck a sweep: of 4E it is the third


def test_a_sweep_is_the_baseline_of_the_strings_that_are_named(book, fresh):
    assert [one.measurement.string for one in read.plucks_of(book, fresh.id) if one.is_fresh] == ["4E", "4C"]


def test_the_first_day_of_a_baseline_counts(book, harp, made, fresh):
    on = read.current_fittings(book, harp.id, on=JUNE)
    assert read.first_fresh_days(book, harp.id) == {on["4E"].id: MARCH, on["4C"].id: MARCH}
    assert read.first_fresh_days(book, add_harp(book, "Wren", made.instrument).id) == {}


def test_a_stored_verdict_knows_whether_its_sweep_is_the_baseline(book, harp, fresh):
    assert {one.condition.string: one.is_fresh for one in read.conditions_of(book, fresh.id)} == {"4E": True, "4D": False, "4C": True}
    assert [(one.sweep_id, one.is_fresh) for one in read.condition_history(book, harp.id, "4C")] == [(fresh.id, True), (1, False)]


@pytest.mark.parametrize(("days", "kept"), [(0, False), (FRESH_DAYS, False), (FRESH_DAYS + 1, True), (-FRESH_DAYS - 1, True), (91, True)])
def test_a_baseline_is_open_for_a_fortnight(book, harp, fresh, days, kept):
    """From its first sweep on, whatever joined it since; 14 days are set in `fresh_choice`."""
    assert FRESH_DAYS == 14
    assert baselines_kept(book, harp.id, HEARD, on=MARCH + timedelta(days)) == (dict.fromkeys(["4E", "4C"], MARCH) if kept else {})


@pytest.mark.parametrize(("days", "kept"), [(-7, []), (-8, ["4E"]), (-14, ["4E"])])
def test_nor_does_one_reach_farther_back_from_its_last_sweep(book, harp, fresh, days, kept):
    """4E was fresh on 2 and 9 March: whichever of its sweeps is stored first, they lie within a fortnight."""
    assert baselines_kept(book, harp.id, HEARD, on=MARCH + timedelta(days)) == dict.fromkeys(kept, MARCH)


@pytest.mark.parametrize(("wish", "taken", "kept"), [
    (FreshWish(all=True), ("4D",), ("4E", "4C")), (FreshWish(), (), ()), (FreshWish(named=frozenset({"4C", "4G"})), ("4C",), ()),
    (FreshWish(all=True, named=frozenset({"4E"})), ("4E", "4D"), ("4C",)),
    (FreshWish(all=True, but_not=frozenset({"4D"})), (), ("4E", "4C"))])
def test_what_is_taken_as_fresh_months_later(book, harp, fresh, wish, taken, kept):
    choice = choose_fresh(book, harp.id, HEARD, wish, on=JUNE)
    assert (choice.taken, choice.kept) == (taken, kept)


def test_a_position_in_which_a_string_was_never_fresh_gets_a_baseline_months_later(book, harp, fresh):
    """README: a second fresh sweep gives strings a baseline in another pedal or lever position too. 4E keeps the one that it has."""
    choice = choose_fresh(book, harp.id, HEARD | {"4C": "C#4"}, FreshWish(all=True), on=JUNE)
    assert (choice.taken, choice.kept) == (("4D", "4C"), ("4E",))


def test_what_a_sweep_is_already_it_does_not_lose(book, harp, fresh):
    choice = choose_fresh(book, harp.id, HEARD, FreshWish(all=True), on=JUNE, already={"4E"})
    assert (choice.taken, choice.kept) == (("4E", "4D"), ("4C",))


def test_a_new_string_has_no_baseline_to_keep_and_a_stand_in_gets_none(book, harp, fresh):
    replace_fitting(book, harp.id, NewFitting("4C", JUNE), Removal(JUNE, "broke", "knot"))
    replace_fitting(book, harp.id, NewFitting("4D", JUNE, is_stand_in=True), Removal(JUNE, "broke", "knot"))
    choice = choose_fresh(book, harp.id, HEARD, FreshWish(all=True), on=JUNE)
    assert (choice.taken, choice.kept) == (("4C",), ("4E",))


def test_what_a_fresh_sweep_of_one_string_heard_of_the_others_is_kept_in_mind_where_they_are_on_still(book, harp, made, fresh):
    """4D went on in April and was fresh in May, in a sweep that heard 4E and 4C too. In June 4E alone is the one that was heard then: 4C
    was changed. Plucks of another pedal position would be of another string length (the made-up plucks are all of the note C4)."""
    april, may, june = date(2024, 4, 1), date(2024, 5, 1), date(2024, 6, 1)
    replace_fitting(book, harp.id, NewFitting("4D", april, "nylon"), Removal(april, "planned"))
    own = store_sweep(book, made.sweep(harp.id, day=may, letters="c"), fresh=["4D"])
    before = past_of(book, harp.id, on=may, heard=dict.fromkeys(NAMES, "C4"))
    replace_fitting(book, harp.id, NewFitting("4C", june, "nylon"), Removal(june, "planned"))
    past = past_of(book, harp.id, on=june + timedelta(60), heard=dict.fromkeys(NAMES, "C4"))
    capture = past.baselines["4D"].capture
    assert capture == f"sweeps {own.id}"
    assert (past.beside[capture].days, set(past.beside[capture].readings)) == ((may,), {"4E"})
    assert set(before.beside[capture].readings) == {"4E", "4C"}
    assert past_of(book, harp.id, on=june, heard={"4D": "C4", "4E": "D#4"}).beside[capture].readings == {}


def test_many_sweeps_ask_for_each_fresh_pluck_once(book, harp, fresh, monkeypatch):
    """Ten years of sweeps would else read the first one's plucks 120 times. Derived here: those that are fresh, each once."""
    asked, later = [], [JUNE + timedelta(30 * k) for k in range(3)]
    alone = [past_of(book, harp.id, on=day) for day in (MARCH, *later)]
    expected = {one.id for past in alone for found in past.fresh_plucks.values() for one in found}
    monkeypatch.setattr(read, "to_pluck", lambda row: asked.append(row["id"]) or to_pluck(row))
    lookups = Lookups()
    assert [past_of(book, harp.id, on=day, lookups=lookups) for day in (MARCH, *later)] == alone
    assert len(expected) == 3 and sorted(asked) == sorted(expected)  # 4E twice, 4C once

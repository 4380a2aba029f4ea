"""What is known of a harp's strings at the end of a day: made-up logs and checks, and answers by hand."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from sounds.heard_pitch import heard

from toneprobe.book.entries import OwnerSettings
from toneprobe.fittings import Fitting
from toneprobe.harp_state import HarpState, spares_as_of
from toneprobe.instrument import load_instrument
from toneprobe.settling import PitchReading, SettledRecord
from toneprobe.spares import Spare, arrive, use

TODAY = date(2026, 6, 30)
HARP = load_instrument("pedal-47")


def days_ago(days):
    return TODAY - timedelta(days=days)


def state(*fittings, checks=None, records=()):
    """checks: by the fitting's number, days ago and cents from where it was left at the first."""
    readings = {
        number: tuple(PitchReading("3D", "Db5", datetime.combine(days_ago(ago), datetime.min.time()),
                                   heard(cents, 0.3) if place else None, None if place else heard(cents, 0.3), fitting_id=number)
                      for place, (ago, cents) in enumerate(found))
        for number, found in (checks or {}).items()}
    noted = tuple(SettledRecord(number, "3D", days_ago(ago), days_ago(ago), 2.0) for number, ago in records)
    return HarpState(1, HARP, TODAY, fittings, readings, noted, OwnerSettings())


def string(ago, *, number=1, name="3D", off=None, stand_in=False):
    return Fitting(number, 1, name, None if ago is None else days_ago(ago), None if off is None else days_ago(off), is_stand_in=stand_in)


def test_what_came_later_is_not_known_yet():
    """The string of twenty days ago came off ten days ago; it was checked 19 and 15 days ago, the present one 9 and 5, noted 5 days ago."""
    now = state(string(20, off=10), string(10, number=2), checks={1: ((19, 0.0), (15, -3.0)), 2: ((9, 0.0), (5, -2.0))}, records=((2, 5),))
    then = now.as_of(days_ago(15))
    assert then.today == days_ago(15) and then.on["3D"].id == 1 and then.fittings == (string(20),)
    assert {number: len(found) for number, found in then.readings.items()} == {1: 2} and then.records == ()
    assert len(now.as_of(days_ago(16)).readings[1]) == 1 and now.as_of(days_ago(5)).settled_days == {2: days_ago(5)}
    assert (now.on["3D"].id, now.as_of(TODAY)) == (2, now)


@pytest.mark.parametrize(("ago", "is_young"), [(0, True), (59, True), (60, False), (-1, False), (None, False)])
def test_a_string_is_young_for_two_months(ago, is_young):
    """A new harp has settled in one (common practice), doubled."""
    assert state().is_young(string(ago)) is is_young


@pytest.mark.parametrize(("ago", "checks", "records", "moves"), [
    (3, None, (), True),  # gut takes five to seven days (common practice)
    (3, None, ((1, 1),), False),  # found settled; its checks are not in the book
    (20, None, (), False),  # it has had its time
    (20, ((20, 0.0), (15, -30.0), (12, -36.0), (9, -42.0), (6, -48.0), (3, -54.0), (0, -60.0)), ((1, 15),), True),  # falls since
    (20, ((20, 0.0), (15, -3.0), (12, -3.3), (9, -3.6), (6, -3.8), (3, -4.0), (0, -4.1)), (), False),  # settled by its checks
    (80, ((20, 0.0), (10, -40.0)), (), False),  # an old string's fall is no stretch
])
def test_whether_a_new_string_still_moves(ago, checks, records, moves):
    kept = string(ago)
    found = state(kept, checks={1: checks} if checks else None, records=records)
    assert found.still_moves(kept) is found.still_settles(kept) is moves and found.unsettled == ({"3D"} if moves else set())


def test_a_new_stand_in_moves_but_settles_for_nothing():
    stand_in = string(1, stand_in=True)
    found = state(stand_in)
    assert found.still_moves(stand_in) and not found.still_settles(stand_in) and found.unsettled == frozenset()


def test_strings_are_told_from_the_top_of_the_harp():
    names = ("6C", "0G", "3D")
    fittings = tuple(string(1, number=number, name=name) for number, name in enumerate(names))
    assert list(state(*fittings, replace(fittings[0], id=9, removed_on=days_ago(1))).on) == ["0G", "3D", "6C"]


@pytest.mark.parametrize(("ago", "is_known"), [(21, False), (20, True), (6, True), (5, True)])
def test_what_has_come_since_was_on_the_way(monkeypatch, ago, is_known):
    """Ordered twenty days ago, it came five days ago and went on the next day; until it came it stood on the list as ordered."""
    ordered = Spare("3D", "gut", place="ordered", bought_on=days_ago(20), id=1)
    came = replace(use(arrive(ordered, days_ago(5), place="home"), days_ago(4), fitting_id=7), note="")
    monkeypatch.setattr("toneprobe.harp_state.spares_of", lambda book, harp_id: (came,))
    there = (replace(came, used_on=None, fitting_id=None),)
    assert spares_as_of(None, 1, days_ago(ago)) == ((there if ago == 5 else (ordered,)) if is_known else ())
    assert spares_as_of(None, 1, TODAY) == (came,)


@pytest.mark.parametrize("told", [{}, {"place": "ordered", "lead_time_days": 14}, {"lead_time_days": 0}])
def test_what_was_ordered_or_bought_later_was_not_on_the_way(monkeypatch, told):
    monkeypatch.setattr("toneprobe.harp_state.spares_of", lambda book, harp_id: (Spare("3D", bought_on=days_ago(5), **told),))
    assert spares_as_of(None, 1, days_ago(6)) == ()

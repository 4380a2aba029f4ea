"""Which strings are still open, by made-up checks and notes, and answers by hand."""

from datetime import date, datetime, time, timedelta

import pytest
from sounds.heard_pitch import heard

from toneprobe.book.entries import OwnerSettings
from toneprobe.fittings import Fitting
from toneprobe.harp_state import HarpState
from toneprobe.instrument import load_instrument
from toneprobe.settling import PitchReading, SettledRecord
from toneprobe.upkeep.unsettled import settling_strings, slipping_strings, unheard_young

TODAY = date(2026, 6, 30)
FALLS = tuple(-6.0 * day for day in range(8))  # two cents a day for three weeks: a pin or a knot
STANDS = (0.0,) * 8
MOVED = (0.0, -3.0)


def harp(*, ago, cents=(), noted=False, stand_in=False):
    """3D, put on so long ago, found so many cents off at every third noon up to today, beside three old strings that stand."""
    moments = [datetime.combine(TODAY - timedelta(days=3 * k), time(12)) for k in range(len(cents))][::-1]
    own = tuple(PitchReading("3D", "Db5", at, heard(one, 0.3), fitting_id=1) for at, one in zip(moments, cents, strict=True))
    old = {number: tuple(PitchReading(name, "Cb5", at, heard(0.0, 0.3), fitting_id=number) for at in moments)
           for number, name in ((2, "3C"), (3, "3E"), (4, "3F"))}
    on = Fitting(1, 1, "3D", None if ago is None else TODAY - timedelta(days=ago), is_stand_in=stand_in)
    others = tuple(Fitting(number, 1, name) for number, name in ((2, "3C"), (3, "3E"), (4, "3F")))
    records = (SettledRecord(1, "3D", TODAY, TODAY, 2.0),) if noted else ()
    return HarpState(1, load_instrument("pedal-47"), TODAY, (on, *others), ({1: own} if own else {}) | old, records, OwnerSettings())


@pytest.mark.parametrize(("known", "is_settling", "is_slipping"), [
    ({"ago": 3}, True, False),
    ({"ago": 3, "noted": True}, False, False),  # its checks are not in the book, what they said is
    ({"ago": 30, "cents": STANDS}, True, False),  # settled, but not noted yet
    ({"ago": 30, "cents": STANDS, "noted": True}, False, False),
    ({"ago": 30, "cents": FALLS, "noted": True}, True, True),
    ({"ago": 30, "cents": (*STANDS[2:], -4.5, -9.0), "noted": True}, True, True),  # a knot that gave way twice, and may again
    ({"ago": 30, "cents": (*STANDS[2:], -12.0, -13.0), "noted": True}, True, False),  # noted as settled, and moved since
    ({"ago": 300, "cents": FALLS}, True, True),
    ({"ago": None, "cents": FALLS}, True, True),
    ({"ago": None, "cents": STANDS}, False, False),
    ({"ago": None, "cents": MOVED}, False, False),
    ({"ago": 300}, False, False),
    ({"ago": 300, "cents": FALLS, "stand_in": True}, True, False),  # what it does hangs on no baseline
])
def test_which_strings_are_still_open(known, is_settling, is_slipping):
    state = harp(**known)
    assert set(settling_strings(state)) == ({"3D"} if is_settling else set())
    assert set(slipping_strings(state)) == ({"3D"} if is_slipping else set())


def test_new_strings_that_a_check_did_not_hear():
    state = harp(ago=3)
    assert unheard_young(state, {"3C"}) == ("3D",) and unheard_young(state, {"3D"}) == ()
    assert unheard_young(harp(ago=3, noted=True), ()) == () and unheard_young(harp(ago=3, stand_in=True), ()) == ("3D",)

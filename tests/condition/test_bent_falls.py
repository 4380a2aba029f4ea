"""Rings that break off on one side only: bends put together by hand, 0 of a straight fall, 0.1 of a recorder that suppresses noise."""

import pytest

from toneprobe.condition.bent_falls import without_bent_falls
from toneprobe.condition.context import FRESH, NOW, Comparable
from toneprobe.session.reading import Reading


def sides(now, fresh, *, n=12, n_falls=4):
    """n strings of so many falls on both sides."""
    return [[Reading(f"s{i}", "A4", 2, 50.0, {}, (), bends=(bend,) * n_falls) for i in range(n)] for bend in (now, fresh)]


def spoilt(now, fresh, *, hand=0.0):
    found = without_bent_falls(Comparable(), now, fresh, hand=hand)
    assert bool(found.why_no_decay) == bool(found.spoilt_by)
    assert ("record again" in (found.why_no_decay or "")) == (NOW in found.spoilt_by)  # the fresh one cannot be
    return found.spoilt_by


@pytest.mark.parametrize(("now", "fresh", "which"), [
    (0.10, 0.0, (NOW,)), (0.0, 0.10, (FRESH,)),
    (0.10, 0.10, ()),  # the same recorder on both sides: what it does is in both
    (0.10, 0.06, ()), (0.06, 0.10, ()),  # two real recordings lie as far apart (measured: within 0.03 by one hand, 0.05 is asked)
    (0.055, -0.03, ()), (-0.03, 0.055, ()),  # real harps bend by −0.03 to 0.04 (measured), low strings alone by 0.05
    (0.07, 0.01, (NOW,)), (0.01, 0.07, (FRESH,)),
])
def test_rings_that_break_off_on_one_side_are_not_compared(now, fresh, which):
    assert spoilt(*sides(now, fresh)) == which


def test_of_few_falls_or_by_another_hand_nothing_is_said():
    assert spoilt(*sides(0.10, 0.0, n=10)) == (NOW,) and spoilt(*sides(0.10, 0.0, n=9)) == ()  # forty falls a side, and 36
    few_when_fresh = sides(0.10, 0.0)[0], sides(0.10, 0.0, n_falls=3)[1]
    assert spoilt(*few_when_fresh) == () and spoilt(*reversed(few_when_fresh)) == ()
    assert spoilt(*sides(0.10, 0.0), hand=1.3) == spoilt(*sides(0.10, 0.0), hand=-1.3) == ()
    assert spoilt([], []) == ()


def test_a_string_whose_falls_one_side_does_not_show_has_no_say():
    now, fresh = sides(0.10, 0.0, n=16)
    none = sides(0.0, 0.0, n=16, n_falls=0)[0]
    assert spoilt(now, [*fresh[:10], *none[10:]]) == spoilt([*none[:6], *now[6:]], fresh) == (NOW,)
    assert spoilt(now, [*fresh[:9], *none[9:]]) == spoilt([*none[:7], *now[7:]], fresh) == ()


def test_what_is_not_compared_for_another_reason_stays_so():
    refused = Comparable(why_no_decay="the gain moves")
    assert without_bent_falls(refused, *sides(0.10, 0.0), hand=0.0) is refused

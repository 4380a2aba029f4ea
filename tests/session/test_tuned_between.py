"""Which plucks of a string came after it was tuned."""

from dataclasses import replace

import pytest

from toneprobe.measure.figure import FIGURES, Figure, PluckMeasurement
from toneprobe.session.sweep import read_string
from toneprobe.session.tuned_between import since_tuned, tuning

NOT_ASKED = dict.fromkeys(FIGURES, Figure(None, None, "not asked here"))
ONE = PluckMeasurement("3C", "C5", 0.0, 1.8, 0.98, 62.0, **NOT_ASKED, partials=(), flags=())


def plucked(*at, **more):
    """Each: when, s, and how far off, cents."""
    return [replace(ONE, onset_s=at_s, cents_off=Figure(cents, 0.5), **more) for at_s, cents in at]


# Planted: before, six plucks in which it was brought up by 40 cents in five turns, and the pluck of the sweep upwards.
BEFORE, AFTER = (19.4, 0.4), (198.2, 0.5)
TURNS = [(103.9 + 1.15 * n, -36.5 + 8.1 * n) for n in range(6)]


def test_what_was_plucked_before_a_string_was_tuned_tells_nothing_of_it_unless_it_stood_there_already():
    plucks = plucked(BEFORE, (21.0, -36.0), *TURNS, AFTER)
    assert tuning(plucks) == plucks[2:8] and since_tuned(plucks) == [plucks[0], plucks[8]]
    assert read_string(plucks).figures["cents_off"].value == pytest.approx(0.45)  # not −7.5, the middle of those within 20 cents of it
    assert read_string(plucks[1:8]).figures["cents_off"].value == pytest.approx(4.0)  # where it was left


def test_plucks_without_a_pitch_are_no_turns_and_do_not_tell_where_it_stands():
    """In a harp that lies 30 cents low as a whole, one before, one while it was tuned and one after were not heard well enough."""
    plucks = plucked(*((at_s, cents - 30.0) for at_s, cents in (BEFORE, *TURNS, AFTER)))
    blind = [replace(ONE, onset_s=at_s) for at_s in (20.0, TURNS[2][0] + 0.5, 199.0)]
    order = sorted([*plucks, *blind], key=lambda pluck: pluck.onset_s)
    assert tuning(order) == plucks[1:7] and since_tuned(order) == [plucks[0], plucks[7], blind[2]]
    unheard = [*plucks[:7], blind[2]]
    assert since_tuned(unheard) == [blind[2]]


def test_a_pin_that_was_turned_too_far_and_back_is_tuned_too():
    plucks = plucked((10.0, -30.0), (13.0, -18.0), (16.0, -6.0), (19.0, 4.0), (22.0, -1.0), (30.0, -1.2))
    assert tuning(plucks) == plucks and since_tuned(plucks) == plucks[-1:]


@pytest.mark.parametrize("at", [
    [(10.0, 0.0), (13.0, -8.0), (16.0, -16.0), (19.0, -24.0), (22.0, -32.0)],  # it slips
    [(10.0, -25.0), (13.0, -1.0), (16.0, 0.5)],  # one pluck with something else in it
    [(10.0, 0.0), (13.0, 1.5), (16.0, 3.0), (19.0, 4.5), (22.0, 5.6)],  # as untouched ones may
    [(10.0, 0.0), (13.0, 4.0), (16.0, 8.0), (19.0, 12.0)],  # no pin is turned by so little three times
    [(10.0, -30.0), (13.0, -20.0), (16.0, -32.0), (19.0, -21.0), (22.0, -10.0)],  # it gave way in between: two turns, and two turns
    [(10.0, -36.0), (40.0, -24.0), (70.0, -12.0), (100.0, 0.0)],  # in the sun, or in four recordings: nobody sits at its pin
], ids=["slips", "one off", "untouched", "a little", "gave way", "slowly"])
def test_what_nobody_tuned_counts_as_ever(at):
    plucks = plucked(*at)
    assert not tuning(plucks) and since_tuned(plucks) == plucks


def test_plucks_of_doubtful_name_are_no_turns():
    plucks = [*plucked(*TURNS[:2]), *plucked(*TURNS[2:5], sureness=0.4), *plucked((110.0, 1.0))]
    assert not tuning(plucks)

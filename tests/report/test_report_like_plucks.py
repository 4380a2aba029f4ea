"""Which two plucks are heard beside each other. Expected pairs derived here from the hand (pitch glide), colour and ring planted."""

import pytest

from toneprobe.measure.figure import FIGURES, Figure, PluckMeasurement
from toneprobe.report.like_plucks import like_pair

UNKNOWN = Figure(None, reason="not measured")
SAME = Figure(1.0, 0.05)


@pytest.fixture
def pluck():
    def made(glide_cents, bright_hz, ring_s, snr_db=50.0):
        known = {"glide_cents": Figure(glide_cents, 0.3) if glide_cents is not None else UNKNOWN,
                 "centroid_partials_hz": Figure(bright_hz, 20.0), "t60_s": Figure(ring_s, 0.1)}
        return PluckMeasurement("3C", "C5", 1.0, ring_s, 1.0, snr_db, partials=(), flags=(),
                                **{name: known.get(name, UNKNOWN) for name in FIGURES})
    return made


def test_soft_is_heard_beside_soft_though_firm_is_clearer(pluck):
    """The pair that was played before: the clearest of each side, a firm one of a bright 2.8 s and a soft one of 1.8 s."""
    fresh = [pluck(0.0, 700.0, 2.0, 42.0), pluck(6.0, 900.0, 2.8, 54.0)]
    now = [pluck(0.2, 690.0, 1.9, 52.0), pluck(5.0, 880.0, 2.6, 50.0)]
    pair = like_pair(fresh, now, ring=Figure(0.95, 0.1), brightness=SAME)
    assert pair.is_alike and pair.fresh == pair.now


def test_of_like_pairs_the_one_whose_rings_tell_the_judged_change(pluck):
    """2.0 to 1.0 s is the half that was judged; 2.0 to 1.4 s is not."""
    fresh, now = [pluck(2.0, 700.0, 2.0)], [pluck(2.0, 700.0, 1.4, 60.0), pluck(2.0, 700.0, 1.0, 40.0)]
    assert like_pair(fresh, now, ring=Figure(0.5, 0.05), brightness=SAME).now == 1


def test_hands_that_differ_are_told(pluck):
    """ln(14/2) = 1.9, where takes by one hand differ by 0.2 and soft from firm by 1.3 (limits, measured)."""
    assert not like_pair([pluck(12.0, 700.0, 2.0)], [pluck(0.0, 700.0, 2.0)], ring=SAME, brightness=SAME).is_alike


@pytest.mark.parametrize(("brightness", "is_alike"), [(SAME, False), (Figure(0.7, 0.05), True), (Figure(0.7, 0.2), False)])
def test_a_string_that_has_dulled_is_not_taken_for_another_touch(pluck, brightness, is_alike):
    """490 against 700 Hz is 30 % duller, with no glide to be had: the string's doing only where the sweep says so beyond its ±."""
    assert like_pair([pluck(None, 700.0, 2.0)], [pluck(None, 490.0, 2.0)], ring=SAME, brightness=brightness).is_alike == is_alike


def test_one_side_alone_makes_no_pair(pluck):
    assert like_pair([], [pluck(0.0, 700.0, 2.0)], ring=SAME, brightness=SAME) is None

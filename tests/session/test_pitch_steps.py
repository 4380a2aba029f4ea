"""A string that loses pitch at every pluck, on strings worked out by hand."""

from dataclasses import replace
from math import log2, sqrt

import pytest

from toneprobe.baseline.pitch_fall import pitch_fall
from toneprobe.measure.figure import FIGURES, Figure, Partial, PluckMeasurement
from toneprobe.session.pitch_steps import pitch_steps
from toneprobe.session.sweep import read_string

UNKNOWN = Figure(None, None, "not given")
PIN_SLIPS = 0.5 * 1200.0 * log2(1.0 - 0.0138)  # cents: f goes with √T, so a pin that lets off 1.38 % of the pull lowers it by 12 (derived)


def pluck(cents, *, at_s=0.0, se=0.5, glide=2.0, partial_cents=lambda n: 0.0, n_partials=8):
    """cents: of the string against its note; partial_cents: what each partial lies off beside that."""
    hz = 220.0 * 2.0 ** (cents / 1200.0)
    partials = tuple(Partial(n, n * hz * 2.0 ** (partial_cents(n) / 1200.0), 0.02, 0.0, 40.0, 2.0, 0.2, 0.0)
                     for n in range(1, n_partials + 1))
    known = {"cents_off": Figure(cents, se), "pitch_hz": Figure(hz, 0.1), "glide_cents": Figure(glide, 0.5)}
    figures = dict.fromkeys(FIGURES, UNKNOWN) | known
    return PluckMeasurement("4F", "F3", at_s, 3.0, 0.99, 40.0, **figures, partials=partials, flags=())


def steps(*plucks):
    return [(step.value, step.se) for step in pitch_steps(plucks, most_cents=20.0)]


def test_a_string_whose_pin_slips_falls_by_what_its_tension_lost():
    fell = steps(pluck(0.0), pluck(PIN_SLIPS, at_s=5.0), pluck(2.0 * PIN_SLIPS, at_s=10.0))
    assert [value for value, _ in fell] == pytest.approx([12.0, 12.0], abs=0.1)  # derived
    assert fell[0][1] == pytest.approx(sqrt(0.5))  # derived: two plucks of 0.5 cents each, whose partials agree


def test_partials_that_disagree_and_another_pull_make_a_fall_less_sure():
    (_, alike), = steps(pluck(0.0), pluck(-8.0, at_s=5.0))
    (_, apart), = steps(pluck(0.0), pluck(-8.0, at_s=5.0, partial_cents=lambda n: 12.0 * (-1) ** n))
    (_, harder), = steps(pluck(0.0), pluck(-8.0, at_s=5.0, glide=12.0))
    assert apart > 5.0 * alike and harder > 3.0 * alike


def test_how_far_the_partials_disagree_is_the_error_of_their_median():
    """Eight of them, each 12 cents off: 1.4826·12 for one of a normal, √(π/2)/√8 of that for the median (textbook), beside the errors of
    both pitches, 0.5 cents each. The thirteenth and what lies above may be sum tones, and say nothing."""
    (_, se), = steps(pluck(0.0), pluck(-8.0, at_s=5.0, partial_cents=lambda n: 12.0 * (-1) ** n))
    assert se == pytest.approx(sqrt((1.4826 * 12.0 * 1.2533 / sqrt(8.0)) ** 2 + 0.5), rel=1e-3)
    (_, high), = steps(pluck(0.0, n_partials=30), pluck(-8.0, at_s=5.0, n_partials=30, partial_cents=lambda n: 40.0 * (n > 12)))
    assert high == pytest.approx(sqrt(0.5))


@pytest.mark.parametrize("later", [
    pluck(-12.0, at_s=300.0),  # long after, or from another recording
    pluck(-12.0, at_s=-3.0),  # from a recording whose clock began anew
    pluck(-30.0, at_s=5.0),  # so far off it may be another string
    pluck(-12.0, at_s=5.0, n_partials=2),  # nothing tells the string from its first partial
])
def test_what_may_have_another_cause_is_no_step(later):
    assert steps(pluck(0.0), later) == []


def reading(*cents, se=0.5):
    return read_string([pluck(one, at_s=5.0 * place, se=se) for place, one in enumerate(cents)])


@pytest.mark.parametrize(("now", "fresh", "cents"), [
    ((0.0, -12.0), (0.0, 0.0), 12.0),
    ((0.0, -8.0, -16.0), (0.0, 0.0, 0.0), 16.0),
    ((0.0, 12.0), (0.0, 0.0), -24.0),  # nothing that slips rises: what it rose by counts once more
    ((0.0, -12.0, 0.0), (0.0, 0.0), -12.0),  # it goes up and down
])
def test_what_slips_falls_and_does_not_rise(now, fresh, cents):
    assert pitch_fall(reading(*now), reading(*fresh)).beyond_fresh.value == pytest.approx(cents, abs=0.01)  # derived


def test_what_a_string_fell_by_when_fresh_is_its_own():
    """A string that two hands, soft and firm, leave 12 cents apart in every sweep does so by itself. But a fresh step of 12 ± 12 cents
    tells nothing beyond its error."""
    now = reading(0.0, -12.0)
    known, coarse = pitch_fall(now, reading(0.0, -12.0)), pitch_fall(now, reading(0.0, -12.0, se=12.0 / sqrt(2.0)))
    assert known.beyond_fresh.value == pytest.approx(0.0, abs=0.1) and known.cents == pytest.approx(12.0, abs=0.01)
    assert known.beyond_fresh.se > 11.0  # and might be anywhere so far
    assert coarse.beyond_fresh.value == pytest.approx(12.0, abs=0.1) and coarse.beyond_fresh.se == pytest.approx(sqrt(0.5), abs=0.01)


def test_one_pluck_tells_no_fall():
    one, two = reading(0.0), reading(0.0, -12.0)
    assert not pitch_fall(one, two).beyond_fresh.known
    assert pitch_fall(two, one).beyond_fresh.value == pytest.approx(12.0, abs=0.01)
    assert not pitch_fall(replace(two, pitch_steps=()), two).beyond_fresh.known

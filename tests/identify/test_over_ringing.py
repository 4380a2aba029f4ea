"""What an event brings to the partials of a string that rings. Signals of the formula; limits derived here."""

from dataclasses import replace

import numpy as np
import pytest
from sounds.formula_plucks import FormulaPluck, render
from sounds.knocks import added, wood

from toneprobe.identify.over_ringing import _predicted, times_over, unshared_over_shared_db

RATE_HZ, LENGTH_S, AT_S = 22050, 2.5, 1.2
LOW = FormulaPluck(140.0, 2e-4, t60_s=8.0, n_partials=14, seed=1)
AGAIN = FormulaPluck(140.0, 2e-4, t60_s=8.0, n_partials=14, seed=2)
OCTAVE = FormulaPluck(280.0 * 2 ** (3.0 / 1200), 8e-4, t60_s=5.0, n_partials=8, seed=3)  # half as long: 4·B (Fletcher 1964); 3 cents off
TWELFTH = FormulaPluck(420.0 * 2 ** (3.0 / 1200), 1.8e-3, t60_s=4.0, n_partials=5, seed=4)  # a third as long: 9·B


def sounds(pluck: FormulaPluck) -> np.ndarray:
    return render(pluck, rate_hz=RATE_HZ, length_s=LENGTH_S, pre_s=0.0, snr_db=None)


def over(second: FormulaPluck | None, times: float = 1.0, *, stopped: bool = False) -> np.ndarray:
    """The low string, and what is plucked over it, so many times as loud; noise 70 dB under the peak."""
    ring, at = sounds(LOW), int(AT_S * RATE_HZ)
    if stopped:
        ring[at - int(0.08 * RATE_HZ):] = 0.0
    if second is not None:
        ring[at:] += times * sounds(second)[: len(ring) - at]
    return ring + np.random.default_rng(1).normal(0.0, 3e-4 * np.abs(ring).max(), len(ring))


def asked(samples: np.ndarray, since_s: float = 0.0) -> dict:
    """`named` are pitch and inharmonicity as naming knows them: 6 cents and by half off."""
    return {"read": lambda start, stop: samples[start:stop], "rate_hz": RATE_HZ, "event_s": AT_S, "since_s": since_s,
            "named": (140.5, 3e-4)}


@pytest.mark.parametrize(("samples", "times"), [
    (over(OCTAVE), 2), (over(OCTAVE, 0.3), 2), (over(OCTAVE, 3.0), 2),
    (over(TWELFTH), 3), (over(TWELFTH, 0.3), 3), (over(TWELFTH, 3.0), 3),
    (over(AGAIN), None), (over(AGAIN, 0.15), None), (over(AGAIN, stopped=True), None),
    (added(over(None), wood, [AT_S], peak=0.1), None), (over(None), None)],
    ids=["octave", "octave softly", "octave firmly", "twelfth", "twelfth softly", "twelfth firmly", "again", "again softly",
         "stopped and again", "wood", "nothing"])
def test_only_an_octave_or_a_twelfth_brings_its_own_partials_alone(samples, times):
    """A twelfth is an octave and a fifth: three times as high (theory of music). A repeat 16 dB softer than the first adds a few tenths of
    a dB to each partial by power alone (was taken for an octave where so little was asked of them)."""
    assert times_over(**asked(samples)) == times


def test_it_is_the_lower_string_that_must_ring():
    """Right after another sound nothing is predicted."""
    assert unshared_over_shared_db(**asked(over(OCTAVE), since_s=AT_S - 0.06)) == {}


def test_what_comes_far_above_the_ring_is_hidden_by_nothing():
    """A string weak in its odd partials, by 18 dB, plucked again when its ring has fallen by 48 dB and more: no string an octave above
    brings those (theory of music; its own partials are the even ones)."""
    faded, odd = replace(LOW, t60_s=1.5), tuple(range(1, LOW.n_partials + 1, 2))
    again = sounds(replace(AGAIN, missing=odd)) + 0.125 * sounds(AGAIN)
    samples, at = sounds(faded), int(AT_S * RATE_HZ)
    samples[at:] += again[: len(samples) - at]
    assert times_over(**asked(samples + np.random.default_rng(1).normal(0.0, 1e-5, len(samples)))) is None


@pytest.mark.parametrize("decays", [(3.0,), (3.0, 0.5)], ids=["one mode", "two that beat"])
def test_what_rings_is_predicted_phase_and_all(decays):
    """Exponentials follow from their own past without error (de Prony 1795)."""
    time_s = np.arange(90) / 100.0
    z = sum(np.exp((2j * np.pi * (3.0 + 2.5 * k) - delta) * time_s) for k, delta in enumerate(decays))
    assert _predicted(z[:60], 30) == pytest.approx(z[60:], abs=1e-3)


def test_the_samples_are_left_alone():
    samples = over(OCTAVE)
    before = samples.copy()
    unshared_over_shared_db(**asked(samples))
    assert np.array_equal(samples, before)

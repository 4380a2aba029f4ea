"""A pitch that goes up and down, from envelopes of known phase: how far, how fast and from where comes out, and what is none does not."""

import numpy as np
import pytest

from toneprobe.measure.envelope import Envelope
from toneprobe.measure.figure import PitchWave
from toneprobe.measure.pitch_wave import MOST_ERROR_CENTS, RATES_HZ, pitch_wave

RATE_HZ = 60.0
N = tuple(range(1, 11))
HZ = RATES_HZ[20]


def envelopes(phase=lambda n, t: 0.0 * t, level_db=lambda n, t: 0.0 * t, *, f1_hz=220.0, tau_s=1.2, length_s=4.0, noise_power=1e-9):
    """Partials that decay with tau_s, turned by phase(n, t) in radian."""
    t = np.arange(int(length_s * RATE_HZ)) / RATE_HZ
    return [Envelope(10 ** (level_db(n, t) / 20) * np.exp(-t / tau_s + 1j * phase(n, t)), RATE_HZ, n * f1_hz, 0.02, noise_power)
            for n in N]


def waving(cents, *, hz=HZ, turn=0.0, f1_hz=220.0):
    """Derived: a pitch of f·(1 + ε·cos(ωt + φ)) has the phase 2πf·ε·sin(ωt + φ)/ω; from lowest to highest are 2ε, in cents 1200·2ε/ln 2."""
    share = 0.5 * cents * np.log(2.0) / 1200.0
    return lambda n, t: n * f1_hz * share / hz * np.sin(2 * np.pi * (hz * t + turn))


def waves_of(made, numbers=N):
    """Complex cents, NaN where not told."""
    found = pitch_wave(numbers, made)
    return np.array(found.in_phase_cents, float) + 1j * np.array(found.quadrature_cents, float)


def at(waves, hz):
    return waves[int(np.argmin(np.abs(np.array(RATES_HZ) - hz)))]


@pytest.mark.parametrize("cents", [2.0, 8.0, 16.0])
@pytest.mark.parametrize("f1_hz", [65.4, 220.0, 880.0])
def test_a_wave_comes_out_with_its_size_at_its_rate(cents, f1_hz):
    found = np.abs(waves_of(envelopes(waving(cents, f1_hz=f1_hz), f1_hz=f1_hz)))
    assert at(found, HZ) == pytest.approx(cents, rel=0.06)
    assert np.nanargmax(found) == RATES_HZ.index(HZ)
    assert at(found, 2.0 * HZ) < 0.1 * cents


@pytest.mark.parametrize("hz", [0.86, 3.02, 4.22])
def test_a_wave_half_way_between_two_rates_is_told_too(hz):
    """Derived: the nearest rate is 0.06 Hz off, in 5 s 0.3 of a turn, which leaves sin(0.3π)/(0.3π) = 0.86 of it."""
    found = np.abs(waves_of(envelopes(waving(12.0, hz=hz), tau_s=6.0, length_s=6.0)))
    assert 0.82 * 12.0 < np.nanmax(found) < 1.05 * 12.0
    assert RATES_HZ[int(np.nanargmax(found))] == pytest.approx(hz, abs=0.1)


@pytest.mark.parametrize("turn", [0.0, 0.25, 0.6])
def test_where_in_its_wave_a_pitch_begins_is_kept(turn):
    found = at(waves_of(envelopes(waving(8.0, turn=turn))), HZ)
    assert np.exp(1j * np.angle(found)) == pytest.approx(np.exp(2j * np.pi * turn), abs=0.1)  # derived: cos(ωt + φ)


@pytest.mark.parametrize(("phase", "level_db"), [
    (lambda n, t: 0.0 * t, lambda n, t: 2.0 * np.cos(2 * np.pi * HZ * t)),  # its level alone swings
    (lambda n, t: 0.5 * np.sin(2 * np.pi * (0.8 + 0.37 * n) * t + n), lambda n, t: 0.0 * t),  # each partial by itself
    (lambda n, t: 0.3 * np.sin(2 * np.pi * n * 0.7 * t), lambda n, t: 0.0 * t),  # as fast as it is high, a second voice's
    (lambda n, t: -n * 1.0 * np.exp(-t / 0.8), lambda n, t: 0.0 * t),  # a glide that was not taken out, 2 cents after the onset
])
def test_what_is_no_wave_makes_none(phase, level_db):
    """One of 8 cents is heard (limits.WAVE_NOTICED_CENTS)."""
    assert np.nanmax(np.abs(waves_of(envelopes(phase, level_db)))) < 1.6


def test_the_error_covers_what_partials_do_of_their_own():
    rng, over = np.random.default_rng(2), []
    for _ in range(20):
        walk = {n: np.cumsum(rng.normal(0, 0.02, 400)) for n in N}  # radian: a walk of its own in each partial
        found = pitch_wave(N, envelopes(lambda n, t, walk=walk: walk[n][: len(t)]))
        over += [abs(re + 1j * im) / se for re, im, se in zip(found.in_phase_cents, found.quadrature_cents, found.se_cents, strict=True)
                 if se]
    assert len(over) > 500 and np.mean(np.array(over) > 3.0) < 0.011  # derived: of a Rayleigh variable 1 in 90 exceeds three errors


def test_fewer_than_two_waves_are_not_told():
    """Derived: with tau 0.3 s the level falls by 45 dB in 45·0.3/8.686 = 1.55 s, which hold 1.2 waves of 0.8 Hz and 4.9 of 3.2."""
    found = waves_of(envelopes(tau_s=0.3))
    assert np.isnan(found[0]) and np.isfinite(at(found, 3.2))


@pytest.mark.parametrize("made", [envelopes()[:2], [], envelopes(length_s=0.1), envelopes(noise_power=10.0)])
def test_where_too_little_is_heard_there_is_none_to_tell(made):
    found = pitch_wave(N[: len(made)], made)
    assert found == PitchWave() or not any(se is not None for se in found.se_cents)


def test_what_is_told_is_known_better_than_the_least_that_counts():
    rng = np.random.default_rng(3)
    wild = {n: np.cumsum(rng.normal(0, 0.3 * n, 400)) for n in N}
    found = pitch_wave(N, envelopes(lambda n, t: wild[n][: len(t)], f1_hz=30.0))
    assert len(found.se_cents) == len(RATES_HZ)
    assert all(se is None or se <= MOST_ERROR_CENTS for se in found.se_cents) and None in found.se_cents


def test_envelopes_are_left_as_they_were():
    made = envelopes(waving(8.0))
    before = [one.z.copy() for one in made]
    pitch_wave(N, made)
    assert all(np.array_equal(z, one.z) for z, one in zip(before, made, strict=True))

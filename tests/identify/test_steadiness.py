"""Whether a tone holds its pitch."""

import numpy as np
import pytest

from toneprobe.identify.solve import WANDER_CENTS
from toneprobe.identify.steadiness import _in_common, wander_cents

RATE_HZ, F_HZ = 8000, 123.5
TIME_S = np.arange(round(0.6 * RATE_HZ)) / RATE_HZ


def tone(*partials_hz: tuple[float, ...], slide_cents: float = 0.0) -> np.ndarray:
    """Each partial as lines of nearly equal strength, all sliding evenly by so many cents."""
    warped_s = TIME_S * 2 ** (slide_cents * (TIME_S / TIME_S[-1] - 0.5) / 2400.0)  # of t·r(t) the frequency moves twice as far as r
    return sum(0.9**i * np.cos(2 * np.pi * f * warped_s) for lines in partials_hz for i, f in enumerate(lines))


@pytest.mark.parametrize(("samples", "is_voice"), [
    (tone((F_HZ,), (2 * F_HZ,), (3 * F_HZ,), (4 * F_HZ,)), False),
    (tone((F_HZ, F_HZ - 8.0), (2 * F_HZ, 2 * F_HZ - 8.0), (3 * F_HZ,), (4 * F_HZ,)), False),  # over strings that still ring
    (tone((F_HZ,), (2 * F_HZ,), (3 * F_HZ,), (4 * F_HZ,), slide_cents=60.0), True),
], ids=["steady", "two beat", "slides"])
def test_only_what_slides_with_all_its_partials_is_a_voice(samples, is_voice):
    """Derived: lines of 1 and 0.9 make a phase that jumps at each swing, of two partials in four here; a third of a second of 60 cents in
    0.6 s is 33, and 27 from the tenth to the ninetieth of it."""
    cents = wander_cents(lambda first, after: samples[first:after], rate_hz=RATE_HZ, onset_s=0.0, end_s=0.6,
                         partials_hz=F_HZ * np.arange(1, 5))
    assert (cents > WANDER_CENTS) == is_voice


@pytest.mark.parametrize("slide_cents", [0.0, 60.0])
def test_what_sounds_after_a_hand_stopped_the_string_is_no_wandering_of_its_own(slide_cents):
    """A pluck stopped after 0.2 s, and noise 30 dB under it: it was told to be a voice. What slides by 60 cents in that time slides by 40
    from a tenth to nine tenths of what is listened to (derived)."""
    samples = tone((F_HZ,), (2 * F_HZ,), (3 * F_HZ,), (4 * F_HZ,), slide_cents=3.0 * slide_cents)
    samples[round(0.2 * RATE_HZ):] = 0.0
    samples += np.random.default_rng(1).normal(0.0, 0.03, len(samples))
    cents = wander_cents(lambda first, after: samples[first:after], rate_hz=RATE_HZ, onset_s=0.0, end_s=0.6,
                         partials_hz=F_HZ * np.arange(1, 5))
    assert (cents > WANDER_CENTS) == (slide_cents > 0.0)


def test_of_two_tracks_in_the_middle_the_one_that_moved_less_is_what_all_do():
    """Two of four that beat slide with nobody; of three the middle one (worked by hand)."""
    four = np.array([[-5.0, -9.0, 4.0], [-1.0, -3.0, 1.0], [2.0, 2.0, -6.0], [9.0, 5.0, 7.0]])
    assert _in_common(four).tolist() == [-1.0, 2.0, 1.0] and _in_common(four[:3]).tolist() == [-1.0, -3.0, 1.0]
    assert _in_common(-four).tolist() == [1.0, -2.0, -1.0]


@pytest.mark.parametrize(("f_hz", "n", "length_s", "is_told"), [
    (F_HZ, 4, 0.6, True), (F_HZ, 3, 0.6, True),
    (F_HZ, 2, 0.6, False),  # of two partials none is the middle one
    (70.0, 4, 0.6, False),  # no voice is so low
    (F_HZ, 4, 0.12, False),  # two frames: nothing wanders in them
])
def test_of_few_partials_a_low_string_or_a_short_sound_no_wandering_is_told(f_hz, n, length_s, is_told):
    partials_hz = f_hz * np.arange(1, n + 1)
    samples = tone(*((one,) for one in partials_hz))
    cents = wander_cents(lambda first, after: samples[first:after], rate_hz=RATE_HZ, onset_s=0.0, end_s=length_s, partials_hz=partials_hz)
    assert (cents is not None) == is_told


def test_partials_far_weaker_than_the_strongest_have_no_say():
    """30 dB under it (10^(−30/20) = 0.032): two are left, too few."""
    samples = tone((F_HZ,), (2 * F_HZ,)) + 0.03 * tone((3 * F_HZ,), (4 * F_HZ,))
    assert wander_cents(lambda first, after: samples[first:after], rate_hz=RATE_HZ, onset_s=0.0, end_s=0.6,
                        partials_hz=F_HZ * np.arange(1, 5)) is None


def test_what_noise_moves_a_string_by_makes_no_voice_of_it(monkeypatch):
    """Drawn here, noise with twice the amplitude of each partial: without its share taken off a few of twenty steady tones wander like
    a voice."""
    steady = tone((F_HZ,), (2 * F_HZ,), (3 * F_HZ,), (4 * F_HZ,))
    noisy = [steady + np.random.default_rng(seed).normal(0.0, 2.0, len(steady)) for seed in range(20)]

    def most_cents():
        return max(wander_cents(lambda first, after, samples=samples: samples[first:after], rate_hz=RATE_HZ, onset_s=0.0, end_s=0.6,
                                partials_hz=F_HZ * np.arange(1, 5)) for samples in noisy)

    assert most_cents() < 0.5 * WANDER_CENTS
    monkeypatch.setattr("toneprobe.identify.steadiness.CAUTION", 0.0)
    assert most_cents() > WANDER_CENTS

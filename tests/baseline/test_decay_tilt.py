"""Slow partials against fast ones under a gain that rises: strings whose rates are known, so that what the gain leaves of them is too."""

from dataclasses import replace

import numpy as np
import pytest

from toneprobe.baseline.decay_tilt import decay_tilt
from toneprobe.baseline.pairing import pair_partials

# 60 dB in 6 and in 0.6 s are amplitude rates of ln(1000)/6 = 1.1513 and 11.513 per second; a gain that rises by 6 dB a second takes
# 6/8.6859 = 0.6908 off both (worked by hand)
SLOW, FAST, RISE = 1.1513, 11.513, 0.6908
OF_SLOW, OF_FAST = np.log(1.0 - RISE / SLOW), np.log(1.0 - RISE / FAST)  # −0.916, 2.5 times the ring, and −0.062, 6 % more of it


@pytest.fixture
def string(reading, series):
    """Pairs of a string with so many slow and fast partials that lost so much of their rate, and more by a share of its own."""
    def make(n_slow=4, n_fast=4, *, slow=SLOW, share=0.0):
        rates = np.array([slow] * n_slow + [FAST] * n_fast)
        f = series(100.0, 1e-4, len(rates))
        return pair_partials(reading(f, log_decay=np.log(rates - RISE) + share), reading(f, log_decay=np.log(rates)))

    return make


def swapped(pairs):
    """The gain moved when the string was fresh, and not now."""
    return replace(pairs, log_decay=-pairs.log_decay, fresh_decay=pairs.fresh_decay * np.exp(pairs.log_decay))


def test_a_rising_gain_lengthens_slow_partials_and_leaves_fast_ones(string):
    found = decay_tilt([string()] * 12)
    assert (found.slow, found.fast) == pytest.approx((-0.916, -0.0619), abs=1e-3) and found.slow_se == pytest.approx(0.0, abs=1e-9)
    apart = np.log(SLOW / FAST) + 0.5 * (OF_SLOW - OF_FAST)  # of the rates, both sides' mean
    assert found.tilt == pytest.approx((OF_SLOW - OF_FAST) / apart) and found.tilt == pytest.approx(0.313, abs=1e-3)
    assert (found.n_strings, found.share) == (12, 1.0)


def test_a_gain_that_moved_when_fresh_is_the_same_the_other_way_about(string):
    found = decay_tilt([swapped(string())] * 12)
    assert (found.tilt, found.slow, found.fast) == pytest.approx((-0.313, 0.916, 0.0619), abs=1e-3)


@pytest.mark.parametrize("which", [lambda pairs: pairs, swapped], ids=["now", "fresh"])
def test_what_rings_for_long_under_the_gain_alone_is_not_slow(string, which):
    """60 dB in 3 s are 4.3 s under that gain, 6.9078/(2.3026 − 0.6908): of the side without it such a partial is not slow."""
    assert decay_tilt([which(string(slow=2.3026))] * 12) is None


@pytest.mark.parametrize("strings", [
    [(6, 6)] * 4 + [(0, 6)] * 8,  # 24 slow partials, of four strings alone: they may have lost or gained that by themselves
    [(1, 6)] * 12,  # twelve strings have but one each
    [(6, 1)] * 12,
    [(0, 6)] * 12,
    [(2, 1)] * 24,  # none has the four partials that a tilt is asked of
], ids=["four strings", "few slow", "few fast", "none slow", "short strings"])
def test_of_few_partials_or_strings_nothing_is_told(string, strings):
    assert decay_tilt([string(*one) for one in strings]) is None


def test_a_string_of_three_partials_has_no_say_in_how_many_tilt(string):
    three = string().where(np.isin(np.arange(8), (0, 1, 4)))
    assert decay_tilt([string()] * 12 + [replace(three, fresh_decay=np.array([SLOW, 3.0, FAST]))] * 6).n_strings == 12


def test_how_far_the_strings_lie_apart_is_its_error(string):
    """Half of twelve strings lost 0.2 more, half 0.2 less, in all partials: √(π/2)·1.4826·0.2/√12 = 0.107 (derived: a median's error)."""
    found = decay_tilt([string(share=0.2 * (-1.0) ** i) for i in range(12)])
    assert found.slow_se == pytest.approx(0.107, abs=2e-3) and found.slow == pytest.approx(-0.916, abs=1e-3)


def test_what_was_cut_short_or_not_measured_tells_no_tilt(string):
    """A slow partial of which one side shows 20 dB less, for the hand or the next pluck, errs by far more than a gain does."""
    cut = replace(string(), less_rung_db=np.array([20.0] * 4 + [0.0] * 4))
    unknown = replace(string(5), log_decay=np.array([np.nan] + [OF_SLOW] * 4 + [OF_FAST] * 4))
    assert decay_tilt([cut] * 12) is None and decay_tilt([unknown] * 12).slow == pytest.approx(-0.916, abs=1e-3)

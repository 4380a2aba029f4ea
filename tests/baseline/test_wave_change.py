"""By how much a pitch goes up and down more than when fresh, how fast, and whether its plucks say so alike."""

from dataclasses import replace

import numpy as np
import pytest

from toneprobe.baseline.wave_change import NO_WAVE, OF_A_SLIP, wave_change
from toneprobe.measure.figure import PitchWave
from toneprobe.measure.pitch_wave import RATES_HZ

SE_CENTS = 0.3


def wave(cents, *, at=20, told_from=0):
    """Of one pluck: complex cents at one rate, none elsewhere; told from a rate on."""
    row = np.zeros(len(RATES_HZ), complex)
    row[at] = cents
    untold = (None,) * told_from
    return PitchWave((*untold, *row.real[told_from:].tolist()), (*untold, *row.imag[told_from:].tolist()),
                     (*untold, *(SE_CENTS,) * (len(RATES_HZ) - told_from)))


CALM = (wave(0.0), wave(0.0))


@pytest.fixture
def change(reading, series):
    f = series(220.0, 1e-4, 8)
    return lambda now, fresh=CALM: wave_change(replace(reading(f), waves=tuple(now)), replace(reading(f), waves=tuple(fresh)))


def test_a_wave_is_told_with_its_rate_and_the_error_of_both_sides(change):
    """Derived: E|c|² = 2·0.3² is what errors add to each power; 12 cents in both plucks, freed of it, and 0.35 for a side's day."""
    found = change((wave(12.0), wave(12.0)))
    assert found.cents.value == pytest.approx(np.sqrt(144.0 - 0.18)) and found.rate_hz == RATES_HZ[20] and found.is_confirmed
    assert found.cents.se == pytest.approx(np.sqrt(2.0 * (0.18 + 0.35**2)))


def test_what_it_did_when_fresh_is_subtracted_wherever_it_began(change):
    assert change((wave(8.0),) * 2, (wave(-8.0j),) * 2).cents.value < 0.1
    assert change((wave(12.0),) * 2, (wave(5.0j),) * 2).cents.value == pytest.approx(7.0, abs=0.05)


@pytest.mark.parametrize("now", [(wave(12.0),), (wave(12.0), wave(0.0)), (wave(12.0), wave(-12.0)), (wave(12.0), wave(12.0), wave(0.0))])
def test_what_plucks_do_not_tell_alike_is_not_confirmed(change, now):
    found = change(now)
    assert found.cents.value > 5.0 and not found.is_confirmed


def test_what_a_single_fresh_pluck_knows_nothing_of_is_not_confirmed(change):
    assert not change((wave(12.0),) * 2, (wave(0.0),)).is_confirmed


@pytest.mark.parametrize(("at", "is_confirmed"), [(14, False), (19, True)])
def test_two_swings_of_it_are_told_and_three_confirm_it(change, at, is_confirmed):
    """Derived: told from 2.0 Hz on, the tenth step, two swings into the ring; half as fast again, 3.0 Hz, are three."""
    found = change((wave(12.0, at=at, told_from=10), wave(12.0, at=at, told_from=10)))
    assert found.cents.value > 11.0 and found.is_confirmed == is_confirmed


@pytest.mark.parametrize(("share", "size", "told"), [(0.5, 12.0, OF_A_SLIP), (0.1, 12.0, 12.0), (0.5, 1.4, 0.0)])
def test_of_a_pitch_that_slips_once_no_wave_can_be_told(change, share, size, told):
    """Derived: a kink of the phase has parts as 1/rate², which are cents as 1/rate: half as much at twice the rate. AT_TWICE is set. What
    may be chance, 1.3 cents at an error of 0.8, is no kink."""
    rates = np.array(RATES_HZ)
    kinked = np.where(rates < rates[10], 0.0, size * (rates[10] / rates) ** -np.log2(share))
    found = change((PitchWave(tuple(kinked.tolist()), (0.0,) * len(rates), (SE_CENTS,) * len(rates)),) * 2).cents
    assert found == told if told is OF_A_SLIP else found.value == pytest.approx(told, abs=0.1)


def test_a_wave_too_fast_for_twice_its_rate_to_be_told_is_one(change):
    assert change((wave(12.0, at=60),) * 2).cents.value > 11.0


def test_where_no_wave_was_looked_for_there_is_none_to_tell(change):
    """Plucks of older books, and such in which too few partials ring."""
    assert change((), ()) == NO_WAVE == change((wave(12.0),), (PitchWave(),))
    blank = PitchWave(*((None,) * len(RATES_HZ),) * 3)
    assert not change((blank,), (blank,)).cents.known

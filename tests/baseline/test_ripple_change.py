"""How deep a new waver is, at which rate, and whose."""

import numpy as np
import pytest

from toneprobe.baseline.ripple_change import ripple_change
from toneprobe.measure.figure import SharedRipple
from toneprobe.measure.ripple import RATES_HZ, SPLITS_CENTS

N_RATES = len(RATES_HZ) + len(SPLITS_CENTS)


def plucks(*swings_db, at=20):
    """Each with a swing of that depth at one rate, none elsewhere."""
    return tuple(SharedRipple((0.0,) * at + (db,) + (0.0,) * (N_RATES - at - 1), (0.0,) * N_RATES, (0.15,) * N_RATES) for db in swings_db)


@pytest.fixture
def change(reading, series):
    f = series(220.0, 1e-4, 8)
    return lambda now, fresh: ripple_change(reading(f, ripples=now), reading(f, ripples=fresh), pitch_hz=220.0)


def test_a_string_that_wavers_less_than_when_fresh_does_so_by_nothing(change):
    """Everywhere: a depth is no less than none, and has no rate."""
    everywhere = tuple(SharedRipple((3.0,) * N_RATES, (0.0,) * N_RATES, (0.15,) * N_RATES) for _ in range(2))
    found = change(plucks(1.0, 1.0), everywhere)
    assert found.depth_db.value == 0.0 and found.beat_hz is None and found.voices_cents == 0.0


@pytest.mark.parametrize("place", [0, 3, len(SPLITS_CENTS) - 1])
def test_two_voices_lie_as_far_apart_whichever_is_the_stronger(change, place):
    """c cents at 220 Hz are 220·(2^(c/1200) − 1) Hz (definition)."""
    split = SPLITS_CENTS[place]
    found = change(plucks(4.0, 4.0, at=len(RATES_HZ) + place), plucks(0.0, 0.0))
    assert found.voices_cents == abs(split) > 0.0
    assert found.beat_hz == pytest.approx(abs(220.0 * (2.0 ** (split / 1200.0) - 1.0)))


def test_at_a_rate_that_is_the_same_in_all_partials_no_voices_are_told(change):
    found = change(plucks(4.0, 4.0, at=5), plucks(0.0, 0.0))
    assert found.beat_hz == RATES_HZ[5] and found.voices_cents == 0.0 and not found.pitch_walk_db.known
    assert found.depth_db.value == pytest.approx(4.0, rel=0.01) and np.isfinite(found.depth_db.se)

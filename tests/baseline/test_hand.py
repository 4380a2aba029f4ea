"""Plucked harder or softer than when fresh: both are another hand."""

import numpy as np
import pytest

from toneprobe.baseline.fresh import Baseline
from toneprobe.baseline.hand import hand_change, hand_difference
from toneprobe.baseline.sinking import ONE_PLUCK, OTHER_HAND, sinking
from toneprobe.measure.figure import Figure


@pytest.fixture
def glided(reading, series):
    return lambda cents: reading(series(220.0, 1e-4, 8), glide_cents=cents)


def test_a_softer_hand_differs_as_much_as_a_harder_one(glided):
    """Glides of 12 and 1 cents, 2 added to each: the log ratio is ln(14/3) = 1.54 either way (definition)."""
    firm, soft = glided(12.0), glided(1.0)
    for now, fresh in ((firm, soft), (soft, firm)):
        assert hand_difference(hand_change(now, Baseline(fresh)), 0.0) == pytest.approx(1.540, abs=1e-3)
    assert hand_difference(hand_change(firm, Baseline(soft)), -2.0) == 2.0  # the whole sweep's, where that differs more or alone is known
    assert [hand_difference(Figure(None, None, "not known"), of_sweep) for of_sweep in (0.0, -0.3)] == [0.0, 0.3]


@pytest.mark.parametrize("hand_of_sweep", [1.3, -1.3])
def test_beside_a_sweep_plucked_harder_or_softer_no_sinking_is_told(glided, hand_of_sweep):
    found = sinking(glided(10.0), Baseline(glided(4.0)), hand_of_sweep=hand_of_sweep)
    assert found.log_ratio is OTHER_HAND and (found.now_cents, found.fresh_cents) == (10.0, 4.0)


def test_where_a_glide_or_its_error_is_not_known_no_sinking_is_told(glided, reading, series):
    unsure = glided(10.0)
    unsure.figures["glide_cents"] = Figure(10.0)
    for now in (reading(series(220.0, 1e-4, 8)), unsure):
        found = sinking(now, Baseline(glided(4.0)), hand_of_sweep=0.0)
        assert not found.log_ratio.known and found.log_ratio not in (OTHER_HAND, ONE_PLUCK) and found.now_cents == 0.0


def test_a_glide_below_none_is_told_as_none(glided):
    """What is measured as a rise of half a cent is the measurement's error: strings fall."""
    found = sinking(glided(8.0), Baseline(glided(-0.5)), hand_of_sweep=0.0)
    assert found.fresh_cents == 0.0 and found.log_ratio.value == pytest.approx(np.log(10.0 / 2.0))

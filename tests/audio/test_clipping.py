"""Flat tops counted sample by sample, on blocks made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from toneprobe.audio.clipping import TopTally

STEP, FLOAT_STEP = 2.0**-15, 2.0**-23  # of 16 bits, and of float samples


def flat(top, beside=0.2):
    return [0.0, beside, top, top, top, beside, 0.0]


def counted(*blocks, lsb=STEP, sign=1):
    tally = TopTally(lsb=lsb, lossy=False)
    for block in blocks:
        tally.add(sign * np.array(block), sign)
    return tally.n_clipped


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("blocks", "n"), [
    ([flat(1.0 - STEP)], 3),  # full scale
    ([flat(0.5)], 0),  # below it a single run may be chance …
    ([flat(0.5) * 2], 6), ([flat(0.5), flat(0.5)], 6),  # … and two are none
    ([flat(0.5) * 2, [0.0, 0.8, 0.0]], 0),  # what lies higher was not cut there
    ([flat(0.05, 0.05 - 3.0 * STEP) * 2], 0),  # a parabola's top falls by 3 steps at most beside three equal samples (derived in the room)
    ([[0.0, 0.5, 0.5, 0.0] * 4], 0),  # two equal samples are no flat top
    ([[1.0] * 3 + [0.0] * 3, [0.0] * 3 + [1.0] * 3], 0),  # what was before the first of a block and comes after its last is not known here
    ([flat(0.5, 0.5 - 9.0 * STEP) * 2], 6), ([flat(0.5, 0.5 - 7.0 * STEP) * 2], 0),  # by so many steps on the mean it is left
])
def test_a_flat_top_is_a_run_that_is_left_by_a_jump(blocks, n, sign):
    assert counted(*blocks, sign=sign) == n


def coded(*samples):
    tally = TopTally(lsb=STEP, lossy=True)
    for block in samples:
        tally.add(np.array(block), 1)
    return tally.n_clipped


@pytest.mark.parametrize(("samples", "n"), [
    ([1.02] * 30 + [0.95] * 160, 190),  # rippled about a top: many beyond full scale, where no converter puts any
    ([1.02] * 29 + [0.95] * 150 + [0.85] * 130, 0),  # one loud attack alone may be …
    ([1.02] * 30 + [0.95] * 180 + [0.85] * 150, 0),  # … and some of many loud ones: fewer than 15 of 100
    ([0.95] * 160 + [0.85] * 100, 160),  # half as many again above 0.9 as below it pile up …
    ([0.95] * 140 + [0.85] * 100, 0),  # … which a decay from full scale does not (derived in the room)
    ([0.95] * 29, 0), ([0.89] * 500, 0), ([0.5] * 500, 0),
])
def test_what_a_codec_rippled_counts_where_much_lies_over_full_scale_or_piles_up(samples, n):
    """The limits are set in the room."""
    assert coded(samples) == coded(samples[::2], samples[1::2]) == n


def test_samples_as_fine_as_floats_have_rounded_tops_too():
    assert counted(flat(0.5, 0.5 - 1e-4) * 2, lsb=FLOAT_STEP) == 0 and counted(flat(0.5, 0.49) * 2, lsb=FLOAT_STEP) == 6

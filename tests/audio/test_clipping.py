"""Flat tops counted sample by sample, on blocks made by hand, and seconds of it in sounds cut here."""

import numpy as np
import pytest
import soundfile
from made_up_recording import RATE_HZ, encode, store

from toneprobe.audio import open_recording
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


@pytest.mark.parametrize("gain_after", [1.0, 0.5, 0.03])
@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "FLOAT"])
def test_clipping_is_timed_wherever_the_rail_lies(tmp_path, sweep, gain_after, subtype):
    loud = 4.0 * sweep
    clipped = np.clip(loud, -1.0, 1.0)
    truth_s = np.count_nonzero(np.abs(loud) >= 1.0) / RATE_HZ
    assert truth_s > 0.01
    quality = open_recording(store(tmp_path / "a.wav", clipped * gain_after, subtype=subtype)).quality
    assert quality.clipped_s == pytest.approx(truth_s, rel=0.1)
    assert quality.peak_db == pytest.approx(20 * np.log10(gain_after), abs=0.01)
    assert any("overloaded" in warning for warning in quality.warnings)
    if gain_after < 1.0:  # a method that looks at full scale alone finds nothing
        assert np.count_nonzero(np.abs(clipped * gain_after) >= 0.999) == 0


@pytest.mark.parametrize("peak", [1.0, 0.4, 0.004])
def test_an_unclipped_low_tone_is_not_called_clipped(tmp_path, peak):
    # 32.703 Hz is C1 (ISO 16). Its rounded top holds many equal 16-bit samples: counting equal samples alone calls that clipped.
    time_s = np.arange(4 * RATE_HZ) / RATE_HZ
    tone = peak * 32767 / 32768 * np.sin(2 * np.pi * 32.703 * time_s) * np.exp(-0.02 * time_s)
    path = store(tmp_path / "a.wav", tone, subtype="PCM_16")
    stored, _ = soundfile.read(path)
    assert np.count_nonzero(stored == stored.max()) >= 3
    assert open_recording(path).quality.clipped_s == 0.0


def test_clipping_survives_a_lossy_codec(tmp_path, sweep):
    path = encode(tmp_path / "a.m4a", np.clip(6.0 * sweep, -1, 1), RATE_HZ, "aac", bit_rate=192000)
    truth_s = np.count_nonzero(np.abs(6.0 * sweep) >= 1.0) / RATE_HZ
    assert open_recording(path).quality.clipped_s == pytest.approx(truth_s, rel=0.3)  # the codec ripples the flat top
    path = encode(tmp_path / "b.m4a", sweep / np.abs(sweep).max(), RATE_HZ, "aac", bit_rate=192000)
    assert open_recording(path).quality.clipped_s == 0.0

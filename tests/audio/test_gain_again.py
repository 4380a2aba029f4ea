"""The gain judged anew where other sounds are known: levels made here, frame by frame, so that what moved is known."""

from dataclasses import replace

import numpy as np
import pytest

from toneprobe.audio import recording_from_samples, without_foreign_gain
from toneprobe.audio.remark import GAIN_MOVES
from toneprobe.audio.source import MemorySource

RATE_HZ, GAP_S, N_PLUCKS = 44100, 4.0, 12
TONE_S, EVERY = 1.2, 3


def sweep(*, tones=False, gated=False):
    """Plucks that die away into steady noise; tones: after every third, one that begins and ends at once; gated: the noise, once heard a
    second long, is turned down by 20 dB."""
    rng, time_s = np.random.default_rng(3), np.arange(round(GAP_S * N_PLUCKS * RATE_HZ)) / RATE_HZ
    since_s = time_s % GAP_S
    sound = 0.3 * np.exp(-6.9 * since_s / 1.2) * sum(np.sin(2 * np.pi * f * time_s) for f in (700.0, 1500.0, 3100.0, 6200.0)) / 4.0
    sound = sound + rng.normal(0.0, 3e-4, time_s.size) * np.where(gated & (since_s > 2.5), 0.1, 1.0)
    if tones:
        is_on = (since_s > 2.0) & (since_s < 2.0 + TONE_S) & (time_s // GAP_S % EVERY == 0)
        sound += 0.0015 * is_on * sum(np.sin(2 * np.pi * f * time_s) for f in (1200.0, 2500.0, 5000.0))
    return recording_from_samples(np.concatenate([rng.normal(0.0, 3e-4, RATE_HZ), sound]), RATE_HZ)


def heard_at(after_s):
    """When a tone was known to sound: so long after every third pluck, the first of which comes after a second."""
    return [(1.0 + GAP_S * k + after_s, 1.0 + GAP_S * k + after_s + TONE_S) for k in range(0, N_PLUCKS, EVERY)]


def test_tones_that_end_at_once_are_no_gate_that_shuts():
    recording = sweep(tones=True)
    assert recording.quality.gain_riding is True  # what they look like
    assert GAIN_MOVES in [one.kind for one in recording.remarks]
    again = without_foreign_gain(recording, heard_at(2.0))
    assert again.quality.gain_riding is not True and GAIN_MOVES not in [one.kind for one in again.remarks]
    assert again.quality.warnings == tuple(one.text for one in again.remarks)


@pytest.mark.parametrize("foreign_s", [[], heard_at(0.3)])
def test_a_gate_is_still_one_where_something_else_sounded_elsewhere(foreign_s):
    recording = sweep(gated=True)
    assert recording.quality.gain_riding is True
    assert without_foreign_gain(recording, foreign_s).quality == recording.quality


def test_what_sounds_after_most_plucks_may_be_the_gains_own_doing():
    recording, after_all = sweep(tones=True), [(1.0 + GAP_S * k + 2.0, 1.0 + GAP_S * k + 2.0 + TONE_S) for k in range(N_PLUCKS)]
    assert without_foreign_gain(recording, after_all) is recording


class Damaged(MemorySource):
    """Of which less can be read by longer blocks: what is salvaged depends on where the last whole one ended (`FileSource.salvage`)."""

    def blocks(self, n_block):
        return (block[: -(n_block % 9973)] if block.shape[0] < n_block else block for block in super().blocks(n_block))


def test_a_file_that_breaks_off_ends_at_one_frame_for_all_that_is_asked_again():
    recording = recording_from_samples(np.random.default_rng(1).normal(0.0, 1e-3, 40 * 8000), 8000)
    damaged = replace(recording, source=Damaged(recording.source.samples, 8000), quality=replace(recording.quality, gain_riding=True))
    assert without_foreign_gain(damaged, [(5.0, 6.0)]).quality.gain_riding is not True


def test_nothing_is_asked_again_of_a_recording_that_is_whole():
    recording = sweep()
    assert recording.quality.gain_riding is False
    assert without_foreign_gain(recording, heard_at(2.0)) is recording

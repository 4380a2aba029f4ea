"""A pluck of a string that still rang, told by the player's own habit. Paths are made up here; what is expected is counted by hand."""

import numpy as np
import pytest
from sounds import real_sweeps as real

from toneprobe.audio import recording_from_samples
from toneprobe.identify.missed_repeats import missed_repeats
from toneprobe.identify.named import PLUCKED_WHILE_RINGING
from toneprobe.identify.whole_sweep import identify
from toneprobe.segment import find_spans


def swept(n_strings=12, *, each=2, gap_s=1.5):
    """Every string so often, one after the other."""
    path = [string for string in range(n_strings) for _ in range(each)]
    return path, [1.0 + gap_s * k for k in range(len(path))]


def test_a_sound_that_came_when_a_pluck_was_due_was_that_pluck():
    path, onsets_s = swept()
    path[9] = None  # the second pluck of string 4
    assert missed_repeats(path, onsets_s, [True] * len(path)) == {9}


def test_both_of_two_strings_and_of_too_many_none():
    """18 of 20 strings have as many plucks as most, which is a habit (85 % are asked), 16 of 20 are not enough."""
    path, onsets_s = swept(20)
    path[9] = path[21] = None
    assert missed_repeats(path, onsets_s, [True] * len(path)) == {9, 21}
    path[31] = path[35] = None
    assert missed_repeats(path, onsets_s, [True] * len(path)) == set()


def test_both_of_two_that_one_string_lacks():
    path, onsets_s = swept(each=3)
    path[13] = path[14] = None
    assert missed_repeats(path, onsets_s, [True] * len(path)) == {13, 14}


@pytest.mark.parametrize("share", [0.5, 1.6])
def test_what_came_at_another_moment_was_none(share):
    path, onsets_s = swept()
    path[9], onsets_s[9] = None, onsets_s[8] + share * 1.5
    assert missed_repeats(path, onsets_s, [True] * len(path)) == set()


def test_what_sounds_otherwise_and_what_comes_on_top_is_none():
    path, onsets_s = swept()
    path[9] = None
    assert missed_repeats(path, onsets_s, [k != 9 for k in range(len(path))]) == set()
    path, onsets_s = swept()
    assert missed_repeats([*path[:10], None, *path[10:]], [*onsets_s[:10], onsets_s[9] + 0.75, *onsets_s[10:]], [True] * 25) == set()


@pytest.mark.parametrize(("n_strings", "each"), [(12, 1), (6, 2)])
def test_without_a_habit_nothing_is_said(n_strings, each):
    """One pluck a string is none to go by, and from six strings the length between two is not known."""
    path, onsets_s = swept(n_strings, each=each)
    path[n_strings - 1] = None
    assert missed_repeats(path, onsets_s, [True] * len(path)) == set()


def test_now_two_and_now_three_is_no_habit():
    path = [string for string in range(12) for _ in range(2 + string % 2)]
    path[4] = None
    assert missed_repeats(path, [float(k) for k in range(len(path))], [True] * len(path)) == set()


@pytest.mark.skipif(not real.available(), reason="the recordings of real plucks are not beside the project")
def test_no_real_wire_seems_to_ring_on_through_its_second_pluck():
    """The lever harp in a hurry, soft and firm, a second apart: what is measured of a pluck ends before the next one begins."""
    soft, firm = real.lever("soft", 2), real.lever("firm", 2)
    parts, onsets_s = [np.zeros(real.RATE_HZ)], []
    for note in real.downwards(soft):
        for files in (soft, firm):
            onsets_s.append(sum(map(len, parts)) / real.RATE_HZ + real.PRE_S)
            parts.append(real.pluck(files[note])[: real.RATE_HZ])
    sound = np.concatenate([*parts, np.zeros(real.RATE_HZ)])
    sound = sound * 0.3 / np.abs(sound).max() + np.random.default_rng(2).normal(0.0, 2e-4, len(sound))
    recording = recording_from_samples(sound, real.RATE_HZ)
    found = identify(recording, find_spans(recording), real.lever_harp())
    assert len(found.named) >= 44 and max(one.span.end_s - one.span.onset_s for one in found.named) < 1.1
    told = [one for one in found.rejected if one.reason == PLUCKED_WHILE_RINGING]
    assert 0 < len(told) <= len(onsets_s) - len(found.named)  # some second plucks of wires are lost, and said to be

"""Whether a recording was heard before."""

from __future__ import annotations

import pytest

from toneprobe.filing import is_same_playing

PLAYED = [("3D", 2.0, 0.31), ("3D", 4.1, 0.12), ("3C", 6.4, -1.27), ("3C", 8.3, -1.05), ("4B", 11.0, 3.4), ("4B", 13.2, 3.1),
          ("4A", 16.0, 0.0)]


def moved(by_s=0.0, cents=0.0, pause_s=0.0):
    return [(string, at_s + by_s + place * pause_s, off + cents) for place, (string, at_s, off) in enumerate(PLAYED)]


@pytest.mark.parametrize(("new", "is_same"), [
    (moved(by_s=-1.7), True),  # cut elsewhere
    (moved(by_s=300.0)[1:], True),  # a part, behind something else
    (moved(cents=0.26), False),  # after the same pauses, as far off as two takes of a string (the median of 48 pairs, measured)
    (moved(pause_s=0.03), False),  # the same pitches, another time
    (PLAYED[:4], False),  # too few to tell
])
def test_the_same_playing_has_the_same_pauses_and_pitches(new, is_same):
    assert is_same_playing(new, PLAYED) == is_same

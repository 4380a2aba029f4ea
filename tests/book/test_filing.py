"""A recording as the book files it: whether it was heard before or is still being written, and which of its sound is kept."""

import os
from types import SimpleNamespace

import numpy as np
import pytest

from toneprobe.book.filing import file_state, is_same_playing, new_plucks, refuse_changed
from toneprobe.errors import RecordingError
from toneprobe.hearing import Heard
from toneprobe.segment import Span

PLAYED = [("3D", 2.0, 0.31), ("3D", 4.1, 0.12), ("3C", 6.4, -1.27), ("3C", 8.3, -1.05), ("4B", 11.0, 3.4), ("4B", 13.2, 3.1),
          ("4A", 16.0, 0.0)]


def moved(by_s=0.0, cents=0.0, pause_s=0.0):
    return [(string, at_s + by_s + place * pause_s, off + cents) for place, (string, at_s, off) in enumerate(PLAYED)]


@pytest.mark.parametrize(("new", "is_same"), [
    (moved(by_s=-1.7), True),  # cut elsewhere
    (moved(by_s=300.0)[1:], True),  # a part, behind something else
    (moved(by_s=0.1, pause_s=0.0015), True),  # saved anew by a codec, which moves a pluck by some thousandths of a second
    (moved(cents=0.26), False),  # after the same pauses, as far off as two takes of a string (the median of 48 pairs, measured)
    (moved(pause_s=0.03), False),  # the same pitches, another time
    (moved(pause_s=0.012), False),
    ([*PLAYED, *(("3G", 20.0 + k, 0.5 * k) for k in range(5))], False),  # five of twelve were never heard
    ([({"3D": "3C", "3C": "3D"}.get(string, "4G"), at_s, off) for string, at_s, off in PLAYED], False),  # other strings
    (PLAYED[:4], False),  # too few to tell
])
def test_the_same_playing_has_the_same_pauses_and_pitches(new, is_same):
    assert is_same_playing(new, PLAYED) == is_same


@pytest.mark.parametrize(("span", "from_s", "to_s"), [
    (Span(2.0, 4.0, 9.0), 1.9, 4.5),  # a tenth before it, and half a second behind its ring
    (Span(2.0, 4.0, 4.2), 1.9, 4.2),  # up to the next pluck
    (Span(2.0, 30.0, 40.0), 1.9, 17.0),  # wires ring 8 to 15 s (common practice)
    (Span(2.0, 2.02, 2.05), 1.9, 2.1),
    (Span(0.05, 1.0, 9.0), 0.0, 1.5),  # there is nothing before the recording …
    (Span(59.0, 59.9, 60.0), 58.9, 60.0),  # … nor behind it
])
def test_the_sound_of_a_pluck_is_its_own_ring(span, from_s, to_s):
    """Samples made here, each its own number."""
    recording = SimpleNamespace(rate_hz=1000, duration_s=60.0, read=np.arange)
    (one,) = new_plucks([Heard(recording, SimpleNamespace(named=[SimpleNamespace(span=span)]), ["measured"])])
    clip = one.clip()
    assert (one.measurement, one.recording, clip.rate_hz) == ("measured", 0, 1000)
    assert clip.samples[[0, -1]] / 1000.0 == pytest.approx([from_s, to_s], abs=0.0021)


@pytest.mark.parametrize(("change", "is_refused"), [
    (lambda path: path.write_bytes(b"longer now"), True),
    (lambda path: (path.write_bytes(b"sweep 2"), os.utime(path, ns=(1, 1))), True),  # of the same length
    (lambda path: os.utime(path, ns=(1, 1)), False),  # as a copying program does at its end
    (lambda path: path.unlink(), False),  # what was measured is kept
    (lambda path: None, False),
], ids=["grew", "other sound", "touched", "gone", "as it was"])
def test_what_was_written_to_while_it_was_measured_is_refused(tmp_path, change, is_refused):
    path = tmp_path / "sweep.wav"
    path.write_bytes(b"sweep 1")
    then = file_state(path)
    change(path)
    if is_refused:
        with pytest.raises(RecordingError, match="was written to while it was measured"):
            refuse_changed([path], [then])
    else:
        refuse_changed([path], [then])

"""Channels that fail part-way, told by levels made by hand: two channels, a pluck every three seconds, frames of a tenth; and what is said
of them and of a recorder."""

import numpy as np
import pytest

from toneprobe.audio.failing import Failing, failing_channels
from toneprobe.audio.remark import TOO_NOISY
from toneprobe.audio.remarks import remarks_on_channels, remarks_on_recorder, remarks_on_sound

EVERY, FLOOR_DB = 30, -70.0


def levels(*peaks_db, quiet_db=FLOOR_DB):
    """Of one channel: plucks that stand so high for three frames and are gone at once. quiet_db: between them, one or each by its pluck."""
    quiet = np.broadcast_to(quiet_db, len(peaks_db))
    rows = [np.r_[np.full(EVERY - 3, before_db), np.full(3, peak_db)] for peak_db, before_db in zip(peaks_db, quiet, strict=True)]
    return np.concatenate(rows)


def found(*channels):
    rows = np.array(channels)
    return failing_channels(rows, rows.min(axis=1))


WHOLE = levels(*[-20.0] * 10)


def test_a_channel_that_stays_lower_has_failed_from_there_on_and_one_that_comes_later_until_then():
    assert found(WHOLE, levels(*[-20.0] * 5, *[-45.0] * 5)) == [Failing(1, 6 * EVERY - 3, 25.0, 0)]
    assert found(levels(*[-45.0] * 5, *[-20.0] * 5), WHOLE) == [Failing(0, 6 * EVERY - 3, -25.0, 1)]


def test_a_step_of_no_more_than_real_strings_make_or_of_one_string_s_two_plucks_is_no_failing():
    """From one string to the next a real harp's channels move against each other by 6 to 8 dB at the most (measured)."""
    assert found(WHOLE, levels(*[-20.0] * 5, *[-32.0] * 5)) == []
    assert found(WHOLE, levels(*[-20.0] * 4, -45.0, -45.0, *[-20.0] * 4)) == []


def test_how_quiet_a_channel_is_between_the_plucks_is_no_failing():
    """Turned down there, from 45 to 75 dB below the plucks, which stand as high as before."""
    assert found(WHOLE, levels(*[-20.0] * 10, quiet_db=[-65.0] * 5 + [-95.0] * 5)) == []


def test_where_the_plucks_themselves_changed_it_is_the_other_channel_that_failed():
    """All plucks 30 dB softer from the sixth on, but in a channel that hums from there: as loud as the plucks were."""
    soft = levels(*[-20.0] * 5, *[-50.0] * 5)
    assert [one.channel for one in found(soft, levels(*[-20.0] * 5, *[-20.0] * 5, quiet_db=[-70.0] * 5 + [-21.0] * 5))] == [1]


def test_what_is_said_of_them():
    one, other = Failing(1, 130, 24.6, 0), Failing(0, 70, -20.2, 1)
    assert [told.text for told in remarks_on_channels([one], channel=0, n_channels=2)] == [
        "The right channel fails: from the pluck at 13 s on its plucks stand 25 dB lower beside those of the left channel than before (a "
        "loose plug, a cable, a switch?). The left channel is used for all of the recording."]
    assert [told.text for told in remarks_on_channels([other, one], channel=0, n_channels=3)] == [
        "Channel 1 fails: until the pluck at 7 s its plucks stand 20 dB lower beside those of channel 2 than afterwards (a loose plug, a "
        "cable, a switch?). Channel 2 fails: from the pluck at 13 s on its plucks stand 25 dB lower beside those of channel 1 than before "
        "(a loose plug, a cable, a switch?). No channel holds all through, so what was plucked meanwhile may be lost: record again."]
    assert remarks_on_channels([], channel=0, n_channels=2) == []


# What else is said of a recorder

def said(**of):
    usual = {"low_cut_hz": None, "high_cut_hz": None, "rate_hz": 44100, "gain_riding": False, "eight_bits": False,
             "codec_kbit_s": None, "coarse": None}
    return [one.text for one in remarks_on_recorder(**usual | of)]


@pytest.mark.parametrize(("of", "words"), [
    ({}, []),
    ({"high_cut_hz": 15_000.0}, ["There is nothing above about 15000 Hz"]),
    ({"high_cut_hz": 18_500.0}, []),  # heard by few and tells nothing of a string (common practice)
    ({"rate_hz": 11_025}, ["At 11025 samples a second nothing above 5512 Hz"]),
    ({"rate_hz": 16_000}, []),
    ({"low_cut_hz": 250.0}, ["The recorder removed what lies below about 250 Hz"]),
    ({"codec_kbit_s": 32.0}, ["It is compressed to 32 kbit/s a channel"]),
    ({"codec_kbit_s": 128.0}, []),
    ({"codec_kbit_s": 32.0, "coarse": "GSM"}, ["It is compressed to few bits a sample (GSM)"]),
    ({"gain_riding": True}, ["The recorder changes its gain by itself, or fades or cuts the quiet parts: decay"]),
    ({"gain_riding": True, "codec_kbit_s": 32.0},
     ["It is compressed to 32 kbit/s",
      "The recorder changes its gain by itself, or fades or cuts the quiet parts, or its compression does: decay"]),
    ({"gain_riding": True, "eight_bits": True}, ["It was recorded with eight bits"]),  # whose steps look like it
])
def test_what_a_recorder_took_away_is_said_once_each(of, words):
    told = said(**of)
    assert len(told) == len(words) and all(text.startswith(begins) for text, begins in zip(told, words, strict=True))


def test_what_is_wrong_with_the_sound_is_said_with_its_figures():
    whole = {"clipped_s": 0.0, "range_db": 40.0, "hum": None, "n_gaps": 0}
    assert remarks_on_sound(**whole) == [] == remarks_on_sound(**whole | {"range_db": None})
    (noisy,) = remarks_on_sound(**whole | {"range_db": 24.6})
    assert noisy.kind == TOO_NOISY and noisy.text.startswith("The plucks stand only 25 dB above the background")
    (hum,) = remarks_on_sound(**whole | {"hum": (50.0, -44.2)})
    assert hum.text.startswith("Mains hum at 50 Hz and its multiples stands out (-44 dBFS)")
    (clipped, gaps) = remarks_on_sound(**whole | {"clipped_s": 0.25, "n_gaps": 1})
    assert "overloaded, 0.25 s in all" in clipped.text and gaps.text.startswith("The recording has a gap (")

"""Sounds of the page: loudness, length, compression."""

import io
import math

import numpy as np
import pytest
import soundfile

from toneprobe.book.entries import Clip
from toneprobe.report.clips import LONGEST_S, TARGET_LUFS, matched_gains, page_clips
from toneprobe.report.loudness import highpass, loudest_lufs, shelf


def ringing(t60_s, level=0.3, freq_hz=440.0, length_s=8.0, rate_hz=44100):
    time_s = np.arange(int(length_s * rate_hz)) / rate_hz
    return Clip(level * np.exp(-math.log(1000) / t60_s * time_s) * np.sin(2 * math.pi * freq_hz * time_s), rate_hz)


def heard(page_clip):
    return soundfile.read(io.BytesIO(page_clip))


def test_filters_are_those_of_the_recommendation():
    """Coefficients at 48 kHz as printed in ITU-R BS.1770, tables 1 and 2 (published)."""
    (b, a), (b2, a2) = shelf(48000), highpass(48000)
    assert b == pytest.approx([1.53512485958697, -2.69169618940638, 1.19839281085285], abs=1e-9)
    assert a == pytest.approx([1.0, -1.69065929318241, 0.73248077421585], abs=1e-9)
    assert b2 == pytest.approx([1.0, -2.0, 1.0])
    assert a2 == pytest.approx([1.0, -1.99004745483398, 0.99007225036621], abs=1e-9)


@pytest.mark.parametrize("rate_hz", [22050, 44100, 48000, 96000])
def test_a_full_scale_tone_reads_as_the_recommendation_says(rate_hz):
    """A 997 Hz sine at full scale in one channel reads −3.01 LKFS (ITU-R BS.1770, published)."""
    time_s = np.arange(rate_hz) / rate_hz
    assert loudest_lufs(np.sin(2 * math.pi * 997 * time_s), rate_hz) == pytest.approx(-3.01, abs=0.05)


def test_silence_has_no_loudness():
    assert loudest_lufs(np.zeros(44100), 44100) is None


def test_both_are_heard_at_one_level():
    fresh, now = page_clips(ringing(6.0, 0.5), ringing(2.0, 0.01))
    levels = [loudest_lufs(*heard(one)) for one in (fresh, now)]
    assert levels == pytest.approx([TARGET_LUFS, TARGET_LUFS], abs=0.5)


def test_matching_can_fail():
    """Without it the two would differ by 34 dB and more."""
    assert loudest_lufs(*played(ringing(6.0, 0.5))) - loudest_lufs(*played(ringing(2.0, 0.01))) > 30


def played(clip):
    return clip.samples, clip.rate_hz


def test_a_short_loud_pluck_stays_below_full_scale_and_takes_the_other_along():
    click = ringing(0.05, 0.9)
    gains = matched_gains([click, ringing(6.0, 0.5)])
    assert gains[0] * np.max(np.abs(click.samples)) <= 0.9
    levels = [loudest_lufs(gain * clip.samples, clip.rate_hz) for gain, clip in zip(gains, (click, ringing(6.0, 0.5)), strict=True)]
    assert levels[0] == pytest.approx(levels[1], abs=0.01)


def test_what_differs_is_kept():
    """The decay between 0.5 and 1.5 s is that of the string: −60 dB over T60 (definition)."""
    fresh, now = page_clips(ringing(6.0), ringing(3.0))
    for clip, t60_s in ((fresh, 6.0), (now, 3.0)):
        samples, rate_hz = heard(clip)
        early, late = (np.sqrt(np.mean(samples[int(t * rate_hz):int((t + 0.1) * rate_hz)] ** 2)) for t in (0.5, 1.5))
        assert 20 * math.log10(late / early) == pytest.approx(-60.0 / t60_s, abs=0.5)


def test_what_has_died_away_is_cut():
    fresh, now = page_clips(ringing(20.0), ringing(1.0))
    assert len(heard(fresh)[0]) / 44100 == pytest.approx(LONGEST_S, abs=0.1)
    assert len(heard(now)[0]) / 44100 == pytest.approx(1.1, abs=0.1)  # derived: 66 dB at 60 dB a second; MP3 adds frames


@pytest.mark.parametrize(("rate_hz", "kept_hz"), [(8000, 8000), (44100, 44100), (96000, 48000), (192000, 48000), (88200, 44100),
                                                  (50000, 44100)])
def test_every_rate_becomes_one_that_plays(rate_hz, kept_hz):
    clip, _ = page_clips(ringing(1.0, rate_hz=rate_hz), None)
    samples, found_hz = heard(clip)
    assert found_hz == kept_hz
    spectrum = np.abs(np.fft.rfft(samples[: found_hz // 2]))
    assert np.argmax(spectrum) * 2.0 == pytest.approx(440, abs=2)


def test_low_strings_are_kept_at_half_the_rate():
    low, high = (page_clips(ringing(4.0), None, pitch_hz=pitch)[0] for pitch in (98.0, 440.0))
    assert (heard(low)[1], heard(high)[1]) == (22050, 44100)


def test_missing_and_silent_sounds_are_none():
    assert page_clips(None, Clip(np.zeros(4410), 44100)) == (None, None)
    fresh, now = page_clips(None, ringing(1.0))
    assert fresh is None
    assert now is not None


def test_the_same_sound_gives_the_same_bytes_and_is_left_alone():
    clip = ringing(1.0)
    before = clip.samples.copy()
    assert page_clips(clip, None)[0] == page_clips(clip, None)[0]
    assert np.array_equal(clip.samples, before)

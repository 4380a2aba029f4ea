"""The channel in use, of sounds whose truth is planted here."""

import numpy as np
import pytest
from made_up_recording import RATE_HZ, decaying_tones, noise, store

from toneprobe.audio import open_recording, recording_from_samples


def test_inverted_stereo_does_not_cancel(sweep):
    recording = recording_from_samples(np.c_[sweep, -sweep], RATE_HZ)
    assert np.std(recording.read(0, sweep.size)) == pytest.approx(np.std(sweep), rel=1e-5)
    assert np.std(np.c_[sweep, -sweep].mean(axis=1)) < 1e-12  # what a sum would have left


@pytest.mark.parametrize("good", [0, 3, 7])
def test_the_one_good_channel_of_eight_is_used(tmp_path, sweep, good):
    short = sweep[:7 * RATE_HZ]
    channels = [np.clip(8 * short, -0.9, 0.9), np.zeros(short.size), noise(short.size, db=-20), 0.3 * np.sin(np.arange(short.size) * 0.01),
                0.02 * short + noise(short.size, db=-60, seed=5), np.full(short.size, 0.5), 0.5 * short + noise(short.size, db=-45, seed=6)]
    channels.insert(good, short)
    recording = open_recording(store(tmp_path / "a.wav", np.array(channels).T, subtype="PCM_24"))
    assert (recording.channel, recording.channels) == (good, 8)
    assert recording.quality.clipped_s == 0.0
    assert np.allclose(recording.read(0, short.size), short, atol=1e-6)


EIGHT = decaying_tones(n_plucks=8)  # plucked at 1 s, 4 s, … 22 s
FIRST_FOUR = np.arange(EIGHT.size) < 12.4 * RATE_HZ


@pytest.mark.parametrize("fails", ["falls silent", "turned down", "hums instead", "comes only then"])
@pytest.mark.parametrize("good", [0, 1])
def test_a_channel_that_fails_part_way_is_not_used_and_it_is_said(fails, good):
    """Four plucks of eight are lost to it, though its quiet is quieter than the whole channel's, so that it stands out by more."""
    quiet, hum = noise(EIGHT.size, db=-84, seed=2), 0.2 * np.sin(2 * np.pi * 100.0 * np.arange(EIGHT.size) / RATE_HZ)
    failing = {"falls silent": EIGHT * FIRST_FOUR + quiet, "turned down": (EIGHT + quiet) * np.where(FIRST_FOUR, 1.0, 0.02),
               "hums instead": np.where(FIRST_FOUR, EIGHT + quiet, hum), "comes only then": EIGHT * ~FIRST_FOUR + quiet}[fails]
    whole = 0.8 * EIGHT + noise(EIGHT.size, db=-70)
    recording = recording_from_samples(np.array([whole, failing] if good == 0 else [failing, whole]).T, RATE_HZ)
    assert recording.channel == good
    side, when = ("left", "right")[1 - good], "until" if fails == "comes only then" else "from"
    assert f"The {side} channel fails: {when} the pluck at 13 s" in recording.quality.warnings[0]


@pytest.mark.parametrize(("share", "noise_db"), [(0.0, -50), (0.1, -50), (np.linspace(1.0, 0.2, EIGHT.size), -60)],
                         ids=["hears nothing", "noisy", "farther and farther"])
def test_a_channel_that_hears_less_all_through_does_not_fail_nor_does_the_one_beside_it(share, noise_db):
    """The second half is plucked 30 dB softer."""
    played = EIGHT * np.where(FIRST_FOUR, 1.0, 0.03)
    channels = [share * played + noise(EIGHT.size, db=noise_db), played + noise(EIGHT.size, db=-70, seed=2)]
    recording = recording_from_samples(np.array(channels).T, RATE_HZ)
    assert recording.channel == 1 and not any("fails" in text for text in recording.quality.warnings)

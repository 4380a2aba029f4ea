"""Recordings: what is read is what was stored, and each thing said of its quality is checked against a signal in which it was planted.

All expected values are planted here ("derived here") unless a comment says otherwise.
"""

from __future__ import annotations

import functools
import gc
import glob
import math
import os
import struct
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import scipy.signal
import soundfile

from toneprobe.audio import coarse_codec, open_recording, recording_from_samples, stored_codec_kbit_s
from toneprobe.audio.band import band_grid, find_high_cut, noise_permits
from toneprobe.audio.breaks import breaks, true_breaks
from toneprobe.audio.decoding import is_lossy, store_frames
from toneprobe.audio.floor import find_floor, usable_frames
from toneprobe.audio.header import caf_states_more_than_it_holds, states_more_than_it_holds
from toneprobe.audio.hushes import HushTally
from toneprobe.audio.source import FileSource
from toneprobe.errors import RecordingError

ROOT = Path(__file__).parents[2]
RATE_HZ = 44100
REAL = sorted(glob.glob(str(ROOT.parent / "shared" / "recordings" / "*" / "*.flac")))


@functools.cache
def decaying_tones(rate_hz=RATE_HZ, *, n_plucks=6, gap_s=3.0, t60_s=1.5, lowest_hz=130.0, lead_s=1.0):
    """Plucks up a scale of fourths, with a dense broadband attack; peak 0.5; silence of `lead_s` first. No noise."""
    random = np.random.default_rng(3)
    out = np.zeros(round((lead_s + n_plucks * gap_s) * rate_hz))
    time_s = np.arange(round(gap_s * rate_hz)) / rate_hz
    for i in range(n_plucks):
        n = np.arange(1, min(40, math.ceil(0.45 * rate_hz / (lowest_hz * 2.0 ** (5 * i / 12)))))
        tones = 2j * np.pi * lowest_hz * 2.0 ** (5 * i / 12) * n - 6.9078 / t60_s * (1 + n / 10)
        side = math.isqrt(time_s.size) + 1  # samples as a square: its rows begin at long steps, and go on by short ones
        long, short = (np.exp(np.outer(tones, step * np.arange(side) / rate_hz)) for step in (side, 1))
        pluck = ((np.exp(1j * n) / n * long.T) @ short).imag.ravel()[:time_s.size]
        pluck = pluck + 0.5 * random.standard_normal(time_s.size) * np.exp(-time_s / 0.02)
        start = round((lead_s + i * gap_s) * rate_hz)
        out[start:start + time_s.size] += pluck
    return 0.5 * out / np.abs(out).max()


def noise(n, *, db, seed=1):
    return np.random.default_rng(seed).standard_normal(n) * 10.0 ** (db / 20.0)


@pytest.fixture(scope="module")
def sweep():
    tones = decaying_tones()
    return tones + noise(tones.size, db=-60)


def store(path, samples, rate_hz=RATE_HZ, **how):
    soundfile.write(path, samples, rate_hz, **how)
    return path


def encode(path, samples, rate_hz, codec, **options):
    """Write samples, shape (n,) or (n, channels), through a lossy or lossless codec of PyAV."""
    import av

    rows = np.atleast_2d(samples.T).astype(np.float32)
    layout = {1: "mono", 2: "stereo"}[rows.shape[0]]
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate_hz, layout=layout, **options)
        frame_format = "fltp" if codec in ("aac", "libopus", "opus") else "s16p"
        rows = rows if frame_format == "fltp" else np.round(rows * 32767).astype(np.int16)
        for start in range(0, rows.shape[1], 1024):
            frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(rows[:, start:start + 1024]), format=frame_format, layout=layout)
            frame.sample_rate, frame.pts = rate_hz, start
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


# What is read


@pytest.mark.parametrize(("ending", "how"), [("wav", {"subtype": "PCM_16"}), ("wav", {"subtype": "PCM_24"}), ("wav", {"subtype": "FLOAT"}),
                                             ("flac", {"subtype": "PCM_24"}), ("aiff", {"subtype": "PCM_16"}),
                                             ("caf", {"subtype": "PCM_24"}), ("w64", {"subtype": "PCM_16"})])
def test_lossless_files_are_read_sample_by_sample(tmp_path, sweep, ending, how):
    path = store(tmp_path / f"a.{ending}", sweep[:RATE_HZ * 3], **how)
    before = path.read_bytes()
    recording = open_recording(path)
    stored, _ = soundfile.read(path)
    assert np.array_equal(recording.read(0, recording.n_samples), stored)
    assert (recording.rate_hz, recording.n_samples, recording.channels) == (RATE_HZ, RATE_HZ * 3, 1)
    assert recording.codec == f"{ending}/{how['subtype']}"
    assert path.read_bytes() == before and os.listdir(tmp_path) == [path.name]


def test_outside_the_file_there_are_zeros(sweep):
    recording = recording_from_samples(sweep, RATE_HZ)
    got = recording.read(-10, 20)
    assert got.dtype == np.float64 and np.array_equal(got[:10], np.zeros(10)) and np.allclose(got[10:], sweep[:20], atol=1e-7)
    assert np.array_equal(recording.read(recording.n_samples, recording.n_samples + 5), np.zeros(5))
    assert recording.read(5, 5).size == 0 and recording.read(-9, -3).size == 6


@pytest.mark.parametrize("rate_hz", [8000, 11025, 44100, 48000, 96000, 192000])
def test_nothing_is_resampled(tmp_path, rate_hz):
    # A tone at three tenths of the rate (28.8 kHz at 96 kHz) would be gone after resampling to a usual rate.
    time_s = np.arange(rate_hz) / rate_hz
    samples = 0.3 * np.sin(2 * np.pi * 0.3 * rate_hz * time_s) + noise(rate_hz, db=-70)
    recording = open_recording(store(tmp_path / "a.wav", samples, rate_hz, subtype="PCM_24"))
    assert recording.rate_hz == rate_hz and recording.n_samples == rate_hz
    spectrum = np.abs(np.fft.rfft(recording.read(0, rate_hz)))
    assert abs(int(np.argmax(spectrum)) - round(0.3 * rate_hz)) <= 1


def test_twelve_kilohertz_stays_in_a_96_kilohertz_file(tmp_path):
    time_s = np.arange(96000) / 96000
    recording = open_recording(store(tmp_path / "a.flac", 0.2 * np.sin(2 * np.pi * 12000 * time_s) + noise(96000, db=-70), 96000))
    assert np.argmax(np.abs(np.fft.rfft(recording.read(0, 96000)))) == 12000


def test_aac_is_decoded_at_its_own_rate_and_in_time(tmp_path, sweep):
    path = encode(tmp_path / "memo.m4a", sweep, RATE_HZ, "aac", bit_rate=192000)
    recording = open_recording(path)
    assert (recording.rate_hz, recording.channels, recording.codec) == (RATE_HZ, 1, "m4a/aac")
    assert recording.duration_s == pytest.approx(sweep.size / RATE_HZ, abs=0.05)
    part = slice(RATE_HZ, 3 * RATE_HZ)
    lags = scipy.signal.correlate(recording.read(part.start, part.stop), sweep[part], method="fft")
    assert abs(int(np.argmax(lags)) - (2 * RATE_HZ - 1)) <= 1  # the encoder's lead-in is taken off
    error = recording.read(part.start, part.stop) - sweep[part]
    assert 20 * np.log10(np.std(error) / np.std(sweep[part])) < -15
    assert recording.quality.noise_floor_db == pytest.approx(-60, abs=3)


def test_other_containers_of_phones_and_browsers_open(tmp_path, sweep):
    samples = np.c_[sweep, sweep][:3 * 48000]
    for name, codec in (("a.mp4", "aac"), ("a.mov", "alac"), ("a.webm", "libopus"), ("a.3gp", "aac")):
        recording = open_recording(encode(tmp_path / name, samples, 48000, codec))
        assert (recording.rate_hz, recording.channels) == (48000, 2)
        assert recording.duration_s == pytest.approx(3.0, abs=0.05)
    stored = np.round(samples[:, 0].astype(np.float32) * 32767) / 32768
    assert np.max(np.abs(open_recording(tmp_path / "a.mov").read(0, 3 * 48000) - stored)) < 1e-6  # alac: without loss


def test_ogg_and_mp3_open(tmp_path, sweep):
    for name, codec in (("a.ogg", "ogg/VORBIS"), ("a.mp3", "mp3/MPEG_LAYER_III")):
        recording = open_recording(store(tmp_path / name, sweep[:4 * RATE_HZ]))
        assert recording.codec == codec and recording.duration_s == pytest.approx(4.0, abs=0.1)


def test_an_mp3_sounds_the_same_read_at_once_or_in_pieces(tmp_path):
    """Frames at a low rate lean on those before: straight after a seek they came out wrong, a knock every six seconds. The outside truth is
    libsndfile's own reading from start to end."""
    noise = np.random.default_rng(5).normal(0.0, 0.1, 6 * RATE_HZ) * np.abs(np.sin(np.arange(6 * RATE_HZ) / 9000.0))
    path = tmp_path / "low.mp3"
    soundfile.write(path, noise, RATE_HZ, format="MP3", subtype="MPEG_LAYER_III", compression_level=0.99)
    whole, source = soundfile.read(path)[0], FileSource(str(path), lossy=True)
    pieces = np.concatenate(list(source.blocks(50_001)))[:, 0]
    assert np.abs(pieces - whole).max() < 1e-6
    assert np.abs(source.read(100_003, 120_000, 0) - whole[100_003:120_000]).max() < 1e-6


def test_the_temporary_file_goes_with_the_recording(tmp_path, monkeypatch, sweep):
    import tempfile

    from toneprobe.audio import survey

    monkeypatch.setattr(survey, "CACHE_BYTES", 0)  # so that a short recording is read from disk as a long one is
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "scratch"))
    (tmp_path / "scratch").mkdir()
    path = encode(tmp_path / "memo.m4a", sweep, RATE_HZ, "aac")
    recording = open_recording(path)
    assert len(os.listdir(tmp_path / "scratch")) == 1
    assert np.std(recording.read(RATE_HZ, 2 * RATE_HZ)) > 0.001
    del recording
    gc.collect()
    assert os.listdir(tmp_path / "scratch") == []


def test_reading_from_disk_gives_the_same_as_from_memory(tmp_path, monkeypatch, sweep):
    from toneprobe.audio import survey

    path = store(tmp_path / "a.flac", np.c_[0.1 * sweep, sweep], subtype="PCM_24")
    held = open_recording(path)
    monkeypatch.setattr(survey, "CACHE_BYTES", 0)
    from_disk = open_recording(path)
    assert held.channel == from_disk.channel
    assert np.array_equal(held.read(70000, 90000), from_disk.read(70000, 90000))
    assert held.quality == from_disk.quality


# Channels


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


# All sound breaks off


def test_sound_that_breaks_off_at_once_and_for_good_is_found_and_what_a_hand_stops_is_not(sweep):
    """Cut at 1.4 s, in the ring of the first pluck; stopped there by a hand within 30 ms (15 to 40, from memory); gone for 100 ms."""
    time_s = np.arange(sweep.size) / RATE_HZ
    quiet = noise(sweep.size, db=-80, seed=4) * np.where(time_s < 1.4, 1.0, 0.25)  # 12 dB less without the microphone
    cut, hand, gone = (time_s < 1.4, np.clip((1.43 - time_s) / 0.03, 0.0, 1.0), (time_s < 1.4) | (time_s > 1.5))
    (at,), by_hand, back = (recording_from_samples(sweep * share + quiet, RATE_HZ).breaks_at for share in (cut, hand, gone))
    assert at / RATE_HZ == pytest.approx(1.4, abs=0.006) and not by_hand and not back


def test_where_the_same_recorder_goes_on_listening_nothing_breaks_off(sweep):
    """The same cut, and the same noise behind as before the first pluck: a sweep put together from recordings of single plucks ends so."""
    cut = np.arange(sweep.size) < 1.4 * RATE_HZ
    assert not recording_from_samples(sweep * cut + noise(sweep.size, db=-60, seed=4), RATE_HZ).breaks_at


@pytest.mark.skipif(not REAL, reason="no real recordings")
def test_no_real_pluck_breaks_off():
    for path in REAL:
        samples, rate_hz = soundfile.read(path, always_2d=True, dtype="float32")
        tally = HushTally(rate_hz=rate_hz)
        tally.add(samples[:, 0])
        assert not true_breaks(lambda start, stop, one=samples[:, 0]: one[start:stop], breaks(tally.power()), rate_hz=rate_hz), path


def test_a_sound_that_ends_over_a_ringing_string_breaks_nothing_off():
    """A tone of one octave is gone at once, 24 dB over what rings on in another."""
    time_s = np.arange(3 * RATE_HZ) / RATE_HZ
    sound = np.sin(2 * np.pi * 150.0 * time_s) * (time_s < 1.5) + 0.06 * np.sin(2 * np.pi * 700.0 * time_s)
    quiet = noise(time_s.size, db=-70) * np.where(time_s < 1.5, 1.0, 0.25)
    assert not recording_from_samples(0.3 * sound + quiet, RATE_HZ).breaks_at
    assert recording_from_samples(0.3 * np.sin(2 * np.pi * 150.0 * time_s) * (time_s < 1.5) + quiet, RATE_HZ).breaks_at


# Clipping


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


def test_clipping_on_one_side_only(sweep):
    loud = 3.0 * sweep
    truth_s = np.count_nonzero(loud <= -0.8) / RATE_HZ
    assert recording_from_samples(np.maximum(loud, -0.8), RATE_HZ).quality.clipped_s == pytest.approx(truth_s, rel=0.1)


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


@pytest.mark.parametrize(("bit_rate", "is_said"), [(24_000, True), (128_000, False)])
def test_what_a_codec_spends_on_a_second_is_the_files_bytes_over_its_length(tmp_path, sweep, bit_rate, is_said):
    """Outside truth: the file's own size; a container adds a little to it. In stereo each channel has half."""
    samples = np.concatenate([sweep, sweep])
    for name, sound in (("a.m4a", samples), ("b.m4a", np.stack([samples, samples], 1))):
        path = encode(tmp_path / name, sound, RATE_HZ, "aac", bit_rate=bit_rate * sound.ndim)
        recording = open_recording(path)
        truth = 8e-3 * path.stat().st_size / recording.duration_s / recording.channels
        assert recording.quality.codec_kbit_s == pytest.approx(truth, rel=0.15) and recording.quality.codec_kbit_s <= truth
        assert any(text.startswith("It is compressed to") and "WAV or FLAC" in text for text in recording.quality.warnings) == is_said
        again = stored_codec_kbit_s(recording.codec, n_bytes=path.stat().st_size, duration_s=recording.duration_s,
                                    channels=recording.channels)
        assert again == pytest.approx(truth)


@pytest.mark.parametrize(("subtype", "word", "bits"), [
    ("MS_ADPCM", "MS ADPCM", 4), ("IMA_ADPCM", "IMA ADPCM", 4), ("ULAW", "µ-law", 8), ("ALAW", "A-law", 8)])
def test_a_wav_of_few_bits_a_sample_is_lossy_and_said_to_be(tmp_path, sweep, subtype, word, bits):
    """Outside truth: the formats' definitions, 4 or 8 bits a sample (and a few bytes for each block of ADPCM)."""
    soundfile.write(path := tmp_path / "a.wav", sweep, RATE_HZ, subtype=subtype)
    recording = open_recording(path)
    assert recording.source.lossy and recording.quality.coarse_codec == word and recording.quality.clipped_s == 0.0
    assert recording.quality.codec_kbit_s == pytest.approx(bits * RATE_HZ / 1000, rel=0.06)
    assert [text for text in recording.quality.warnings if f"few bits a sample ({word})" in text and "16 or 24 bits" in text]


def test_whoever_decodes_a_coarse_codec_it_is_one():
    for theirs, ours in (("wav/adpcm_ms", "ADPCM"), ("au/pcm_mulaw", "µ-law"), ("mov/pcm_alaw", "A-law"), ("wav/gsm_ms", "GSM")):
        assert coarse_codec(theirs) == ours and is_lossy(theirs.rpartition("/")[2])
    for lossless in ("wav/PCM_16", "flac/PCM_24", "mov/pcm_s16le", "m4a/aac", "ogg/OPUS"):
        assert coarse_codec(lossless) is None


def test_whole_numbers_of_64_bits_are_read(tmp_path):
    """Laid out here by hand, as the format's definition says; two channels."""
    values = (0.25 * np.sin(2 * np.pi * np.outer(np.arange(RATE_HZ), (440.0, 880.0)) / RATE_HZ) * 2.0**63).astype("<i8")
    chunks = b"fmt " + struct.pack("<IHHIIHH", 16, 1, 2, RATE_HZ, 16 * RATE_HZ, 16, 64) + b"data" + struct.pack("<I", values.nbytes)
    (path := tmp_path / "a.wav").write_bytes(b"RIFF" + struct.pack("<I", 36 + values.nbytes) + b"WAVE" + chunks + values.tobytes())
    recording = open_recording(path)
    assert recording.n_samples == RATE_HZ and not recording.source.lossy
    heard = recording.read(0, RATE_HZ)
    np.testing.assert_allclose(heard, values[:, recording.channel] / 2.0**63, atol=2.0**-23)


def test_what_lost_nothing_has_no_rate_of_a_codec(tmp_path, sweep):
    flac, alac = store(tmp_path / "a.flac", sweep), encode(tmp_path / "a.m4a", sweep, RATE_HZ, "alac")
    for path in (flac, alac):
        recording = open_recording(path)
        assert recording.quality.codec_kbit_s is None
        assert stored_codec_kbit_s(recording.codec, n_bytes=9, duration_s=1.0, channels=1) is None
    ogg = open_recording(store(tmp_path / "a.ogg", sweep))
    assert ogg.quality.codec_kbit_s == pytest.approx(8e-3 * (tmp_path / "a.ogg").stat().st_size / ogg.duration_s)


def test_exact_zeros_in_the_midst_of_sound_are_gaps_and_silence_is_none(sweep):
    """Four drop-outs of 5 to 100 ms, one of them over the end of the survey's own block; 1 ms of zeros may be chance, and what fades into
    digital silence, or begins out of it, has lost nothing."""
    x = 0.2 * np.sin(2 * np.pi * 220.0 * np.arange(8 * RATE_HZ) / RATE_HZ) + noise(8 * RATE_HZ, db=-70)
    broken = x.copy()
    starts = [(RATE_HZ, 0.005), (3 * RATE_HZ, 0.03), (RATE_HZ // 10 * (2**18 // (RATE_HZ // 10)) - 500, 0.03), (7 * RATE_HZ, 0.1)]
    for start, length_s in starts:
        broken[start:start + int(length_s * RATE_HZ)] = 0.0
    broken[2 * RATE_HZ:2 * RATE_HZ + 44] = 0.0
    recording = recording_from_samples(broken, RATE_HZ)
    assert recording.quality.n_gaps == 4 and any("4 gaps (drop-outs" in text for text in recording.quality.warnings)
    assert recording.gaps(0, 2 * RATE_HZ) == [(RATE_HZ, RATE_HZ + int(0.005 * RATE_HZ))]
    faded = np.concatenate([x[:RATE_HZ] * np.linspace(1.0, 0.0, RATE_HZ), np.zeros(RATE_HZ // 10), x[:RATE_HZ]])
    for whole in (x, sweep, faded):
        assert recording_from_samples(whole, RATE_HZ).quality.n_gaps == 0


def lost_under_hiss(samples, at_s, *, lost_s=0.06, hiss_db=-75):
    """What a wireless microphone lost, faded in 4 ms as its receiver does, and the hiss of the recorder over all of it."""
    heard, edge = samples.copy(), round(0.004 * RATE_HZ)
    for one in at_s:
        first, stop = round(one * RATE_HZ), round((one + lost_s) * RATE_HZ)
        heard[first:first + edge] *= np.linspace(1.0, 0.0, edge)
        heard[first + edge:stop - edge] = 0.0
        heard[stop - edge:stop] *= np.linspace(0.0, 1.0, edge)
    return heard + noise(heard.size, db=hiss_db, seed=9)


def test_sound_that_is_gone_for_a_moment_is_a_gap_though_hiss_lies_over_it(sweep):
    """Four holes of 60 ms, each soon after a pluck (at 1, 4, 7 and 10 s); one alone may be anything."""
    at_s = [1.4, 4.4, 7.5, 10.3]
    recording = recording_from_samples(lost_under_hiss(sweep, at_s), RATE_HZ)
    assert recording.quality.n_gaps == 4 and "4 gaps" in recording.quality.warnings[0]
    assert np.array(recording.gaps_at) / RATE_HZ == pytest.approx(np.array([(one, one + 0.06) for one in at_s]), abs=0.008)
    assert not recording_from_samples(lost_under_hiss(sweep, at_s[:1]), RATE_HZ).quality.n_gaps
    assert not recording_from_samples(lost_under_hiss(sweep, []), RATE_HZ).quality.n_gaps


@pytest.mark.parametrize("sound", ["beats", "ticks", "staccato", "bass"])
def test_what_sounds_by_itself_has_no_gaps(sound):
    """Two equal voices that beat to nothing, a clock, a string stopped within 40 ms and plucked again, a bass string of 31 Hz."""
    time_s = np.arange(10 * RATE_HZ) / RATE_HZ
    made = {"beats": 0.2 * (np.sin(2 * np.pi * 440.0 * time_s) + np.sin(2 * np.pi * 441.0 * time_s)),
            "ticks": 0.3 * np.sin(2 * np.pi * 2000.0 * time_s) * np.exp(-(time_s % 0.15) / 0.004),
            "staccato": 0.3 * np.sin(2 * np.pi * 440.0 * time_s) * np.clip((0.2 - time_s % 0.3) / 0.04, 0.0, 1.0),
            "bass": 0.3 * np.exp(-((time_s * 31.0) % 1.0) / 0.15)}[sound]
    assert recording_from_samples(made + noise(time_s.size, db=-80), RATE_HZ).quality.n_gaps == 0


def plucks_of_one_string(*, noise_db=-70):
    """Eight plucks 4 s apart that fall by 60 dB in 4 s, in steady noise."""
    time_s = np.arange(32 * RATE_HZ) / RATE_HZ
    return 0.3 * np.sin(2 * np.pi * 440.0 * time_s) * 10 ** (-60.0 / 20.0 / 4.0 * (time_s % 4.0)) + noise(time_s.size, db=noise_db)


def test_seconds_of_zeros_in_the_midst_of_rings_are_gaps_and_no_gain():
    """Two seconds lost in every other ring: by then it has fallen by 30 dB (derived here), and goes on from there."""
    broken = np.round(plucks_of_one_string() * 2**15) / 2**15
    lost = [(round((4 * k + 0.4) * RATE_HZ), round((4 * k + 2.4) * RATE_HZ)) for k in range(1, 8, 2)]
    for first, stop in lost:
        broken[first:stop] = 0.0
    recording = recording_from_samples(broken, RATE_HZ)
    assert recording.gaps(0, broken.size) == lost and recording.quality.n_gaps == len(lost)
    assert recording.quality.gain_riding is not True


def test_what_is_silenced_until_the_next_pluck_is_a_gate_and_no_gap():
    """The next pluck is louder than what was cut off; after 1.5 s a ring has fallen by 22 dB (derived here)."""
    gated = plucks_of_one_string()
    for k in range(8):
        gated[round((4 * k + 1.5) * RATE_HZ):round((4 * k + 4) * RATE_HZ)] = 0.0
    quality = recording_from_samples(gated, RATE_HZ).quality
    assert quality.n_gaps == 0 and quality.gain_riding is True


def test_silence_put_where_strings_had_died_away_is_no_gate():
    """As an editor does that pieces plucks together. A ring that fell by 57 dB lies 9 dB and more under the louder noise after 2.7 s
    (derived here), and noise is level."""
    edited = plucks_of_one_string(noise_db=-45)
    for k in range(8):
        edited[round((4 * k + 3.8) * RATE_HZ):round((4 * k + 4) * RATE_HZ)] = 0.0
    quality = recording_from_samples(edited, RATE_HZ).quality
    assert quality.n_gaps == 0 and quality.gain_riding is not True


# Noise floor and hum


@pytest.mark.parametrize("floor_db", [-90, -60, -35])
@pytest.mark.parametrize("offset", [0.0, 0.1])
def test_noise_floor(floor_db, offset):
    tones = decaying_tones()
    quality = recording_from_samples(tones + noise(tones.size, db=floor_db) + offset, RATE_HZ).quality
    assert quality.noise_floor_db == pytest.approx(floor_db, abs=1.0)


def test_noise_floor_where_only_one_second_in_a_hundred_is_quiet():
    tones = decaying_tones(n_plucks=33, t60_s=6.0, lead_s=1.5)
    samples = tones + noise(tones.size, db=-65)
    floor_db = recording_from_samples(samples, RATE_HZ).quality.noise_floor_db
    assert floor_db == pytest.approx(-65, abs=1.0)
    frames = samples[:samples.size // 4410 * 4410].reshape(-1, 4410)
    assert 10 * np.log10(np.median(np.mean(frames**2, axis=1))) > -60  # the plain median of the levels is no floor


@pytest.mark.parametrize("end_db", [-30.0, 30.0])
def test_what_the_recorder_does_in_its_first_and_last_tenth_of_a_second_is_not_the_floor(end_db):
    """Noise of one level, but for a click or a fade in the frames at both ends: those are neither the floor nor quiet."""
    power = np.ones(40)
    power[[0, -1]] = 10.0 ** (end_db / 10.0)
    floor, quiet = find_floor(power, np.zeros(40, bool))
    assert floor == 1.0 and quiet.tolist() == [False, *[True] * 38, False]


def test_digital_silence_is_not_the_floor(sweep):
    cut = sweep.copy()
    cut[:RATE_HZ // 2 + 777] = 0.0
    assert recording_from_samples(cut, RATE_HZ).quality.noise_floor_db == pytest.approx(-60, abs=1.0)


@pytest.mark.parametrize(("mains_hz", "true_hz"), [(50, 50.0), (50, 49.9), (60, 60.0), (60, 60.12)])
def test_hum(sweep, mains_hz, true_hz):
    time_s = np.arange(sweep.size) / RATE_HZ
    hum = sum(a * np.sin(2 * np.pi * n * true_hz * time_s + n) for n, a in ((1, 0.0008), (2, 0.001), (3, 0.0005), (5, 0.0003)))
    quality = recording_from_samples(sweep + hum, RATE_HZ).quality
    assert quality.hum_hz == mains_hz
    assert quality.hum_db == pytest.approx(20 * np.log10(np.std(hum)), abs=1.0)
    assert any(f"hum at {mains_hz} Hz" in warning for warning in quality.warnings)


def test_hum_is_told_by_its_fourth_and_a_higher_line(sweep):
    """A rectifier behind a filter: 200 and 350 Hz, the fourth and seventh of 50 Hz and of no multiple of 60."""
    time_s = np.arange(sweep.size) / RATE_HZ
    hum = 0.001 * np.sin(2 * np.pi * 200.0 * time_s) + 0.001 * np.sin(2 * np.pi * 350.0 * time_s)
    quality = recording_from_samples(sweep + hum, RATE_HZ).quality
    assert quality.hum_hz == 50 and quality.hum_db == pytest.approx(20 * np.log10(np.std(hum)), abs=1.0)


def test_no_hum_in_plain_noise_or_coloured_noise(sweep):
    assert recording_from_samples(sweep, RATE_HZ).quality.hum_hz is None
    brown = scipy.signal.lfilter([1], [1, -0.999], noise(sweep.size, db=-75, seed=9))
    assert recording_from_samples(sweep + brown, RATE_HZ).quality.hum_hz is None


@pytest.mark.parametrize("string_hz", [48.999, 50.0, 61.735])  # G1 and B1 (ISO 16), and a string exactly at 50 Hz
def test_a_ringing_string_is_no_hum(string_hz):
    time_s = np.arange(30 * RATE_HZ) / RATE_HZ
    ring = sum(0.1 / n * np.sin(2 * np.pi * n * string_hz * time_s) * np.exp(-time_s / 3.0) for n in range(1, 9))
    samples = ring + noise(time_s.size, db=-75)
    assert recording_from_samples(samples, RATE_HZ).quality.hum_hz is None
    spectrum = np.abs(np.fft.rfft(samples)) ** 2  # a method that looks for a line near 50 or 60 Hz in the whole file is fooled
    freqs_hz = np.fft.rfftfreq(samples.size, 1 / RATE_HZ)
    near = np.abs(freqs_hz - round(string_hz, -1)) < 2
    assert spectrum[near].max() > 1000 * np.median(spectrum[(freqs_hz > 40) & (freqs_hz < 70)])


# Band limits


@pytest.mark.parametrize(("order", "tolerance"), [(4, 0.15), (8, 0.1)])
@pytest.mark.parametrize("cut_hz", [120, 250, 400])
def test_low_cut(sweep, cut_hz, order, tolerance):
    filtered = scipy.signal.sosfilt(scipy.signal.butter(order, cut_hz, "high", fs=RATE_HZ, output="sos"), sweep)
    quality = recording_from_samples(filtered, RATE_HZ).quality
    assert quality.low_cut_hz == pytest.approx(cut_hz, rel=tolerance)
    assert quality.high_cut_hz is None
    assert any("low cut" in warning for warning in quality.warnings)


def test_high_strings_alone_are_no_low_cut():
    tones = decaying_tones(lowest_hz=600.0)
    brown = scipy.signal.lfilter([1], [1, -0.98], noise(tones.size, db=-75, seed=9))
    for background in (noise(tones.size, db=-70), brown):
        samples = tones + background
        assert recording_from_samples(samples, RATE_HZ).quality.low_cut_hz is None
    power = np.abs(np.fft.rfft(samples)) ** 2  # the mean spectrum of the whole file shows a cliff
    freqs_hz = np.fft.rfftfreq(samples.size, 1 / RATE_HZ)
    assert power[(freqs_hz > 500) & (freqs_hz < 4000)].mean() > 30 * power[(freqs_hz > 100) & (freqs_hz < 250)].mean()


@pytest.mark.parametrize(("cut_hz", "order"), [(4000, 6), (4000, 10), (8000, 10), (16000, 30)])
def test_high_cut(tmp_path, sweep, cut_hz, order):
    filtered = scipy.signal.sosfilt(scipy.signal.butter(order, cut_hz, fs=RATE_HZ, output="sos"), sweep)
    quality = open_recording(store(tmp_path / "a.wav", filtered, subtype="PCM_16")).quality
    assert quality.high_cut_hz == pytest.approx(cut_hz, rel=0.1)
    assert quality.low_cut_hz is None
    assert any("nothing above" in warning for warning in quality.warnings)


def test_a_cut_beyond_hearing_is_not_worth_a_word(sweep):
    samples = scipy.signal.resample_poly(sweep, 4, 1)
    filtered = scipy.signal.sosfilt(scipy.signal.butter(30, 21_000, fs=4 * RATE_HZ, output="sos"), samples)
    quality = recording_from_samples(filtered, 4 * RATE_HZ).quality
    assert quality.high_cut_hz == pytest.approx(21_000, rel=0.1) and not any("nothing above" in warning for warning in quality.warnings)


def test_aac_that_ends_at_16_kilohertz(tmp_path):
    tones = decaying_tones()
    samples = tones + noise(tones.size, db=-50)
    path = encode(tmp_path / "a.m4a", samples, RATE_HZ, "aac", bit_rate=64000, options={"cutoff": "12000"})
    assert open_recording(path).quality.high_cut_hz == pytest.approx(12000, rel=0.1)


def test_dull_strings_or_plain_noise_are_no_high_cut(sweep):
    assert recording_from_samples(sweep, RATE_HZ).quality.high_cut_hz is None
    time_s = np.arange(10 * RATE_HZ) / RATE_HZ
    dull = 0.3 * np.sin(2 * np.pi * 1000 * time_s) * np.exp(-3 * time_s)
    for background in (noise(time_s.size, db=-70), np.round(noise(time_s.size, db=-89) * 32768) / 32768):
        assert recording_from_samples(dull + background, RATE_HZ).quality.high_cut_hz is None


@pytest.mark.parametrize("slope_db", [3.0, 6.0])
def test_a_few_low_strings_in_a_rooms_noise_are_no_high_cut(slope_db):
    """Three neighbours fill the half octave of their fundamentals, and a room's noise falls by 3 to 6 dB an octave."""
    time_s = np.arange(int(2.5 * RATE_HZ)) / RATE_HZ
    plucks = [sum(10 ** (-share * n) * np.sin(2 * np.pi * n * f1_hz * time_s) for n in range(1, 25)) * np.exp(-2.0 * time_s)
              for share, f1_hz in ((0.7, 220.0), (0.75, 196.0), (0.8, 174.6)) for _ in range(2)]
    sound = 0.2 * np.concatenate([np.zeros(3 * RATE_HZ), *plucks])
    spectrum = np.fft.rfft(np.random.default_rng(4).normal(size=sound.size))
    freqs_hz = np.maximum(np.fft.rfftfreq(sound.size, 1.0 / RATE_HZ), 20.0)
    room = np.fft.irfft(spectrum * freqs_hz ** (-slope_db / 20.0 / np.log10(2.0)), sound.size)
    assert recording_from_samples(sound + 10 ** (-65 / 20) * room / np.std(room), RATE_HZ).quality.high_cut_hz is None


@pytest.mark.parametrize(("an_octave_above_db", "cut"), [(-65.0, False), (-78.0, True)])
def test_sound_that_is_weaker_but_not_gone_is_no_high_cut(an_octave_above_db, cut):
    """Three neighbours in a silent room: a dense half octave of fundamentals, nothing beside them, and an octave above partials 20 dB
    weaker, far over the noise of 16 bits. A filter that takes 18 dB in half an octave would have taken 36 dB from those (derived here)."""
    grid_hz = band_grid(RATE_HZ)
    sound_db = np.select([grid_hz < 300.0, grid_hz < 600.0], [-45.0, -80.0], an_octave_above_db)
    found = find_high_cut(grid_hz, np.full(grid_hz.size, -142.0), sound_db, rate_hz=RATE_HZ, dense_at=lambda _: True, digital_db=-144.6)
    assert (found is not None) == cut


def bursts(cut_hz):
    """Dense noise that dies away five times, three seconds apart, with nothing above cut_hz."""
    time_s = np.arange(15 * RATE_HZ) / RATE_HZ
    falls = np.where(time_s < 2.0, 0.0, np.exp(-6.0 * ((time_s - 2.0) % 3.0)))
    return below(cut_hz, 0.3 * falls * noise(time_s.size, db=0.0, seed=2))


def below(cut_hz, samples):
    return scipy.signal.oaconvolve(samples, scipy.signal.firwin(1601, cut_hz, fs=RATE_HZ), "same")


@pytest.mark.parametrize("cut_hz", [18000, 18800, 19000, 19200])
def test_a_cliff_near_the_grids_end_is_judged_by_what_is_there(cut_hz):
    """The noise goes on above, so the recorder hears there. Of cliffs above 18.3 kHz no band lies far enough off to be compared."""
    sound = bursts(cut_hz)
    assert recording_from_samples(sound + noise(sound.size, db=-80), RATE_HZ).quality.high_cut_hz is None
    grid_hz = band_grid(RATE_HZ)
    assert not noise_permits(grid_hz, np.full(grid_hz.size, -100.0), cut_hz, -150.0)
    assert noise_permits(grid_hz, np.full(grid_hz.size, -100.0), cut_hz, -100.0)  # nothing but the number format's own: it forbids nothing


@pytest.mark.parametrize("cut_hz", [16000, 18800])
def test_where_only_the_noise_ends_the_sound_is_whole(cut_hz):
    """A codec that drops the noise above and keeps the sound, stored in 16 bits; where both end there is a cut."""
    hiss = below(cut_hz, noise(15 * RATE_HZ, db=-80))
    whole_hz, found_hz = (recording_from_samples(np.round((bursts(end_hz) + hiss) * 32768) / 32768, RATE_HZ).quality.high_cut_hz
                          for end_hz in (21500, cut_hz))
    assert whole_hz is None
    assert found_hz == pytest.approx(cut_hz, rel=0.05)


def test_a_cut_is_the_recorders_up_to_a_share_of_half_the_true_rate():
    """0.88 of 22050 Hz are 19404 Hz. Half the rate is not where the grid ends: by its last centre, 20.5 kHz, it would be 18601 Hz."""
    grid_hz = band_grid(RATE_HZ)
    level_db = np.where(grid_hz < 19000.0, -80.0, -96.0)
    level_db[-3] += 20.0  # the last band below stands out: the corner lies well above its centre of 18.3 kHz
    cuts_hz = [find_high_cut(grid_hz, level_db, level_db, rate_hz=rate_hz, digital_db=-150.0, dense_at=lambda _: True)
               for rate_hz in (RATE_HZ, 42000)]
    assert 18601.0 < cuts_hz[0] < 19404.0 and cuts_hz[1] is None


# Gain riding


def ride_gain(samples, *, threshold=0.02, attack_s=0.01, release_s=1.5):
    """An automatic gain: the louder the envelope, the lower the gain (4:1 above the threshold), recovering over the release time."""
    envelope, level = np.empty(samples.size), 0.0
    up, down = np.exp(-1 / (attack_s * RATE_HZ)), np.exp(-1 / (release_s * RATE_HZ))
    for i, x in enumerate(np.abs(samples).tolist()):
        level = x + (level - x) * (up if x > level else down)
        envelope[i] = level
    return samples * np.minimum(1.0, (envelope / threshold) ** -0.75)


def test_automatic_gain_is_told(sweep):
    quality = recording_from_samples(ride_gain(sweep), RATE_HZ).quality
    assert quality.gain_riding is True
    assert any("gain" in warning for warning in quality.warnings)


@pytest.mark.parametrize("closed_db", [-20, -200])
def test_noise_suppression_and_gates_are_told(sweep, closed_db):
    loud = scipy.signal.lfilter([1 - 0.9999], [1, -0.9999], np.abs(sweep)) > 0.0012
    gain = scipy.signal.lfilter([1 - 0.998], [1, -0.998], np.where(loud, 1.0, 10 ** (closed_db / 20)))
    gated = np.round(sweep * gain * 32768) / 32768 if closed_db < -100 else sweep * gain
    assert recording_from_samples(gated, RATE_HZ).quality.gain_riding is True


def test_eight_bits_are_told_and_not_taken_for_gain(sweep, tmp_path):
    """A step is 1/128 of full scale (definition): what rings on below it is gone, and no sign of the gain can be read from what is left."""
    soundfile.write(tmp_path / "coarse.wav", 0.5 * sweep, RATE_HZ, subtype="PCM_U8")
    quality = open_recording(tmp_path / "coarse.wav").quality
    assert quality.eight_bits and quality.gain_riding is None
    assert any("eight bits" in warning for warning in quality.warnings) and not any("gain" in warning for warning in quality.warnings)
    soundfile.write(tmp_path / "fine.wav", 0.5 * sweep, RATE_HZ, subtype="PCM_16")
    assert not open_recording(tmp_path / "fine.wav").quality.eight_bits


def test_eight_bits_in_a_video_are_known_for_such():
    """What is stored of them keeps their steps, of 2⁻⁷ (derived here: 256 of them over full scale ±1), and their values."""
    import av

    octets = np.arange(256, dtype=np.uint8)
    frame = av.AudioFrame.from_ndarray(octets[np.newaxis], format="u8", layout="mono")
    frame.sample_rate = 11025
    source, _ = store_frames(iter([frame]), lossy=False)
    assert source.lsb == 2.0**-7
    assert np.array_equal(source.read(0, 256, 0), octets / 128.0 - 1.0)


def test_an_untouched_recording_is_not_called_ridden(sweep):
    assert recording_from_samples(sweep, RATE_HZ).quality.gain_riding is False


def test_a_few_long_strings_stopped_by_hand_are_no_suppressor():
    """Four strings of sixteen ring so long that they stand level until the hand falls, in all their bands at once."""
    tones = np.concatenate([decaying_tones(t60_s=90.0, n_plucks=4), decaying_tones(t60_s=4.0, n_plucks=12, lead_s=0.0)])
    since_s = np.maximum(np.arange(tones.size) / RATE_HZ - 1.0, 0.0) % 3.0
    damped = tones * np.minimum(1.0, np.exp(-(since_s - 1.8) / 0.03)) + noise(tones.size, db=-75)
    assert recording_from_samples(damped, RATE_HZ).quality.gain_riding is False


def test_hand_damped_plucks_over_a_drifting_background_are_not_called_ridden():
    tones = decaying_tones(t60_s=8.0, n_plucks=10)
    time_s = np.arange(tones.size) / RATE_HZ
    since_s = np.maximum(time_s - 1.0, 0.0) % 3.0
    damped = tones * np.minimum(1.0, np.exp(-(since_s - 1.8) / 0.03))  # the hand falls 1.8 s after each pluck
    drifting = noise(tones.size, db=-60) * (1.0 + 0.5 * np.sin(2 * np.pi * time_s / 17.0))
    assert recording_from_samples(damped + drifting, RATE_HZ).quality.gain_riding is False


@pytest.mark.parametrize("swell_hz", [0.4, 0.8, 1.5])
def test_noise_that_swells_and_fades_by_itself_is_no_gain(swell_hz):
    """A dishwasher (rates from memory): by a half up and down it sinks by 9.5 dB from its highest level (derived here), pluck or no pluck.
    Plucks do not keep step with it."""
    tones = decaying_tones(n_plucks=14, gap_s=3.1)
    swelling = noise(tones.size, db=-55) * (1.0 + 0.5 * np.sin(2 * np.pi * swell_hz * np.arange(tones.size) / RATE_HZ))
    assert recording_from_samples(tones + swelling, RATE_HZ).quality.gain_riding is not True


def test_one_pluck_cannot_tell():
    tones = decaying_tones(n_plucks=1)
    assert recording_from_samples(tones + noise(tones.size, db=-60), RATE_HZ).quality.gain_riding is None


# Invariance, refusals


def test_quality_holds_when_turned_over_made_quieter_or_given_silence(sweep):
    plain = recording_from_samples(sweep, RATE_HZ).quality
    turned = recording_from_samples(-sweep, RATE_HZ).quality
    quieter = recording_from_samples(0.1 * sweep, RATE_HZ).quality
    longer = recording_from_samples(np.r_[noise(2 * RATE_HZ, db=-60, seed=4), sweep], RATE_HZ).quality
    assert turned.noise_floor_db == pytest.approx(plain.noise_floor_db, abs=1e-3)
    assert quieter.noise_floor_db == pytest.approx(plain.noise_floor_db - 20, abs=0.01)
    assert longer.noise_floor_db == pytest.approx(plain.noise_floor_db, abs=0.3)
    for other in (turned, quieter, longer):
        assert (other.low_cut_hz, other.high_cut_hz, other.gain_riding, other.clipped_s) == (None, None, False, 0.0)


def test_samples_handed_in_are_left_alone(sweep):
    mine = sweep.copy()
    recording = recording_from_samples(mine, RATE_HZ)
    recording.read(0, 10)[:] = 9.0
    mine[:] = 5.0
    assert np.allclose(recording.read(0, 100), sweep[:100], atol=1e-7)


# Failures: one line each, with the reason


def refusal(path):
    with pytest.raises(RecordingError) as caught:
        open_recording(path)
    line = str(caught.value)
    assert "\n" not in line and line.isprintable() and len(line) < 250
    return line


BAD = {"empty.wav": "is empty", "text.wav": "no sound that can be read", "picture.m4a": "no sound that can be read",
       "header_only.wav": "no sound that can be read", "half_header.wav": "no sound that can be read",
       "cut_off.m4a": "no sound that can be read", "playlist.m3u8": "no sound that can be read", "silence.wav": "is silent",
       "nearly_silence.wav": "is silent", "too_short.wav": "too short",
       "damaged.flac": "damaged near its beginning", "not_a_number.wav": "NaN", "infinite.wav": "infinite",
       "rate_4000.wav": "4000 Hz", "rate_384000.wav": "384000 Hz",
       "nine_channels.wav": "9 channels"}
CUT_SHORT = ("cut_short.wav", "cut_short.flac")


@pytest.mark.parametrize(("name", "reason"), BAD.items())
def test_each_bad_file_has_its_reason(name, reason):
    line = refusal(ROOT / "fixtures" / "bad" / name)
    assert reason in line and name in line


@pytest.mark.parametrize("name", CUT_SHORT)
def test_a_cut_recording_is_used_as_far_as_it_goes(name):
    recording = open_recording(ROOT / "fixtures" / "bad" / name)
    whole = open_recording(ROOT / "fixtures" / "three_plucks.flac")
    assert 0.4 * whole.n_samples < recording.n_samples < 0.9 * whole.n_samples
    assert "cut short" in recording.quality.warnings[0]
    assert np.allclose(recording.read(0, recording.n_samples), whole.read(0, recording.n_samples), atol=7e-5)  # two steps of 16 bit
    assert not any("cut short" in warning for warning in whole.quality.warnings)


@pytest.mark.parametrize(("format", "subtype"), [("RF64", "PCM_24"), ("W64", "PCM_16"), ("CAF", "PCM_24"), ("AIFF", "PCM_16")])
def test_a_file_of_any_format_without_its_last_third_is_told_to_be_cut(format, subtype, tmp_path):
    soundfile.write(tmp_path / "a.sound", soundfile.read(ROOT / "fixtures" / "three_plucks.flac")[0], 44100, subtype=subtype, format=format)
    octets = (tmp_path / "a.sound").read_bytes()
    (tmp_path / "b.sound").write_bytes(octets[:2 * len(octets) // 3])
    whole, cut = (open_recording(tmp_path / name) for name in ("a.sound", "b.sound"))
    assert 0.6 * whole.n_samples < cut.n_samples < 0.7 * whole.n_samples
    assert ["cut short" in "".join(one.quality.warnings) for one in (whole, cut)] == [False, True]


def test_a_core_audio_file_that_was_written_as_it_went_is_not_cut(tmp_path):
    """Its data chunk states a length of −1 then (Apple, Core Audio Format Specification, from memory)."""
    soundfile.write(tmp_path / "a.caf", soundfile.read(ROOT / "fixtures" / "three_plucks.flac")[0], 44100, subtype="PCM_16")
    octets = bytearray((tmp_path / "a.caf").read_bytes())
    place = octets.index(b"data") + 4
    octets[place:place + 8] = (-1).to_bytes(8, "big", signed=True)
    (tmp_path / "a.caf").write_bytes(octets)
    assert "cut short" not in "".join(open_recording(tmp_path / "a.caf").quality.warnings)


def test_a_header_that_still_says_nothing_is_of_a_file_never_finished(tmp_path):
    """What a recorder leaves that writes its lengths last and loses its power: 36 octets of file, none of sound."""
    soundfile.write(tmp_path / "a.wav", soundfile.read(ROOT / "fixtures" / "three_plucks.flac")[0], 44100, subtype="PCM_16")
    octets = bytearray((tmp_path / "a.wav").read_bytes())
    octets[4:8], octets[40:44] = (36).to_bytes(4, "little"), bytes(4)
    (tmp_path / "b.wav").write_bytes(octets)
    whole, left = (open_recording(tmp_path / name) for name in ("a.wav", "b.wav"))
    assert left.n_samples == whole.n_samples and left.quality.warnings[0].startswith("The file does not say how long it is")


def test_a_header_that_knows_no_size_yet_is_of_a_whole_file(tmp_path):
    """A recorder that writes as it goes states 2³² − 1 bytes (RIFF's sizes are 32 bits wide); one that states a little too much is cut."""
    soundfile.write(tmp_path / "a.wav", soundfile.read(ROOT / "fixtures" / "three_plucks.flac")[0], 44100, subtype="PCM_16")
    octets = bytearray((tmp_path / "a.wav").read_bytes())
    place = octets.index(b"data") + 4
    for size, is_cut in ((0xFFFFFFFF, False), (len(octets) + 10_000, True)):
        octets[4:8] = octets[place:place + 4] = size.to_bytes(4, "little")
        (tmp_path / "b.wav").write_bytes(octets)
        recording = open_recording(tmp_path / "b.wav")
        assert any("cut short" in warning for warning in recording.quality.warnings) == is_cut
        assert recording.n_samples == open_recording(tmp_path / "a.wav").n_samples


@pytest.mark.parametrize(("stated", "is_cut"), [(176_400, False), (300_000, True), (2**63 - 1, False)], ids=["whole", "cut", "unknown"])
def test_a_file_of_64_bits_is_cut_where_its_header_states_more(stated, is_cut):
    """As libsndfile notes an RF64 of 176504 bytes; a writer that goes on yet states the largest number (from memory)."""
    assert states_more_than_it_holds(f"File : a.rf64\nLength : 176504\nRF64\n  WAVE\nds64 : 28\n  Riff size : 176496\n"
                                     f"  Data size : {stated}\n  Frames    : 88200\n") is is_cut


@pytest.fixture
def short_of_itself(tmp_path):
    """A WAV of 16 bits, three plucks long, whose header states the first second only; more may follow."""
    def write(behind=b"", *, subtype="PCM_16", sizes=(4, 40)):
        soundfile.write(tmp_path / "a.wav", soundfile.read(ROOT / "fixtures" / "three_plucks.flac")[0], 44100, subtype=subtype)
        octets = bytearray((tmp_path / "a.wav").read_bytes())
        sizes = (4, octets.index(b"data") + 4) if subtype != "PCM_16" else sizes
        for place in sizes:
            octets[place:place + 4] = (2 * 44100 + (36 if place == 4 else 0)).to_bytes(4, "little")
        (tmp_path / "b.wav").write_bytes(bytes(octets) + behind)
        return open_recording(tmp_path / "b.wav"), open_recording(tmp_path / "a.wav")
    return write


@pytest.mark.parametrize("sizes", [(4, 40), (40,)])
def test_what_a_recorder_wrote_after_its_last_header_is_used_and_said(short_of_itself, sizes):
    """Sizes stand in bytes 4 (of the file) and 40 (of the sound), 16 bits make two bytes a sample: the format's definition."""
    recording, whole = short_of_itself(sizes=sizes)
    assert recording.n_samples == whole.n_samples
    assert np.array_equal(recording.read(0, whole.n_samples), whole.read(0, whole.n_samples))
    assert f"states 1.0 s, and {whole.duration_s:.1f} s of sound are there" in recording.quality.warnings[0]


def test_what_is_no_sound_behind_a_short_header_is_not_taken_for_it(short_of_itself):
    junk = np.random.default_rng(1).integers(0, 256, 200_000, np.uint8).tobytes()
    recording, _ = short_of_itself(20 * junk)
    assert recording.n_samples == 44100 and "cannot be read" in recording.quality.warnings[0]
    recording, _ = short_of_itself(20 * junk, subtype="ULAW")  # by which junk is not told from sound: most of its values are small
    assert recording.n_samples == 2 * 44100 and "cannot be read" in recording.quality.warnings[0]


def test_a_chunk_of_a_length_below_zero_does_not_hold_up_a_core_audio_file(tmp_path):
    """By such a one its reading would come back to where it was, again and again."""
    head, sound = b"caff\0\1\0\0", 100
    for length in (-12, -1, 4):
        free = b"free" + length.to_bytes(8, "big", signed=True) + bytes(max(0, length))
        (tmp_path / "a.caf").write_bytes(head + free + b"data" + sound.to_bytes(8, "big") + bytes(sound - 50))
        assert caf_states_more_than_it_holds(str(tmp_path / "a.caf"))


def test_a_second_recording_in_the_file_is_named(tmp_path):
    soundfile.write(tmp_path / "a.wav", soundfile.read(ROOT / "fixtures" / "three_plucks.flac")[0], 44100, subtype="PCM_16")
    octets = (tmp_path / "a.wav").read_bytes()
    (tmp_path / "b.wav").write_bytes(octets + octets)
    recording = open_recording(tmp_path / "b.wav")
    assert recording.n_samples == open_recording(tmp_path / "a.wav").n_samples
    assert "a second recording follows" in recording.quality.warnings[0]


@pytest.mark.parametrize("behind", [
    b"LIST" + struct.pack("<I", 90_000) + 45_000 * b"ab", b"id3 " + struct.pack("<I", 70_001) + 70_001 * b"x",
    b"LIST" + struct.pack("<I", 5) + b"abcde\0" + b"note" + struct.pack("<I", 90_000) + 45_000 * b"ab",  # filled up to an even size, …
    b"LIST" + struct.pack("<I", 5) + b"abcde" + b"note" + struct.pack("<I", 90_000) + 45_000 * b"ab",  # … and not
    b"TAG" + 60_000 * b"t", bytes(200_000), 12_000 * b"\x10\x20",  # the last 0.27 s: less than a pluck
    b"ID3\x03" + 80_000 * b"y"])
def test_notes_and_zeros_behind_the_sound_are_none(tmp_path, behind):
    soundfile.write(tmp_path / "a.wav", soundfile.read(ROOT / "fixtures" / "three_plucks.flac")[0], 44100, subtype="PCM_16")
    (tmp_path / "b.wav").write_bytes((tmp_path / "a.wav").read_bytes() + behind)
    plain, noted = (open_recording(tmp_path / name) for name in ("a.wav", "b.wav"))
    assert noted.n_samples == plain.n_samples and noted.quality.warnings == plain.quality.warnings


def test_half_an_ogg_file_is_told(tmp_path):
    soundfile.write(tmp_path / "a.ogg", soundfile.read(ROOT / "fixtures" / "three_plucks.flac")[0], 44100)
    octets = (tmp_path / "a.ogg").read_bytes()
    (tmp_path / "half.ogg").write_bytes(octets[:len(octets) // 2])
    assert "cut short" in open_recording(tmp_path / "half.ogg").quality.warnings[0]
    assert not any("cut short" in warning for warning in open_recording(tmp_path / "a.ogg").quality.warnings)


def test_bare_frames_that_state_no_length_are_not_called_cut_short(tmp_path, sweep):
    """FFmpeg reckons a length for these from the size and the bit rate of the first frames: here a second too long, of a whole file."""
    quiet_end = np.r_[noise(2 * RATE_HZ, db=-90), sweep]
    encode(tmp_path / "a.aac", quiet_end, RATE_HZ, "aac", bit_rate=128_000)
    recording = open_recording(tmp_path / "a.aac")
    assert recording.codec == "aac/aac"
    assert recording.duration_s == pytest.approx(len(quiet_end) / RATE_HZ, abs=0.1)  # derived here: what was encoded
    assert not any("cut short" in warning for warning in recording.quality.warnings)


def test_of_a_file_damaged_in_its_middle_it_is_said_where_it_ends(tmp_path):
    sound, rate_hz = soundfile.read(ROOT / "fixtures" / "three_plucks.flac")
    octets = bytearray((ROOT / "fixtures" / "three_plucks.flac").read_bytes())
    middle = len(octets) // 2
    octets[middle:middle + 2000] = bytes(255 - octet for octet in octets[middle:middle + 2000])
    (tmp_path / "a.flac").write_bytes(octets)
    recording = open_recording(tmp_path / "a.flac")
    assert recording.quality.warnings[0].startswith(
        f"The file is damaged or cut short: it can be read up to {recording.n_samples / rate_hz:.1f} s of {len(sound) / rate_hz:.1f} s.")
    assert 0.2 * len(sound) < recording.n_samples < 0.8 * len(sound)


def streamed(octets):
    """A FLAC as a writer leaves it that could not go back to its header: the 36 bits of the number of samples in STREAMINFO are zero
    (RFC 9639, section 8.2: unknown). They begin at bit 108 of the block, which begins at octet 8 of the file."""
    octets = bytearray(octets)
    octets[8 + 13] &= 0xF0
    octets[8 + 14:8 + 18] = bytes(4)
    return bytes(octets)


def test_a_streamed_flac_is_read_to_its_last_sample_and_not_called_damaged(tmp_path):
    whole = open_recording(ROOT / "fixtures" / "three_plucks.flac")
    (tmp_path / "a.flac").write_bytes(streamed((ROOT / "fixtures" / "three_plucks.flac").read_bytes()))
    recording = open_recording(tmp_path / "a.flac")
    assert (recording.n_samples, recording.codec) == (whole.n_samples, whole.codec)
    assert np.array_equal(recording.read(0, whole.n_samples), whole.read(0, whole.n_samples))
    (remark,) = recording.quality.warnings
    assert "does not say how long it is" in remark and "The 4.0 s in it are used" in remark and "damaged" not in remark


def test_of_a_flac_that_was_never_finished_no_length_is_made_up(tmp_path):
    octets = streamed((ROOT / "fixtures" / "three_plucks.flac").read_bytes())
    (tmp_path / "a.flac").write_bytes(octets[:2 * len(octets) // 3])
    recording = open_recording(tmp_path / "a.flac")
    whole = open_recording(ROOT / "fixtures" / "three_plucks.flac")
    assert 0.5 * whole.n_samples < recording.n_samples < 0.8 * whole.n_samples  # two thirds of the octets
    assert np.array_equal(recording.read(0, recording.n_samples), whole.read(0, recording.n_samples))
    (remark,) = recording.quality.warnings
    assert remark.startswith("The file was never finished and breaks off: how long it was is not known. "
                             f"The {recording.n_samples / whole.rate_hz:.1f} s that can be read are used;")


def test_every_bad_fixture_is_tested_and_every_fixture_is_small():
    assert {path.name for path in (ROOT / "fixtures" / "bad").iterdir()} == {*BAD, *CUT_SHORT}
    files = [path for path in (ROOT / "fixtures").rglob("*") if path.is_file()]
    assert len(files) > len(BAD) and max(path.stat().st_size for path in files) <= 300_000


def test_fixtures_can_be_remade(tmp_path):
    subprocess.run([sys.executable, str(ROOT / "fixtures" / "make_fixtures.py"), str(tmp_path)], check=True, timeout=60)
    for path in (ROOT / "fixtures").rglob("*.wav"):
        assert (tmp_path / path.relative_to(ROOT / "fixtures")).read_bytes() == path.read_bytes()
    for name in ("three_plucks.flac", "three_plucks.m4a"):
        ours, remade = open_recording(ROOT / "fixtures" / name), open_recording(tmp_path / name)
        assert np.allclose(ours.read(0, ours.n_samples), remade.read(0, ours.n_samples), atol=1e-3)


def test_missing_files_folders_and_closed_ones(tmp_path):
    assert "was not found" in refusal(tmp_path / "none.wav")
    assert "folder" in refusal(tmp_path)
    assert "was not found" in refusal(tmp_path / ("x" * 200) / "a.wav")
    assert "too long" in refusal(tmp_path / ("x" * 300)).lower()
    assert "null" in refusal("a\0b.wav").lower()
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.wav")
        assert "is not a file" in refusal(tmp_path / "pipe.wav")


def test_a_file_that_may_not_be_read(tmp_path, monkeypatch, sweep):
    path = store(tmp_path / "a.wav", sweep[:RATE_HZ])
    if os.geteuid() != 0:
        path.chmod(0)
    else:  # root may read everything, so the refusal is played
        def refuse(name, *_, **__):
            raise PermissionError(13, "Permission denied", name)
        monkeypatch.setattr("builtins.open", refuse)
    assert "may not be read" in refusal(path)


@pytest.mark.parametrize("name", ["-x.wav", "two\nlines.wav", "ha\x1b[31mrp.wav", "Harfe – später.flac", "琴.wav",
                                  "a" * 245 + ".wav", "concat:a|b.wav",
                                  "http:x.wav", "no_ending", "a.raw", "wrong.mp3",
                                  os.fsdecode(b"caf\xe9.wav")])
def test_odd_file_names_work(tmp_path, monkeypatch, sweep, name):
    monkeypatch.chdir(tmp_path)
    soundfile.write("plain.wav", sweep[:RATE_HZ], RATE_HZ)
    os.rename("plain.wav", name)
    recording = open_recording(name)
    assert recording.n_samples == RATE_HZ and recording.path == name
    with open(name, "w") as file:
        file.write("no sound")
    refusal(name)
    os.unlink(name)
    encode("plain.m4a", sweep[:RATE_HZ], RATE_HZ, "aac")
    os.rename("plain.m4a", name)
    assert open_recording(name).duration_s == pytest.approx(1.0, abs=0.05)


def test_a_file_that_goes_away_while_in_use(tmp_path, monkeypatch, sweep):
    from toneprobe.audio import survey

    monkeypatch.setattr(survey, "CACHE_BYTES", 0)
    path = store(tmp_path / "a.wav", sweep[:RATE_HZ])
    recording = open_recording(path)
    path.unlink()
    with pytest.raises(RecordingError, match="no longer"):
        recording.read(0, 100)


@pytest.mark.parametrize(("samples", "reason"), [(np.zeros(RATE_HZ), "silent"), (np.ones(100), "too short"), (np.ones((2, 2, 2)), "shape"),
                                                 (np.full(RATE_HZ, np.nan), "NaN"), (np.full(RATE_HZ, 1e300), "NaN"),
                                                 (np.tile([1e20, -1e20], RATE_HZ), "beyond any recorder"),
                                                 (np.ones((RATE_HZ, 9)), "channels"), (np.ones(0), "too short"),
                                                 (np.full(RATE_HZ, 0.3), "silent")])
def test_samples_are_checked_as_files_are(samples, reason):
    with pytest.raises(RecordingError, match=reason):
        recording_from_samples(samples, RATE_HZ)


@pytest.mark.parametrize("sample", [1e20, 3e38])
def test_a_sample_whose_square_is_no_number_is_said_in_one_line(tmp_path, sample):
    """One of a file of floats, whose greatest is 3.4e38. A warning on the way would be an error here."""
    samples = noise(RATE_HZ, db=-20)
    samples[500] = sample
    soundfile.write(tmp_path / "far.wav", samples, RATE_HZ, subtype="FLOAT")
    assert "far beyond any recorder's full scale" in refusal(tmp_path / "far.wav")


def test_a_header_of_samples_of_no_bits_is_said_in_one_line(tmp_path):
    """As in the format's description: 16 octets of fmt, PCM, one channel, 44100 Hz; the last two, bits of a sample, are 0."""
    data = bytes(2 * RATE_HZ)
    head = struct.pack("<4sI8sIHHIIHH4sI", b"RIFF", 36 + len(data), b"WAVEfmt ", 16, 1, 1, 44100, 0, 0, 0, b"data", len(data))
    (tmp_path / "bits.wav").write_bytes(head + data)
    assert "no sound that can be read" in refusal(tmp_path / "bits.wav")


@pytest.mark.parametrize("rate_hz", [8000, 8006, 8015, 11026, 33075, 44100])
def test_the_shortest_recording_opens_at_any_rate(rate_hz):
    """0.3 s are three frames of 0.1 s, or hardly two and a bit where a frame is rounded up to whole samples."""
    n = int(np.ceil(0.3 * rate_hz))
    tone = 0.5 * np.sin(2 * np.pi * 440.0 * np.arange(n) / rate_hz)
    for samples in (tone, noise(n, db=-20), np.where(np.arange(n) < n // 2, 0.0, tone)):
        quality = recording_from_samples(samples, rate_hz).quality
        assert quality.gain_riding is None and np.isfinite(quality.noise_floor_db)
    with pytest.raises(RecordingError, match="too short"):
        recording_from_samples(tone[:-1], rate_hz)


@pytest.mark.parametrize("n_frames", range(1, 9))
def test_frames_beside_digital_silence_are_not_used(n_frames):
    """However few there are; where all are silent or beside it, the sounding ones are used, and else all."""
    first = np.arange(n_frames) == 0
    assert np.array_equal(usable_frames(first), np.arange(n_frames) >= min(2, n_frames - 1))
    assert usable_frames(~np.ones(n_frames, bool)).tolist() == [True] * n_frames


# Time and memory

LONG = """
import sys
import numpy as np, soundfile
from toneprobe.audio import open_recording, recording_from_samples
recording_from_samples(np.random.default_rng(0).standard_normal(44100) * 0.01, 44100).read(0, 10)
def most_mb():
    return next(int(line.split()[1]) for line in open("/proc/self/status") if line.startswith("VmHWM")) / 1024
before_mb = most_mb()
if sys.argv[2] == "whole":
    samples, rate_hz = soundfile.read(sys.argv[1])
else:
    recording = open_recording(sys.argv[1])
    assert abs(recording.duration_s - 1200) < 1e-6
    starts = range(0, recording.n_samples, 10 * recording.rate_hz)
    assert sum(recording.read(n, min(n + 10 * recording.rate_hz, recording.n_samples)).size for n in starts) == recording.n_samples
print(most_mb() - before_mb)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the peak of one process alone is read from Linux's /proc")
def test_twenty_minutes_need_little_memory(tmp_path, sweep):
    path = tmp_path / "long.w64"
    minute = (np.resize(sweep, 60 * RATE_HZ) * 32767).astype(np.int16)
    with soundfile.SoundFile(path, "w", RATE_HZ, 1, subtype="PCM_16", format="W64") as sound:
        for _ in range(20):
            sound.write(minute)
    grown_mb = {way: float(subprocess.run([sys.executable, "-c", LONG, str(path), way], check=True, capture_output=True, text=True).stdout)
                for way in ("pieces", "whole")}
    assert grown_mb["pieces"] < 60
    assert grown_mb["whole"] > 300  # reading it whole: 20 min of float64 are 423 MB


def test_opening_is_quick(tmp_path, sweep):
    path = store(tmp_path / "a.flac", np.resize(sweep, 60 * RATE_HZ))
    open_recording(path)
    start_s = time.process_time()
    open_recording(path)
    assert time.process_time() - start_s < 2.0  # the aim is 0.12 s for one minute; many times that on a busy machine


# Real plucks, and real plucks with planted faults


@pytest.fixture(scope="module")
def real_sweep():
    firm = [path for path in REAL if "firm_take1" in path]
    plucks = [soundfile.read(path, always_2d=True)[0][:, 0] for path in firm[::3]]
    joined = np.concatenate([part for pluck in plucks for part in (np.zeros(RATE_HZ), pluck[:4 * RATE_HZ] / np.abs(pluck).max() * 0.5)])
    return joined + noise(joined.size, db=-65)


@pytest.mark.skipif(not REAL, reason="no real recordings beside the project")
def test_real_plucks_are_called_whole():
    for path in REAL[::6]:
        quality = open_recording(path).quality
        assert (quality.clipped_s, quality.hum_hz, quality.low_cut_hz, quality.high_cut_hz) == (0.0, None, None, None), path
        assert quality.gain_riding is not True and quality.warnings == (), path


@pytest.mark.skipif(not REAL, reason="no real recordings beside the project")
def test_a_real_sweep_is_whole_until_a_fault_is_planted(real_sweep):
    def judge(samples):
        return recording_from_samples(samples, RATE_HZ).quality

    whole = judge(real_sweep)
    assert (whole.clipped_s, whole.hum_hz, whole.low_cut_hz, whole.high_cut_hz, whole.gain_riding) == (0.0, None, None, None, False)
    assert whole.noise_floor_db == pytest.approx(-65, abs=1.0) and whole.warnings == ()
    high = scipy.signal.butter(6, 250, "high", fs=RATE_HZ, output="sos")
    assert judge(scipy.signal.sosfilt(high, real_sweep)).low_cut_hz == pytest.approx(250, rel=0.15)
    low = scipy.signal.butter(8, 4000, fs=RATE_HZ, output="sos")
    assert judge(scipy.signal.sosfilt(low, real_sweep)).high_cut_hz == pytest.approx(4000, rel=0.15)
    assert judge(ride_gain(real_sweep)).gain_riding is True
    clipped_s = np.count_nonzero(np.abs(real_sweep) >= 0.2) / RATE_HZ
    assert judge(np.clip(real_sweep, -0.2, 0.2)).clipped_s == pytest.approx(clipped_s, rel=0.1)
    time_s = np.arange(real_sweep.size) / RATE_HZ
    hum = 0.001 * np.sin(2 * np.pi * 60 * time_s) + 0.0007 * np.sin(2 * np.pi * 180 * time_s)
    assert judge(real_sweep + hum).hum_hz == 60

"""Mains hum told by densities made by hand, seconds of noise of 1 per hertz, lines in single bins a hertz apart; and by sounds."""

import numpy as np
import pytest
import scipy.signal
from made_up_recording import RATE_HZ, noise

from toneprobe.audio import recording_from_samples
from toneprobe.audio.hum import find_hum

FREQS_HZ = np.arange(1000.0)


def heard(lines_db, *, n_seconds=6, swing_db=0.0):
    """lines_db: by their hertz, power over the noise in their place, some 6 Hz; swing_db: by how much they rise from the first second to
    the last, in all."""
    quiet = np.random.default_rng(5).exponential(1.0, (n_seconds, 1000))
    rise = 10.0 ** (np.linspace(-0.5, 0.5, n_seconds) * swing_db / 10.0)
    for hz, db in lines_db.items():
        quiet[:, hz] += 6.0 * 10.0 ** (db / 10.0) * rise
    return find_hum(FREQS_HZ, quiet)


@pytest.mark.parametrize(("lines_db", "mains_hz"), [
    ({100: 15.0, 150: 15.0}, 50.0),
    ({120: 15.0, 180: 15.0}, 60.0),
    ({200: 15.0, 350: 15.0}, 50.0),  # a rectifier behind a filter: the fourth and a higher one
    ({60: 30.0}, 60.0),  # alone, but far above the noise
    ({100: 15.0, 150: 15.0, 300: 30.0, 600: 30.0}, 50.0),
    ({100: 5.5, 150: 5.5}, None),  # hardly stands out: what a sensitive recorder always has
    ({60: 13.0}, None),  # a single one may be a string or chance
    ({300: 30.0, 600: 30.0}, None),  # belong to both …
    ({100: 15.0, 300: 30.0}, None),  # … and make no second line of a single one
    ({100: 15.0, 552: 15.0}, None),  # multiples of 50.0 and 50.2: of one mains they would be a hertz apart
    ({98: 20.0, 147: 20.0, 196: 20.0}, None),  # G1 sounds at 49.0 Hz (equal temperament): the grid keeps within 0.2 of 50 (common practice)
    ({350: 20.0, 450: 20.0}, None),  # none of the lowest four
    ({}, None),
])
def test_hum_is_lines_at_multiples_of_the_mains_alone(lines_db, mains_hz):
    found = heard(lines_db)
    assert (found and found[0]) == mains_hz


def test_its_level_is_the_power_of_all_its_lines():
    """Each 6·10^1.5 = 190 over the noise: 10·log(2·190) = 25.8 dB (derived)."""
    assert heard({100: 15.0, 150: 15.0})[1] == pytest.approx(25.8, abs=0.5)


def test_what_rises_or_falls_from_second_to_second_is_no_hum():
    assert heard({100: 20.0, 150: 20.0}, swing_db=3.0) and heard({100: 20.0, 150: 20.0}, swing_db=12.0) is None


def test_one_quiet_second_tells_nothing_and_two_no_single_line():
    assert heard({100: 20.0, 150: 20.0}, n_seconds=1) is None and heard({100: 20.0, 150: 20.0}, n_seconds=2)
    assert heard({60: 30.0}, n_seconds=2) is None


@pytest.mark.parametrize(("mains_hz", "true_hz"), [(50, 50.0), (50, 49.9), (60, 60.0), (60, 60.12)])
def test_hum(sweep, mains_hz, true_hz):
    time_s = np.arange(sweep.size) / RATE_HZ
    hum = sum(a * np.sin(2 * np.pi * n * true_hz * time_s + n) for n, a in ((1, 0.0008), (2, 0.001), (3, 0.0005), (5, 0.0003)))
    quality = recording_from_samples(sweep + hum, RATE_HZ).quality
    assert quality.hum_hz == mains_hz
    assert quality.hum_db == pytest.approx(20 * np.log10(np.std(hum)), abs=1.0)
    assert any(f"hum at {mains_hz} Hz" in warning for warning in quality.warnings)


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

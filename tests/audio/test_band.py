"""What was cut off below and above, by filters laid over sounds made here."""

import numpy as np
import pytest
import scipy.signal
from made_up_recording import RATE_HZ, decaying_tones, encode, noise, store

from toneprobe.audio import open_recording, recording_from_samples
from toneprobe.audio.band import band_grid, find_high_cut, noise_permits


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

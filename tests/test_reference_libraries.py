"""Against general-purpose libraries that know nothing of this program, on the same signals: Praat's pitch, librosa's centroid,
pyroomacoustics' decay, scipy's least squares of a damped sinusoid, essentia's centroid."""

import os

import numpy as np
import pytest
from scipy.optimize import least_squares
from sounds.changed_plucks import measured
from sounds.formula_plucks import PRE_S, REGISTERS, FormulaPluck, damped, render, time_grid_s

from toneprobe.measure.brightness import FIRST_S, LAST_S, spectral_centroid
from toneprobe.measure.damped_line import open_spectrum
from toneprobe.measure.envelope import band, pluck_signal
from toneprobe.measure.exact import exact_partials
from toneprobe.units import cents_between

RATE_HZ = 44100


# Pitch: Praat's autocorrelation (Boersma 1993)

def praat_hz(sound: np.ndarray, f1_hz: float) -> float:
    parselmouth = pytest.importorskip("parselmouth")
    pitch = parselmouth.Sound(sound, RATE_HZ).to_pitch_ac(pitch_floor=0.6 * f1_hz, pitch_ceiling=1.6 * f1_hz, very_accurate=True)
    values = pitch.selected_array["frequency"]
    return float(np.median(values[values > 0]))


@pytest.mark.parametrize("note", ["C2", "C3", "C4", "C5", "C6", "C7"])
def test_pitch_agrees_with_praat(note):
    """A flexible string, whose period is that of its first partial: both within 0.5 cents of it and of each other."""
    register = REGISTERS[note]
    pluck = register.pluck(b=1e-9, t60_s=4.0)
    sound = render(pluck, length_s=2.0)
    ours, theirs = measured(sound, f1_hz=pluck.f1_hz).pitch_hz.value, praat_hz(sound, pluck.f1_hz)
    assert cents_between(theirs, pluck.f1_hz) == pytest.approx(0.0, abs=0.5)
    assert cents_between(ours, theirs) == pytest.approx(0.0, abs=0.5)


def test_stiffness_pulls_praat_and_not_us():
    """Of a stiff string the period is not that of the first partial: the correlation goes sharp, the fitted series does not."""
    pluck = FormulaPluck(261.6256, 2e-3, t60_s=4.0, n_partials=16, level_power=0.6)
    sound = render(pluck, length_s=2.0)
    assert cents_between(praat_hz(sound, pluck.f1_hz), pluck.f1_hz) > 2.0
    assert cents_between(measured(sound, f1_hz=pluck.f1_hz).pitch_hz.value, pluck.f1_hz) == pytest.approx(0.0, abs=0.2)


# Brightness: librosa's centroid of a power spectrum, essentia's of the same

def window_of(sound: np.ndarray) -> np.ndarray:
    piece = sound[int((PRE_S + FIRST_S) * RATE_HZ) : int((PRE_S + LAST_S) * RATE_HZ)]
    return piece * np.hanning(len(piece))


@pytest.mark.parametrize("note", list(REGISTERS))
def test_centroid_agrees_with_librosa(note):
    os.environ.setdefault("NUMBA_OPT", "0")  # what it compiles when it is new takes two thirds of the time so
    librosa = pytest.importorskip("librosa")
    pluck = REGISTERS[note].pluck()
    sound = render(pluck, length_s=1.5, snr_db=90.0)
    piece = window_of(sound)
    power = np.abs(np.fft.rfft(piece)) ** 2  # librosa weighs by what it is given: power, as the definition has it
    freq_hz = np.fft.rfftfreq(len(piece), 1 / RATE_HZ)
    theirs = float(librosa.feature.spectral_centroid(S=power[:, None], freq=freq_hz[:, None], sr=RATE_HZ)[0, 0])
    ours = spectral_centroid(sound, pluck_signal(sound, rate_hz=RATE_HZ, pre_s=PRE_S, f1_hz=pluck.f1_hz), pluck.f1_hz).value
    assert ours == pytest.approx(theirs, rel=2e-3)
    by_magnitude = float(librosa.feature.spectral_centroid(S=np.sqrt(power)[:, None], freq=freq_hz[:, None], sr=RATE_HZ)[0, 0])
    assert abs(ours / by_magnitude - 1.0) > 0.02  # its usual form, weighed by magnitude, is another figure


def test_centroid_agrees_with_essentia():
    standard = pytest.importorskip("essentia.standard")
    pluck = REGISTERS["C4"].pluck()
    sound = render(pluck, length_s=1.5, snr_db=90.0)
    power = (np.abs(np.fft.rfft(window_of(sound))) ** 2).astype(np.float32)
    theirs = float(standard.Centroid(range=RATE_HZ / 2)(power))
    ours = spectral_centroid(sound, pluck_signal(sound, rate_hz=RATE_HZ, pre_s=PRE_S, f1_hz=pluck.f1_hz), pluck.f1_hz).value
    assert ours == pytest.approx(theirs, rel=5e-3)


# Decay: pyroomacoustics' decay time of an energy curve

@pytest.mark.parametrize("t60_s", [0.4, 1.0, 3.0])
def test_decay_agrees_with_pyroomacoustics(t60_s):
    """A band of noise-free decay: their T30, extrapolated to 60 dB, and ours."""
    acoustics = pytest.importorskip("pyroomacoustics")
    pluck = FormulaPluck(440.0, n_partials=12, t60_s=t60_s, loss_power=0.0)
    sound = render(pluck, length_s=1.5 * t60_s, snr_db=90.0)
    theirs = acoustics.experimental.measure_rt60(sound[round(PRE_S * RATE_HZ):], fs=RATE_HZ, decay_db=30)
    ours = measured(sound, f1_hz=440.0).partials[0].t60_s
    assert theirs == pytest.approx(t60_s, rel=0.03)
    assert ours == pytest.approx(theirs, rel=0.03)


def test_noise_misleads_pyroomacoustics_and_not_us():
    acoustics = pytest.importorskip("pyroomacoustics")
    sound = render(FormulaPluck(440.0, n_partials=12, t60_s=1.0, loss_power=0.0), length_s=2.0, snr_db=36.0)
    theirs = acoustics.experimental.measure_rt60(sound[round(PRE_S * RATE_HZ):], fs=RATE_HZ, decay_db=30)
    assert theirs > 1.25
    assert measured(sound, f1_hz=440.0).partials[0].t60_s == pytest.approx(1.0, rel=0.05)


# One damped sinusoid: scipy's non-linear least squares over the samples themselves

def least_squares_pole(sound: np.ndarray, freq_hz: float, delta: float, *, rate_hz: float, skip_s: float) -> tuple[float, float]:
    """(frequency, decay rate) that minimise the squared error of A·exp(−δt)·cos(2πft + φ) over the samples from skip_s on."""
    samples = sound[round((PRE_S + skip_s) * rate_hz):]
    time_s = np.arange(len(samples)) / rate_hz

    def misfit(p):
        turn = 2 * np.pi * (freq_hz + p[0]) * time_s
        return np.exp(-(delta + p[1]) * time_s) * (p[2] * np.cos(turn) - p[3] * np.sin(turn)) - samples

    best = least_squares(misfit, [0.0, 0.0, 0.1, 0.1], x_scale=[0.01, 0.1, 1.0, 1.0], xtol=1e-14, ftol=1e-14)
    return freq_hz + best.x[0], delta + best.x[1]


@pytest.mark.parametrize("freq_hz, tau_s, snr_db", [(130.8, 0.5, 40), (440.0, 0.3, 30), (1046.5, 0.1, 40)])
def test_a_partial_is_the_least_squares_one(freq_hz, tau_s, snr_db):
    """Same samples, same noise: the same frequency and decay rate to a fraction of what the noise itself does to both."""
    for seed in range(2):
        clean = damped(time_grid_s(RATE_HZ, 4 * tau_s), freq_hz, 1 / tau_s, phase=1.0 + seed)
        sound = clean + np.random.default_rng(seed).normal(0.0, np.sqrt(0.5) * 10 ** (-snr_db / 20), len(clean))
        signal = pluck_signal(sound, rate_hz=RATE_HZ, pre_s=PRE_S, f1_hz=freq_hz)
        spectrum, near_hz, near_delta = open_spectrum(sound, signal, skip_s=0.01), np.array([freq_hz * 1.0003]), np.array([1.1 / tau_s])
        ours = exact_partials(spectrum, signal, freq_hz=near_hz, delta=near_delta)[0]
        theirs_hz, theirs_delta = least_squares_pole(sound, freq_hz, 1 / tau_s, rate_hz=RATE_HZ, skip_s=0.01)
        assert abs(ours.freq_hz - theirs_hz) < 0.5 * ours.freq_se_hz
        assert abs(np.log(ours.delta / theirs_delta)) < 0.5 * ours.log_delta_se
        assert abs(theirs_hz - freq_hz) < 5 * ours.freq_se_hz  # and both are right


# Inharmonicity: least squares over the partials' frequencies, by numpy alone

def test_b_is_the_least_squares_one():
    """(f_n/n)² = f0²·(1 + B·n²): a straight line over n² through the frequencies as found."""
    found = measured(render(FormulaPluck(261.6256, 2.6e-4, n_partials=16)), f1_hz=261.6256)
    n, freq_hz = (np.array([getattr(partial, name) for partial in found.partials]) for name in ("n", "freq_hz"))
    slope, level = np.polyfit(n**2, (freq_hz / n) ** 2, 1)
    assert found.inharmonicity.value == pytest.approx(slope / level, rel=0.01)


# The level of a band: scipy's own band-pass and Hilbert transform

def test_an_envelope_is_that_of_a_band_pass_filter():
    from scipy.signal import butter, hilbert, sosfiltfilt

    pluck = FormulaPluck(261.6256, 2.6e-4, t60_s=3.0, n_partials=8)
    sound = render(pluck, length_s=2.0, snr_db=80.0)
    theirs = np.abs(hilbert(sosfiltfilt(butter(4, [440.0, 610.0], "band", fs=RATE_HZ, output="sos"), sound)))
    envelope = band(pluck_signal(sound, rate_hz=RATE_HZ, pre_s=PRE_S, f1_hz=261.6256), 523.6, 90.0)
    for at_s in (0.1, 0.5, 1.0, 1.5):
        ours = np.abs(envelope.z[round(at_s * envelope.rate_hz)])
        assert ours == pytest.approx(theirs[round((PRE_S + at_s) * RATE_HZ)], rel=0.02)
    expected = pluck.amplitude[1] * np.exp(-pluck.delta[1] * 0.5)
    assert np.abs(envelope.z[round(0.5 * envelope.rate_hz)]) == pytest.approx(expected, rel=0.02)

"""One partial at the limit that noise sets: maximum likelihood of a single damped sinusoid, where a single one is all there is.

Model: x[k] = Re(2a·e^{pk}), p = (2πi·f − δ)/rate, in noise that is white around f. Its spectrum over N samples is known in closed form,
S(ω) = a·(1 − e^{(p − iω)N})/(1 − e^{p − iω}) and the mirror image, so the fit needs no window and loses nothing: bins around f are
fitted by Gauss–Newton in (f, δ, a). In white noise that reaches the Cramér–Rao bound
σ_f = (2/π)·√(δ³/rate)·σ/A, σ_δ/δ = 4·√(δ/rate)·σ/A for a long record.
Real partials are often two modes, or glide: then the misfit exceeds the noise, the model is refused, and the estimates that do not
rest on it (`glide`, `decay`) stand. Other partials lend their skirts to these bins: their lines are taken off before the misfit is judged.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.fft import prev_fast_len, rfft

from toneprobe.measure.envelope import PluckSignal, noise_density

LINE_WIDTHS = 8.0  # bins within so many half-widths δ/2π of the line, and at least …
LEAST_BINS = 12  # … so many on each side
N_STEPS = 8
N_STEPS_AGAIN = 3  # from where it was
N_ROUNDS = 2
HOPELESS_AFTER = 3  # after so many steps a misfit …
HOPELESS = 50.0  # … of so many times the noise will not come down to it …
HOPELESS_SHARE = 1e-3  # … nor one of this share of the line's own power, which the skirts of other partials may leave
MISFIT_SIGMAS = 3.0  # mean square misfit over the noise in its own standard deviations at which one mode still explains the partial …
RIDGE = 1e-12  # columns that cannot be told apart share what they explain
NOISE_DOUBT = 0.25  # … beside what the noise itself is known to


@dataclass(frozen=True)
class ExactPartial:
    freq_hz: float
    delta: float  # 1/s
    freq_se_hz: float
    log_delta_se: float


@dataclass(frozen=True)
class OpenSpectrum:
    """Spectrum of a pluck without a window, from `skip_s` after the onset."""

    bins: np.ndarray
    n_samples: int
    rate_hz: float


def open_spectrum(samples: np.ndarray, signal: PluckSignal, *, skip_s: float) -> OpenSpectrum:
    piece = samples[int((signal.pre_s + skip_s) * signal.rate_hz):]
    n = prev_fast_len(len(piece), real=True)  # a few samples fewer, for a length that the transform likes
    return OpenSpectrum(rfft(piece[:n]), n, signal.rate_hz)


def exact_partials(spectrum: OpenSpectrum, signal: PluckSignal, *, freq_hz: np.ndarray, delta: np.ndarray) -> list[ExactPartial | None]:
    """Refine partials found at about `freq_hz` with decay rates of about `delta`, arrays of shape (k,). None where one damped sinusoid
    does not explain a partial. Each is fitted alone, then again without the skirts of the others, as they are then known."""
    lines = [_fit_line(spectrum, signal, freq_hz=float(f), delta=float(d)) for f, d in zip(freq_hz, delta, strict=True)]
    for _ in range(N_ROUNDS if sum(line is not None for line in lines) > 1 else 0):
        lines = [line and _again(_without(spectrum, lines, line), signal, line) for line in lines]
    return [_judged(line, spectrum.rate_hz) if line else None for line in lines]


def exact_partial(spectrum: OpenSpectrum, signal: PluckSignal, *, freq_hz: float, delta: float) -> ExactPartial | None:
    """The same for a partial that sounds alone."""
    return exact_partials(spectrum, signal, freq_hz=np.array([freq_hz]), delta=np.array([delta]))[0]


@dataclass(frozen=True)
class _Line:
    """A damped sinusoid fitted to a stretch of bins."""

    pole: complex  # per sample
    amplitude: complex
    index: np.ndarray  # bins
    misfit: float  # mean square over the noise's
    noise_power: float
    columns: list[np.ndarray]

    def spectrum(self, index: np.ndarray, n_samples: int) -> np.ndarray:
        turns = _turns(index, n_samples)
        return (self.amplitude * _lines(self.pole, turns, n_samples)[0]
                + np.conj(self.amplitude) * _lines(np.conj(self.pole), turns, n_samples)[0])


def _without(spectrum: OpenSpectrum, lines: list[_Line | None], line: _Line) -> OpenSpectrum:
    """The spectrum about one line without all the others."""
    bins = spectrum.bins[line.index]
    for other in lines:
        if other is not None and other is not line:
            bins = bins - other.spectrum(line.index, spectrum.n_samples)
    whole = spectrum.bins.copy()
    whole[line.index] = bins
    return OpenSpectrum(whole, spectrum.n_samples, spectrum.rate_hz)


def _again(spectrum: OpenSpectrum, signal: PluckSignal, line: _Line) -> _Line | None:
    turn_hz = spectrum.rate_hz / (2 * np.pi)
    return _fit_line(spectrum, signal, freq_hz=line.pole.imag * turn_hz, delta=-line.pole.real * spectrum.rate_hz, n_steps=N_STEPS_AGAIN)


def _judged(line: _Line, rate_hz: float) -> ExactPartial | None:
    if line.misfit > 1.0 + NOISE_DOUBT + MISFIT_SIGMAS / np.sqrt(len(line.index)):
        return None
    return _estimate(line.pole, line.columns, line.noise_power * max(line.misfit, 1.0), rate_hz)


def _fit_line(spectrum: OpenSpectrum, signal: PluckSignal, *, freq_hz: float, delta: float, n_steps: int = N_STEPS) -> _Line | None:
    """Gauss–Newton on frequency, decay rate and complex amplitude; None where much is left beside one line."""
    df = spectrum.rate_hz / spectrum.n_samples
    reach = int(max(LINE_WIDTHS * delta / (2 * np.pi) / df, LEAST_BINS))
    centre = int(round(freq_hz / df))
    index = np.arange(max(1, centre - reach), min(len(spectrum.bins), centre + reach + 1))
    data = spectrum.bins[index]
    if len(index) < 8 or not data.any():
        return None
    turns = _turns(index, spectrum.n_samples)
    noise_power = spectrum.n_samples * float(noise_density(signal, freq_hz)) * spectrum.rate_hz / 4.0
    hopeless = max(HOPELESS, HOPELESS_SHARE * float(np.mean(np.abs(data) ** 2)) / noise_power)
    pole = complex(-delta, 2 * np.pi * freq_hz) / spectrum.rate_hz
    amplitude = None
    for round_ in range(n_steps):
        direct, slope = _lines(pole, turns, spectrum.n_samples)
        mirror, mirror_slope = _lines(np.conj(pole), turns, spectrum.n_samples)
        if amplitude is None:
            amplitude = _solve([direct + mirror, 1j * (direct - mirror)], data)
        a = complex(*amplitude)
        model = a * direct + np.conj(a) * mirror
        by_delta = -(a * slope + np.conj(a) * mirror_slope)
        by_turn = 1j * (a * slope - np.conj(a) * mirror_slope)
        columns = [direct + mirror, 1j * (direct - mirror), by_delta, by_turn]
        misfit = float(np.mean(np.abs(data - model) ** 2)) / noise_power
        if round_ == HOPELESS_AFTER and misfit > hopeless:
            return None
        step = _solve(columns, data - model)
        fall = min(max(-pole.real + step[2], 0.3 * -pole.real), 3.0 * -pole.real)
        pole = complex(-fall, pole.imag + step[3])
        amplitude = np.array([a.real, a.imag]) + step[:2]
        if abs(pole.imag * spectrum.rate_hz / (2 * np.pi) - freq_hz) > reach * df:
            return None
    return _Line(pole, complex(*amplitude), index, misfit, noise_power, columns)


def _turns(index: np.ndarray, n: int) -> np.ndarray:
    """e^{−iω} of the bins of a spectrum over n samples; its n-th power is 1."""
    return np.exp(-2j * np.pi * index / n)


def _lines(pole: complex, turns: np.ndarray, n: int) -> tuple[np.ndarray, np.ndarray]:
    """Σ_k z^k and its derivative by the pole, Σ_k k·z^k, over k = 0 … n − 1, with z = exp(pole − iω)."""
    z, last = np.exp(pole) * turns, np.exp(pole * n)
    short = 1.0 / (1.0 - z)
    line = (1.0 - last) * short
    return line, (z * line - n * last) * short


def _solve(columns: list[np.ndarray], data: np.ndarray) -> np.ndarray:
    """Real least squares with complex columns and data."""
    design, target = _real(np.array(columns)), _real(data)
    scale = np.sqrt((design**2).sum(axis=1)) + 1e-300
    design /= scale[:, None]
    return np.linalg.solve(design @ design.T + RIDGE * np.eye(len(columns)), design @ target) / scale


def _real(numbers: np.ndarray) -> np.ndarray:
    """Real and imaginary parts, one after the other, along the last axis."""
    return np.concatenate([numbers.real, numbers.imag], axis=-1)


def _estimate(pole: complex, columns: list[np.ndarray], noise_power: float, rate_hz: float) -> ExactPartial:
    design = _real(np.array(columns))
    scale = np.sqrt((design**2).sum(axis=1)) + 1e-300
    design /= scale[:, None]
    cov = np.linalg.pinv(design @ design.T) * (0.5 * noise_power)
    se = np.sqrt(np.maximum(np.diag(cov), 0.0)) / scale
    turn_hz = rate_hz / (2 * np.pi)
    return ExactPartial(pole.imag * turn_hz, -pole.real * rate_hz, float(se[3]) * turn_hz, float(se[2] / -pole.real))

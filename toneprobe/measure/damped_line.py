"""One damped sinusoid, fitted to the bins around it of a spectrum without a window.

Model: x[k] = Re(2a·e^{pk}), p = (2πi·f − δ)/rate, in noise that is white around f. Its spectrum over N samples has the closed form S(ω) =
a·(1 − e^{(p − iω)N})/(1 − e^{p − iω}) and the mirror image, so no window is needed and nothing is lost. The bins around f are fitted by
Gauss–Newton in (f, δ, a) until a step would gain nothing. The best of all steps is kept, so that a fit to something that is no line cannot
run away.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.fft import prev_fast_len, rfft
from scipy.linalg.lapack import dgesv  # what np.linalg.solve does around it takes longer than four equations

from toneprobe.measure.envelope import PluckSignal, noise_around

LINE_WIDTHS = 8.0  # half-widths δ/2π of the line within which bins are fitted
LEAST_BINS = 12  # on each side at least
HELD_WIDTHS = 3.0  # what turns out so wide that fewer half-widths than these lie on each side is not the line that was found there
N_STEPS = 8
HOPELESS_AFTER = 3  # steps after which a fit is given up whose misfit exceeds both of these:
HOPELESS = 50.0  # times the noise
HOPELESS_SHARE = 1e-3  # of the line's own power, which the skirts of other partials may leave
LEAST_GAIN = 1e-3  # a step that lowers χ² by less moves no figure by more than 3 % of its standard error
RIDGE = 1e-12  # columns that cannot be told apart share what they explain
LEAST_LENGTH = 1e-150  # of a column: a shorter one is nothing


@dataclass(frozen=True)
class OpenSpectrum:
    """Spectrum of a pluck without a window, from `skip_s` after the onset."""

    bins: np.ndarray
    n_samples: int
    rate_hz: float


@dataclass(frozen=True)
class Stretch:
    """The bins around one line, wide enough to hold it."""

    index: np.ndarray
    data: np.ndarray
    turns: np.ndarray  # e^{−iω} of each; its n_samples-th power is 1
    n_samples: int
    noise_power: float  # mean |bin|²
    n_noise: float  # independent values that it is the median of
    pole: complex  # where the line was found, per sample


@dataclass(frozen=True)
class DampedLine:
    """A damped sinusoid fitted to a stretch."""

    pole: complex  # per sample
    amplitude: complex
    misfit: float  # mean square over the noise's
    columns: np.ndarray  # derivatives by Re a, Im a, δ and angular frequency per sample; complex, shape (4, bins)

    def standard_errors(self, noise_power: float) -> tuple[float, float]:
        """Of the angular frequency per sample and of ln δ, from the noise or, if greater, the misfit."""
        design = self.columns.view(float)
        scale = np.sqrt((design**2).sum(axis=1)) + 1e-300
        design = design / scale[:, None]
        cov = np.linalg.pinv(design @ design.T) * (0.5 * noise_power * max(self.misfit, 1.0))
        se = np.sqrt(np.maximum(np.diag(cov), 0.0)) / scale
        return float(se[3]), float(se[2] / -self.pole.real)


def open_spectrum(samples: np.ndarray, signal: PluckSignal, *, skip_s: float) -> OpenSpectrum:
    """Transform without a window of the pluck from `skip_s` after its onset. samples: shape (n,), full scale ±1."""
    piece = samples[int((signal.pre_s + skip_s) * signal.rate_hz):]
    n = prev_fast_len(len(piece), real=True)  # a few samples fewer, for a length that the transform likes
    return OpenSpectrum(rfft(piece[:n]), n, signal.rate_hz)


def stretch_around(spectrum: OpenSpectrum, signal: PluckSignal, *, freq_hz: float, delta: float) -> Stretch | None:
    """The bins of a line found at about `freq_hz` with a decay rate of about `delta`; None if too few, or empty."""
    n, df = spectrum.n_samples, spectrum.rate_hz / spectrum.n_samples
    reach = int(max(LINE_WIDTHS * delta / (2 * np.pi) / df, LEAST_BINS))
    centre = int(round(freq_hz / df))
    index = np.arange(max(1, centre - reach), min(len(spectrum.bins), centre + reach + 1))
    data = spectrum.bins[index]
    if len(index) < LEAST_BINS or not data.any():
        return None
    density, n_noise = noise_around(signal, freq_hz)
    pole = complex(-delta, 2 * np.pi * freq_hz) / spectrum.rate_hz
    return Stretch(index, data, np.exp(-2j * np.pi * index / n), n, 0.25 * n * spectrum.rate_hz * density, n_noise, pole)


def fit_line(stretch: Stretch, *, known: DampedLine | None, others: Sequence[DampedLine]) -> DampedLine | None:
    """The damped sinusoid in a stretch less the skirts of `others`, starting from `known` if given. None if nothing like the line found
    there fits, or much is left."""
    data = stretch.data - _skirts(others, stretch.turns, stretch.n_samples) if others else stretch.data
    pole, amplitude = (known.pole, known.amplitude) if known else (stretch.pole, None)
    hopeless = max(HOPELESS, HOPELESS_SHARE * _power(data) / stretch.noise_power)
    best = None
    for step_no in range(N_STEPS):
        (line, mirror), (slope, mirror_slope) = _lines(np.array([[pole], [pole.conjugate()]]), stretch.turns, stretch.n_samples)
        by_parts = np.array([line + mirror, 1j * (line - mirror)])
        if amplitude is None:
            amplitude = complex(*_solve(by_parts, data)[0])
        along, back = amplitude * slope, np.conj(amplitude) * mirror_slope
        columns = np.concatenate([by_parts, [-(along + back), 1j * (along - back)]])
        rest = data - (amplitude.real * by_parts[0] + amplitude.imag * by_parts[1])
        misfit = _power(rest) / stretch.noise_power
        if best is None or misfit < best.misfit:
            best = DampedLine(pole, amplitude, misfit, columns)
        if step_no == HOPELESS_AFTER and best.misfit > hopeless:
            return None
        step, gain = _solve(columns, rest)
        if gain < LEAST_GAIN * stretch.noise_power:
            break
        fall = min(max(-pole.real + step[2], 0.3 * -pole.real), 3.0 * -pole.real)
        pole, amplitude = complex(-fall, pole.imag + step[3]), amplitude + complex(step[0], step[1])
    return best if _is_held(best.pole, stretch) else None


def _is_held(pole: complex, stretch: Stretch) -> bool:
    """Whether a line lies within the stretch, with room for its width on each side."""
    reach = np.pi * len(stretch.index) / stretch.n_samples
    return abs(pole.imag - stretch.pole.imag) <= reach and HELD_WIDTHS * -pole.real <= reach


def _power(bins: np.ndarray) -> float:
    return float(np.vdot(bins, bins).real) / len(bins)


def _skirts(lines: Sequence[DampedLine], turns: np.ndarray, n: int) -> np.ndarray:
    """The spectrum of all lines together."""
    pole, amplitude = (np.array([getattr(line, name) for line in lines]) for name in ("pole", "amplitude"))
    pole, amplitude = np.concatenate([pole, pole.conj()]), np.concatenate([amplitude, amplitude.conj()])
    return (amplitude * (1.0 - np.exp(pole * n))) @ (1.0 / (1.0 - np.exp(pole)[:, None] * turns))


def _lines(pole: np.ndarray, turns: np.ndarray, n: int) -> tuple[np.ndarray, np.ndarray]:
    """Σ_k z^k and its derivative by the pole, Σ_k k·z^k, over k = 0 … n − 1, with z = exp(pole − iω). pole: shape (m, 1)."""
    z, last = np.exp(pole) * turns, np.exp(pole * n)
    short = 1.0 / (1.0 - z)
    line = (1.0 - last) * short
    return line, (z * line - n * last) * short


def _solve(columns: np.ndarray, data: np.ndarray) -> tuple[np.ndarray, float]:
    """Real least squares with complex columns, shape (k, bins), and data; and by how much it lowers the square sum."""
    design, target = columns.view(float), data.view(float)  # real and imaginary parts in turn
    normal, gradient = design @ design.T, design @ target
    scale = 1.0 / (np.sqrt(normal.diagonal()) + LEAST_LENGTH)
    scaled = normal * (scale[:, None] * scale)
    scaled.flat[:: len(scale) + 1] += RIDGE
    step = dgesv(scaled, gradient * scale)[2] * scale
    return step, float(step @ gradient)

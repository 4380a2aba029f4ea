"""Two close modes fitted to a stretch of one partial's envelope, against one.

Model: z(t) = a1·exp(p1·t) + a2·exp(p2·t) + white noise, p = 2πi·f − δ. Estimator: least squares by Gauss–Newton on both poles together,
starting from the two strongest found one after the other and, if one does not explain all, from two of one frequency: one as steep as the
last third, the other as what that leaves of the first third. A step needs only the products of e^{pt} and t·e^{pt} with each other and with
the signal. Modes closer than about one over the stretch are not told apart, unless they decay differently.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg.lapack import zgesv  # what np.linalg.solve does around it takes seven times as long as four equations

from toneprobe.measure.envelope import Envelope
from toneprobe.measure.poles import find_poles

N_STEPS = 12
SHORTER = (1.0, 0.3, 0.1)  # a step that does not help is tried at so much of its length
LEAST_GAIN = 1e-6  # of what is left: a step that gains less is the last
MOST_FALL = 20.0  # natural log: what falls by more before the stretch is not there any more
EXPLAINED = 2.0  # a misfit of less than so many times the noise leaves nothing to explain
LEAST_DELTA = 1e-3  # 1/s: nothing grows
RIDGE = 1e-12
LEAST_REST = 1e-15  # of the energy: less is lost in rounding
LEAST_AMPLITUDE = 1e-30  # less is nothing, and has no ratio
LEAST_SQUARE = 1e-250  # sum of squares of a column that has died away at once


@dataclass(frozen=True)
class TwoModes:
    """Two modes of a stretch, and what one and two of them leave unexplained."""

    poles: np.ndarray  # complex, shape (2,): 2πi·f − δ, 1/s
    amplitudes: np.ndarray  # at the onset
    rest_one: float  # sums of squares
    rest_two: float
    rate_se_hz: float
    ratio_log_se: float  # of ln of the amplitudes' ratio, at the onset
    delta_se: np.ndarray
    start_s: float  # of the stretch, after the onset
    stop_s: float
    n: int  # values in it
    energy: float  # sum of |z|²
    noise_energy: float
    level_rests: tuple[float, float]  # sums of squares that a straight fall and the two modes leave of |z| alone

    @property
    def rate_hz(self) -> float:
        return float(abs(self.poles[0].imag - self.poles[1].imag) / (2 * np.pi))

    @property
    def explain_all(self) -> bool:
        return self.rest_two < EXPLAINED * self.noise_energy


def fit_two_modes(envelope: Envelope, first: int, stop: int) -> TwoModes:
    """One and two modes in the values `first` to `stop` of an envelope, eight at the least."""
    z, rate_hz = envelope.z[first: stop], envelope.rate_hz
    time_s, noise_energy = np.arange(len(z)) / rate_hz, len(z) * envelope.noise_power
    start = find_poles(z, rate_hz=rate_hz, n_poles=2)
    poles = np.array([2j * np.pi * pole.freq_hz - pole.delta for pole in start])
    energy = float(np.vdot(z, z).real)
    rest_one = _fit(z, time_s, poles[:1], energy).rest
    starts = [poles] if rest_one < EXPLAINED * noise_energy else [poles, _bent(z, time_s, poles[0])]
    best = min((_refine(z, time_s, start, energy) for start in starts), key=lambda fit: fit.rest)
    start_s, stop_s = first / rate_hz + envelope.lag_s, stop / rate_hz + envelope.lag_s
    at_onset = np.abs(best.amplitudes) * np.exp(np.minimum(-best.poles.real * start_s, MOST_FALL))
    errors, level_rests = _errors(best, len(z), start_s), _level_rests(z, time_s, best)
    return TwoModes(best.poles, at_onset, rest_one, best.rest, *errors, start_s, stop_s, len(z), energy, noise_energy, level_rests)


def _level_rests(z: np.ndarray, time_s: np.ndarray, both: _Fit) -> tuple[float, float]:
    """What a straight fall and two modes leave of the level, whatever the phase does."""
    level, fall = np.abs(z), np.exp(-_steepness(z, time_s) * time_s)
    of_two = np.abs(both.amplitudes @ np.exp(both.poles[:, None] * time_s))
    straight = fall * float(fall @ level) / float(fall @ fall)
    return float(((level - straight) ** 2).sum()), float(((level - of_two) ** 2).sum())


def _bent(z: np.ndarray, time_s: np.ndarray, pole: complex) -> np.ndarray:
    """Two poles of one frequency to start from: one as steep as the last third, one as what that leaves of the first."""
    third = len(z) // 3
    late = _steepness(z[-third:], time_s[-third:])
    lasting = np.exp((1j * pole.imag - late) * time_s)
    end = slice(-third, None)
    left = z - lasting * np.vdot(lasting[end], z[end]) / max(np.vdot(lasting[end], lasting[end]).real, LEAST_SQUARE)
    return np.array([-max(_steepness(left[:third], time_s[:third]), 1.2 * late), -late]) + 1j * pole.imag


def _steepness(z: np.ndarray, time_s: np.ndarray) -> float:
    """Amplitude decay rate of a stretch, 1/s: a line through its log level, weighted by power."""
    level = np.abs(z) + LEAST_AMPLITUDE
    weight = level**2 / (level**2).sum()
    away = time_s - (weight * time_s).sum()
    return max(-float((weight * away * np.log(level)).sum() / max((weight * away**2).sum(), LEAST_SQUARE)), 0.05)


@dataclass(frozen=True)
class _Fit:
    """The amplitudes of k given poles, what they leave, and all that a step to better ones needs."""

    poles: np.ndarray  # shape (k,)
    amplitudes: np.ndarray  # by least squares
    rest: float  # sum of squares left
    gram: np.ndarray  # shape (2k, 2k): e^{pt}, then t·e^{pt}, with each other …
    against: np.ndarray  # shape (2k,): … and with the signal


def _fit(z: np.ndarray, time_s: np.ndarray, poles: np.ndarray, energy: float) -> _Fit:
    k = len(poles)
    columns = np.empty((2 * k, len(z)), complex)
    np.exp(poles[:, None] * time_s, out=columns[:k])
    np.multiply(columns[:k], time_s, out=columns[k:])
    adjoint = columns.conj()
    gram, against = adjoint @ columns.T, adjoint @ z
    amplitudes = _solve(gram[:k, :k], against[:k])
    return _Fit(poles, amplitudes, max(energy - float(np.vdot(against[:k], amplitudes).real), LEAST_REST * energy), gram, against)


def _solve(gram: np.ndarray, against: np.ndarray) -> np.ndarray:
    """Normal equations; columns that cannot be told apart share what they explain."""
    scale = _scale(gram)
    scaled = gram * (scale[:, None] * scale)
    scaled.flat[:: len(scale) + 1] += RIDGE
    return zgesv(scaled, against * scale)[2] * scale


def _scale(gram: np.ndarray) -> np.ndarray:
    """Scales all columns to one length: beside a loud one a soft one would be lost in rounding."""
    return 1.0 / np.sqrt(np.maximum(gram.diagonal().real, LEAST_SQUARE))


def _gauss_newton(now: _Fit) -> tuple[np.ndarray, np.ndarray]:
    """The step of the poles, and the normal matrix of amplitudes and poles together."""
    k = len(now.poles)
    by = np.concatenate([np.ones(k), now.amplitudes])
    normal = by.conj()[:, None] * now.gram * by
    return _solve(normal, by.conj() * (now.against - now.gram[:, :k] @ now.amplitudes))[k:], normal


def _refine(z: np.ndarray, time_s: np.ndarray, poles: np.ndarray, energy: float) -> _Fit:
    """Gauss–Newton on all poles together, shortening a step that does not help."""
    now = _fit(z, time_s, poles, energy)
    for _ in range(N_STEPS):
        step, _ = _gauss_newton(now)
        for shrink in SHORTER:
            tried = now.poles + shrink * step
            new = _fit(z, time_s, np.minimum(tried.real, -LEAST_DELTA) + 1j * tried.imag, energy)
            if new.rest < now.rest:
                break
        else:
            break
        gain, now = now.rest - new.rest, new
        if gain < LEAST_GAIN * now.rest:
            break
    return now


def _errors(fit: _Fit, n_values: int, start_s: float) -> tuple[float, float, np.ndarray]:
    """Standard errors, from what is left: of the rate in Hz, of ln of the ratio of amplitudes at the onset, of both δ."""
    # E[dθ dθᴴ] of complex parameters: the real part of any g·dθ has half of g·cov·gᴴ, and so has its imaginary part
    normal = _gauss_newton(fit)[1]
    scale = _scale(normal)
    both = scale[:, None] * scale
    cov = 0.5 * np.linalg.pinv(normal * both) * both * (fit.rest / max(n_values - 4, 1))
    a1, a2 = np.where(np.abs(fit.amplitudes) > LEAST_AMPLITUDE, fit.amplitudes, LEAST_AMPLITUDE)
    return (_standard_error(cov, [0.0, 0.0, 1.0, -1.0]) / (2 * np.pi), _standard_error(cov, [1.0 / a1, -1.0 / a2, -start_s, start_s]),
            np.sqrt(np.maximum(cov.diagonal().real[2:], 0.0)))


def _standard_error(cov: np.ndarray, by: list[complex]) -> float:
    """Of the real or the imaginary part of the sum of both amplitudes' and both poles' errors, each times its `by`."""
    g = np.array(by)
    return float(np.sqrt(max((g @ cov @ g.conj()).real, 0.0)))

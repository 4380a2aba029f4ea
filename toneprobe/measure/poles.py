"""Damped exponentials in a complex envelope: frequency, decay rate and amplitude of what rings in a band.

Model: z(t) = Σ a_k·exp((2πi·f_k − δ_k)·t) + white noise. Estimator: the strongest exponential is found on a grid of decay rates by FFT,
refined by Gauss–Newton steps to the least-squares optimum (the maximum of the likelihood in white Gaussian noise, so it reaches the
Cramér–Rao bound) and subtracted; the next is found in the rest. Two exponentials closer than about one over the length come out as one.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.fft import fft, next_fast_len

DECAYS_PER_LENGTH = np.geomspace(0.7, 16.0, 6)  # the grid: δ times the length
N_STEPS = 4


@dataclass(frozen=True)
class Pole:
    """One damped exponential."""

    freq_hz: float  # relative to the envelope's centre
    delta: float  # amplitude decay rate, 1/s
    amplitude: complex
    energy: float  # ∫|a·exp(−δt)|² dt over the stretch analysed


def find_poles(z: np.ndarray, *, rate_hz: float, n_poles: int) -> list[Pole]:
    """Up to `n_poles` exponentials, in the order found (nearly by energy). z: complex, shape (n,), n ≥ 8; else none."""
    if len(z) < 8:
        return []
    time_s = np.arange(len(z)) / rate_hz
    rest, poles = z.astype(complex), []
    for _ in range(n_poles):
        freq_hz, delta = _refined(rest, time_s, *_strongest(rest, rate_hz))
        shape = np.exp((2j * np.pi * freq_hz - delta) * time_s)
        power = np.vdot(shape, shape).real
        amplitude = complex(np.vdot(shape, rest) / power)
        poles.append(Pole(freq_hz, delta, amplitude, abs(amplitude) ** 2 * power / rate_hz))
        rest = rest - amplitude * shape
    return poles


def _strongest(z: np.ndarray, rate_hz: float) -> tuple[float, float]:
    """(f, δ) of the best exponential of the grid of decay rates and FFT frequencies."""
    damping = _dampings(len(z))
    n_fft = next_fast_len(3 * len(z))
    match = np.abs(fft(z * damping, n_fft, axis=1))
    i, j = np.unravel_index(int(match.argmax()), match.shape)
    return (j if j < n_fft // 2 else j - n_fft) * rate_hz / n_fft, float(DECAYS_PER_LENGTH[i] * rate_hz / len(z))


@lru_cache(maxsize=8)
def _dampings(n: int) -> np.ndarray:
    """The decays of the grid over n values, each of energy 1, shape (decays, n)."""
    damping = np.exp(-DECAYS_PER_LENGTH[:, None] * np.arange(n) / n)
    damping /= np.sqrt((damping**2).sum(axis=1))[:, None]
    damping.flags.writeable = False
    return damping


def _refined(z: np.ndarray, time_s: np.ndarray, freq_hz: float, delta: float) -> tuple[float, float]:
    """Gauss–Newton on (f, δ): z ≈ c0·m + c1·t·m with m the present exponential; c1/c0 = −Δδ + 2πi·Δf."""
    longest_step_hz = 1.0 / time_s[-1]
    for _ in range(N_STEPS):
        m = np.exp((2j * np.pi * freq_hz - delta) * time_s)
        tm = time_s * m
        a11, a12, a22 = np.vdot(m, m).real, np.vdot(m, tm).real, np.vdot(tm, tm).real
        b1, b2 = np.vdot(m, z), np.vdot(tm, z)
        c0, c1 = b1 * a22 - b2 * a12, b2 * a11 - b1 * a12
        if c0 == 0:
            break
        step = c1 / c0
        delta += min(max(-float(step.real), -0.5 * delta), delta)
        freq_hz += min(max(float(step.imag) / (2 * np.pi), -longest_step_hz), longest_step_hz)
    return freq_hz, delta

"""Sounds that fall into a sweep: a clock's ticks, coughs, a creaking chair, knocks on wood. Made up here, from memory of such sounds.

Each function gives one of them, shape (n,), peak 1, for a seed.
"""

from collections.abc import Callable

import numpy as np
from scipy.signal import butter, sosfilt

RATE_HZ = 44100


def _rung(time_s: np.ndarray, modes: list[tuple[float, float, float]]) -> np.ndarray:
    """Damped resonances: (Hz, quality, amplitude)."""
    return sum(level * np.exp(-np.pi * hz / quality * time_s) * np.sin(2 * np.pi * hz * time_s) for hz, quality, level in modes)


def _levelled(sound: np.ndarray) -> np.ndarray:
    return sound / np.abs(sound).max()


def tick(seed: int, rate_hz: float = RATE_HZ) -> np.ndarray:
    rng, time_s = np.random.default_rng([seed, 1]), np.arange(int(0.06 * rate_hz)) / rate_hz
    case = [(hz * rng.uniform(0.9, 1.1), 14.0, level) for hz, level in ((900.0, 0.4), (2600.0, 1.0), (4400.0, 0.5))]
    return _levelled(_rung(time_s, case) + 0.3 * rng.normal(size=len(time_s)) * np.exp(-time_s / 0.001))


def cough(seed: int, rate_hz: float = RATE_HZ) -> np.ndarray:
    rng, time_s = np.random.default_rng([seed, 2]), np.arange(int(0.4 * rate_hz)) / rate_hz
    breath = sosfilt(butter(2, [250.0, 3800.0], "band", fs=rate_hz, output="sos"), rng.normal(size=len(time_s)))
    return _levelled(breath * (np.exp(-time_s / 0.035) + 0.4 * np.exp(-(((time_s - 0.22) / 0.06) ** 2))))


def creak(seed: int, rate_hz: float = RATE_HZ) -> np.ndarray:
    """Slips, ever closer or farther apart, through the chair's wood."""
    rng = np.random.default_rng([seed, 3])
    out, now_s, step_s = np.zeros(int(0.7 * rate_hz)), 0.0, rng.uniform(0.008, 0.03)
    slip_s = np.arange(int(0.05 * rate_hz)) / rate_hz
    slip = _rung(slip_s, [(rng.uniform(250.0, 500.0), 12.0, 1.0), (rng.uniform(700.0, 1300.0), 15.0, 0.8)])
    change = rng.uniform(0.96, 1.04)
    while now_s < 0.5:
        first = int(now_s * rate_hz)
        out[first: first + len(slip)] += rng.uniform(0.5, 1.0) * slip
        step_s = max(0.004, step_s * change)
        now_s += step_s
    return _levelled(out)


def wood(seed: int, rate_hz: float = RATE_HZ) -> np.ndarray:
    """Something set down on a floor or a table."""
    rng, time_s = np.random.default_rng([seed, 4]), np.arange(int(0.5 * rate_hz)) / rate_hz
    return _levelled(_rung(time_s, [(rng.uniform(low, 1.5 * low), quality, rng.uniform(0.3, 1.0)) for low, quality in
                                    ((55.0, 6.0), (110.0, 9.0), (190.0, 12.0), (350.0, 15.0), (900.0, 20.0))]))


def added(sound: np.ndarray, make: Callable[..., np.ndarray], at_s: np.ndarray | list[float] | tuple[float, ...], *, peak: float,
          rate_hz: float = RATE_HZ) -> np.ndarray:
    """A copy of `sound` with one of them at each time, each of its own seed, of that peak."""
    out = np.array(sound, float)
    for seed, one_s in enumerate(at_s):
        first, knock = int(one_s * rate_hz), peak * make(seed, rate_hz)
        out[first: first + len(knock)] += knock[: max(0, len(out) - first)]
    return out

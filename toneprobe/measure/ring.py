"""How long a pluck can be measured: until the hand damps it, the next pluck comes, or it sinks into the noise.

The string's own low partials tell, summed: what else rings in the harp does not count. Damping shows as a fall far steeper than
the fall just before it.
"""

from __future__ import annotations

import numpy as np

from toneprobe.measure.envelope import PluckSignal, band, smooth_power
from toneprobe.measure.series import Series

N_LISTENED = 6
GRID_S = 0.02
SHORTEST_S = 0.02  # nothing can be told of less
STEP_S = 0.16  # damping takes place within about this
LEAST_DROP_DB = 12.0
TIMES_STEEPER = 4.0
AFTER = 25  # grid points for which a damped string must stay down; a beat comes back


def ring_end_s(signal: PluckSignal, guess: Series) -> float:
    """Seconds from the onset until the pluck is damped or gone."""
    if signal.length_s < SHORTEST_S:
        return max(signal.length_s, 0.0)
    level_db, noise_db = _level(signal, guess)
    if len(level_db) < 8:
        return signal.length_s
    heard = np.flatnonzero(level_db > noise_db + 3.0)
    gone_s = (heard[-1] + 1) * GRID_S if len(heard) else GRID_S
    return float(min(signal.length_s, gone_s, _damped_s(level_db)))


def _level(signal: PluckSignal, guess: Series) -> tuple[np.ndarray, float]:
    grid_s = np.arange(0.0, signal.length_s, GRID_S)
    total, noise = np.zeros(len(grid_s)), 0.0
    for n in range(1, N_LISTENED + 1):
        centre_hz = float(guess.partial_hz(n))
        if centre_hz * 1.1 > 0.48 * signal.rate_hz:
            break
        narrow = band(signal, centre_hz, max(0.04 * centre_hz, 0.2 * guess.f1_hz))
        total = total + np.interp(grid_s, narrow.time_s, smooth_power(narrow, max(0.03, 2.0 / guess.f1_hz)))
        noise += narrow.noise_power
    return 10 * np.log10(np.maximum(total, 1e-30)), float(10 * np.log10(noise + 1e-30))


def _damped_s(level_db: np.ndarray) -> float:
    step = int(STEP_S / GRID_S)
    before = 2 * step
    for i in range(before, len(level_db) - step - 1):
        drop = level_db[i] - level_db[i + step]
        usual = max(0.5, (level_db[i - before] - level_db[i]) / 2.0)
        later = level_db[i + step: i + step + AFTER]
        if drop > LEAST_DROP_DB and drop > TIMES_STEEPER * usual and later.max() < level_db[i] - 0.8 * LEAST_DROP_DB:
            return max(i * GRID_S - 0.02, 4 * GRID_S)
    return np.inf

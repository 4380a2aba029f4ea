"""How long a pluck can be measured: until it is damped by hand, the next pluck comes, or it sinks into the noise.

Only the string's own low partials count, summed. Damping shows as a fall far steeper than the one just before it. Soon after the onset
little fall lies before, and two polarisations may hold the level and let it go. Such a fall goes on, that of a stopped string does not,
unless a room dies away after it. So an early fall must be greater, and either end at once or be faster than any string's. A narrow band's
noise rises above its mean by chance again and again, so the ring ends where it is no longer heard for most of the time.

Not seen: a hand within the first EARLIEST_S, or nearly so early on a high string in a reverberant room. Where the next pluck comes too soon
to hear whether the string stays down, a beat's dip passes for a hand. That costs part of the last 0.2 s (2 of 96 real plucks cut after a
second), while a hand taken for a beat made a healthy string waver.
"""

import numpy as np

from toneprobe.measure.envelope import TOP_SHARE, PluckSignal, band, heard_until, smooth_power
from toneprobe.measure.series import Series

N_LISTENED = 6
REACH_SHARE = 1.1  # of a partial's frequency that the recording must carry
BAND_SHARE = 0.04  # of a partial's frequency: half the width of the band in which it is listened to
LEAST_BAND_SHARE = 0.2  # of the pitch: that half-width at least
GRID_S = 0.02
EARLIEST_S = 0.08
BEFORE_S = 0.32  # the fall before is that of so long, or of what there is since the onset
STEP_S = 0.16  # damping takes place within about this
OVER_NOISE_DB = 3.0
LEAST_DROP_DB = 12.0
LEAST_EARLY_DROP_DB = 20.0  # the same before BEFORE_S, if the fall then stops (GOES_ON) or is steeper than a string's (LEAST_Q)
GOES_ON = 0.5  # of the drop: a fall that goes on by more in the next step has not stopped
LEAST_Q = 60.0  # cycles in which a string loses its energy at the least (harp strings: some 200 and more, T60·f1·π/ln 1000)
TIMES_STEEPER = 4.0
AFTER = 25  # grid points for which a damped string must stay down; a beat comes back


def ring_end_s(signal: PluckSignal, guess: Series) -> float:
    """Seconds from the onset until the pluck is damped or gone."""
    level_db, noise_db = _level(signal, guess)
    if len(level_db) < 8:
        return signal.length_s
    gone_s = max(heard_until(level_db > noise_db + OVER_NOISE_DB), 1) * GRID_S
    return float(min(signal.length_s, gone_s, _damped_s(level_db, guess.f1_hz)))


def _level(signal: PluckSignal, guess: Series) -> tuple[np.ndarray, float]:
    grid_s = np.arange(0.0, signal.length_s, GRID_S)
    total, noise = np.zeros(len(grid_s)), 0.0
    for n in range(1, N_LISTENED + 1):
        centre_hz = float(guess.partial_hz(n))
        if centre_hz * REACH_SHARE > TOP_SHARE * signal.rate_hz:
            break
        narrow = band(signal, centre_hz, max(BAND_SHARE * centre_hz, LEAST_BAND_SHARE * guess.f1_hz))
        total = total + np.interp(grid_s, narrow.time_s, smooth_power(narrow, max(0.03, 2.0 / guess.f1_hz)))
        noise += narrow.noise_power
    return 10 * np.log10(np.maximum(total, 1e-30)), float(10 * np.log10(noise + 1e-30))


def _damped_s(level_db: np.ndarray, f1_hz: float) -> float:
    most_early_db = 20.0 * np.log10(np.e) * np.pi * f1_hz * STEP_S / LEAST_Q
    step, most, least = (round(span_s / GRID_S) for span_s in (STEP_S, BEFORE_S, EARLIEST_S))
    last = len(level_db) - 1  # the hand may fall just before the next pluck
    for i in range(least, last):
        before, stop = min(i, most), min(i + step, last)
        drop = level_db[i] - level_db[stop]
        usual = max(0.5, (level_db[i - before] - level_db[i]) * (stop - i) / before)
        later = level_db[stop: stop + AFTER]
        goes_on = level_db[stop] - later[:step + 1][-1] > GOES_ON * drop
        if i < most and (drop < LEAST_EARLY_DROP_DB or goes_on and drop < most_early_db):
            continue
        if drop > LEAST_DROP_DB and drop > TIMES_STEEPER * usual and later.max() < level_db[i] - 0.8 * LEAST_DROP_DB:
            return max(i * GRID_S - 0.02, EARLIEST_S)
    return np.inf

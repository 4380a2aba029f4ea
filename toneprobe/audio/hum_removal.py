"""Mains hum removed: one comb of lines through the whole recording, whose common clock is followed and whose lines are subtracted.

Model: hum(t) = Re Σ c_k·exp(i·k·(2π·f·t + φ(t))), c_k constant, φ one slow phase for all lines, the grid's; its rate does a random walk
(the grid keeps within some hundredths of a hertz over minutes). Estimator: each line's complex amplitude in blocks of a second. Where
nothing else sounds the c_k are seen bare; from there φ is followed both ways by a Kalman filter and smoothed (Rauch–Tung–Striebel, AIAA
Journal 3 (1965) 1445). A string on a line spoils that line for a while: a line counts less in a block, the farther it lies from what is
expected, so that the others carry the clock.
Hum that changes its strength is not followed. What was recorded stays available, since only that shows whether the recorder was overdriven
(`Recording.read_as_recorded`).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from toneprobe.audio.band import HEARD_SHARE
from toneprobe.audio.recording import Recording
from toneprobe.exponentials import exponentials

Read = Callable[[int, int], np.ndarray]  # (first sample, stop) → samples
BLOCK_S, HOP_S = 1.0, 0.5
N_LINES_TAKEN_OUT = 80  # a lamp's buzz reaches beyond 2 kHz, where a top string's zones are wider than its lines lie apart
N_AT_ONCE = 32  # blocks
QUIET = 2.0  # blocks with up to so many times the power of the quietest are quiet
QUIETEST = 0.05  # quantile
LEAST_QUIET = 3  # blocks in a row
LEAST_RATIO = 6.0  # of a line's power over its scatter in the quiet blocks
STEADY = 0.5  # a line of hum stays within this share of its level in STEADY_SHARE of all blocks
STEADY_SHARE = 0.25  # of all blocks; a string that sounds on the line does so only for a while
DRIFT_HZ = 0.004  # random walk of the mains frequency within a second
N_ROUNDS = 3
LEAST_POWER = 1e-20  # of a line's scatter
FIRST_TURN, FIRST_OFF_HZ = 0.3, 0.02  # errors of the clock in the block that it is followed from
MOST_TURN = 0.7  # rad: a line whose phase is less sure beforehand does not count


@dataclass(frozen=True)
class HumTrack:
    """The hum of one recording."""

    mains_hz: float
    time_s: np.ndarray  # (T,)
    phase: np.ndarray  # (T,), rad, of the first line beyond 2π·mains·t
    lines: np.ndarray  # complex, (N_LINES_TAKEN_OUT + 1,): amplitude of each multiple, 0 where it is not heard

    def at(self, time_s: np.ndarray) -> np.ndarray:
        """The hum's samples at these times."""
        turn = np.exp(1j * (2 * np.pi * self.mains_hz * time_s + np.interp(time_s, self.time_s, self.phase))).astype(np.complex64)
        hum = np.zeros(len(time_s), np.complex64)
        for strength in self.lines[: np.flatnonzero(self.lines)[-1] + 1][::-1].astype(np.complex64):
            hum *= turn
            hum += strength
        return hum.real


def without_hum(recording: Recording) -> Recording:
    """The recording with its hum taken out of what is read, if it has one that can be followed. Its quality stays."""
    if recording.quality.hum_hz is None:
        return recording
    hum = track_hum(recording.read_as_recorded, recording.n_samples, recording.rate_hz, recording.quality.hum_hz)
    return recording if hum is None else replace(recording, hum=hum)


def track_hum(read: Read, n_samples: int, rate_hz: int, mains_hz: float) -> HumTrack | None:
    """Follow the hum near `mains_hz` (50 or 60). None where the recording is too short or never quiet, or no steady line stands out."""
    if n_samples < (BLOCK_S + LEAST_QUIET * HOP_S) * rate_hz:
        return None
    z, power, _ = _blocks(read, n_samples, rate_hz, mains_hz)
    first, stop = _quiet_run(power)
    if stop - first < LEAST_QUIET:
        return None
    mains_hz += _off_hz(z[first:stop])
    z, _, centre_s = _blocks(read, n_samples, rate_hz, mains_hz)
    lines = z[first:stop].mean(axis=0)
    noise = np.mean(np.abs(z[first:stop] - lines) ** 2, axis=0) + LEAST_POWER
    k = np.flatnonzero(np.abs(lines) ** 2 > LEAST_RATIO * noise)
    if not len(k):
        return None
    z, lines, noise = z[:, k], lines[k], noise[k]
    for _ in range(N_ROUNDS):
        phase = _follow(z, lines, noise, k + 1, (first + stop) // 2)
        level = z * np.exp(-1j * (k + 1) * phase[:, np.newaxis])
        for _ in range(N_ROUNDS):
            weight = 1.0 / (noise + np.abs(level - lines) ** 2)
            lines = (weight * level).sum(axis=0) / weight.sum(axis=0)
    steady = np.mean(np.abs(level - lines) < STEADY * np.abs(lines), axis=0) >= STEADY_SHARE
    if not steady.any():
        return None
    comb = np.zeros(N_LINES_TAKEN_OUT + 1, complex)
    comb[k[steady] + 1] = lines[steady]
    return HumTrack(mains_hz, centre_s, phase, comb)


def _blocks(read: Read, n_samples: int, rate_hz: int, mains_hz: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(complex amplitudes (T, K), power (T,), centres in s) of blocks HOP_S apart."""
    size, hop = round(BLOCK_S * rate_hz), round(HOP_S * rate_hz)
    n_lines = min(N_LINES_TAKEN_OUT, int(HEARD_SHARE * rate_hz / mains_hz))
    k = np.arange(1, n_lines + 1)
    window = np.hanning(size)
    window /= window.sum()
    waves = exponentials(-2j * np.pi * mains_hz * k, size, step_s=1.0 / rate_hz) * (2.0 * window)
    table = np.concatenate([waves.real, waves.imag]).T
    starts = np.arange(0, n_samples - size + 1, hop)
    rows, powers = [], []
    for i in range(0, len(starts), N_AT_ONCE):
        some = starts[i: i + N_AT_ONCE]
        samples = read(int(some[0]), int(some[-1]) + size)
        frames = np.lib.stride_tricks.sliding_window_view(samples, size)[::hop]
        both = frames @ table
        rows.append(both[:, :n_lines] + 1j * both[:, n_lines:])
        powers.append(frames**2 @ window - 0.5 * (both**2).sum(axis=1))  # both under the window: noise beside a strong line cancels
    z = np.concatenate(rows) * np.exp(-2j * np.pi * mains_hz / rate_hz * np.outer(starts, k))
    return z, np.concatenate(powers), (starts + 0.5 * size) / rate_hz


def _quiet_run(power: np.ndarray) -> tuple[int, int]:
    """The longest run of quiet blocks."""
    sounding = power[power > 0]
    if not len(sounding):
        return 0, 0
    quiet = (power > 0) & (power <= QUIET * np.quantile(sounding, QUIETEST))
    edges = np.flatnonzero(np.diff(np.concatenate([[0], quiet.astype(int), [0]]))).reshape(-1, 2)
    return tuple(edges[np.argmax(edges[:, 1] - edges[:, 0])]) if len(edges) else (0, 0)


def _off_hz(z: np.ndarray) -> float:
    """How far the mains lies from where it was looked for, by the turn of the lines between quiet blocks; low lines first, then all."""
    step = (z[1:] * z[:-1].conj()).sum(axis=0)
    k = np.arange(1, z.shape[1] + 1)
    off = 0.0
    for most in (2, 4, 8, z.shape[1]):
        use = k <= most
        left = np.angle(step[use] * np.exp(-1j * k[use] * off)) / k[use]
        weight = np.abs(step[use]) * k[use] ** 2
        off += float((weight * left).sum() / weight.sum())
    return off / (2 * np.pi * HOP_S)


def _follow(z: np.ndarray, lines: np.ndarray, noise: np.ndarray, k: np.ndarray, middle: int) -> np.ndarray:
    """Phase in every block, from the quiet middle both ways."""
    back = _smoothed(z[middle::-1].conj(), lines.conj(), noise, k)
    return np.concatenate([-back[:0:-1], _smoothed(z[middle:], lines, noise, k)])


def _smoothed(z: np.ndarray, lines: np.ndarray, noise: np.ndarray, k: np.ndarray) -> np.ndarray:
    """Phase of the first line in every block, from the first on. z: (T, K); lines, noise and their numbers k: (K,). State: phase and its
    rate; each line whose cycle is certain measures the phase by the angle between seen and expected."""
    step = np.array([[1.0, HOP_S], [0.0, 1.0]])
    q = (2 * np.pi * DRIFT_HZ) ** 2
    walk = q * np.array([[HOP_S**3 / 3, HOP_S**2 / 2], [HOP_S**2 / 2, HOP_S]])
    state, cov = np.zeros(2), np.diag([FIRST_TURN**2, (2 * np.pi * FIRST_OFF_HZ) ** 2])
    ahead, after = [], []
    for row in z:
        ahead.append((state, cov))
        sure = k * np.sqrt(cov[0, 0]) < MOST_TURN
        if sure.any():
            seen = row[sure] * np.exp(-1j * k[sure] * state[0])
            astray = np.abs(seen - lines[sure]) ** 2
            expected = np.abs(lines[sure]) ** 2 * np.minimum(k[sure] ** 2 * cov[0, 0], 1.0)
            variance = (noise[sure] + np.maximum(astray - expected, 0.0)) / (2.0 * k[sure] ** 2 * np.abs(lines[sure]) ** 2)
            off = np.imag(seen * lines[sure].conj()) / (np.abs(lines[sure]) ** 2 * k[sure])
            precision = (1.0 / variance).sum()
            error = float((off / variance).sum() / precision)
            gain = cov[:, 0] / (cov[0, 0] + 1.0 / precision)
            state = state + gain * error
            cov = cov - np.outer(gain, cov[0])
        after.append((state, cov))
        state, cov = step @ state, step @ cov @ step.T + walk
    states = [after[-1][0]]
    for i in range(len(after) - 2, -1, -1):
        back = after[i][1] @ step.T @ np.linalg.inv(ahead[i + 1][1])
        states.append(after[i][0] + back @ (states[-1] - ahead[i + 1][0]))
    return np.array([state[0] for state in states[::-1]])

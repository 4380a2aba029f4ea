"""Ripple that all partials of a string share: the swelling and fading of a tone that wavers.

Two polarisations and the answering neighbours make single partials beat, each at a rate and depth of its own; a healthy harp is full of
such beats, and they change with every pluck. What makes a *string* waver is in all its partials at once: at one rate (an uneven string or
a loose end swings as a whole), or at rates that rise with the partial's frequency (its two polarisations lie so many cents apart). So the
level curves of the partials are laid over one another, in phase from the onset on, and what does not agree between them averages out.

Model: L_n(t) = slow curve + Re[c_n(r)·exp(2πi·r·t)] dB. Estimator: c_n(r) by least squares after a parabola in t is taken off; the shared
ripple C(r) is the mean of c_n(r), each cut at `CUT_DB` and weighed by how quiet that partial's level curve is otherwise. Depth is 2·|C|, dB
peak to peak. It cannot see ripple slower than about one and a half swings in the time that the partials ring.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from toneprobe.measure.envelope import Envelope, smooth_power

RATES_HZ = tuple(np.geomspace(0.8, 12.0, 36).tolist())  # one rate for all partials
SPLITS_CENTS = tuple(np.geomspace(1.5, 16.0, 24).tolist())  # or so many cents of each partial's own frequency
LEAST_PARTIALS = 4
LEAST_SHARE = 0.6  # of the partials heard: what the few longest or highest share is not shared by the string
MOST_PARTIALS = 14
RANGE_DB = 24.0
NOISE_DB = 8.0  # a level curve ends so far above its noise
LONGEST_S = 4.0
LEAST_SWINGS = 1.6
FASTEST_SHARE = 0.3  # of an envelope's sample rate
CLIP_DB = 6.0
CUT_DB = 2.0
QUIET_DB = 0.4


def shared_ripple(numbers: Sequence[int], bands: Sequence[Envelope]) -> tuple[float | None, ...]:
    """Depth in dB peak to peak at RATES_HZ, then at SPLITS_CENTS; None where fewer than LEAST_PARTIALS ring long enough to tell.

    bands: the partials' envelopes, in the order of their numbers.
    """
    rows = [row for n, one in zip(numbers, bands, strict=True) if n <= MOST_PARTIALS and (row := _partial_ripple(one)) is not None]
    n_grid = len(RATES_HZ) + len(SPLITS_CENTS)
    if len(rows) < LEAST_PARTIALS:
        return (None,) * n_grid
    amplitude, quiet = np.array([row for row, _ in rows]), np.array([spread for _, spread in rows])
    known = np.isfinite(amplitude)
    size = np.where(known, np.abs(amplitude), 1.0)
    cut = np.where(known, amplitude * np.minimum(1.0, CUT_DB / np.maximum(size, 1e-9)), 0.0)
    weight = known / (quiet[:, None] ** 2 + QUIET_DB**2)
    total = np.maximum(weight.sum(axis=0), 1e-9)
    all_weights = float((1.0 / (quiet**2 + QUIET_DB**2)).sum())
    enough = (total**2 / np.maximum((weight**2).sum(axis=0), 1e-9) >= LEAST_PARTIALS) & (total >= LEAST_SHARE * all_weights)
    shared = (weight * cut).sum(axis=0) / total
    variance = (weight**2 * np.abs(cut - shared) ** 2).sum(axis=0) / total**2
    depth = 2.0 * np.sqrt(np.maximum(np.abs(shared) ** 2 - variance, 0.0))
    return tuple(float(d) if ok else None for d, ok in zip(depth, enough, strict=True))


def _partial_ripple(envelope: Envelope) -> tuple[np.ndarray, float] | None:
    """Complex amplitudes in dB at all rates of the grid, NaN where they cannot be told, and the rms of the level curve, dB."""
    smooth = smooth_power(envelope, 2.0 / envelope.rate_hz)
    first = int(max(0.015, envelope.settle_s) * envelope.rate_hz)
    power = smooth[first : first + int(LONGEST_S * envelope.rate_hz)]
    if len(power) < 16:
        return None
    least = max(power[: max(4, len(power) // 2)].max() * 10 ** (-RANGE_DB / 10), envelope.noise_power * 10 ** (NOISE_DB / 10))
    heard = np.flatnonzero(power > least)
    if len(heard) < 12 or heard[-1] < 15:
        return None
    level_db = 10.0 * np.log10(np.maximum(power[: heard[-1] + 1], 0.1 * least))
    time_s = (np.arange(len(level_db)) + first) / envelope.rate_hz
    slow = np.linalg.qr(np.vander(np.linspace(-1.0, 1.0, len(level_db)), 3))[0]
    swing = np.clip(level_db - slow @ (slow.T @ level_db), -CLIP_DB, CLIP_DB)
    rates_hz = np.concatenate([RATES_HZ, envelope.centre_hz * (2.0 ** (np.array(SPLITS_CENTS) / 1200.0) - 1.0)])
    turns = np.exp(2j * np.pi * time_s[:, None] * rates_hz)
    turns = turns - slow @ (slow.T @ turns)
    amplitude = 2.0 * (np.conj(turns).T @ swing) / np.sum(np.abs(turns) ** 2, axis=0)
    told = (rates_hz * (time_s[-1] - time_s[0]) >= LEAST_SWINGS) & (rates_hz <= FASTEST_SHARE * envelope.rate_hz)
    return np.where(told, amplitude, np.nan), float(np.std(swing))

"""Other sounds while a string rings (a clock's tick, a cough, a page): what they cover of a partial is bridged.

When something else sounded is known from the onsets that are no plucks (`identify`). Its level in a partial's band, and how long it lasts,
are read half-way to the neighbouring partials, where the string is silent and a knock stands out of what was there just before. Where that
comes near the partial's own level, the envelope is bridged: log level along a straight line, phase by the turns that its speed on both
sides predicts. One damped mode does just that. Two that beat nearly do, since a knock is short against a slow beat; a fast beat is damaged
only there.

Not seen: a knock in the first tenth of a second, which belongs to the onset, or a sound that swells too softly to have one.
"""

from dataclasses import replace

import numpy as np

from toneprobe.measure.envelope import Envelope, PluckSignal, band, smooth_power

SIDE_SHARE = 0.15  # half-width of the bands between the partials, as a share of f1
BEFORE_S = 0.4  # what was there just before
SWELL_S = 0.12  # a sound may have begun so long before its onset is noticed
BREAK_S = 0.12  # pauses no longer than this do not end it
LONGEST_S = 0.8  # it goes on at most
STANDS_OUT = 10.0  # power over the usual just before
MATTERS = 10.0 ** (-25.0 / 10.0)  # of the partial's own power: half a dB at most
OWN_S = 0.5  # its own power is the mean over so long, for it may beat
EARLIEST_S = 0.1
LEAST_SAMPLES = 3


def without_knocks(envelope: Envelope, signal: PluckSignal, *, half_hz: float, f1_hz: float) -> Envelope:
    """A partial's envelope with the knocks bridged, or cut before one that lasts to the end. `half_hz`: half-width of its band."""
    if not signal.knocks_s:
        return envelope
    foreign, settle_s = _between(envelope, signal, half_hz=half_hz, f1_hz=f1_hz)
    own = smooth_power(envelope, OWN_S)
    covered = np.zeros(len(own), bool)
    for knock_s in signal.knocks_s:
        covered |= _covered(foreign, own, envelope, knock_s=knock_s, settle_s=settle_s)
    return _bridged(envelope, covered) if covered.any() else envelope


def _between(envelope: Envelope, signal: PluckSignal, *, half_hz: float, f1_hz: float) -> tuple[np.ndarray, float]:
    """Power that sounds beside the partial put into its band, at the envelope's times, and how long those side bands smear. The lower one
    is always there."""
    side_hz = min(half_hz, SIDE_SHARE * f1_hz)
    sides = [band(signal, envelope.centre_hz + sign * 0.5 * f1_hz, side_hz) for sign in (-1.0, 1.0)
             if side_hz < envelope.centre_hz + sign * 0.5 * f1_hz < 0.5 * signal.rate_hz - side_hz]
    power = [np.interp(envelope.time_s, one.time_s, smooth_power(one, one.settle_s)) for one in sides]
    return np.mean(power, axis=0) * half_hz / side_hz, sides[0].settle_s


def _covered(foreign: np.ndarray, own: np.ndarray, envelope: Envelope, *, knock_s: float, settle_s: float) -> np.ndarray:
    """Where one knock covers the partial, the band's own smearing included."""
    time_s, covered = envelope.time_s, np.zeros(len(own), bool)
    start_s = knock_s - SWELL_S - settle_s
    before = (time_s > max(start_s - BEFORE_S, envelope.settle_s)) & (time_s < start_s)
    near = np.flatnonzero((time_s > max(start_s, EARLIEST_S)) & (time_s < knock_s + LONGEST_S))
    if not before.any() or not len(near):
        return covered
    loud = near[(foreign[near] > STANDS_OUT * np.median(foreign[before])) & (foreign[near] > MATTERS * own[near])]
    pauses = np.flatnonzero(np.diff(time_s[loud], prepend=knock_s) > BREAK_S + settle_s)
    loud = loud[: pauses[0]] if len(pauses) else loud
    if len(loud):
        reach = int(np.ceil(envelope.settle_s * envelope.rate_hz))
        covered[max(loud[0] - reach, 0): loud[-1] + reach + 1] = True
    return covered


def _bridged(envelope: Envelope, covered: np.ndarray) -> Envelope:
    z = envelope.z.copy()
    edges = np.flatnonzero(np.diff(np.concatenate([[0], covered.astype(int), [0]])))
    m = max(LEAST_SAMPLES, int(np.ceil(envelope.settle_s * envelope.rate_hz)))
    for first, stop in zip(edges[::2], edges[1::2], strict=True):
        if first < m:
            continue  # nothing before it to go on from
        if stop + m > len(z):
            return replace(envelope, z=z[:first])
        z[first:stop] = _lead_over(z[first - m: first], z[stop: stop + m], stop - first)
    return replace(envelope, z=z)


def _lead_over(before: np.ndarray, after: np.ndarray, n: int) -> np.ndarray:
    """n values between two stretches of equal length, from the middle of one to the middle of the other."""
    m = len(before)
    speed = np.angle(sum((part[1:] * np.conj(part[:-1])).sum() for part in (before, after)))  # rad per value
    ends = [_middle(part, speed) for part in (before, after)]
    steps = m + n  # from middle to middle
    turn = float(np.angle(ends[1] * np.conj(ends[0]) * np.exp(-1j * speed * steps))) + speed * steps
    share = (0.5 * (m - 1) + 1.0 + np.arange(n)) / steps
    level = [np.log(np.maximum(np.sqrt((np.abs(part) ** 2).mean()), 1e-30)) for part in (before, after)]
    return np.exp((1.0 - share) * level[0] + share * level[1] + 1j * (np.angle(ends[0]) + share * turn))


def _middle(part: np.ndarray, speed: float) -> complex:
    """Mean of a stretch, turned to its middle."""
    return complex((part * np.exp(-1j * speed * (np.arange(len(part)) - 0.5 * (len(part) - 1)))).mean())

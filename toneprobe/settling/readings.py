"""Pitch as found and as left, and how far a string drifted between one check and the next.

A check reads the pitch as found, before the tuning pin is touched, and as left, after. Between two checks the string drifts by
found − left, in cents: negative is falling. Over several checks the retunings in between are taken out. Pitches are in Hz and compared
with each other, so that neither the A nor the open tuning matters; checks in different pedal or lever positions are not compared.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from toneprobe.measure.figure import Figure
from toneprobe.units import CENTS, cents_between

LEAST_SE_CENTS = 0.1  # no reading is better than this, whatever it says of itself (set here)
UNSTATED_SE_CENTS = 1.0  # a reading without an error
MATCH_H = 3.0  # readings so close in time belong to one check
MATCH_SHARE = 0.25  # of the interval, beyond which they do not


@dataclass(frozen=True)
class PitchReading:
    """One string at one check. A sweep without retuning gives `found_hz` only; a string just put on gives `left_hz` only."""

    string: str
    note: str  # as tuned, "Cb4"
    at: datetime  # the player's clock, no time zone
    found_hz: Figure | None = None  # before the tuning pin is touched
    left_hz: Figure | None = None  # after; None: the pin was not touched
    fitting_id: int | None = None
    sweep_id: int | None = None
    id: int | None = None  # set by the book


@dataclass(frozen=True)
class Drifts:
    """Drift over each of some spans, with what is needed for its errors."""

    cents: np.ndarray  # (n,); NaN where the string was not read at both ends
    weights: np.ndarray  # (n, m): which of the m single readings enters each drift, and with which sign
    variances: np.ndarray  # (m,) cents² of the single readings

    def covariance(self) -> np.ndarray:
        """(n, n) cents²: a reading at the end of one span and the start of the next enters both."""
        return (self.weights * self.variances) @ self.weights.T


Span = tuple[datetime, datetime]


def in_order(readings: Sequence[PitchReading]) -> tuple[PitchReading, ...]:
    """The readings in which anything was heard, first to last."""
    return tuple(sorted((r for r in readings if known(r.found_hz) or known(r.left_hz)), key=lambda r: r.at))


def own_spans(readings: Sequence[PitchReading]) -> tuple[Span, ...]:
    """From each check to the next, where the string was heard as found at the end, in the same position."""
    checks = in_order(readings)
    return tuple((a.at, b.at) for a, b in zip(checks, checks[1:], strict=False) if b.at > a.at and known(b.found_hz) and a.note == b.note)


def retunings(readings: Sequence[PitchReading]) -> tuple[tuple[datetime, float], ...]:
    """When the pin was turned, and by how many cents up (positive) or down. A pitch as left alone counts from the check before: how far
    the string drifted in between is not known."""
    checks = in_order(readings)
    befores = [level_hz(a) if a.note == b.note else None for a, b in zip(checks, checks[1:], strict=False)]
    pairs = [(r, r.found_hz if known(r.found_hz) else before) for r, before in zip(checks, [None, *befores], strict=False)]
    return tuple((r.at, cents_between(r.left_hz.value, before.value)) for r, before in pairs if known(r.left_hz) and known(before))


def drifts_over(readings: Sequence[PitchReading], spans: Sequence[Span]) -> Drifts:
    """Drift of one string over the spans, retunings taken out."""
    checks = in_order(readings)
    times = [r.at for r in checks]
    cents, weights = np.full(len(spans), np.nan), np.zeros((len(spans), 2 * len(checks)))
    for row, span in enumerate(spans):
        ends = _ends(checks, times, span)
        if ends is not None:
            cents[row], weights[row] = _drift(checks, *ends)
    variances = [se_cents(figure) ** 2 for r in checks for figure in (r.found_hz, r.left_hz)]
    return Drifts(cents, weights, np.array(variances))


def se_cents(figure: Figure | None) -> float:
    """Standard error of a pitch in Hz, in cents; 0 where there is none."""
    if not known(figure):
        return 0.0
    if figure.se is None:
        return UNSTATED_SE_CENTS
    return max(LEAST_SE_CENTS, CENTS * figure.se / figure.value)


def known(figure: Figure | None) -> bool:
    return figure is not None and figure.value is not None and figure.value > 0.0


def level_hz(reading: PitchReading) -> Figure | None:
    """The pitch from which a string drifts on after a check: as left, or as found where the pin was not touched."""
    return next((figure for figure in (reading.left_hz, reading.found_hz) if known(figure)), None)


def _ends(checks: Sequence[PitchReading], times: Sequence[datetime], span: Span) -> tuple[int, int] | None:
    """Indices of the checks, made at these times, at the ends of a span; None where one is missing or the position changed on the way."""
    slack = min(timedelta(hours=MATCH_H), MATCH_SHARE * (span[1] - span[0]))
    first, last = _nearest(times, span[0], slack), _nearest(times, span[1], slack)
    if first is None or last is None or first >= last:
        return None
    way = checks[first : last + 1]
    if len({r.note for r in way}) > 1 or not all(known(r.found_hz) for r in way[1:]):
        return None
    return first, last


def _nearest(times: Sequence[datetime], at: datetime, slack: timedelta) -> int | None:
    """Index of the time, of these in order, that is nearest and near enough; of two as near the first. By halving: it is looked up for
    every span in every neighbour."""
    after = bisect_left(times, at)
    before = bisect_left(times, times[after - 1]) if after else None
    index = min((k for k in (before, after) if k is not None and k < len(times)), key=lambda k: abs(times[k] - at), default=None)
    return index if index is not None and abs(times[index] - at) <= slack else None


def _drift(checks: Sequence[PitchReading], first: int, last: int) -> tuple[float, np.ndarray]:
    """Drift in cents from check to check, and the sign with which each reading (found and left in turn) enters it."""
    total, row = 0.0, np.zeros(2 * len(checks))
    for k in range(first, last):
        total += cents_between(checks[k + 1].found_hz.value, level_hz(checks[k]).value)
        row[2 * k + (1 if known(checks[k].left_hz) else 0)] -= 1.0
        row[2 * (k + 1)] += 1.0
    return total, row

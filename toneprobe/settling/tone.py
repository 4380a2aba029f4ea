"""Is the tone of a new string still moving? New wires start too bright, and a baseline taken then would make each later sweep look dull.

The last few sweeps of the fitting are laid on a line over the logarithm of age. A figure still moves where the slope is beyond its error
and would carry the figure further, over the next weeks, than matters to a later verdict.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from toneprobe import limits
from toneprobe.days import day_text
from toneprobe.practice import PLAIN_FAMILIES, material_family
from toneprobe.session import Reading
from toneprobe.settling.verdict import Settling

WORTH = 1.1  # change, as a factor, that matters to a later verdict: a third of what a listener notices
WATCHED = (("centroid_partials_hz", "brightness"), ("t60_s", "decay time"))  # figure, and what to call it
AHEAD_DAYS = 30.0  # to the next sweep of the month (set)
CLEAR_SDS = 2.5  # errors of the line from which on it moves: by chance 1 in 80 either way (derived); with more, both what moves and
# what is steady are told later (set)
N_SWEEPS = 4  # the latest: earlier ones show how it moved while new, and a line through those too would go on with that (set)
WOUND_NYLON = "wound nylon"  # a family as `practice.material_family` gives it: wound as wires are, and yet none


@dataclass(frozen=True)
class ToneState:
    steady: bool | None  # None: cannot be said
    moving: tuple[str, ...] = ()  # what still moves, in words
    reason: str = ""  # where it cannot be said

    @property
    def lacks(self) -> str:
        """What speaks against a baseline yet, and what to do; "" where nothing does."""
        return f"its {'; its '.join(self.moving)}: sweep it again in a few days" if self.moving else self.reason


@dataclass(frozen=True)
class BaselineAdvice:
    """Whether the next sweep may become the fresh baseline of this fitting; the owner is asked first."""

    ready: bool
    reasons: tuple[str, ...]


def judge_tone(sweeps: Sequence[tuple[date, Reading]], *, fitted_on: date | None, material: str | None) -> ToneState:
    """Whether brightness and decay of one fitting have come to rest, from its sweeps so far, in any order. A clear movement holds any
    string back; a wire, or a string of unknown material, must also have shown that it does not move."""
    if fitted_on is None:
        return ToneState(True)  # on for so long that newness has worn off
    latest = sorted(sweeps, key=lambda entry: entry[0])[-N_SWEEPS:]
    lines = [(words, _line(latest, key, fitted_on)) for key, words in WATCHED]
    known = [(words, line) for words, line in lines if line is not None]
    age_days = max(1.0, float((latest[-1][0] - fitted_on).days)) if latest else 1.0
    reach = math.log((age_days + AHEAD_DAYS) / age_days)  # how far the next weeks reach on the logarithm of age
    moving = tuple(f"{words} still moves: {100.0 * math.expm1(slope * reach):+.0f} % to be expected over the next {AHEAD_DAYS:.0f} days"
                   for words, (slope, se) in known if abs(slope) > CLEAR_SDS * se and abs(slope * reach) > math.log(WORTH))
    if moving:
        return ToneState(False, moving)
    if material_family(material) in PLAIN_FAMILIES:
        return ToneState(True)
    if not known:
        new = "a new wound string" if material_family(material) == WOUND_NYLON else "a new wire"
        of_what = f"{new} starts too bright" if material else f"of what it is made is not noted, and {new} starts too bright"
        return ToneState(None, reason=f"{_days_wanted(sorted({day for day, _ in sweeps}))}: {of_what}")
    rough = [words for words, line in known if CLEAR_SDS * line[1] * reach > limits.DECAY_NOTICED]
    if rough:
        return ToneState(None, reason=f"its {' and '.join(rough)} cannot be called steady yet: sweep it again in a few days")
    return ToneState(True)


def advise_baseline(settling: Settling, tone: ToneState, *, is_stand_in: bool) -> BaselineAdvice:
    """Ready only where pitch and tone have come to rest. A stand-in never is."""
    if is_stand_in:
        return BaselineAdvice(False, ("a stand-in never becomes a baseline",))
    against = [f"its pitch is {settling.state}: {settling.reasons[0]}"] if settling.state != "settled" else []
    against += [f"its {text}" for text in tone.moving]
    against += [tone.reason] if tone.steady is None else []
    return BaselineAdvice(not against, tuple(against) or ("pitch and tone have come to rest",))


def _days_wanted(swept_on: Sequence[date]) -> str:
    if not swept_on:
        return "sweep it on two days at least"
    if len(swept_on) == 1:
        return f"so far only a sweep of {day_text(swept_on[0])} heard it, so sweep it on another day too"
    return "its brightness and ring were not measured on two days yet, so sweep it again"


def _line(sweeps: Sequence[tuple[date, Reading]], key: str, fitted_on: date) -> tuple[float, float] | None:
    """Slope of ln(figure) over ln(age), with its standard error; None where fewer than two days have the figure."""
    figures = [(day, reading.figures.get(key)) for day, reading in sweeps]
    known = [(day, figure) for day, figure in figures if figure is not None and figure.known and figure.value > 0.0 and figure.se]
    if len({day for day, _ in known}) < 2:
        return None
    x = np.log([max(1.0, (day - fitted_on).days) for day, _ in known])
    y = np.log([figure.value for _, figure in known])
    weights = np.array([(figure.value / figure.se) ** 2 for _, figure in known])
    centred = x - np.average(x, weights=weights)
    information = float(weights @ centred**2)
    if information <= 0.0:
        return None
    return float(weights @ (centred * y)) / information, information**-0.5

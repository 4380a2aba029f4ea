"""The owner's own lives by material and register. They say how many spares to hold, never which string breaks next."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from toneprobe.fittings import Fitting, material_of
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.lives.kaplan_meier import LEAST_POSITIONS, Life, LifeSpan, SurvivalStep, curve_start_days, kaplan_meier, median_life
from toneprobe.lives.weibull import Weibull, fit_weibull
from toneprobe.phrases import as_strings, listed
from toneprobe.practice import material_family
from toneprobe.units import octave_of_note

FAILED = ("broke", "dead", "false")  # a planned change or a stand-in taken off ends no life: the string still served
# Octaves that share a fate (common practice: top octaves one to two years, gut of octaves 3 to 5 the longest, wires by themselves).
REGISTERS = (("octaves 0-1", range(0, 2)), ("octave 2", range(2, 3)), ("octaves 3-5", range(3, 6)), ("octaves 6-7", range(6, 10)))
MOST_NAMED = 6  # strings of what is no harp, a guitar's all (set)
FEWEST_ENDS = 5  # below, silent: the shape's error is about 0.78/√ends (Lawless), at four ends a factor of two and more either way
SURELY_APART = 0.001  # chance of positions as far apart by χ², which few ends pass more often: alike ones in 0 to 2.5 % (simulated)
LEAST_EXPECTED = 0.01  # ends of a position in χ²: one of a string put on last week is no wonder of a thousand
NONE_DATED = "none with a known first day"
SHORTEST_DAYS = 0.5  # a string that broke on the day it was put on


@dataclass(frozen=True)
class PositionEnds:
    """How many strings of one position ended, and how many were to be expected of their days, were all positions alike."""

    string: str
    n_ended: int
    expected: float


@dataclass(frozen=True)
class RegisterLife:
    """The lives of one material in one register."""

    material: str  # a family, "gut", or "unknown"
    register: str
    n_lives: int
    n_ended: int
    n_undated: int  # on since before the log, or put on on an unknown day: left out
    steps: tuple[SurvivalStep, ...]  # empty below FEWEST_ENDS
    median: LifeSpan | None
    weibull: Weibull | None
    reason: str = ""  # why there are no figures
    n_unexplained: int = 0  # came off without a reason: counted as having served until then
    from_days: float = 0.0  # `steps` and `median` are of those that reach this age: too few were watched before it
    apart: tuple[PositionEnds, ...] = ()  # where positions surely differ, the one whose strings ended most for their days, and the least

    @property
    def key(self) -> tuple[str, str]:
        return self.material, self.register


def register_of(spec: StringSpec, instrument: Instrument) -> str:
    """The octaves that share a fate; on what is no harp, the names of the strings of its material."""
    if instrument.is_harp:
        return next(name for name, octaves in REGISTERS if octave_of_note(spec.note) in octaves)
    alike = [one.name for one in instrument.strings if material_family(one.material) == material_family(spec.material)]
    return listed(as_strings(alike), MOST_NAMED)


def group_of(fitting: Fitting, instrument: Instrument) -> tuple[str, str] | None:
    """Material family and register of a fitting; None where its position is not on the instrument."""
    spec = next((one for one in instrument.strings if one.name == fitting.string), None)
    if spec is None:
        return None
    return material_family(material_of(fitting, spec)) or "unknown", register_of(spec, instrument)


def life_of(fitting: Fitting, *, today: date, log_began: date | None, any_removal: bool = False) -> Life | None:
    """One life; None where its first day is not known, for a stand-in, or where it was over before the log began.

    `log_began`: the day from which every change was logged; None: each fitting was logged when it was put on.
    `any_removal` counts each removal as an end: a planned change uses up a spare too.
    """
    if fitting.is_stand_in or fitting.fitted_on is None or fitting.fitted_on > today:
        return None
    last = min(fitting.removed_on or today, today)
    entered = max(0, (log_began - fitting.fitted_on).days) if log_began else 0
    days = max(SHORTEST_DAYS, float((last - fitting.fitted_on).days))
    if entered >= days:
        return None
    return Life(days, _has_ended(fitting, today, any_removal), float(entered), fitting.string)


def register_lives(
    fittings: Iterable[Fitting], instrument: Instrument, *, today: date, log_began: date | None = None, any_removal: bool = False
) -> tuple[RegisterLife, ...]:
    """Kaplan–Meier and Weibull of each material and register of the instrument, highest register first."""
    groups: dict[tuple[str, str], list[Fitting]] = {}
    for fitting in fittings:
        key = group_of(fitting, instrument)
        if key is not None and not fitting.is_stand_in:
            groups.setdefault(key, []).append(fitting)
    order = list(dict.fromkeys(register_of(spec, instrument) for spec in instrument.strings))
    ordered = sorted(groups, key=lambda key: (order.index(key[1]), key[0]))
    return tuple(_register(key, groups[key], today=today, log_began=log_began, any_removal=any_removal) for key in ordered)


def _has_ended(fitting: Fitting, today: date, any_removal: bool) -> bool:
    removed = fitting.removed_on is not None and fitting.removed_on <= today
    return removed and (any_removal or fitting.why_removed in FAILED)


def _register(
    key: tuple[str, str], fittings: Sequence[Fitting], *, today: date, log_began: date | None, any_removal: bool
) -> RegisterLife:
    lives = [life_of(one, today=today, log_began=log_began, any_removal=any_removal) for one in fittings]
    known = [life for life in lives if life is not None]
    n_ended = sum(life.ended for life in known)
    n_unexplained = sum(one.removed_on is not None and one.why_removed is None for one in fittings)
    found = RegisterLife(*key, len(known), n_ended, len(lives) - len(known), (), None, None, n_unexplained=n_unexplained)
    if n_ended < FEWEST_ENDS:
        n_undated = sum(one.fitted_on is None and _has_ended(one, today, any_removal) for one in fittings)
        too_few = _too_few(n_ended, n_undated, 0 if any_removal else n_unexplained)
        return replace(found, reason=too_few if known or n_undated else NONE_DATED)
    steps, weibull = kaplan_meier(known), fit_weibull(known)
    found = replace(found, steps=steps, median=median_life(steps), from_days=curve_start_days(known))
    if isinstance(weibull, str):
        return replace(found, reason=weibull)
    return replace(found, weibull=weibull, apart=positions_apart(known, weibull))


def positions_apart(lives: Sequence[Life], weibull: Weibull) -> tuple[PositionEnds, ...]:
    """The position whose strings ended most for their days, and the least, where Pearson's χ² of all positions' ends shows that they
    surely differ; else (). What their days would bring if all were alike is the law's hazard added up."""
    from scipy.special import chdtrc

    by_position: dict[str, list[Life]] = {}
    for life in sorted(lives, key=lambda life: life.position):
        by_position.setdefault(life.position, []).append(life)
    ends = [PositionEnds(position, sum(life.ended for life in own),
                         float(sum(weibull.hazard(life.entered_days, life.days - life.entered_days) for life in own)))
            for position, own in by_position.items()]
    chi2 = sum((one.n_ended - one.expected) ** 2 / max(one.expected, LEAST_EXPECTED) for one in ends)
    if len(ends) < LEAST_POSITIONS or chdtrc(len(ends) - 1, chi2) >= SURELY_APART:
        return ()
    ordered = sorted(ends, key=lambda one: (one.n_ended - one.expected) / math.sqrt(max(one.expected, LEAST_EXPECTED)))
    return ordered[-1], ordered[0]


def _too_few(n_known: int, n_undated: int, n_unexplained: int) -> str:
    """ "3 ended so far, 1 with no known first day: how long they last can be told once 5 of known age have"."""
    besides = f", and {n_unexplained} came off without a reason in the log" if n_unexplained else ""
    if not n_undated:
        return f"{n_known or 'none'} ended so far{besides}: how long they last can be told once {FEWEST_ENDS} have"
    whose = "none with a known first day" if not n_known else f"{n_undated} with no known first day"
    whose = "its first day is not known" if n_known + n_undated == 1 else whose
    return f"{n_known + n_undated} ended so far, {whose}{besides}: how long they last can be told once {FEWEST_ENDS} of known age have"

"""The life of one string position: each string that was on it, and how it aged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from toneprobe.book.entries import Fitting
from toneprobe.days import day_text
from toneprobe.fittings import RepeatedBreak, repeated_breaks
from toneprobe.instrument import StringSpec
from toneprobe.report.fitting_words import fitting_line
from toneprobe.report.glossary import STAND_IN, verdict_word
from toneprobe.report.series import HistoryPoint
from toneprobe.report.string_view import StringView
from toneprobe.report.view import SweepView, find_string_view
from toneprobe.report.words import count_of


@dataclass(frozen=True)
class LifeChapter:
    """One fitting, with what its sweeps said."""

    line: str  # of the string log
    age: str  # "on for 14 months"
    points: tuple[HistoryPoint, ...]  # oldest first


@dataclass(frozen=True)
class LifeView:
    harp: str
    name: str
    note: str
    spec: StringSpec | None
    headline: str
    latest: StringView  # the string in the latest sweep, for its pictures, figures and sounds
    day: date  # of that sweep
    chapters: tuple[LifeChapter, ...]  # newest first
    breaks: str  # a place where it broke more than once, "" where there is none


def life_view(sweep: SweepView, name: str, *, today: date | None = None, log: Sequence[Fitting] | None = None) -> LifeView:
    """The life of a string as the latest sweep's view knows it, or with a `log`, oldest first, that goes on after that sweep.

    UsageError where the harp has no such string.
    """
    one = find_string_view(sweep, name)
    one = one if log is None else replace(one, fittings=tuple(log))
    chapters = _chapters(one, today or sweep.date)
    headline = f"{_state(one, sweep.date)}; {count_of(len(chapters), 'string')} on record, {count_of(len(one.history), 'sweep')}."
    breaks = break_words(repeated_breaks(one.fittings))
    return LifeView(sweep.harp, one.name, one.note, one.spec, headline, one, sweep.date, chapters, breaks)


def break_words(breaks: Sequence[RepeatedBreak]) -> str:
    """Of one position's, the worst first: "broke 2 times at the tuning pin", "" where no place repeats."""
    return f"broke {len(breaks[0].days)} times at the {breaks[0].broke_at}" if breaks else ""


def _state(one: StringView, day: date) -> str:
    """How the string stands; a string that went on after that day has not been heard yet."""
    latest = one.fittings[-1].fitted_on if one.fittings else None
    if latest is not None and latest > day:
        return f"{one.name} has a new string since {day_text(latest)}, not swept yet; the one before was {verdict_word(one.verdict)}"
    if one.state == STAND_IN:
        return f"{one.name} carries a stand-in"
    return f"{one.name} is {verdict_word(one.verdict)}" if one.verdict != "unrated" else f"{one.name} has no fresh baseline"


def months_between(first: date, last: date) -> int:
    """Whole months."""
    return (last.year - first.year) * 12 + last.month - first.month - (last.day < first.day)


def _chapters(one: StringView, today: date) -> tuple[LifeChapter, ...]:
    told = [LifeChapter(fitting_line(fitting), _age(fitting, today), tuple(p for p in one.history if p.fitting_id == fitting.id))
            for fitting in reversed(one.fittings)]
    known = {fitting.id for fitting in one.fittings}
    strays = tuple(point for point in one.history if point.fitting_id not in known)
    return (*told, LifeChapter("Sweeps without a string in the log.", "", strays)) if strays else tuple(told)


def _age(one: Fitting, today: date) -> str:
    if one.fitted_on is None:
        return "age not known"
    end = one.removed_on or today
    months = months_between(one.fitted_on, end)
    days = (end - one.fitted_on).days
    length = count_of(months, "month") if months >= 2 else count_of(days, "day")
    return f"was on for {length}" if one.removed_on else f"on for {length}"

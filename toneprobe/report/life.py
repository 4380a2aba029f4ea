"""The life of one string position: each string that was on it, and how it aged."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from toneprobe.condition import SILENT
from toneprobe.days import day_text
from toneprobe.fittings import Fitting, RepeatedBreak, age_days, repeated_breaks
from toneprobe.phrases import as_string, count_of
from toneprobe.report.fitting_words import fitting_line
from toneprobe.report.glossary import FRESH, STAND_IN, verdict_word
from toneprobe.report.series import HistoryPoint, last_said
from toneprobe.report.string_view import StringView
from toneprobe.report.view import SweepView, find_string_view
from toneprobe.report.words import length_text


@dataclass(frozen=True)
class LifeChapter:
    """One fitting, with what its sweeps said."""

    line: str  # of the string log
    age: str  # "on for 14 months"
    points: tuple[HistoryPoint, ...]  # oldest first


@dataclass(frozen=True)
class LifeView:
    harp: str
    word: str  # what all strings together are called
    headline: str
    latest: StringView  # the string in the latest sweep, for its pictures, figures and sounds
    day: date  # of that sweep
    heard_on: date | None  # of the last sweep that heard the position; None where none did
    chapters: tuple[LifeChapter, ...]  # newest first
    new_since: date | None  # when a string went on after that sweep: the one in it is off
    standing: str  # the verdict that stands: of the latest sweep, or where that is silent of the last that says something
    breaks: str  # a place where it broke more than once, "" where there is none


def life_view(sweep: SweepView, name: str, *, today: date | None = None, log: Sequence[Fitting] | None = None) -> LifeView:
    """The life of a string as the latest sweep's view knows it, or with a `log`, oldest first, that goes on after that sweep.

    UsageError where the harp has no such string.
    """
    one = find_string_view(sweep, name)
    one = one if log is None else replace(one, fittings=tuple(log))
    chapters, said = _chapters(one, today or sweep.date), last_said(one.own_history)
    headline = f"{_state(one, sweep.date)}; {count_of(len(chapters), 'string')} on record, {count_of(len(one.history), 'sweep')}."
    return LifeView(sweep.harp, sweep.instrument.word, headline, one, sweep.date, _heard_on(one, sweep.date), chapters,
                    new_since=_new_since(one, sweep.date), standing=said.verdict if one.verdict in SILENT and said else one.verdict,
                    breaks=break_words(repeated_breaks(one.fittings)))


def break_words(breaks: Sequence[RepeatedBreak]) -> str:
    """Of one position's, the worst first: "broke 2 times at the tuning pin", "" where no place repeats."""
    return f"broke {len(breaks[0].days)} times at the {breaks[0].broke_at}" if breaks else ""


def _state(one: StringView, day: date) -> str:
    """How the string stands; a string that went on after that day has not been heard yet."""
    new_since, who = _new_since(one, day), as_string(one.name, at_start=True)
    if new_since is not None:
        return f"{who} got a new string on {day_text(new_since)}, not swept yet; the one before was {_word(one)}"
    if one.state == STAND_IN:
        return f"{who} carries a stand-in"
    said = last_said(one.own_history)
    if one.verdict in SILENT and said and said.verdict not in SILENT:
        silent_since = "not heard since" if one.verdict == "unheard" else "heard since, but not well enough to say"
        return f"{who} was {_said_of(said.state)} on {day_text(said.date)}, {silent_since}"
    if one.state == FRESH:
        return f"{who} is fresh: the sweep of {day_text(day)} is its baseline"
    return f"{who} has no fresh baseline" if one.verdict == "unrated" else f"{who} is {_word(one)}"


def _heard_on(one: StringView, day: date) -> date | None:
    """The day of the last sweep that heard the position; `day` is the latest sweep's."""
    if one.state != "unheard":
        return day
    return next((point.date for point in reversed(one.history) if point.verdict != "unheard"), None)


def _new_since(one: StringView, day: date) -> date | None:
    """When the string that is on went on, where that was after the sweep of that day; else None."""
    latest = one.fittings[-1] if one.fittings else None
    if latest is None or latest.fitted_on is None or latest.fitted_on < day:
        return None
    was_heard = any(point.fitting_id == latest.id for point in one.history)  # on the day of the sweep it may have gone on after it
    return latest.fitted_on if latest.fitted_on > day or (one.history and not was_heard) else None


def _word(one: StringView) -> str:
    said = last_said(one.history) if one.verdict in SILENT else None
    if said is not None:
        return _said_of(said.state)
    return one.word if one.state == FRESH else _said_of(one.verdict)


def _said_of(state: str) -> str:
    """What a string is, in a sentence."""
    return "on the watch list" if state == "watch" else verdict_word(state)


def _chapters(one: StringView, today: date) -> tuple[LifeChapter, ...]:
    told = [LifeChapter(fitting_line(fitting), _age(fitting, today), tuple(p for p in one.history if p.fitting_id == fitting.id))
            for fitting in reversed(one.fittings)]
    known = {fitting.id for fitting in one.fittings}
    strays = tuple(point for point in one.history if point.fitting_id not in known)
    return (*told, *([LifeChapter("Sweeps without a string in the log.", "", strays)] if strays else []))


def _age(one: Fitting, today: date) -> str:
    days = age_days(one, today)
    if days is None:
        return "age not known"
    if days < 0:  # the clock was set back
        return "still to come by this computer's clock"
    return f"{'was on' if one.removed_on else 'on'} for {length_text(days)}"

"""What is not a string's fault, on one page for a harp technician: concerns, the state of the harp, what was changed lately.

A concern comes from the log (a string that keeps breaking at one place), from pitch checks (a string that falls steadily: a pin or a knot),
from a verdict whose next step names a technician, or from whoever calls with more (a buzz in one pedal position). Nothing is guessed from
sound here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from statistics import median

from toneprobe.book.entries import Fitting
from toneprobe.condition.next_steps import sends_to_technician
from toneprobe.days import day_text
from toneprobe.fittings import repeated_breaks
from toneprobe.phrases import count_of, listed
from toneprobe.report.life import break_words
from toneprobe.report.string_view import StringView
from toneprobe.report.view import SweepView
from toneprobe.report.words import sentence, signed
from toneprobe.settling import Settling

LOOK_AT = {
    "tuning pin": "an edge at the pin or its hole",
    "bridge pin": "a rough or grooved bridge pin",
    "disc or lever": "a rough disc prong or lever, or one set too tight",
    "knot": "the hole in the soundboard and its grommet",
    "playing area": "something that the string touches",
}


@dataclass(frozen=True)
class Concern:
    """Something to be looked at. `strings` names what it is about, "" for the whole harp."""

    strings: str
    what: str
    why: str  # how it is known


@dataclass(frozen=True)
class TechnicianView:
    harp: str
    sweep: SweepView
    headline: str
    concerns: tuple[Concern, ...]
    pitch: str  # how the harp stands, in a sentence
    materials: str  # "nylon 0G to 1F, gut 2E to 5A, wire 5G to 7C"
    removed: tuple[Fitting, ...]  # what came off, newest first
    log_until: str = ""  # until when the string log is told where that is later than the sweep, and what came off since


def technician_view(sweep: SweepView, *, concerns: Iterable[Concern] = (), log: Iterable[Fitting] | None = None,
                    today: date | None = None) -> TechnicianView:
    """The page's value: the caller's concerns first, then those that the log and the verdicts give.

    log: of all strings, oldest first, where it goes on until `today`, after the sweep; else as the sweep knows it.
    """
    strings = sweep.strings if log is None else _with_log(sweep.strings, log)
    found = (*concerns, *_breaks(strings), *_named_for_technician(strings))
    removed = [fitting for one in strings for fitting in one.fittings if fitting.removed_on]
    return TechnicianView(sweep.harp, sweep, _headline(found), found, pitch_sentence(sweep.strings), materials_sentence(sweep.strings),
                          tuple(sorted(removed, key=lambda fitting: fitting.removed_on, reverse=True)),
                          _log_until(sweep, removed, today))


def _with_log(strings: Sequence[StringView], log: Iterable[Fitting]) -> tuple[StringView, ...]:
    of: dict[str, list[Fitting]] = {}
    for fitting in log:
        of.setdefault(fitting.string, []).append(fitting)
    return tuple(replace(one, fittings=tuple(of.get(one.name, ()))) for one in strings)


def _log_until(sweep: SweepView, removed: Iterable[Fitting], today: date | None) -> str:
    if today is None or today <= sweep.date:
        return ""
    since = list(dict.fromkeys(one.string for one in removed if one.removed_on > sweep.date))
    told = f"The string log is told until {day_text(today)}, the sounds as of the sweep of {sweep.day}."
    return f"{told} Off since that sweep: {listed(since, len(since))}." if since else told


def slip_concerns(found: Mapping[str, Settling]) -> tuple[Concern, ...]:
    """The strings whose pitch checks show a steady fall, by name; those in any other state are left out."""
    return tuple(Concern(name, f"{sentence(one.reasons[0])} Look at the tuning pin and its hole, and at the knot.", _checks(one))
                 for name, one in found.items() if one.is_or_was_slipping)


def _checks(one: Settling) -> str:
    """What the fall was read from, with its doubt and what could not be taken out."""
    until = f", the last on {day_text(one.checked_on)}" if one.checked_on else ""
    return "; ".join((f"from {count_of(one.n_intervals + 1, 'pitch check')}{until}", *one.reasons[1:]))


def pitch_sentence(strings: Sequence[StringView]) -> str:
    """Median and reach of the pitch against each string's note, leaving out those that were not measured."""
    cents = sorted(figure.value for one in strings if (figure := one.condition.figures.get("cents_off")) and figure.known)
    if not cents:
        return "No pitch was measured."
    middle = median(cents)
    return (f"In this sweep {count_of(len(cents), 'string')} stood between {signed(cents[0], 1)} and {signed(cents[-1], 1)} cents "
            f"off their notes, half of them above {signed(middle, 1)} cents and half below.")


def materials_sentence(strings: Sequence[StringView]) -> str:
    """Runs of one material from the top of the harp down, "" where none is known."""
    runs: list[list[StringView]] = []
    for one in strings:
        if one.spec is None or one.spec.material is None:
            continue
        if runs and runs[-1][-1].spec.material == one.spec.material:
            runs[-1].append(one)
        else:
            runs.append([one])
    return ", ".join(f"{run[0].spec.material} {run[0].name} to {run[-1].name}" for run in runs)


def _breaks(strings: Iterable[StringView]) -> list[Concern]:
    return [Concern(one.name, sentence(f"{break_words(breaks)}: look for {LOOK_AT.get(breaks[0].broke_at, 'a rough contact')}"),
                    "from the string log")
            for one in strings if (breaks := repeated_breaks(one.fittings))]


def _named_for_technician(strings: Iterable[StringView]) -> list[Concern]:
    named = [one for one in strings if sends_to_technician(one.next_step)]
    return [Concern(one.name, " ".join((*map(sentence, one.condition.reasons[:1]), one.next_step)), f"from this sweep, {one.verdict}")
            for one in named]


def _headline(concerns: Sequence[Concern]) -> str:
    if not concerns:
        return "No fault of the harp itself is on record: what follows is about its strings alone."
    return f"{count_of(len(concerns), 'matter')} that {'is' if len(concerns) == 1 else 'are'} not the strings’ own fault."

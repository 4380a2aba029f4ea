"""What is not a string's fault, on one page for a harp technician: concerns, what was done to the harp, its state, what was changed lately.

A concern comes from the log (a string that keeps breaking at one place, or one of another kind than belongs there), from pitch checks (a
string that falls steadily, or at once and more than once: a pin or a knot), from a next step that names a technician or is for a sound
string that fell alone, or from the caller. What the sweep says of a string that has come off since is marked so, and not counted. Single
sounds that were left out of the recording are not told: they say nothing of the harp.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from operator import attrgetter
from statistics import median

from toneprobe.audio.remark import SINGLE_SOUNDS
from toneprobe.condition.next_steps import FELL_ALONE, TECHNICIAN
from toneprobe.days import day_text
from toneprobe.events import Event
from toneprobe.fittings import Fitting, first_day_text, repeated_breaks
from toneprobe.phrases import as_string, as_strings, capital, count_of, listed
from toneprobe.practice import may_be_same
from toneprobe.remarks.recording import is_noisy
from toneprobe.report.attention import standing_words
from toneprobe.report.fitting_words import fitting_line
from toneprobe.report.life import break_words
from toneprobe.report.off_since import off_days, with_log
from toneprobe.report.string_view import StringView
from toneprobe.report.view import SweepView
from toneprobe.report.words import headline, is_drowned, sentence, signed
from toneprobe.settling import Settling, slips_again
from toneprobe.spares import SAME_GAUGE

LOOK_AT = {
    "tuning pin": "an edge at the pin or its hole",
    "bridge pin": "a rough or grooved bridge pin",
    "disc or lever": "a rough disc prong or lever, or one set too tight",
    "knot": "the hole in the soundboard and its grommet",
    "playing area": "something that the string touches",
}
FROM_THE_LOG = "from the string log"
LEAST_TOLD = 12  # strings that came off
YEAR = timedelta(days=366)
DONE = ("regulated", "moved", "repaired")  # of the kinds of `events`, what a technician asks for first


@dataclass(frozen=True)
class Concern:
    """Something to be looked at."""

    strings: str  # that it is about, "" for the whole harp
    what: str
    why: str  # how it is known


@dataclass(frozen=True)
class TechnicianView:
    sweep: SweepView
    headline: str
    concerns: tuple[Concern, ...]
    pitch: str  # how the harp stands, in a sentence
    materials: str  # "nylon 0G to 1F, gut 2E to 5A, wire 5G to 7C", and what is on that is made of another
    removed: tuple[Fitting, ...]  # what came off, newest first
    log_until: str  # the day of the string log where that is later than the sweep, and what came off since; else ""
    found: str  # what the sweep found of the strings that are still on
    off_since: Mapping[str, date]  # by string, the day on which the one that the sweep heard came off
    done: tuple[str, ...]  # regulations, moves and repairs, newest first
    warnings: tuple[str, ...]  # what the recording could not carry

    @property
    def attention(self) -> tuple[StringView, ...]:
        """The strings that want attention and are still on."""
        return tuple(one for one in self.sweep.attention if one.name not in self.off_since)

    @property
    def attention_off(self) -> tuple[StringView, ...]:
        """Those that have come off since."""
        return tuple(one for one in self.sweep.attention if one.name in self.off_since)

    @property
    def removed_lately(self) -> tuple[tuple[str, str], ...]:
        """The last that came off and all of a year, as a technician comes about once a year: strings with the same line of the log, and
        that line."""
        lines: dict[str, list[str]] = {}
        for one in self.removed[:self.n_removed_lately]:
            lines.setdefault(fitting_line(one), []).append(one.string)
        return tuple((", ".join(strings), line) for line, strings in lines.items())

    @property
    def n_removed_lately(self) -> int:
        since = self.removed[0].removed_on - YEAR if self.removed else date.min
        return max(min(LEAST_TOLD, len(self.removed)), sum(one.removed_on >= since for one in self.removed))

    @property
    def not_judged(self) -> tuple[str, ...]:
        """ "without a fresh baseline: 1A, 5F", one line for each state: the player's remedies do not matter here."""
        groups: dict[str, list[StringView]] = {}
        for group in self.sweep.not_judged:
            groups.setdefault(group.words, []).extend(group.strings)
        names = {words: [one.name for one in sorted(strings, key=lambda one: one.place)] for words, strings in groups.items()}
        n_all = len(self.sweep.strings)
        return tuple(f"{words}: {'all strings' if len(named) == n_all else ', '.join(named)}" for words, named in names.items())


def technician_view(sweep: SweepView, *, concerns: Iterable[Concern] = (), log: Iterable[Fitting] | None = None,
                    events: Iterable[Event] = (), today: date | None = None) -> TechnicianView:
    """The caller's concerns come first, then those from the log and the verdicts.

    log: of all strings, oldest first, until `today`; without it as the sweep knows it. events: all that is noted of the harp; told are
    those until `today`, or without it until the sweep's day.
    """
    strings = sweep.strings if log is None else with_log(sweep.strings, log)
    off_since = off_days(strings, sweep.date)
    found = (*concerns, *_break_concerns(strings), *_kind_concerns(strings), *_step_concerns(strings, off_since))
    removed = [fitting for one in strings for fitting in one.fittings if fitting.removed_on]
    return TechnicianView(
        sweep, _headline(found, sweep.instrument.word), found, pitch_sentence(sweep.strings), materials_sentence(strings),
        tuple(sorted(removed, key=lambda fitting: fitting.removed_on, reverse=True)), _log_until(sweep, off_since, today),
        _found_words(sweep, off_since), off_since,
        _done_lines((event for event in events if event.on <= (today or sweep.date)), is_harp=sweep.instrument.is_harp),
        tuple(one.text for one in sweep.warnings if one.kind != SINGLE_SOUNDS))


def _found_words(sweep: SweepView, off_since: Mapping[str, date]) -> str:
    """The sweep's headline and what still stands; counted without the strings that are off, where these need attention."""
    standing = [one for one in sweep.still_standing if one.name not in off_since]
    told = sweep.headline
    if any(one.name in off_since for one in sweep.attention):
        states = [one.state for one in sweep.strings if one.name not in off_since]
        drowned = is_drowned(states, is_noisy=is_noisy(sweep.warnings))
        counted = headline(states, is_more_known=bool(standing), is_drowned=drowned)
        told = f"Of those that are on still: {counted[:1].lower()}{counted[1:]}"
    return " ".join(part for part in (told, standing_words(standing)) if part)


def _done_lines(events: Iterable[Event], *, is_harp: bool) -> tuple[str, ...]:
    """ "20 May 2026: regulated, before the tour.", newest first; for a harp also that no regulation is noted, where none is."""
    told = sorted((event for event in events if event.kind in DONE), key=lambda event: event.on, reverse=True)
    lines = [sentence(f"{day_text(event.on)}: {event.kind}{f', {event.note}' if event.note else ''}") for event in told]
    lacks = is_harp and not any(event.kind == "regulated" for event in told)
    return (*lines, *(["No regulation is noted."] if lacks else []))


def _log_until(sweep: SweepView, off_since: Iterable[str], today: date | None) -> str:
    if today is None or today <= sweep.date:
        return ""
    since = tuple(off_since)
    told = f"The string log is as of {day_text(today)}, the sounds are of the sweep of {sweep.day}."
    return f"{told} Came off since that sweep: {listed(as_strings(since), len(since))}." if since else told


def slip_concerns(found: Mapping[str, Settling]) -> tuple[Concern, ...]:
    """The strings whose pitch checks show a steady fall, or sudden falls that may come again, from the states of strings by name."""
    told = {name: one.reasons[0] if one.is_or_was_slipping else slips_again(one.recurring) for name, one in found.items()
            if one.is_or_was_slipping or one.recurring}
    return tuple(Concern(name, f"{sentence(what)} Look at the tuning pin and its hole, and at the knot.", _checks_words(found[name], what))
                 for name, what in told.items())


def _checks_words(one: Settling, told: str) -> str:
    """The pitch checks that show it, and all reasons but the one already `told`."""
    until = f", the last on {day_text(one.checked_on)}" if one.checked_on else ""
    return "; ".join((f"from {count_of(one.n_intervals + 1, 'pitch check')}{until}", *(line for line in one.reasons if line != told)))


def pitch_sentence(strings: Sequence[StringView]) -> str:
    """Median and range of the pitches against the strings' notes."""
    cents = sorted(figure.value for one in strings if (figure := one.condition.figures.get("cents_off")) and figure.known)
    if not cents:
        return "No pitch was measured."
    if len(cents) == 1:
        return f"In this sweep one string was heard, {signed(cents[0], 1)} cents off its note."
    halves = f", half of them above {signed(median(cents), 1)} cents and half below" if len(cents) > 2 else ""
    return (f"In this sweep {count_of(len(cents), 'string')} stood between {signed(cents[0], 1)} and {signed(cents[-1], 1)} cents "
            f"off their notes{halves}.")


def materials_sentence(strings: Sequence[StringView]) -> str:
    """The materials that belong on the harp, from the top down, and which strings are now of another; "" where none is known."""
    known = [one for one in strings if one.spec.material]
    runs = [(material, [one.name for one in run]) for material, run in groupby(known, key=attrgetter("spec.material"))]
    told = ", ".join(f"{material} {' to '.join(as_strings(dict.fromkeys((names[0], names[-1]))))}" for material, names in runs)
    others = ", ".join(f"{one.newest.material} on {as_string(one.name)}" for one in strings if _is_other_material(one))
    return f"{told}; but now {others}" if others else told


def _is_other_material(one: StringView) -> bool:
    """Whether the string that is on is known to be of another material than belongs there. A stand-in is on for a while only."""
    return one.newest is not None and not one.newest.is_stand_in and not may_be_same(one.newest.material, one.spec.material)


def _kind_concerns(strings: Iterable[StringView]) -> list[Concern]:
    """Strings of another material or thicker than belongs there: their tension is not what the harp was built for."""
    found = []
    for one in strings:
        on, spec = one.newest, one.spec
        if _is_other_material(one):
            found.append(Concern(one.name, f"{capital(on.material)} {_is_on(on)} where {spec.material} belongs: another string, with "
                                           "another tension. May it stay?", FROM_THE_LOG))
        elif on and not on.is_stand_in and on.gauge_mm and spec.gauge_mm and on.gauge_mm > (1.0 + SAME_GAUGE) * spec.gauge_mm:
            found.append(Concern(one.name, f"A string of {on.gauge_mm:g} mm {_is_on(on)} where {spec.gauge_mm:g} mm belongs: it pulls "
                                           "harder. May it stay?", FROM_THE_LOG))
    return found


def _is_on(on: Fitting) -> str:
    return f"has been on since {first_day_text(on)}" if on.fitted_on else "is on"


def _break_concerns(strings: Iterable[StringView]) -> list[Concern]:
    return [Concern(one.name, sentence(f"{break_words(breaks)}: look for {LOOK_AT.get(breaks[0].broke_at, 'a rough contact')}"),
                    FROM_THE_LOG)
            for one in strings if (breaks := repeated_breaks(one.fittings))]


def _step_concerns(strings: Iterable[StringView], off_since: Mapping[str, date]) -> list[Concern]:
    """Strings whose next step leads to a technician, with that step."""
    found = []
    for one in strings:
        if one.condition.step_kind in (TECHNICIAN, FELL_ALONE):
            off = f"; that string came off on {day_text(off_since[one.name])}" if one.name in off_since else ""
            what = " ".join((*map(sentence, one.condition.reasons[:1]), f"The player was told: {one.next_step}"))
            found.append(Concern(one.name, what, f"called {one.word} in this sweep{off}"))
    return found


def _headline(concerns: Sequence[Concern], what: str) -> str:
    if not concerns:
        return f"No fault of the {what} itself is on record: what follows is about its strings alone."
    return f"{count_of(len(concerns), 'matter')} that {'is' if len(concerns) == 1 else 'are'} not the strings’ own fault."

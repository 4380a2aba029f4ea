"""A season: which strings aged, which were changed, octave by octave, from the sweeps and the string log between two days."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from toneprobe.book.entries import Fitting, StoredCondition
from toneprobe.days import day_text
from toneprobe.fittings import known_on
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.report.glossary import CHANGE_VERDICTS, FRESH, JUDGED, NOT_JUDGED, OPEN_STATES, REMEDIES, STAND_IN
from toneprobe.report.octaves import from_the_top, octave_of_note, octave_title
from toneprobe.report.series import HistoryPoint, history, last_said
from toneprobe.report.words import count_of, ring_phrase, want_changing
from toneprobe.units import note_text

NOT_SWEPT, NO_STRING = "not swept yet", "without a string"
NOT_ASKED = (STAND_IN, "settling", NO_STRING)  # of these it is known what they want: not without a verdict, as in a plan (planning.heard)
STANDING = {"false": "Judged false", "dead": "Judged dead", "watch": "Judged worth watching", "settling": "Still settling"}
SINCE = {"unheard": "Not heard since", "unsure": "Heard since, but not well enough to say"}


@dataclass(frozen=True)
class SeasonString:
    """One string position over the season."""

    name: str
    note: str
    octave: int | None
    verdicts: tuple[tuple[date, str], ...]  # oldest first; "fresh" where that sweep is its baseline
    fitted_on: tuple[date, ...]  # within the season
    removals: tuple[Fitting, ...]  # what came off within the season
    last: HistoryPoint | None  # of the string that is on, the last sweep that says something of it
    words: str  # what happened, in a sentence
    is_stand_in: bool = False  # what is on
    is_empty: bool = False  # the log knows that nothing is on


@dataclass(frozen=True)
class SeasonOctave:
    """Counts of one octave."""

    title: str
    n_strings: int
    n_changed: int
    n_want_changing: int
    n_watch: int
    named: str  # the strings changed


@dataclass(frozen=True)
class SeasonView:
    harp: str
    first: date  # of the season
    last: date
    n_sweeps: int
    headline: str
    not_judged: tuple[str, ...]  # which strings have no verdict, and why, a sentence for each reason
    strings: tuple[SeasonString, ...]
    octaves: tuple[SeasonOctave, ...]

    @property
    def title(self) -> str:
        return f"{day_text(self.first)} to {day_text(self.last)}"

    @property
    def eventful(self) -> tuple[SeasonString, ...]:
        """The strings of which there is something to tell."""
        return tuple(one for one in self.strings if one.words)


def season_view(harp: str, instrument: Instrument, conditions: Iterable[StoredCondition], *, fittings: Iterable[Fitting] = (),
                span: tuple[date, date], today: date | None = None) -> SeasonView:
    """The season from `span[0]` to `span[1]`, both included. `today`: where later, what is on then; else what was on at its end."""
    first, last = span
    until = max(last, today or last)
    by_string: dict[str, list[StoredCondition]] = {}
    for one in conditions:
        if first <= one.date <= last:
            by_string.setdefault(one.condition.string, []).append(one)
    log = _grouped(known_on(fittings, until))
    strings = tuple(_season_string(spec, by_string.get(spec.name, ()), log.get(spec.name, ()), span) for spec in instrument.strings)
    days = {(one.sweep_id, one.date) for group in by_string.values() for one in group}
    return SeasonView(harp, first, last, len(days), _headline(strings, len(days)), _not_judged(strings), strings, _octaves(strings))


def _grouped(fittings: Iterable[Fitting]) -> Mapping[str, list[Fitting]]:
    log: dict[str, list[Fitting]] = {}
    for one in fittings:
        log.setdefault(one.string, []).append(one)
    return log


def _season_string(spec: StringSpec, conditions: Sequence[StoredCondition], log: Sequence[Fitting],
                   span: tuple[date, date]) -> SeasonString:
    points = history(conditions)
    fitted_on = tuple(sorted(one.fitted_on for one in log if one.fitted_on and span[0] <= one.fitted_on <= span[1]))
    removals = tuple(one for one in log if one.removed_on and span[0] <= one.removed_on <= span[1])
    on = next((one for one in reversed(log) if one.removed_on is None), None)
    own = tuple(point for point in points if on and point.fitting_id == on.id) if log else points
    return SeasonString(spec.name, note_text(spec.note), octave_of_note(spec.note), tuple((point.date, point.state) for point in points),
                        fitted_on, removals, last_said(own), " ".join([*_changes(fitted_on, removals, on, span[1]), *_standing(own)]),
                        is_stand_in=on is not None and on.is_stand_in, is_empty=bool(log) and on is None)


def _changes(fitted_on: Sequence[date], removals: Sequence[Fitting], on: Fitting | None, end: date) -> list[str]:
    """ "Came off on 3 May 2025 (broke, at the knot).", "New string on 3 May 2025.", and one that went on after the season's end."""
    told = [_removal(one) for one in removals]
    told += [f"New string on {day_text(day)}." for day in fitted_on]
    if on and on.fitted_on and on.fitted_on > end:
        told.append(f"New string since, on {day_text(on.fitted_on)}.")
    return told


def _standing(own: Sequence[HistoryPoint]) -> list[str]:
    """ "Judged dead on 1 July 2025: rings 41 % shorter than fresh.", of the sweeps of the string that is on."""
    last = last_said(own)
    if last is None or last.verdict not in STANDING:
        return []
    ring, later = ring_phrase(last.ring), own[-1]
    than_fresh = f": {ring} than fresh" if "shorter" in ring or "longer" in ring else ""
    since = "" if later is last else f" {SINCE[later.verdict]}."
    return [f"{STANDING[last.verdict]} on {day_text(last.date)}{than_fresh}.{since}"]


def _removal(one: Fitting) -> str:
    why = ", ".join(part for part in (one.why_removed, f"at the {one.broke_at}" if one.broke_at else "") if part)
    return f"Came off on {day_text(one.removed_on)}{f' ({why})' if why else ''}."


def _headline(strings: Sequence[SeasonString], n_sweeps: int) -> str:
    n_new = sum(len(one.fitted_on) for one in strings)
    told = f"{count_of(n_sweeps, 'sweep')}, {count_of(n_new, 'new string')}"
    n = Counter(one.last.state for one in strings if one.last)
    n_judged, n_open = sum(n[state] for state in JUDGED), Counter(_why_open(one) for one in strings)
    if not n_judged:
        fresh = f"fresh baseline of {count_of(n[FRESH], 'string')} recorded"
        return f"{told}; {fresh if n[FRESH] else 'no string could be judged'}."
    n_without = sum(number for why, number in n_open.items() if why is not None and why not in NOT_ASKED)
    counted = [(n_without, "without a verdict"), *((n_open[why], _open_words(why)) for why in NOT_ASKED)]
    rest = "".join(f", {number} {words}" for number, words in counted if number)
    return f"{told}; {want_changing(sum(n[verdict] for verdict in CHANGE_VERDICTS))} now, {n['watch']} to watch{rest}."


def _why_open(one: SeasonString) -> str | None:
    """Why a string has no verdict: one of NOT_JUDGED, NOT_SWEPT, NO_STRING; None where it has one or was last recorded fresh."""
    if one.is_stand_in or one.is_empty:
        return STAND_IN if one.is_stand_in else NO_STRING
    if one.last is None:
        return NOT_SWEPT
    return one.last.state if one.last.state in NOT_JUDGED else None


def _open_words(why: str) -> str:
    return NOT_JUDGED.get(why, why)


def _not_judged(strings: Sequence[SeasonString]) -> tuple[str, ...]:
    """ "2 without a fresh baseline: 3C, 4A. Record them when they are new and settled, ..." """
    told = []
    for state in (*OPEN_STATES, NOT_SWEPT, NO_STRING):
        names = [one.name for one in strings if _why_open(one) == state]
        listed = "all strings" if len(names) == len(strings) else ", ".join(names)
        remedy = f" {REMEDIES[state]}" if state in (STAND_IN, "unrated") else ""
        told += [f"{len(names)} {_open_words(state)}: {listed}.{remedy}"] if names else []
    return tuple(told)


def _octaves(strings: Sequence[SeasonString]) -> tuple[SeasonOctave, ...]:
    numbers = from_the_top(one.octave for one in strings)
    return tuple(_octave(number, [one for one in strings if one.octave == number]) for number in numbers)


def _octave(number: int | None, strings: Sequence[SeasonString]) -> SeasonOctave:
    n = Counter(one.last.verdict for one in strings if one.last)
    changed = [one for one in strings if one.fitted_on]
    return SeasonOctave(octave_title(number), len(strings), sum(len(one.fitted_on) for one in changed),
                        sum(n[verdict] for verdict in CHANGE_VERDICTS), n["watch"], ", ".join(one.name for one in changed))

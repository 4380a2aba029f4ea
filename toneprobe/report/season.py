"""A season: which strings aged, which were changed, octave by octave, from the sweeps and the string log between two days."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import groupby
from operator import attrgetter, itemgetter

from toneprobe.book.entries import StoredCondition
from toneprobe.condition import SILENT
from toneprobe.condition.doubt_words import is_within_doubt
from toneprobe.condition.verdict import CONDEMNING
from toneprobe.days import day_text
from toneprobe.fittings import Fitting, first_day_text, known_on
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.phrases import as_strings, capital, count_of, one_after_another
from toneprobe.report.glossary import FRESH, JUDGED, NOT_JUDGED, OPEN_STATES, REMEDIES, STAND_IN
from toneprobe.report.octaves import from_the_top, harp_octave, octave_title
from toneprobe.report.series import HistoryPoint, history, last_said
from toneprobe.report.words import FEW_OPEN, signed, want_changing
from toneprobe.units import note_text

NOT_SWEPT, NO_STRING = "not swept yet", "without a string"
NOT_ASKED = (STAND_IN, "settling", NO_STRING)  # need no verdict: what they want is known, as in a plan (planning.heard)
STANDING = {"false": "false", "dead": "dead", "watch": "to watch"}
LEAST_TOLD_CENTS = 1.0  # by which a false string's partials lie apart where it is told; a string that only wavers may have less
SINCE = {"unheard": "Not heard since", "unsure": "Heard since, but not well enough to say"}
UNTIL_ITS_END = {"unheard": "Not heard again in this season", "unsure": "Heard again in this season, but not well enough to say"}


@dataclass(frozen=True)
class SeasonString:
    """One string position over the season."""

    name: str
    note: str
    octave: int | None
    verdicts: tuple[tuple[date, str], ...]  # oldest first; "fresh" where that sweep is its baseline
    fitted_on: tuple[date, ...]  # within the season
    last: HistoryPoint | None  # the last sweep that says something of the string that is on
    words: str  # what happened, in a sentence
    is_stand_in: bool  # what is on
    is_empty: bool  # the log knows that nothing is on
    is_by_earlier: bool  # the season's last sweep says nothing of it: `last` is of an earlier one


@dataclass(frozen=True)
class SeasonOctave:
    """Counts of one octave."""

    title: str
    n_strings: int
    n_judged: int
    n_changed: int
    n_want_changing: int | None  # None where no string was judged: 0 would call them fine
    n_watch: int | None  # likewise
    named: str  # the strings changed


@dataclass(frozen=True)
class SeasonView:
    harp: str
    first: date  # of the season
    last: date
    headline: str
    not_judged: tuple[str, ...]  # which strings have no verdict, and why, a sentence for each reason
    is_over: bool  # there are later sweeps: what is said holds for the season's end, not for now
    strings: tuple[SeasonString, ...]
    octaves: tuple[SeasonOctave, ...]
    word: str  # what all strings together are called

    @property
    def title(self) -> str:
        return f"{day_text(self.first)} to {day_text(self.last)}"

    @property
    def by_earlier(self) -> str:
        """ "Counted as an earlier sweep judged them, …: 3B and 4C.", which the last sweep's own page counts otherwise; "" where none is."""
        names = as_strings(one.name for one in self.strings if one.is_by_earlier)
        them = "it" if len(names) == 1 else "them"
        return f"Counted as an earlier sweep judged {them}, because the last one could not: {one_after_another(names)}." if names else ""

    @property
    def eventful(self) -> tuple[SeasonString, ...]:
        """The strings of which there is something to tell."""
        return tuple(one for one in self.strings if one.words)


def year_up_to(last: date) -> tuple[date, date]:
    """First and last day of the year that ends on that day; a year before 29 February is the 28th."""
    before = last.replace(year=last.year - 1, day=28 if (last.month, last.day) == (2, 29) else last.day)
    return before + timedelta(days=1), last


def season_view(harp: str, instrument: Instrument, conditions: Iterable[StoredCondition], *, fittings: Iterable[Fitting] = (),
                span: tuple[date, date], today: date | None = None) -> SeasonView:
    """The season from `span[0]` to `span[1]`, both included, with the strings that are on at its end or, where that is later, `today`."""
    first, last = span
    conditions = tuple(conditions)
    is_over = any(one.date > last for one in conditions)
    by_string: dict[str, list[StoredCondition]] = {}
    for one in conditions:
        if one.date <= last:
            by_string.setdefault(one.condition.string, []).append(one)
    log: dict[str, list[Fitting]] = {}
    for fitting in known_on(fittings, max(last, today or last)):
        log.setdefault(fitting.string, []).append(fitting)
    strings = tuple(_season_string(spec, by_string.get(spec.name, ()), log.get(spec.name, ()), span, is_over)
                    for spec in instrument.strings)
    n_sweeps = len({one.sweep_id for group in by_string.values() for one in group if one.date >= first})
    return SeasonView(harp, first, last, _headline(strings, n_sweeps, is_over), _not_judged(strings, is_over), is_over, strings,
                      _octaves(strings if instrument.is_harp else [replace(one, octave=None) for one in strings]), instrument.word)


def _season_string(spec: StringSpec, conditions: Sequence[StoredCondition], log: Sequence[Fitting], span: tuple[date, date],
                   is_over: bool) -> SeasonString:
    known = history(conditions)  # before the season too: a string may be dead since then
    points = tuple(point for point in known if point.date >= span[0])
    fitted_on = tuple(sorted(one.fitted_on for one in log if one.fitted_on and span[0] <= one.fitted_on <= span[1]))
    on = next((one for one in reversed(log) if one.removed_on is None), None)
    own, own_known = (tuple(point for point in told if on and point.fitting_id == on.id) if log else told for told in (points, known))
    words = [*_change_words(log, span, on, known), *(_standing_words(own_known, span[0], is_over) if own else [])]
    return SeasonString(spec.name, note_text(spec.note), harp_octave(spec.note), tuple((point.date, point.state) for point in points),
                        fitted_on, last_said(own), " ".join(words),
                        is_by_earlier=bool(own) and own[-1].verdict in SILENT and last_said(own).state in JUDGED,
                        is_stand_in=on is not None and on.is_stand_in, is_empty=bool(log) and on is None)


def _change_words(log: Sequence[Fitting], span: tuple[date, date], on: Fitting | None, points: Sequence[HistoryPoint]) -> list[str]:
    """ "Dead in 3 sweeps from 8 February 2025 on. Came off on 3 May 2025 (dead).", "New string on 3 May 2025.", in order of time, also of
    a string that went on after the season's end. `points`: of the sweeps, oldest first."""
    events = []
    for one in log:
        if one.fitted_on:
            events.append((one.fitted_on, f"{'A stand-in' if one.is_stand_in else 'New string'} on {first_day_text(one)}."))
        if one.removed_on:
            events.append((one.removed_on, f"{_last_words(one, points)}{_removal_words(one)}"))
    words = [text for day, text in sorted(events, key=itemgetter(0)) if span[0] <= day <= span[1]]
    if on and on.fitted_on and on.fitted_on > span[1]:
        words.append(f"{'A stand-in' if on.is_stand_in else 'New string'} since, on {first_day_text(on)}.")
    return words


def _last_words(off: Fitting, points: Iterable[HistoryPoint]) -> str:
    """What the last sweeps in a row found before it came off, where it needed attention; else ""."""
    runs = _runs_of_verdict([point for point in points if point.fitting_id == off.id and point.verdict not in SILENT])
    if not runs or runs[-1][0].verdict not in STANDING:
        return ""
    return f"{capital(STANDING[runs[-1][0].verdict])} {_when(runs[-1][0].date, len(runs[-1]))}. "


def _runs_of_verdict(points: Iterable[HistoryPoint]) -> list[list[HistoryPoint]]:
    """The points in runs of one verdict."""
    return [list(run) for _, run in groupby(points, key=attrgetter("verdict"))]


def _when(first: date, n_sweeps: int) -> str:
    """ "on 8 February 2025", "in 3 sweeps from 8 February 2025 on", of sweeps in a row that said the same."""
    return f"on {day_text(first)}" if n_sweeps == 1 else f"in {n_sweeps} sweeps from {day_text(first)} on"


def _standing_words(own: Sequence[HistoryPoint], begin: date, is_over: bool) -> list[str]:
    """ "To watch since 8 June 2025 (ring −20 %), dead since 5 October 2025 (ring −38 %), now −58 %.", from the sweeps of the string that
    is on, oldest first; before it, what was over within the season. Of a season that is over: "to watch from 8 June 2025 on"."""
    said = [point for point in own if point.verdict not in SILENT]
    if not said:
        return []
    last = said[-1]
    since = "" if own[-1] is last else f" {(UNTIL_ITS_END if is_over else SINCE)[own[-1].verdict]}."
    if last.verdict == "settling":
        return [f"Still settling on {day_text(last.date)}.{since}"]
    episodes = _episodes(said)
    ended = episodes[:-1] if last.verdict in STANDING else episodes
    fine_since = _since(episodes[-1][-1].after.date, is_over) if episodes and last.verdict == "sound" else ""
    told_ended = [text for one in ended if (text := _ended_words(one, begin, fine_since if one is episodes[-1] else ""))]
    if last.verdict not in STANDING:
        return [f"{' '.join(told_ended)}{since}"] if told_ended else []
    present = episodes[-1]
    told = ", ".join(_stretch_words(one.first, last.verdict, is_over) for one in present)
    now, then = (_size_words(point, last.verdict) for point in (last, present[-1].first))
    size = "" if now == then else f", {now} at its end" if is_over else f", now {now}"
    return [*told_ended, f"{capital(told)}{size}.{since}"]


@dataclass(frozen=True)
class _Stretch:
    """Sweeps in a row with one verdict that needs attention."""

    first: HistoryPoint
    after: HistoryPoint | None  # the sweep that said something else; None where none did yet
    n_sweeps: int


def _episodes(said: Sequence[HistoryPoint]) -> list[list[_Stretch]]:
    """The times during which the string needed attention without a break, oldest first, each as its stretches of one verdict."""
    runs = _runs_of_verdict(said)
    episodes: list[list[_Stretch]] = []
    for nth, points in enumerate(runs):
        if points[0].verdict in STANDING:
            if nth == 0 or runs[nth - 1][0].verdict not in STANDING:
                episodes.append([])
            episodes[-1].append(_Stretch(points[0], runs[nth + 1][0] if nth + 1 < len(runs) else None, len(points)))
    return episodes


def _ended_words(episode: Sequence[_Stretch], begin: date, fine_since: str) -> str:
    """ "To watch in 2 sweeps from 8 June 2025 on, fine since 3 August 2025.", without stretches that ended before the season began; ""
    where no other is left. `fine_since`: "since 3 August 2025" where it is fine ever since, else ""."""
    stretches, end = [one for one in episode if one.after.date >= begin], episode[-1].after
    if not stretches:
        return ""
    told = ", ".join(f"{STANDING[one.first.verdict]} {_when(one.first.date, one.n_sweeps)}" for one in stretches)
    fine = f", fine {fine_since or f'on {day_text(end.date)}'}" if end.verdict == "sound" else ""
    return f"{capital(told)}{fine}."


def _stretch_words(point: HistoryPoint, kind: str, is_over: bool) -> str:
    """ "dead since 5 October 2025 (ring −38 %)", "dead from 5 October 2025 on"."""
    size = _size_words(point, kind)
    named = f"{'ring ' if kind != 'false' else 'partials '}{size}{' apart' if kind == 'false' else ''}"
    return f"{STANDING[point.verdict]} {_since(point.date, is_over)}{f' ({named})' if size else ''}"


def _since(day: date, is_over: bool) -> str:
    return f"from {day_text(day)} on" if is_over else f"since {day_text(day)}"


def _size_words(point: HistoryPoint, kind: str) -> str:
    """ "−38 %" of the ring, or of a false string "3.5 cents"; "" where no change is seen."""
    if kind == "false":
        cents = point.astray_cents.value
        return f"{cents:.1f} cents" if cents is not None and cents >= LEAST_TOLD_CENTS else ""
    ring = point.ring
    if not ring.known or ring.value >= 1.0 or is_within_doubt(ring):
        return ""
    return f"{signed(100.0 * (ring.value - 1.0))} %"


def _removal_words(one: Fitting) -> str:
    why = ", ".join(part for part in (one.why_removed, f"at the {one.broke_at}" if one.broke_at else "") if part)
    is_told = bool(why) and not (one.is_stand_in and why == STAND_IN)  # that it was one is said already
    off = "The stand-in came off" if one.is_stand_in else "Came off"
    return f"{off} on {day_text(one.removed_on)}{f' ({why})' if is_told else ''}."


def _headline(strings: Sequence[SeasonString], n_sweeps: int, is_over: bool) -> str:
    n_new = sum(len(one.fitted_on) for one in strings)
    told = f"{count_of(n_sweeps, 'sweep')}, {count_of(n_new, 'new string')}"
    n = Counter(one.last.state for one in strings if one.last)
    n_judged = sum(n[state] for state in JUDGED)
    n_by_reason = Counter(_why_no_verdict(one) for one in strings)
    if not n_judged:
        fresh = f"fresh baseline of {count_of(n[FRESH], 'string')} recorded"
        return f"{told}; {fresh if n[FRESH] else 'no string could be judged'}."
    n_without = sum(number for why, number in n_by_reason.items() if why is not None)
    n_not_asked = sum(n_by_reason[why] for why in NOT_ASKED)
    counted = [(n["watch"], "to watch"), (n_without - n_not_asked, "without a verdict"),
               *((n_by_reason[why], NOT_JUDGED.get(why, why)) for why in NOT_ASKED)]
    rest = "".join(f", {number} {words}" for number, words in counted if number)
    none = f"none of {count_of(n_judged, 'string')} judged" if n_without > FEW_OPEN * len(strings) else "no string"
    return f"{told}; {_due_words(sum(n[verdict] for verdict in CONDEMNING), is_over, none=none)}{rest}."


def _due_words(number: int, is_over: bool, *, none: str) -> str:
    """ "3 strings likely want changing now", "no string wanted changing at its end". `none`: "no string", or, where many were not judged,
    "none of 3 strings judged"."""
    if not is_over:
        return f"{want_changing(number) if number else f'{none} wants changing'} now"
    which = f"{count_of(number, 'string')} likely" if number else none
    return f"{which} wanted changing at its end"


def _why_no_verdict(one: SeasonString) -> str | None:
    """Why a string has no verdict: one of NOT_JUDGED, NOT_SWEPT, NO_STRING; None where it has one or was last recorded fresh."""
    if one.is_stand_in or one.is_empty:
        return STAND_IN if one.is_stand_in else NO_STRING
    if one.last is None:
        return NOT_SWEPT
    return one.last.state if one.last.state in NOT_JUDGED else None


def _not_judged(strings: Sequence[SeasonString], is_over: bool) -> tuple[str, ...]:
    """ "2 without a fresh baseline: 3C, 4A. Record each when it is new and settled, ..." """
    told = []
    for state in (*OPEN_STATES, NOT_SWEPT, NO_STRING):
        names = [one.name for one in strings if _why_no_verdict(one) == state]
        listed = "all strings" if len(names) == len(strings) else ", ".join(as_strings(names))
        remedy = f" {REMEDIES[state]}" if state in (STAND_IN, "unrated") and not is_over else ""
        words = "not swept by its end" if is_over and state == NOT_SWEPT else NOT_JUDGED.get(state, state)
        told += [f"{len(names)} {words}: {listed}.{remedy}"] if names else []
    return tuple(told)


def _octaves(strings: Sequence[SeasonString]) -> tuple[SeasonOctave, ...]:
    groups = {number: [one for one in strings if one.octave == number] for number in from_the_top(one.octave for one in strings)}
    return tuple(_octave(number, of_it, is_all=len(groups) == 1) for number, of_it in groups.items())


def _octave(number: int | None, strings: Sequence[SeasonString], *, is_all: bool) -> SeasonOctave:
    n = Counter(one.last.state for one in strings if one.last)
    n_judged, changed = sum(n[state] for state in JUDGED), [one for one in strings if one.fitted_on]
    due, watch = (sum(n[state] for state in states) if n_judged else None for states in (CONDEMNING, ("watch",)))
    return SeasonOctave(octave_title(number, is_all=is_all), len(strings), n_judged, sum(len(one.fitted_on) for one in changed), due, watch,
                        ", ".join(as_strings(one.name for one in changed)))

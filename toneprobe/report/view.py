"""One sweep, ready to be shown: the single value behind the terminal table, the CSV, the pictures and the page.

    facts = SweepFacts("Lindenharp", instrument, date(2025, 5, 3), conditions)
    view = sweep_view(facts, {"5G": Background(now=reading, fresh=baseline, history=stored_conditions, fittings=log)})

Only `SweepFacts` is needed; a string without `Background` is shown with its verdict, reasons and figures alone, one without a condition as
unheard. Pure: a sound is read only by whoever plays it.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from toneprobe.audio import Remark
from toneprobe.book.entries import Clip, StoredCondition
from toneprobe.condition import Condition
from toneprobe.condition.context import Spoiler
from toneprobe.condition.next_steps import FELL_ALONE, JUDGED_BEFORE, OTHER_POSITION, OTHER_STRINGS, cautions_of
from toneprobe.condition.unjudged import left_out_condition
from toneprobe.condition.verdict import CONDEMNING
from toneprobe.days import day_text
from toneprobe.fittings import Fitting
from toneprobe.instrument import Instrument, StringSpec, find_string
from toneprobe.phrases import count_of
from toneprobe.remarks.recording import is_noisy, rang_along
from toneprobe.report.attention import (
    FirstStep,
    NotJudged,
    SharedStep,
    first_steps,
    not_judged,
    shared_steps,
    standing_words,
    still_standing,
    worst_first,
)
from toneprobe.report.fitting_words import material_words
from toneprobe.report.glossary import FINE_BUT_FELL, FRESH, LEFT_OUT, OTHER_NOTE, OTHER_SET, RECORD_AGAIN, STAND_IN
from toneprobe.report.octaves import OctaveView, octave_views
from toneprobe.report.outlook import outlook
from toneprobe.report.rows import figure_rows
from toneprobe.report.series import brightness_change, history, partial_points, ring_change
from toneprobe.report.spoilt import fresh_anew
from toneprobe.report.string_view import StringView
from toneprobe.report.words import (
    had_time_step,
    headline,
    is_drowned,
    later_fresh_step,
    left_open,
    names_by_verdict,
    order_text,
    plain_reason,
    settled_step,
    sureness_text,
)
from toneprobe.session import Reading
from toneprobe.settling import SettledRecord
from toneprobe.units import note_text

NOT_COMPARED = {OTHER_POSITION: OTHER_NOTE, OTHER_STRINGS: OTHER_SET, JUDGED_BEFORE: JUDGED_BEFORE}  # states, by kind of step


@dataclass(frozen=True)
class SweepFacts:
    """What is known of a sweep; mappings are by string."""

    harp: str
    instrument: Instrument
    date: date
    conditions: tuple[Condition, ...]  # in any order
    warnings: tuple[Remark, ...] = ()
    is_fresh: bool = False
    program: str = ""  # the version that measured it
    sweep_id: int | None = None  # its number in the book
    first_baselines: frozenset[str] = frozenset()  # strings whose baseline this sweep is
    spoilt: Mapping[str, str] = field(default_factory=dict)  # the remedy where a recording is at fault, `report.spoilt`
    unfit_as_fresh: Spoiler | None = None  # the fault for which the recordings cannot be a fresh baseline
    settled: Mapping[str, SettledRecord] = field(default_factory=dict)  # strings without a baseline whose checks show them settled
    later_fresh: Mapping[str, date] = field(default_factory=dict)  # the day of a baseline that is later than the sweep
    lacking: Mapping[str, str] = field(default_factory=dict)  # what strings still lack for a baseline, in words
    had_time: Mapping[str, date] = field(default_factory=dict)  # since when a string without such a check has had time to settle
    fresh_elsewhere: Mapping[str, date] = field(default_factory=dict)  # the day of another fresh sweep, of strings that this did not hear


@dataclass(frozen=True)
class Background:
    """What else is known of one string. A clip is a function, so that it is read when a page needs it, one pair at a time."""

    now: Reading | None = None
    fresh: Reading | None = None
    history: Sequence[StoredCondition] = ()
    fittings: Sequence[Fitting] = ()
    clip_now: Callable[[], Clip | None] | None = None
    clip_fresh: Callable[[], Clip | None] | None = None
    is_plucked_alike: bool = True  # the plucks of both clips


@dataclass(frozen=True)
class SweepView:
    """A sweep of a whole harp. `strings` from the highest to the lowest."""

    harp: str
    date: date
    is_fresh: bool
    headline: str
    left_open: str  # what was not judged, "" where every string was
    fresh_anew: str  # what to do where this sweep cannot serve as the fresh baseline that it is, else ""
    subline: str
    warnings: tuple[Remark, ...]
    strings: tuple[StringView, ...]
    attention: tuple[StringView, ...]  # false, dead and watch, worst first
    still_standing: tuple[StringView, ...]  # only an earlier sweep says that they need attention
    steps: tuple[SharedStep, ...]  # what to do with those that need attention
    on_the_way: tuple[StringView, ...]  # fine now, but their sweeps show when they will not be
    fell_alone: tuple[StringView, ...]  # fine, but their pitch fell and no other's so far
    not_judged: tuple[NotJudged, ...]
    cautions: tuple[str, ...]  # none where no string is to be changed
    program: str
    instrument: Instrument

    @property
    def day(self) -> str:
        return day_text(self.date)

    @property
    def octaves(self) -> tuple[OctaveView, ...]:
        return octave_views(self.strings)

    @property
    def order(self) -> str:
        """How strings that need attention are ordered."""
        return order_text(one.verdict for one in self.attention)

    @property
    def named(self) -> str:
        """The strings that the headline counts: "False: 3F. Dead: 5G, 4A. Fine, but fallen out of tune: 2C."."""
        fell = f"{FINE_BUT_FELL}: {', '.join(one.name for one in self.fell_alone)}." if self.fell_alone else ""
        return " ".join(part for part in (names_by_verdict((one.name, one.verdict) for one in self.attention), fell) if part)

    @property
    def what_next(self) -> str:
        """The commands that come next where strings need attention, else ""."""
        called = [(one.name, one.verdict) for one in self.attention]
        called += [(one.name, one.still_stands.verdict) for one in self.still_standing]
        if not called:
            return ""
        due = [name for name, verdict in called if verdict in CONDEMNING]
        name = due[0] if due and due[0].isalnum() else "STRING"
        after = f" After a change: 'toneprobe restring {name}'." if due else ""
        return f"Before a concert: 'toneprobe ready --on DATE' gives the days and the orders.{after}"

    @property
    def first_steps(self) -> tuple[FirstStep, ...]:
        """What to do next, in short; `steps` and `not_judged` have all of it."""
        anew = (FirstStep("What to do", self.fresh_anew),) if self.fresh_anew else ()
        return anew + first_steps(self.steps, self.not_judged)

    @property
    def standing(self) -> str:
        """ "4A, not heard, was last judged dead on 10 March 2026.", "" where there is no such string."""
        return standing_words(self.still_standing)


def sweep_view(facts: SweepFacts, backgrounds: Mapping[str, Background] | None = None) -> SweepView:
    """All that is shown of a sweep. `backgrounds` by string name."""
    backgrounds, left_out = backgrounds or {}, rang_along(facts.warnings)
    strings = tuple(
        _string_view(place, spec, condition, backgrounds.get(condition.string, Background()), facts, left_out.get(condition.string, ""))
        for place, (spec, condition) in enumerate(_in_order(facts.instrument, facts.conditions)))
    states = [one.state for one in strings]
    drowned = is_drowned(states, is_noisy=is_noisy(facts.warnings))
    take_back = facts.sweep_id or "NUMBER" if drowned else None
    if drowned:  # plucking once more does not help
        again = {"next_step": RECORD_AGAIN.format(take_back), "step_kind": ""}
        strings = tuple(replace(one, condition=replace(one.condition, **again)) if one.state == "unsure" else one for one in strings)
    attention, standing = worst_first(strings), still_standing(strings)
    unfit = facts.unfit_as_fresh if facts.is_fresh else None
    return SweepView(
        harp=facts.harp, date=facts.date, is_fresh=facts.is_fresh,
        headline=headline(states, is_fresh=facts.is_fresh, is_more_known=bool(standing), is_drowned=drowned,
                          why_unfit=f"this recording{unfit.what}" if unfit else ""),
        left_open=left_open(states), fresh_anew=fresh_anew(unfit, facts.sweep_id) if unfit else "", subline=_subline(facts),
        warnings=facts.warnings, strings=strings, attention=attention, still_standing=standing, steps=shared_steps(attention),
        on_the_way=tuple(one for one in strings if one.verdict == "sound" and one.outlook),
        fell_alone=tuple(one for one in strings if one.condition.step_kind == FELL_ALONE),
        not_judged=not_judged(strings, take_back=take_back),
        cautions=cautions_of(facts.instrument.word) if any(one.verdict in CONDEMNING for one in strings) else (),
        program=facts.program, instrument=facts.instrument)


def find_string_view(view: SweepView, name: str) -> StringView:
    """One string of the view as a player names it; UsageError, from `instrument.find_string`, where there is none or two can be meant."""
    wanted = find_string(view.instrument, name).name
    return next(one for one in view.strings if one.name == wanted)


def _in_order(instrument: Instrument, conditions: Iterable[Condition]) -> list[tuple[StringSpec, Condition]]:
    by_name = {condition.string: condition for condition in conditions}
    return [(spec, by_name.get(spec.name) or Condition(spec.name, spec.note, "unheard", None, None, 0, (), "", {}, {}))
            for spec in instrument.strings]


def _string_view(place: int, spec: StringSpec, condition: Condition, known: Background, facts: SweepFacts, left_out_by: str) -> StringView:
    """`left_out_by`: the string that rang along with its plucks, "" where none did."""
    if left_out_by:
        condition = left_out_condition(condition, left_out_by)
    spoilt = facts.spoilt.get(condition.string, "") if condition.verdict == "unsure" else ""
    if spoilt:
        condition = replace(condition, next_step=spoilt, step_kind="")
    ring, brightness = ring_change(condition), brightness_change(condition)
    state, points = _state(condition, known, facts, is_left_out=bool(left_out_by)), history(known.history)
    settled = facts.settled.get(condition.string) if state == "unrated" else None
    had_time_on = facts.had_time.get(condition.string) if state == "unrated" and not settled else None
    lacks = facts.lacking.get(condition.string, "") if settled or had_time_on else ""
    later = facts.later_fresh.get(condition.string) if state == "unrated" else None
    if later:
        condition = replace(condition, next_step=later_fresh_step(later, facts.sweep_id))
    elif settled:
        condition = replace(condition, next_step=settled_step([settled], lacks))
    elif had_time_on:
        condition = replace(condition, next_step=had_time_step([condition.string], had_time_on, lacks))
    return StringView(
        place=place, name=condition.string, note=note_text(condition.note), spec=spec, condition=condition,
        letter=condition.note[0] if facts.instrument.is_harp else "",
        state=state, left_out_by=left_out_by if state == LEFT_OUT else "", spoilt=spoilt if state == "unsure" else "",
        material=material_words(_log(known), spec, on=facts.date),
        sureness=sureness_text(condition.verdict, condition.false_score if condition.verdict == "false" else condition.dead_score,
                               condition.n_plucks, condition.step_kind, is_wavering_open=condition.is_wavering_open),
        ring=ring, brightness=brightness, rows=figure_rows(condition, ring, brightness), remarks=_remarks(known.now),
        now=partial_points(known.now), fresh=partial_points(known.fresh), history=points, outlook=outlook(points, today=facts.date),
        fittings=_log(known), clip_now=known.clip_now, clip_fresh=known.clip_fresh,
        is_plucked_alike=known.is_plucked_alike, settled=settled, lacks=lacks, had_time_on=had_time_on, fresh_later_on=later,
        fresh_elsewhere_on=facts.fresh_elsewhere.get(condition.string) if state == "unheard" else None)


def _log(known: Background) -> tuple[Fitting, ...]:
    return tuple(sorted(known.fittings, key=lambda one: (one.fitted_on or date.min, one.id)))


def _state(condition: Condition, known: Background, facts: SweepFacts, *, is_left_out: bool) -> str:
    if condition.verdict == "unheard" and is_left_out:
        return LEFT_OUT
    if condition.step_kind == JUDGED_BEFORE and condition.string in facts.first_baselines:
        return FRESH
    if condition.verdict == "unsure" and condition.step_kind in NOT_COMPARED:
        return NOT_COMPARED[condition.step_kind]
    if condition.verdict != "unrated":
        return condition.verdict
    on = [one for one in known.fittings if one.removed_on is None or one.removed_on > facts.date]
    if any(one.is_stand_in for one in on):
        return STAND_IN
    return FRESH if condition.string in facts.first_baselines else condition.verdict


def _remarks(heard: Reading | None) -> tuple[str, ...]:
    """What the recording could not carry of a string; of one reason that two plucks give with two numbers, the first."""
    first_of: dict[str, str] = {}
    for text in map(plain_reason, heard.flags if heard else ()):
        first_of.setdefault(re.sub(r"\d+", "", text), text)
    return tuple(first_of.values())


def _subline(facts: SweepFacts) -> str:
    """ "45 of 47 strings measured, 86 plucks · A 440 Hz, tuned in flats"; without the tuning where another was played."""
    heard = [one for one in facts.conditions if one.n_plucks > 0]
    n_plucks = sum(one.n_plucks for one in heard)
    given = {spec.name: spec.note for spec in facts.instrument.strings}
    is_as_given = all(one.note == given.get(one.string, one.note) for one in heard)
    tuning = f", tuned in {facts.instrument.tuning}" if facts.instrument.tuning and is_as_given else ""
    measured = f"{len(heard)} of {count_of(len(facts.instrument.strings), 'string')} measured, {count_of(n_plucks, 'pluck')}"
    return f"{measured} · A {facts.instrument.a4_hz:g} Hz{tuning}"

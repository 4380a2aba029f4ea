"""A sweep of the book, told again: the view behind its table, picture and page, with the sounds, history and log of every string."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import partial

from toneprobe.audio import Remark
from toneprobe.book import read
from toneprobe.book.clips import read_clip
from toneprobe.book.connect import Book, reading
from toneprobe.book.diary import events_of
from toneprobe.book.entries import Clip, Harp, StoredCondition, StoredPluck, SweepRecord
from toneprobe.condition import Condition
from toneprobe.condition.context import spoiler
from toneprobe.errors import BookError, UsageError
from toneprobe.events import explain_change
from toneprobe.fittings import known_when_heard, unknown_age_words
from toneprobe.harp_state import harp_state
from toneprobe.judging.past import Lookups, captures_of, fittings_at, heard_in
from toneprobe.judging.verdicts import Recalled, judge_against, judge_recalled, recall
from toneprobe.phrases import capital
from toneprobe.report.compare import ComparisonView, comparison_view
from toneprobe.report.fitting_words import not_new_words
from toneprobe.report.like_plucks import like_pair
from toneprobe.report.mended import mended_words
from toneprobe.report.series import UNKNOWN, brightness_change, ring_change
from toneprobe.report.shelf import Shelf
from toneprobe.report.spoilt import spoilt_remedy
from toneprobe.report.view import Background, SweepFacts, SweepView, sweep_view
from toneprobe.upkeep.fresh_start import bare_strings, unshown_strings
from toneprobe.workers import Progress

Histories = Mapping[str, Sequence[StoredCondition]]  # by string, oldest first


def find_sweep(book: Book, harp_id: int, sweep_id: int | None = None) -> SweepRecord:
    """The harp's sweep of that number, or its latest. UsageError or BookError where there is none."""
    records = read.sweeps(book, harp_id)
    if not records:
        raise BookError("this harp has no sweep yet: record one and give it to 'toneprobe sweep'")
    if sweep_id is None:
        return records[-1]
    found = next((one for one in records if one.id == sweep_id), None)
    if found is None:
        raise UsageError(f"this harp has no sweep {sweep_id}; it has {', '.join(map(str, sorted(one.id for one in records)))}")
    return found


def retell(book: Book, record: SweepRecord, harp_name: str, *, lookups: Lookups | None = None, histories: Histories | None = None
           ) -> SweepView:
    """Verdicts as the book holds them, with all that is known of each string beside them. Warnings: what the recordings could not carry,
    then what the whole sweep has in common. `lookups`: as of `past_of`. `histories`: by string all verdicts, where they were read."""
    with reading(book):
        recalled = recall(book, record, lookups=lookups)
        past = recalled.past
        said = read.conditions_of(book, record.id)
        conditions = tuple(one.condition for one in said)
        if histories is None:
            histories = {spec.name: read.condition_history(book, record.harp_id, spec.name) for spec in record.instrument.strings}
        judged = judge_recalled(recalled)
        kept = frozenset(one.measurement.string for one in recalled.plucks if one.is_fresh)
        warnings = (*_own_remarks(book, record, judged.said_of_now), *map(Remark, (
            *judged.warnings, *_what_happened(book, record), *_stand_ins(recalled), *filter(None, [mended_words(said, histories)]),
            *_not_new(recalled, kept))))
        lacking, had_time = _waiting(book, recalled, conditions)
        first = read.first_fresh_days(book, record.harp_id)
        facts = SweepFacts(
            harp_name, record.instrument, record.date, conditions, warnings, record.is_fresh, record.program, record.id,
            spoilt={string: spoilt_remedy(by, record.id, {one.sweep_id: one.date for one in past.fresh_plucks.get(string, ())})
                    for string, by in judged.spoilt_by.items()},
            later_fresh={string: first[one.id] for string, one in past.fittings.items() if first.get(one.id, date.min) > record.date},
            first_baselines=kept, unfit_as_fresh=spoiler(captures_of(record.recordings)), settled=past.settled, lacking=lacking,
            had_time=had_time, fresh_elsewhere=_fresh_elsewhere(book, recalled, kept, first))
        judged_now = {one.string: one for one in conditions}
        return sweep_view(facts, {spec.name: _background(book, recalled, spec.name, judged_now.get(spec.name), histories.get(spec.name, ()))
                                  for spec in record.instrument.strings})


def _own_remarks(book: Book, record: SweepRecord, compared: Collection[str]) -> Iterator[Remark]:
    """What the recordings could not carry, without what was said beside a sweep that was taken back since. `compared`: kinds of which the
    comparison speaks in its own words."""
    there = {None, *read.sweep_numbers(book, record.harp_id, since=date.min)}
    return (one for one in record.remarks if one.kind not in compared and one.as_sweep in there)


def _fresh_elsewhere(book: Book, recalled: Recalled, kept: Collection[str], first: Mapping[int, date]) -> dict[str, date]:
    """By string not heard in a sweep that is but one evening of a fresh baseline: the day of its own baseline, where it has one by now."""
    heard = set(heard_in(recalled.plucks))
    if not heard or not heard <= set(kept):
        return {}
    on = fittings_at(book, recalled.record.harp_id, on=recalled.record.date)
    return {string: first[one.id] for string, one in on.items() if string not in heard and one.id in first}


def _waiting(book: Book, recalled: Recalled, conditions: Iterable[Condition]) -> tuple[dict[str, str], dict[str, date]]:
    """By string, of those that wait for a baseline by that day: what their tone lacks yet, and since when they have had their time."""
    if not any(one.verdict == "unrated" and one.string in recalled.past.fittings for one in conditions):
        return {}, {}
    record = recalled.record
    state = harp_state(book, record.harp_id, read.harp_by_id(book, record.harp_id).instrument, today=record.date)
    found = bare_strings(book, state) | unshown_strings(book, state)
    return ({string: lacks for string, (lacks, _) in found.items() if lacks},
            {string: since for string, (_, since) in found.items() if since is not None})


def compared(book: Book, records: Sequence[SweepRecord], harp_name: str) -> ComparisonView:
    """Two sweeps of one harp side by side, the earlier first however they are given."""
    earlier, later = sorted(records, key=lambda one: (one.date, one.id))
    return comparison_view(*(retell(book, one, harp_name) for one in (earlier, later)), judged_between(book, earlier, later),
                           log=read.fitting_log(book, later.harp_id))


def judged_between(book: Book, earlier: SweepRecord, later: SweepRecord) -> dict[str, Condition]:
    """By string, the later sweep's condition against the earlier: from the book, so that pages agree, where that is all of its baseline."""
    then, now = recall(book, earlier), recall(book, later)
    found = {one.string: one for one in judge_against(now, then)}
    own = {string for string, plucks in now.past.fresh_plucks.items() if {pluck.sweep_id for pluck in plucks} == {earlier.id}}
    return found | {one.condition.string: one.condition for one in read.conditions_of(book, later.id) if one.condition.string in own}


def shelf_of(book: Book, harp: Harp, *, progress: Progress | None = None) -> Shelf:
    """All that there is to show of one harp; BookError where it has no sweep yet. `progress`: called with (sweeps read, sweeps in all)."""
    find_sweep(book, harp.id)
    records = read.sweeps(book, harp.id)
    conditions = tuple(one for record in records for one in read.conditions_of(book, record.id))
    between = judged_between(book, *records[-2:]) if len(records) > 1 else {}
    lookups = Lookups()
    histories: dict[str, list[StoredCondition]] = {}
    for one in conditions:
        histories.setdefault(one.condition.string, []).append(one)
    views: list[SweepView] = []
    for record in records:
        views.append(retell(book, record, harp.name, lookups=lookups, histories=histories))
        if progress:
            progress(len(views), len(records))
    return Shelf(views, conditions, read.fitting_log(book, harp.id), between=between, events=events_of(book, harp.id))


def _what_happened(book: Book, record: SweepRecord) -> tuple[str, ...]:
    """Moves, regulations and the room's climate since the sweep before, which may explain a jump."""
    before = [one for one in read.sweeps(book, record.harp_id) if (one.date, one.id) < (record.date, record.id)]
    if not before:
        return ()
    told = explain_change(events_of(book, record.harp_id), since=before[-1].date, until=record.date)
    return tuple(f"Since the last sweep: {line}." for line in told)


def _stand_ins(recalled: Recalled) -> tuple[str, ...]:
    on = [spec.name for spec in recalled.record.instrument.strings if spec.name in recalled.past.stand_ins]
    return (f"A stand-in is on {', '.join(on)}: not judged, and to be replaced.",) if on else ()


def _not_new(recalled: Recalled, fresh: Collection[str]) -> tuple[str, ...]:
    on = recalled.past.fittings
    told = not_new_words((on[spec.name] for spec in recalled.record.instrument.strings if spec.name in fresh and spec.name in on),
                         on=recalled.record.date)
    plucks = recalled.past.fresh_plucks
    judged = {one.measurement.string for one in recalled.plucks}.intersection(plucks).difference(fresh)
    days = {string: min(one.date for one in plucks[string]) for string in judged}
    unknown = unknown_age_words((on[spec.name] for spec in recalled.record.instrument.strings if spec.name in on), days)
    return tuple(text for text in (told, f"{capital(unknown)}." if unknown else "") if text)


def _background(book: Book, recalled: Recalled, string: str, judged: Condition | None, history: Sequence[StoredCondition]) -> Background:
    record, past = recalled.record, recalled.past
    baseline = past.baselines.get(string)
    plucks = [one for one in recalled.plucks if one.measurement.string == string]
    fresh, now, is_alike = _heard_beside(past.fresh_plucks.get(string, ()), plucks, judged)
    return Background(
        now=recalled.sweep.readings.get(string),
        fresh=baseline.reading if baseline else None,
        history=tuple(one for one in history if one.date <= record.date),
        fittings=known_when_heard(read.fitting_log(book, record.harp_id, string), record.date, heard_in(recalled.plucks).get(string)),
        clip_now=_clip(book, now),
        clip_fresh=_clip(book, fresh),
        is_plucked_alike=is_alike,
    )


def _heard_beside(fresh: Sequence[StoredPluck], now: Sequence[StoredPluck],
                  judged: Condition | None) -> tuple[StoredPluck | None, StoredPluck | None, bool]:
    """The two plucks with their sound to listen to side by side, and whether by a like touch; of one side alone the clearest."""
    sides = [[one for one in side if one.clip] for side in (fresh, now)]
    changes = (ring_change(judged), brightness_change(judged)) if judged else (UNKNOWN, UNKNOWN)
    pair = like_pair(*([one.measurement for one in side] for side in sides), ring=changes[0], brightness=changes[1])
    if pair:
        return sides[0][pair.fresh], sides[1][pair.now], pair.is_alike
    clearest = [max(side, key=lambda one: one.measurement.clearness_db, default=None) for side in sides]
    return clearest[0], clearest[1], True


def _clip(book: Book, pluck: StoredPluck | None) -> Callable[[], Clip | None] | None:
    return partial(read_clip, book.folder, pluck) if pluck else None

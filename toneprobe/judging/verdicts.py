"""Every string of a sweep against its own fresh baseline, by what the book knows: of a new sweep, of a stored one, of all again."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from toneprobe.baseline import fresh_baseline
from toneprobe.book import read
from toneprobe.book.connect import Book
from toneprobe.book.entries import NewPluck, NewSweep, StoredPluck, SweepRecord
from toneprobe.book.write import replace_conditions
from toneprobe.condition import Condition
from toneprobe.condition.context import SweepContext
from toneprobe.condition.judged_before import judged_before_condition
from toneprobe.errors import DamagedError
from toneprobe.judging.past import Lookups, Past, captures_by_string, captures_of, heard_in, past_of
from toneprobe.session import SweepReading
from toneprobe.session.sweep import read_sweep
from toneprobe.workers import Progress

if TYPE_CHECKING:
    from toneprobe.condition.judgement import Judgement


@dataclass(frozen=True)
class Recalled:
    """A stored sweep with all that it is judged by."""

    record: SweepRecord
    plucks: tuple[StoredPluck, ...]
    sweep: SweepReading
    past: Past


@dataclass(frozen=True)
class Rejudged:
    """A verdict that is another one, after a baseline or the log of strings changed."""

    day: date  # of the sweep
    string: str
    before: str
    now: str


@dataclass(frozen=True)
class JudgedAgain:
    """What became of the verdicts of all sweeps from some day on."""

    changed: tuple[Rejudged, ...] = ()
    damaged: tuple[int, ...] = ()  # sweeps whose verdicts stay, for something that they rest on cannot be read


def judge_sweep(sweep: SweepReading, past: Past, *, record: SweepRecord | NewSweep, plucks: Sequence[NewPluck | StoredPluck],
                fresh: Collection[str]) -> Judgement:
    """Every string against its own baseline; of those in `fresh` the sweep is that itself. `plucks` say in which recording a string is."""
    from toneprobe.condition.judgement import judge  # slow to load, and most changes of the log have no sweep after them

    context = SweepContext(captures_of(record.recordings), past.captures, past.said, past.beside,
                           captures_by_string(record.recordings, plucks), past.own_captures)
    settling = past.settling - set(fresh)
    heard = notes_of(sweep)
    baselines = {string: one for string, one in past.baselines.items() if string not in fresh or one.reading.note == heard.get(string)}
    judgement = judge(sweep, baselines, instrument=record.instrument, settling=settling, context=context)
    return replace(judgement, conditions=tuple(_as_known(one, past, is_fresh=one.string in fresh) for one in judgement.conditions))


def notes_of(sweep: SweepReading) -> dict[str, str]:
    """By string, the note that it was read in: the pedal or lever position."""
    return {string: reading.note for string, reading in sweep.readings.items()}


def recall(book: Book, record: SweepRecord, *, lookups: Lookups | None = None) -> Recalled:
    """A sweep of the book, read as it was when it was new, with what the book knows of the harp on that day. `lookups`: as of `past_of`."""
    plucks = read.plucks_of(book, record.id)
    sweep = read_sweep([pluck.measurement for pluck in plucks])
    past = past_of(book, record.harp_id, on=record.date, heard=notes_of(sweep), leaving_out=[record.id], owners=heard_in(plucks),
                   before=record.id, lookups=lookups)
    return Recalled(record, plucks, sweep, past)


def judge_recalled(recalled: Recalled) -> Judgement:
    """The verdicts that the book's present knowledge gives."""
    fresh = {pluck.measurement.string for pluck in recalled.plucks if pluck.is_fresh}
    return judge_sweep(recalled.sweep, recalled.past, record=recalled.record, plucks=recalled.plucks, fresh=fresh)


def judge_against(later: Recalled, earlier: Recalled) -> tuple[Condition, ...]:
    """The later sweep judged as if the earlier were the fresh baseline of every string that it heard, whichever string that was."""
    from toneprobe.condition.judgement import judge

    capture = f"sweep {earlier.record.id}"
    context = SweepContext(captures_of(later.record.recordings), {capture: captures_of(earlier.record.recordings)},
                           own_now=captures_by_string(later.record.recordings, later.plucks),
                           own_fresh=captures_by_string(earlier.record.recordings, earlier.plucks))
    fresh = fresh_baseline([[pluck.measurement for pluck in earlier.plucks]], capture=capture)
    return judge(later.sweep, fresh, instrument=later.record.instrument, context=context).conditions


def judge_again(book: Book, harp_id: int, *, since: date, leaving_out: int | None = None, progress: Progress | None = None) -> JudgedAgain:
    """New verdicts for all sweeps from that day on, after a baseline or the log of strings changed, in the same `writing`. Returns those
    that changed: with one string its neighbours' errors, learnt together, may change too. What was measured stays. A damaged sweep is
    passed over. `progress` is called with (sweeps judged again, sweeps in all): of many years it takes minutes."""
    changed: list[Rejudged] = []
    damaged: list[int] = []
    lookups = Lookups()  # a fresh sweep is asked for its plucks by every sweep after it
    numbers = [one for one in read.sweep_numbers(book, harp_id, since=since) if one != leaving_out]
    for done, sweep_id in enumerate(numbers, 1):
        try:
            changed += _judge_anew(book, sweep_id, lookups)
        except DamagedError:
            damaged.append(sweep_id)
        if progress:
            progress(done, len(numbers))
    return JudgedAgain(tuple(changed), tuple(damaged))


def _judge_anew(book: Book, sweep_id: int, lookups: Lookups) -> list[Rejudged]:
    record = read.sweep(book, sweep_id)
    conditions = judge_recalled(recall(book, record, lookups=lookups)).conditions
    before: dict[str, str] = {}
    with suppress(DamagedError):  # new verdicts take the place of damaged ones
        before = {one.condition.string: one.condition.verdict for one in read.conditions_of(book, sweep_id)}
    replace_conditions(book, sweep_id, conditions)
    return [Rejudged(record.date, one.string, before[one.string], one.verdict) for one in conditions
            if before.get(one.string, one.verdict) != one.verdict]


def _as_known(one: Condition, past: Past, *, is_fresh: bool) -> Condition:
    """The condition with what the book knows of the string besides: that it is a stand-in or fresh, or was called in another position."""
    if one.string in past.stand_ins:
        return one if one.verdict == "unheard" else replace(
            one, verdict="unrated", dead_score=None, false_score=None, reasons=("A stand-in is on: it is not judged.",),
            next_step="Put the right string on when you have it.", step_kind="")
    is_first = is_fresh and one.verdict == "unrated"
    if is_first:
        one = replace(one, reasons=("This sweep is its fresh baseline.",), next_step="")
    call = past.standing_calls.get(one.string)
    return judged_before_condition(one, call) if call and (is_first or one.verdict == "sound") else one

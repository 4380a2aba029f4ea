"""The main job on one page: a recorded sweep becomes figures per pluck, and the figures become a verdict per string.

Sound goes in at the top: `hear` opens the recording, finds what is new in it, names each pluck over the whole sweep and measures it
(hearing). Then the plucks of a sweep become one reading per string (session), and each reading is judged against the fresh baseline of
the same fitting (past, baseline, condition). The book keeps all of it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from toneprobe.book import read
from toneprobe.book.connect import Book
from toneprobe.book.entries import Harp, NewSweep, StoredPluck, SweepRecord
from toneprobe.book.write import mark_fresh, replace_conditions, store_sweep
from toneprobe.condition import Condition, Judgement, SweepContext, judge
from toneprobe.errors import BookError, RecordingError, UsageError
from toneprobe.filing import entry_of, file_hash, new_plucks
from toneprobe.hearing import Heard, Progress, hear
from toneprobe.instrument import Instrument
from toneprobe.past import Past, captures_of, past_of
from toneprobe.remarks import hearing_remarks
from toneprobe.session import SweepReading, read_sweep


@dataclass(frozen=True)
class Swept:
    """A sweep as the player hands it in."""

    recordings: tuple[Path, ...]
    day: date
    instrument: Instrument
    is_fresh: bool = False
    fresh_for: frozenset[str] = frozenset()  # only these strings are new and settled; all where empty and is_fresh


@dataclass(frozen=True)
class Checked:
    record: SweepRecord
    is_new: bool  # False: these recordings were measured before, and nothing was added


@dataclass(frozen=True)
class Recalled:
    """A stored sweep with all that it is judged by."""

    record: SweepRecord
    plucks: tuple[StoredPluck, ...]
    sweep: SweepReading
    past: Past


def check(book: Book, harp: Harp, swept: Swept, *, progress: Progress | None = None, listen: Callable[..., Heard] = hear) -> Checked:
    """The main job: measure a sweep, judge every string against its fresh self, keep it, and judge again what came later.

    The same recordings measured twice add nothing. RecordingError where no pluck of the harp is heard. `listen` takes the place of `hear`
    where recordings are heard elsewhere, in other processes for instance.
    """
    hashes = [file_hash(path) for path in swept.recordings]
    record = known = _measured_before(book, harp, hashes)
    if known is None:
        heard = [listen(path, swept.instrument, progress=progress) for path in swept.recordings]
        record = _store(book, harp, swept, hashes, heard)
    is_marked = bool(swept.fresh_for) or bool(known and swept.is_fresh and not known.is_fresh)
    if is_marked:
        record = mark_fresh(book, record.id, strings=swept.fresh_for or None)
    if is_marked or (known is None and record.is_fresh):
        judge_again(book, harp.id, since=record.date, leaving_out=None if known else record.id)
    return Checked(record, is_new=known is None)


def judge_again(book: Book, harp_id: int, *, since: date, leaving_out: int | None = None) -> None:
    """New verdicts for all sweeps from that day on, after a baseline or the log of strings changed. What was measured stays."""
    for record in read.sweeps(book, harp_id):
        if record.date >= since and record.id != leaving_out:
            replace_conditions(book, record.id, judge_recalled(recall(book, record)).conditions)


def recall(book: Book, record: SweepRecord) -> Recalled:
    """A sweep of the book, read as it was when it was new, with what the book knows of the harp on that day."""
    plucks = read.plucks_of(book, record.id)
    sweep = read_sweep([pluck.measurement for pluck in plucks], unheard=record.unheard)
    return Recalled(record, plucks, sweep, past_of(book, record.harp_id, on=record.date, leaving_out=record.id))


def judge_recalled(recalled: Recalled) -> Judgement:
    """The verdicts that the book's present knowledge gives."""
    fresh = {pluck.measurement.string for pluck in recalled.plucks if pluck.is_fresh}
    return judge_sweep(recalled.sweep, recalled.past, record=recalled.record, fresh=fresh)


def judge_sweep(sweep: SweepReading, past: Past, *, record: SweepRecord | NewSweep, fresh: Collection[str]) -> Judgement:
    """Every string against its own fresh baseline; `fresh` names those whose baseline this sweep is itself."""
    context = SweepContext(captures_of(record.recordings), past.captures)
    settling = past.settling - set(fresh)
    judgement = judge(sweep, past.baselines, instrument=record.instrument, settling=settling, context=context)
    conditions = (_as_fresh(one) if one.string in fresh else one for one in judgement.conditions)
    return replace(judgement, conditions=tuple(_as_stand_in(one) if one.string in past.stand_ins else one for one in conditions))


def _as_stand_in(condition: Condition) -> Condition:
    if condition.verdict == "unheard":
        return condition
    return replace(condition, verdict="unrated", dead_score=None, false_score=None, reasons=("A stand-in is on: it is not judged.",),
                   next_step="Put the right string on when you have it.")


def _as_fresh(condition: Condition) -> Condition:
    if condition.verdict != "unrated":
        return condition
    return replace(condition, reasons=("This sweep is its fresh baseline.",), next_step="")


def _store(book: Book, harp: Harp, swept: Swept, hashes: Sequence[str], heard: Sequence[Heard]) -> SweepRecord:
    plucks = [pluck for one in heard for pluck in one.plucks]
    if not plucks:
        raise RecordingError(f"no pluck of {harp.name} was heard: is it the right recording, harp and tuning? Nothing was stored")
    unheard = set.intersection(*({string.name for string in one.identification.unheard} for one in heard))
    new = NewSweep(
        harp.id, swept.day, swept.instrument, is_fresh=swept.is_fresh,
        recordings=tuple(entry_of(one.recording, sha256) for one, sha256 in zip(heard, hashes, strict=True)),
        plucks=new_plucks([(one.recording, one.identification, one.plucks) for one in heard]),
        unheard=tuple(string.name for string in swept.instrument.strings if string.name in unheard),
        warnings=tuple(dict.fromkeys(text for one in heard for text in hearing_remarks(one.recording, one.identification, one.plucks))),
    )
    fresh = swept.fresh_for or ({pluck.string for pluck in plucks} if swept.is_fresh else frozenset())
    judged = judge_sweep(read_sweep(plucks, unheard=new.unheard), past_of(book, harp.id, on=swept.day), record=new, fresh=fresh)
    return store_sweep(book, replace(new, conditions=judged.conditions))


def _measured_before(book: Book, harp: Harp, hashes: Sequence[str]) -> SweepRecord | None:
    """The sweep that holds these recordings. An error where only some of them were measured before: a pluck must not count twice."""
    if len(set(hashes)) < len(hashes):
        raise UsageError("the same recording was given twice")
    known = read.find_sweep_by_recordings(book, harp.id, hashes)
    if known is None:
        for record in read.sweeps(book, harp.id):
            for one in record.recordings:
                if one.sha256 in hashes:
                    raise BookError(f"recording {one.file_name!r} is in sweep {record.id} of {record.date} already: leave it out")
    return known

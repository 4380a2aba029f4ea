"""The main job on one page: a recorded sweep becomes figures per pluck, and the figures become a verdict per string.

`hear` opens the recording, finds what is new in it, names each pluck over the whole sweep and measures it (hearing). The plucks of a sweep
become one reading per string (session), and each reading is judged against the fresh baseline of the same fitting (judging, baseline,
condition). The book keeps all of it.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

from toneprobe.audio import Remark
from toneprobe.book import read
from toneprobe.book.begun import begin_earlier
from toneprobe.book.connect import Book, writing
from toneprobe.book.entries import Harp, NewSweep, StoredPluck, SweepRecord
from toneprobe.book.filing import Filed, entry_of, filed, heard_before, new_plucks, refuse_changed
from toneprobe.book.write import mark_fresh, store_or_find_sweep
from toneprobe.condition.context import Capture, Spoiler, spoiler
from toneprobe.days import day_text
from toneprobe.errors import BookError, RecordingError
from toneprobe.hearing import Heard, hear
from toneprobe.instrument import Instrument
from toneprobe.judging.fresh_choice import FreshChoice, FreshWish, choose_fresh
from toneprobe.judging.past import captures_of, heard_in, past_of
from toneprobe.judging.verdicts import judge_again, judge_sweep, notes_of
from toneprobe.remarks.recording import hearing_remarks
from toneprobe.session.sweep import read_sweep
from toneprobe.workers import Progress

Insists = Callable[[Spoiler], bool]  # whether the player keeps as fresh what it makes no baseline of


@dataclass(frozen=True)
class Swept:
    """A sweep as the player hands it in."""

    recordings: tuple[Path, ...]
    day: date
    instrument: Instrument
    wish: FreshWish = FreshWish()


@dataclass(frozen=True)
class Checked:
    """What became of it."""

    record: SweepRecord
    is_new: bool  # False: these recordings were measured before, and nothing was added
    fresh: FreshChoice = FreshChoice()
    instead_of: tuple[SweepRecord, ...] = ()  # earlier sweeps whose recordings are in it, no longer in the book


def check(book: Book, harp: Harp, swept: Swept, *, today: date, progress: Progress | None = None, listen: Callable[..., Heard] = hear,
          insists: Insists = lambda spoiler: True) -> Checked:
    """The main job: measure a sweep, judge every string against its fresh self, keep it, and judge again what came later.

    The same recordings measured twice add nothing; those of an earlier sweep with others beside them take its place, on its day. A string
    that was not changed keeps its baseline, unless it is named (`fresh_choice`). `today`: the day noted with a sweep that gives its place.
    `listen`: `hear`, or what hears in other processes. `insists` is asked before recordings with which no ring can be compared become a
    baseline; where it says no, they are kept as an ordinary sweep. RecordingError where no pluck of the harp is heard, or where a recording
    was written to meanwhile.
    """
    place = filed(book, harp.id, swept.recordings, day=swept.day)
    if place.known is not None:
        return _told_again(book, _as_agreed(swept, captures_of(place.known.recordings), insists), place.known)
    heard = [listen(path, swept.instrument, progress=progress) for path in swept.recordings]
    captures = [Capture(one.recording.quality, float(one.recording.rate_hz)) for one in heard]
    refuse_changed(swept.recordings, place.files)
    if any(one.plucks for one in heard):
        swept = _as_agreed(swept, captures, insists)
    return _store(book, harp, swept, place, heard, today=today)


def _as_agreed(swept: Swept, captures: Sequence[Capture], insists: Insists) -> Swept:
    """Without the wish for a baseline, where the recordings spoil one and the player does not insist."""
    found = spoiler(captures) if swept.wish.all or swept.wish.named else None
    return replace(swept, wish=FreshWish()) if found and not insists(found) else swept


def _told_again(book: Book, swept: Swept, record: SweepRecord) -> Checked:
    """A sweep that the book has already: at most, more of it becomes a baseline."""
    plucks = read.plucks_of(book, record.id)
    already = {pluck.measurement.string for pluck in plucks if pluck.is_fresh}
    notes = notes_of(read_sweep([pluck.measurement for pluck in plucks]))
    choice = choose_fresh(book, record.harp_id, _in_order(record.instrument, notes), swept.wish, on=record.date, already=already,
                          owners=heard_in(plucks))
    if not set(choice.taken) <= already:
        with writing(book):
            record = mark_fresh(book, record.id, strings=choice.taken)
            judge_again(book, record.harp_id, since=record.date)
    return Checked(record, is_new=False, fresh=choice)


def _store(book: Book, harp: Harp, swept: Swept, place: Filed, heard: Sequence[Heard], *, today: date) -> Checked:
    """A sweep new to the book, judged and kept there; what came later is judged again."""
    plucks = [pluck for one in heard for pluck in one.plucks]
    if not plucks:
        raise RecordingError(f"no pluck of {harp.name} was heard: is it the right recording, {harp.instrument.word} and tuning? "
                             "Nothing was stored")
    unheard = set.intersection(*({string.name for string in one.identification.unheard} for one in heard))
    replaced = [one.id for one in place.instead_of]
    new = NewSweep(
        harp.id, swept.day, swept.instrument,
        recordings=tuple(entry_of(one.recording, file) for one, file in zip(heard, place.files, strict=True)),
        plucks=new_plucks(heard),
        unheard=tuple(string.name for string in swept.instrument.strings if string.name in unheard),
        remarks=(*_played_before(book, harp.id, heard, leaving_out=replaced), *_remarks(heard)),
    )
    sweep = read_sweep(plucks)
    notes = notes_of(sweep)
    with writing(book):  # a string that is changed while this one is judged would get verdicts by the baseline of the old one
        _refuse_another_book(book, harp)
        if begin_earlier(book, harp.id, swept.instrument, {one.string for one in plucks}, on=swept.day, today=today):
            judge_again(book, harp.id, since=date.min)  # sweeps that were of no string until now may be of these
        kept = read.recordings_in_use(book, place.hashes, leaving_out=replaced)  # by another harp's sweep, which rests on it as it is
        new = replace(new, recordings=tuple(kept.get(one.sha256, one) for one in new.recordings))
        before = [pluck for one in place.instead_of for pluck in read.plucks_of(book, one.id)]
        choice = _choose(book, swept, before, _in_order(swept.instrument, notes), harp_id=harp.id)
        past = past_of(book, harp.id, on=swept.day, heard=notes, leaving_out=replaced, owners=heard_in(before))
        judged = judge_sweep(sweep, past, record=new, plucks=new.plucks, fresh=choice.taken)

        is_baseline = bool(choice.taken) or any(one.is_fresh for one in place.instead_of)

        def then(record: SweepRecord) -> None:  # of later sweeps too what it says of a string is what an earlier one said
            judge_again(book, harp.id, since=record.date + timedelta(days=0 if is_baseline else 1), leaving_out=record.id)

        record, is_new = store_or_find_sweep(book, replace(new, is_fresh=bool(choice.taken), conditions=judged.conditions), today=today,
                                             fresh=choice.taken, instead_of=replaced, then=then)
    if not is_new:  # another program has stored them meanwhile
        return _told_again(book, swept, record)
    return Checked(record, is_new=True, fresh=choice, instead_of=place.instead_of)


def _refuse_another_book(book: Book, harp: Harp) -> None:
    """A copy may be put in a book's place while a sweep is measured, which takes minutes; a number may mean another harp in it."""
    if not any((one.id, one.name, one.created_at) == (harp.id, harp.name, harp.created_at) for one in read.harps(book)):
        raise BookError(f"the book {book.name} was replaced while this was measured, and nothing was stored: give the command again")


def _played_before(book: Book, harp_id: int, heard: Sequence[Heard], *, leaving_out: Collection[int]) -> list[Remark]:
    """Which recordings are old ones. Files of which not a byte differs are refused before (`book.filing.filed`)."""
    found = [(Path(one.recording.path).name, heard_before(book, harp_id, one.plucks, leaving_out=leaving_out)) for one in heard]
    return [Remark(f"{name} holds plucks of sweep {old.id} of {day_text(old.date)}, the very same ones: is it an old recording? Then take "
                   "this sweep back (toneprobe withdraw), and sweep without it.", as_sweep=old.id)
            for name, old in found if old is not None]


def _remarks(heard: Sequence[Heard]) -> tuple[Remark, ...]:
    """What is to be known of a sweep's recordings, each once."""
    swept = [pluck for one in heard for pluck in one.plucks]
    told = [hearing_remarks(one.recording, one.identification, one.plucks, swept=swept,
                            file_name=Path(one.recording.path).name if len(heard) > 1 else "") for one in heard]
    return tuple(dict.fromkeys(one for of_recording in told for one in of_recording))


def _choose(book: Book, swept: Swept, before: Sequence[StoredPluck], heard: Mapping[str, str], *, harp_id: int) -> FreshChoice:
    """What was fresh in the sweeps that give their place (`before`: their plucks) is fresh in the new one too. `heard`: the notes of the
    new one by string."""
    was_fresh = {pluck.measurement.string for pluck in before if pluck.is_fresh}
    choice = choose_fresh(book, harp_id, heard, swept.wish, on=swept.day, already=was_fresh, owners=heard_in(before))
    return replace(choice, taken=tuple(name for name in heard if name in was_fresh or name in choice.taken))


def _in_order(instrument: Instrument, notes: Mapping[str, str]) -> dict[str, str]:
    """The same by string, from the top of the harp."""
    return {spec.name: notes[spec.name] for spec in instrument.strings if spec.name in notes}

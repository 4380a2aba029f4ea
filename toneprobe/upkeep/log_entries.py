"""The string log put right or filled in, and the verdicts that rest on what is otherwise made anew."""

from collections.abc import Mapping, Sequence
from datetime import date

from toneprobe.book import read
from toneprobe.book.connect import Book, writing
from toneprobe.book.corrections import correct_fitting
from toneprobe.book.log_import import import_log
from toneprobe.book.withdrawals import Withdrawal, withdraw_fitting
from toneprobe.fittings import Correction, Fitting
from toneprobe.harp_state import harp_state_ever
from toneprobe.judging.past import settled_without_baseline
from toneprobe.judging.verdicts import JudgedAgain, judge_again
from toneprobe.notebook import LogRow
from toneprobe.upkeep.noted_in_order import noted_in_order
from toneprobe.workers import Progress

JUDGED_BY = ("fitted_on", "removed_on", "material", "is_stand_in")  # of an entry: no verdict asks for anything else

Marks = dict[tuple[date, int], tuple[object, ...]]  # by day and number of a sweep, oldest first


def correct_entry(
    book: Book, entry: Fitting, changes: Mapping[str, object], *, today: date, why: str, progress: Progress | None = None
) -> tuple[Fitting, tuple[Correction, ...], JudgedAgain]:
    """Put an entry right, and judge again the sweeps whose verdicts rest on it. Returns it, what was put right, and the verdicts that
    changed. `progress`, here and below: as of `judging.verdicts.judge_again`."""
    with writing(book):
        if all(getattr(entry, field) == changes.get(field, getattr(entry, field)) for field in JUDGED_BY):
            return *correct_fitting(book, entry.id, changes, today=today, why=why), JudgedAgain()
        before = _marks(book, entry.harp_id)
        with noted_in_order(book, entry.harp_id, read.harp_by_id(book, entry.harp_id).instrument):
            corrected, trace = correct_fitting(book, entry.id, changes, today=today, why=why)
        return corrected, trace, _judge_from_first_other(book, entry.harp_id, before, progress)


def withdraw_entry(
    book: Book, entry: Fitting, *, today: date, why: str, progress: Progress | None = None
) -> tuple[Withdrawal, JudgedAgain]:
    """Withdraw a string change that never happened, and judge again the sweeps since. Returns it, and the verdicts that changed."""
    with writing(book):
        with noted_in_order(book, entry.harp_id, read.harp_by_id(book, entry.harp_id).instrument):
            done = withdraw_fitting(book, entry.id, today=today, why=why)
        return done, judge_again(book, entry.harp_id, since=done.withdrawn.fitted_on, progress=progress)


def take_notebook(book: Book, harp_id: int, rows: Sequence[LogRow], *, today: date, progress: Progress | None = None) -> JudgedAgain:
    """Take the rows into the log and judge again the sweeps whose verdicts rest on what they tell. Returns the verdicts that changed."""
    with writing(book):
        before = _marks(book, harp_id)
        with noted_in_order(book, harp_id, read.harp_by_id(book, harp_id).instrument):
            import_log(book, harp_id, rows, today=today)
        return _judge_from_first_other(book, harp_id, before, progress)


def _judge_from_first_other(book: Book, harp_id: int, before: Marks, progress: Progress | None) -> JudgedAgain:
    """Sweeps build on those before them: from the first that takes something else from the log all are judged again, and none before it."""
    since = next((day for (day, sweep_id), mark in _marks(book, harp_id).items() if before.get((day, sweep_id)) != mark), None)
    return JudgedAgain() if since is None else judge_again(book, harp_id, since=since, progress=progress)


def _marks(book: Book, harp_id: int) -> Marks:
    """All that each sweep's verdicts take from log and pitch checks: whose its plucks are, what was on, stand-ins, what had settled."""
    ever = harp_state_ever(book, harp_id, read.harp_by_id(book, harp_id).instrument)
    by_id = {one.id: one for one in ever.fittings}
    marks: Marks = {}
    for (day, sweep_id), heard in read.heard_by_sweep(book, harp_id).items():
        on = {one.string: one for one in ever.fittings if read.covers(one, day) and one.removed_on != day}
        on |= {string: by_id[number] for string, number in heard.items() if number in by_id}
        state = ever.as_of(day)
        marks[day, sweep_id] = (heard, {string: (one.id, one.is_stand_in, state.still_settles(one)) for string, one in on.items()},
                                settled_without_baseline((), state, on))
    return marks

"""A sweep or a pitch check taken back: what had settled, wishes for a baseline and verdicts follow from it in the same transaction."""

from dataclasses import dataclass
from datetime import date, datetime

from toneprobe.book.connect import Book, writing
from toneprobe.book.entries import Harp
from toneprobe.book.taken_out import TakenOut, take_out_check, take_out_sweep
from toneprobe.harp_state import harp_state
from toneprobe.judging.verdicts import JudgedAgain, judge_again
from toneprobe.upkeep.checked import keep_what_settled
from toneprobe.upkeep.fresh_start import keep_wishes, still_bare
from toneprobe.upkeep.noted_in_order import noted_in_order
from toneprobe.workers import Progress


@dataclass(frozen=True)
class TakenBack:
    done: TakenOut
    lost: tuple[str, ...]  # strings whose next sweep was to be their baseline, and which no longer count as settled
    bare: tuple[str, ...]  # strings without a baseline now, which the next sweep does not become by itself
    n_on: int  # strings on the harp
    judged: JudgedAgain  # the verdicts that changed


def take_back(book: Book, harp: Harp, what: int | datetime, *, today: date, why: str = "", progress: Progress | None = None) -> TakenBack:
    """Take back the sweep of that number, or the check of that moment; UsageError where there is none. `progress`: as of `judge_again`."""
    take_out = take_out_check if isinstance(what, datetime) else take_out_sweep
    with writing(book):
        with noted_in_order(book, harp.id, harp.instrument):
            done = take_out(book, harp.id, what, today=today, why=why)
        state, _ = keep_what_settled(book, harp_state(book, harp.id, harp.instrument, today=today))
        lost = keep_wishes(book, state, done.wished)
        judged = judge_again(book, harp.id, since=done.day, progress=progress)
        return TakenBack(done, lost, still_bare(book, state, done.bare), len(state.on), judged)

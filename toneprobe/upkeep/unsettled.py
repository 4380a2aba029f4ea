"""Which strings of a harp are still open on a day, from its top: those whose pitch moves, slips or is not known to hold, and those that
wait for their baseline."""

from collections.abc import Collection

from toneprobe.book import read
from toneprobe.book.connect import Book
from toneprobe.fittings import Fitting
from toneprobe.harp_state import HarpState
from toneprobe.settling import Settling


def settling_strings(state: HarpState) -> dict[str, Settling]:
    """New strings whose pitch is not known to hold, also where that was noted once but later checks deny it, and older ones that their
    checks show to be slipping. New stand-ins are always among them, for they are never noted as settled."""
    on = state.on
    judged = {name: state.judge(one) for name, one in on.items() if _is_worth_judging(one, state)}
    done = {name for name, found in judged.items() if found.state == "settled" and on[name].id in state.settled_days}
    return {name: found for name, found in judged.items()
            if found.is_or_was_slipping or (state.is_young(on[name]) and name not in done)}


def slipping_strings(state: HarpState) -> dict[str, Settling]:
    """Strings that fall steadily, or did when last checked, as by a slipping pin or knot; and new ones that fell in jumps and may again."""
    checked = [one for one in state.on.values() if not one.is_stand_in and len(state.readings.get(one.id, ())) > 1]
    found = {one.string: state.judge(one) for one in checked}
    return {name: one for name, one in found.items() if one.is_or_was_slipping or one.recurring}


def watched_strings(book: Book, state: HarpState) -> dict[str, Settling]:
    """`settling_strings`, and the young ones that have settled but have no fresh baseline yet."""
    waiting = [one for one in state.on.values() if one.id in state.settled_days and state.is_young(one)
               and not one.is_stand_in and not has_baseline(book, one)]
    found = settling_strings(state) | {one.string: state.judge(one) for one in waiting}
    return {name: found[name] for name in state.on if name in found}


def waiting_for_fresh(book: Book, state: HarpState) -> tuple[str, ...]:
    """Strings put on since the log was begun that have had their time to settle, but have no baseline."""
    return tuple(name for name, one in state.on.items() if one.fitted_on and not one.is_stand_in and not state.still_settles(one)
                 and not has_baseline(book, one))


def has_baseline(book: Book, fitting: Fitting) -> bool:
    return bool(read.fresh_plucks(book, fitting.id))


def unheard_young(state: HarpState, heard: Collection[str]) -> tuple[str, ...]:
    """New strings and stand-ins whose pitch still moves and that are not among those heard."""
    return tuple(name for name, one in state.on.items() if name not in heard and state.still_moves(one))


def _is_worth_judging(fitting: Fitting, state: HarpState) -> bool:
    if fitting.id in state.settled_days and fitting.id not in state.readings:
        return False
    return state.is_young(fitting) or len(state.readings.get(fitting.id, ())) > 1

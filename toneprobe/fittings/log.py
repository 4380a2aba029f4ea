"""What the log of fittings says: what is on, what was on some day, what came before and after."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from toneprobe.fittings.fitting import Fitting


def on_now(fittings: Iterable[Fitting]) -> dict[str, Fitting]:
    """The string that is on each position."""
    return {one.string: one for one in fittings if one.removed_on is None}


def known_on(fittings: Iterable[Fitting], day: date) -> tuple[Fitting, ...]:
    """The log as it stood on that day: what was fitted later is not in it, and what came off later is on."""
    known = (one for one in fittings if one.fitted_on is None or one.fitted_on <= day)
    return tuple(_as_on(one) if one.removed_on and one.removed_on > day else one for one in known)


def changes_after(fittings: Iterable[Fitting], day: date) -> tuple[tuple[str, date], ...]:
    """String and day of each change that is logged for a later day, the earliest first: `known_on` leaves it out."""
    days = {(one.string, at) for one in fittings for at in (one.fitted_on, one.removed_on) if at is not None and at > day}
    return tuple(sorted(days, key=lambda change: (change[1], change[0])))


def known_when_heard(fittings: Iterable[Fitting], day: date, heard_id: int | None) -> tuple[Fitting, ...]:
    """One position's log as it stood when a sweep of that day heard that string, which may have come off later in it."""
    log = known_on(fittings, day)
    if all(one.id != heard_id or one.removed_on != day for one in log):
        return log
    kept = (one for one in log if one.id == heard_id or one.fitted_on != day)
    return tuple(_as_on(one) if one.id == heard_id else one for one in kept)


def _as_on(fitting: Fitting) -> Fitting:
    return replace(fitting, removed_on=None, why_removed=None, broke_at=None)


def history_of(string: str, fittings: Iterable[Fitting]) -> tuple[Fitting, ...]:
    """Everything that was on one position, the present string first."""
    def key(one: Fitting) -> tuple[date, date]:
        return one.removed_on or date.max, one.fitted_on or date.min
    return tuple(sorted((one for one in fittings if one.string == string), key=key, reverse=True))


def last_before(fitting: Fitting, others: Iterable[Fitting]) -> Fitting | None:
    """The string that came off last before this one went on, or that day; None where the log knows of none. `others` are its position's."""
    if fitting.fitted_on is None:
        return None
    earlier = [one for one in others if one.id != fitting.id and one.removed_on is not None and one.removed_on <= fitting.fitted_on]
    return max(earlier, key=lambda one: (one.removed_on, one.fitted_on or date.min, one.id), default=None)


def first_after(fitting: Fitting, others: Iterable[Fitting]) -> Fitting | None:
    """The string that went on first after this one came off, or that day; None where the log knows of none. `others` are its position's."""
    if fitting.removed_on is None:
        return None
    later = [one for one in others if one.id != fitting.id and one.fitted_on is not None and one.fitted_on >= fitting.removed_on]
    return min(later, key=lambda one: (one.fitted_on, one.removed_on or date.max, one.id), default=None)

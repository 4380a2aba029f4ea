"""An entry of the log put right or withdrawn, with the trace of it, and what an entry may say."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from shlex import quote

from toneprobe.days import day_text
from toneprobe.errors import UsageError
from toneprobe.fittings.fitting import Fitting
from toneprobe.fittings.log import last_before
from toneprobe.instrument.file import GAUGE_RANGE_MM
from toneprobe.practice import BROKE_AT, WHY_REMOVED

# The fields of an entry that can be put right: all that a log notes of a string.
CORRECTABLE = ("fitted_on", "removed_on", "material", "gauge_mm", "supplier", "batch", "why_removed", "broke_at", "is_stand_in", "note")
NO_REMOVAL_DAY = "says why it came off, but not when"
WITHDRAWN = "entry"  # as the field of a correction: the whole entry was withdrawn
BEGUN = "begun"  # as the field of a correction: nobody wrote the entry down, a sweep heard a string before all that the log knew
SUPPOSED = "supposed "  # before a first day in a correction that was not written down: the one before came off then


@dataclass(frozen=True)
class Correction:
    """The trace of one changed field: dates as ISO 8601, a supposed first day with SUPPOSED before it, None for what was not known."""

    fitting_id: int
    field: str
    before: str | None
    after: str | None
    on: date
    why: str = ""
    id: int | None = None  # set by the book


def correct(
    fitting: Fitting, changes: Mapping[str, object], *, today: date, why: str = "", others: Iterable[Fitting] = ()
) -> tuple[Fitting, tuple[Correction, ...]]:
    """The fitting with fields of CORRECTABLE put right, and the trace of it; `others` are the position's other fittings. A first day that
    is given is known, unless `is_supposed` is given too. UsageError where the corrected entry cannot be."""
    known_day = {"is_supposed": False} if "fitted_on" in changes else {}
    corrected = replace(fitting, **known_day | dict(changes))
    rest = [one for one in others if one.id != fitting.id]
    _refuse_too_early(corrected, fitting, rest)
    _refuse_reason_while_on(corrected, fitting, rest)
    check_fitting(corrected, today=today, others=rest)
    changed = [field for field in CORRECTABLE if field in changes and (
        getattr(fitting, field) != changes[field] or (field == "fitted_on" and fitting.is_supposed != corrected.is_supposed))]
    return corrected, tuple(Correction(fitting.id, one, _noted(fitting, one), _noted(corrected, one), today, why) for one in changed)


def _refuse_too_early(corrected: Fitting, fitting: Fitting, others: Iterable[Fitting]) -> None:
    """UsageError, with what to do first, where a string is said to have gone on before the last one came off: two entries record a
    change."""
    if fitting.fitted_on is None or corrected.fitted_on is None or corrected.fitted_on >= fitting.fitted_on:
        return
    before = next((one for one in others if one.string == fitting.string and one.removed_on == fitting.fitted_on), None)
    if before is not None:
        raise UsageError(f"{fitting.string}: another string was on until {day_text(before.removed_on)}. Say first that it came off "
                         "earlier: "
                         f"toneprobe log correct {quote(fitting.string)} --entry {before.id} --removed {corrected.fitted_on}")


def _refuse_reason_while_on(corrected: Fitting, fitting: Fitting, others: Iterable[Fitting]) -> None:
    """UsageError, with the entry that may be meant, where a string that is still on gets a reason for coming off."""
    if fitting.removed_on is not None or corrected.removed_on is not None or corrected.why_removed is None:
        return
    before = last_before(corrected, (one for one in others if one.string == fitting.string))
    if before is not None:
        why = f" --why {corrected.why_removed}" + (f" --broke-at {quote(corrected.broke_at)}" if corrected.broke_at else "")
        raise UsageError(f"{fitting.string}: no. {fitting.id}, the latest, is on. If no. {before.id} is meant, which came off on "
                         f"{day_text(before.removed_on)}: toneprobe log correct {quote(fitting.string)} --entry {before.id}{why}")


def withdraw(fitting: Fitting, others: Iterable[Fitting], *, today: date, why: str = "") -> tuple[Fitting | None, tuple[Correction, ...]]:
    """Take back a change that never happened. Returns the string that was said to have come off for this one, which stayed on as long as
    this one was said to be, or None where none came off that day; and the trace of it all. `others` are the position's other fittings.
    UsageError where the entry tells of no change."""
    if fitting.fitted_on is None:
        raise UsageError(f"{fitting.string}: number {fitting.id} was on before the log began, which is no change that could be withdrawn; "
                         f"to put it right: toneprobe log correct {quote(fitting.string)}")
    trace = Correction(fitting.id, WITHDRAWN, f"{fitting.fitted_on} to {fitting.removed_on or 'today'}", None, today, why)
    rest = [one for one in others if one.id != fitting.id]
    before = last_before(fitting, rest)
    if before is None:
        raise UsageError(f"{fitting.string}: the log knows of no string before number {fitting.id}, so nothing came off for it. To say "
                         f"that it was on before the log began: toneprobe log correct {quote(fitting.string)} --fitted none")
    if before.removed_on != fitting.fitted_on:
        return None, (trace,)
    its_end = {name: getattr(fitting, name) for name in ("removed_on", "why_removed", "broke_at")}
    on_again, more = correct(before, its_end, today=today, why=why, others=rest)
    return on_again, (trace, *more)


def check_fitting(fitting: Fitting, *, today: date, others: Iterable[Fitting] = ()) -> None:
    """UsageError, one line, where an entry contradicts the calendar, the words in use, or another string on its position."""
    name, first, last = fitting.string, fitting.fitted_on, fitting.removed_on
    late = next((day for day in (first, last) if day is not None and day > today), None)
    if late:
        raise UsageError(f"{name}: {late} lies ahead")
    if first and last and last < first:
        raise UsageError(f"{name}: it cannot come off on {last}, it went on only on {first}")
    _check_words(fitting)
    clash = next((one for one in others if one.string == name and _overlap(fitting, one)), None)
    if clash:
        raise UsageError(f"{name}: another string was on from {clash.fitted_on or 'before the log'} to {clash.removed_on or 'today'}")


def _check_words(fitting: Fitting) -> None:
    name = fitting.string
    if fitting.why_removed not in (None, *WHY_REMOVED):
        raise UsageError(f"{name}: why it came off must be one of {', '.join(WHY_REMOVED)}")
    if fitting.broke_at not in (None, *BROKE_AT):
        raise UsageError(f"{name}: where it broke must be one of {', '.join(BROKE_AT)}")
    if fitting.broke_at and fitting.why_removed != "broke":
        raise UsageError(f"{name}: it broke at the {fitting.broke_at}, but did not come off because it broke")
    if fitting.why_removed and fitting.removed_on is None:
        raise UsageError(f"{name}: {NO_REMOVAL_DAY}")
    check_gauge(name, fitting.gauge_mm)


def check_gauge(string: str, gauge_mm: float | None) -> None:
    """UsageError where no string is so thin or so thick; None, not known, is no fault."""
    if gauge_mm is not None and not GAUGE_RANGE_MM[0] <= gauge_mm <= GAUGE_RANGE_MM[1]:
        raise UsageError(f"{string}: a gauge of {gauge_mm:g} mm lies outside {GAUGE_RANGE_MM[0]:g} to {GAUGE_RANGE_MM[1]:g}")


def _overlap(one: Fitting, other: Fitting) -> bool:
    """Whether both were on at once; one may come off on the day on which the other goes on."""
    return (one.fitted_on or date.min) < (other.removed_on or date.max) and (other.fitted_on or date.min) < (one.removed_on or date.max)


def _noted(fitting: Fitting, field: str) -> str | None:
    """The value of a field as a `Correction` has it."""
    value = getattr(fitting, field)
    supposed = SUPPOSED if field == "fitted_on" and fitting.is_supposed else ""
    return None if value is None else f"{supposed}{value}"

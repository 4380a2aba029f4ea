"""The string log: what was on which position, from when to when, how old each string is, and where strings keep breaking.

A fitting without a first day has been on since before the log began. A position carries one string at a time. What is asked of a
`Fitting` here may be asked of a row of a notebook too (`notebook.rows.LogRow`), before it has a number of its own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from shlex import quote
from statistics import median

from toneprobe.days import day_text, span_text
from toneprobe.errors import UsageError
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.instrument.file import GAUGE_RANGE_MM
from toneprobe.phrases import as_strings, count_of, listed, one_after_another
from toneprobe.practice import BROKE_AT, WHY_REMOVED, may_be_same, more_exact
from toneprobe.units import octave_of_note

REPEATED = 2  # breaks at one place of one position that mean a rough contact (common practice says repeated; the number is set here)
CORRECTABLE = ("fitted_on", "removed_on", "material", "gauge_mm", "supplier", "batch", "why_removed", "broke_at", "is_stand_in", "note")
# of an entry: all that a log notes of a string
FEW, FEW_DAYS = 4, 3  # as many strings, and days, are named where many share a remark
NO_DAY_OFF = "says why it came off, but not when"
WITHDRAWN = "entry"  # as the field of a correction: the whole entry was withdrawn
SUPPOSED = "supposed "  # before a first day in a correction: nobody wrote it down, but the one before came off then


@dataclass(frozen=True)
class NewFitting:
    """A string about to be logged as fitted. Leave None what is not known."""

    string: str
    fitted_on: date | None = None
    material: str | None = None
    gauge_mm: float | None = None
    supplier: str | None = None
    batch: str | None = None
    is_stand_in: bool = False  # put on in need; never becomes a baseline
    note: str = ""


@dataclass(frozen=True)
class Removal:
    """How a string came off."""

    removed_on: date
    why: str | None = None  # of WHY_REMOVED
    broke_at: str | None = None  # of BROKE_AT


@dataclass(frozen=True)
class Fitting:
    """One physical string on one position, from the day it is put on to the day it comes off."""

    id: int
    harp_id: int
    string: str
    fitted_on: date | None = None  # None: on the harp since before the book was begun
    removed_on: date | None = None  # None: still on
    material: str | None = None
    gauge_mm: float | None = None
    supplier: str | None = None
    batch: str | None = None
    why_removed: str | None = None
    broke_at: str | None = None
    is_stand_in: bool = False
    note: str = ""
    is_supposed: bool = False  # that it went on that day: nobody wrote it down, but the one before came off then


@dataclass(frozen=True)
class StringAge:
    """One position today."""

    string: str
    octave: int
    material: str | None
    fitted_on: date | None
    age_days: int | None  # None: on since before the log, or nothing is on
    is_stand_in: bool
    is_empty: bool  # no string is logged as on
    is_supposed: bool = False  # that it went on that day


@dataclass(frozen=True)
class OctaveAge:
    """The strings of one octave whose age is known."""

    octave: int
    n_strings: int
    n_unknown: int  # on since before the log
    youngest_days: int | None
    median_days: float | None
    oldest_days: int | None


@dataclass(frozen=True)
class RepeatedBreak:
    string: str
    broke_at: str
    days: tuple[date, ...]


@dataclass(frozen=True)
class Correction:
    """The trace of one changed field. Dates are written as ISO 8601, a first day that is but supposed with SUPPOSED before it, what was not
    known is None."""

    fitting_id: int
    field: str
    before: str | None
    after: str | None
    on: date
    why: str = ""
    id: int | None = None  # set by the book


def material_of(fitting: Fitting, spec: StringSpec | None) -> str | None:
    """What a string is made of: as the log says, else as its position has it."""
    return fitting.material or (spec.material if spec else None)


def material_on(fitting: Fitting, instrument: Instrument) -> str | None:
    """The same where the position may not be on the instrument."""
    return material_of(fitting, next((spec for spec in instrument.strings if spec.name == fitting.string), None))


def octave_of(spec: StringSpec) -> int:
    """Octave of a position, counted as strings are: 4 for 4C, whatever the owner calls it."""
    return octave_of_note(spec.note)


def age_days(fitting: Fitting, today: date) -> int | None:
    """Days on the harp until today, or until it came off; None where the first day is not known."""
    return None if fitting.fitted_on is None else ((fitting.removed_on or today) - fitting.fitted_on).days


def first_day_text(fitting: Fitting) -> str:
    """ "3 May 2025", "3 May 2025 (supposed)", of a string whose first day is known."""
    return f"{day_text(fitting.fitted_on)}{' (supposed)' if fitting.is_supposed else ''}"


def is_placeholder(fitting: Fitting) -> bool:
    """On, and put on nobody knows when: where the log of its position has not begun."""
    return fitting.fitted_on is None and fitting.removed_on is None


def unknown_age_words(fittings: Iterable[Fitting], fresh_on: Mapping[str, date]) -> str:
    """Of which strings nobody knows how old they were when they became their own measure, "" where of none. fittings: all that are on;
    fresh_on: by string, the day of the baseline that it is judged by.

    What such a string had lost by then no sweep can tell, so "as fresh" says less of it than of one that was new.
    """
    fittings = tuple(fittings)
    names = [one.string for one in fittings if one.fitted_on is None and one.string in fresh_on]
    if not names:
        return ""
    days = span_text(fresh_on[name] for name in names) or listed(
        [day_text(day) for day in sorted({fresh_on[name] for name in names})], FEW_DAYS)
    any_of = "any of the " if len(names) == len(fittings) else ""
    which = one_after_another(as_strings(names)) if len(names) <= FEW else f"{any_of}{count_of(len(names), 'string')}"
    they = "it is judged against itself as it was" if len(names) == 1 else "they are judged against themselves as they were"
    return f"the log does not know the age of {which}: {they} on {days}, so what was lost by then cannot be heard"


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


def as_strung(instrument: Instrument, fittings: Iterable[Fitting]) -> Instrument:
    """The instrument as its owner strings it: each position of the material of its last own string, where that is another than belongs
    there, or tells it more exactly, and was written so. Spares, orders and plans go by it.

    A stand-in tells nothing of what is kept on its position, nor does a material that the log itself doubts ("nylon?"). What gauge belongs
    there of the other material is known only where the log says it.
    """
    last: dict[str, Fitting] = {}
    for one in fittings:
        if not one.is_stand_in and (one.string not in last or _came_later(one, last[one.string])):
            last[one.string] = one
    return replace(instrument, strings=tuple(_as_kept(spec, last.get(spec.name)) for spec in instrument.strings))


def kept_words(instrument: Instrument, strung: Instrument) -> str:
    """On which positions another material is kept than belongs there, and what to do where that is not so; "" for none."""
    pairs = [(spec, kept) for spec, kept in zip(instrument.strings, strung.strings, strict=True)
             if not may_be_same(spec.material, kept.material)]
    kinds: dict[tuple[str | None, str | None], list[str]] = {}
    for spec, kept in pairs:
        kinds.setdefault((kept.material, spec.material), []).append(spec.name)
    if not kinds:
        return ""
    told = [f"on {one_after_another(as_strings(names))} the log has {kept}, where {own} belongs" for (kept, own), names in kinds.items()]
    spec, which = pairs[0][0], "" if len(pairs) == 1 else ", for instance"
    return (f"{'; '.join(told)}: spares, orders and changes go by what the log has. Where it is wrong{which}: toneprobe log correct "
            f"{quote(spec.name)} --material {quote(spec.material or '')}")


def string_ages(instrument: Instrument, fittings: Iterable[Fitting], *, today: date) -> tuple[StringAge, ...]:
    """Every position of the instrument, highest first."""
    on = on_now(fittings)
    return tuple(_age_of(spec, on.get(spec.name), today) for spec in instrument.strings)


def octave_ages(ages: Sequence[StringAge]) -> tuple[OctaveAge, ...]:
    """Ages by octave, highest first; empty positions and stand-ins are left out."""
    kept = [age for age in ages if not age.is_empty and not age.is_stand_in]
    return tuple(_octave(octave, [a for a in kept if a.octave == octave]) for octave in sorted({a.octave for a in kept}))


def repeated_breaks(fittings: Iterable[Fitting]) -> tuple[RepeatedBreak, ...]:
    """Positions where strings broke at one place again: the contact there may be rough. Most breaks first."""
    broken = [one for one in fittings if one.why_removed == "broke" and one.broke_at and one.removed_on]
    counts = Counter((one.string, one.broke_at) for one in broken)
    return tuple(
        RepeatedBreak(string, place, tuple(sorted(one.removed_on for one in broken if (one.string, one.broke_at) == (string, place))))
        for (string, place), n in counts.most_common() if n >= REPEATED
    )


def correct(
    fitting: Fitting, changes: Mapping[str, object], *, today: date, why: str = "", others: Iterable[Fitting] = ()
) -> tuple[Fitting, tuple[Correction, ...]]:
    """The fitting with its log entry put right, and the trace of it.

    `others` are the position's other fittings. A first day that is given is known, unless `is_supposed` is given beside it. UsageError
    where the corrected entry cannot be.
    """
    unknown = [field for field in changes if field not in (*CORRECTABLE, "is_supposed")]
    if unknown:
        raise UsageError(f"{unknown[0]!r} cannot be corrected, only {', '.join(CORRECTABLE)}")
    corrected = replace(fitting, **({"is_supposed": False} if "fitted_on" in changes else {}) | dict(changes))
    rest = [one for one in others if one.id != fitting.id]
    _refuse_too_early(corrected, fitting, rest)
    _refuse_of_one_on(corrected, fitting, rest)
    check_fitting(corrected, today=today, others=rest)
    changed = [field for field in CORRECTABLE if field in changes and (
        getattr(fitting, field) != changes[field] or (field == "fitted_on" and fitting.is_supposed != corrected.is_supposed))]
    return corrected, tuple(Correction(fitting.id, one, _told(fitting, one), _told(corrected, one), today, why) for one in changed)


def _refuse_too_early(corrected: Fitting, fitting: Fitting, others: Iterable[Fitting]) -> None:
    """UsageError, with what to do first, where a change is to have been on an earlier day: two entries tell of it."""
    if fitting.fitted_on is None or corrected.fitted_on is None or corrected.fitted_on >= fitting.fitted_on:
        return
    before = next((one for one in others if one.string == fitting.string and one.removed_on == fitting.fitted_on), None)
    if before is not None:
        raise UsageError(f"{fitting.string}: another string was on until {day_text(before.removed_on)}. Say first that it came off "
                         "earlier: "
                         f"toneprobe log correct {quote(fitting.string)} --entry {before.id} --removed {corrected.fitted_on}")


def _refuse_of_one_on(corrected: Fitting, fitting: Fitting, others: Iterable[Fitting]) -> None:
    """UsageError, with the entry that will be meant, where a string that is still on is to have come off for a reason."""
    if fitting.removed_on is not None or corrected.removed_on is not None or corrected.why_removed is None:
        return
    before = last_before(corrected, (one for one in others if one.string == fitting.string))
    if before is not None:
        why = f" --why {corrected.why_removed}" + (f" --broke-at {quote(corrected.broke_at)}" if corrected.broke_at else "")
        raise UsageError(f"{fitting.string}: no. {fitting.id}, the latest, is on. If no. {before.id} is meant, which came off on "
                         f"{day_text(before.removed_on)}: toneprobe log correct {quote(fitting.string)} --entry {before.id}{why}")


def withdraw(fitting: Fitting, others: Iterable[Fitting], *, today: date, why: str = "") -> tuple[Fitting | None, tuple[Correction, ...]]:
    """What is true where a change never happened: the string that is said to have come off for it stayed on, as long as this one.

    `others` are the position's other fittings. Returns that string, None where none came off that day, and the trace of it all.
    UsageError where the entry tells of no change.
    """
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
    end = {name: getattr(fitting, name) for name in ("removed_on", "why_removed", "broke_at")}
    again, more = correct(before, end, today=today, why=why, others=rest)
    return again, (trace, *more)


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
    if (fitting.why_removed or fitting.broke_at) and fitting.removed_on is None:
        raise UsageError(f"{name}: {NO_DAY_OFF}")
    check_gauge(name, fitting.gauge_mm)


def check_gauge(string: str, gauge_mm: float | None) -> None:
    """UsageError where no string is so thin or so thick; None, not known, is no fault."""
    if gauge_mm is not None and not GAUGE_RANGE_MM[0] <= gauge_mm <= GAUGE_RANGE_MM[1]:
        raise UsageError(f"{string}: a gauge of {gauge_mm:g} mm lies outside {GAUGE_RANGE_MM[0]:g} to {GAUGE_RANGE_MM[1]:g}")


def _overlap(one: Fitting, other: Fitting) -> bool:
    """Whether both were on at once; one may come off on the day on which the other goes on."""
    return (one.fitted_on or date.min) < (other.removed_on or date.max) and (other.fitted_on or date.min) < (one.removed_on or date.max)


def _came_later(one: Fitting, other: Fitting) -> bool:
    def key(fitting: Fitting) -> tuple[date, date, int]:
        return fitting.removed_on or date.max, fitting.fitted_on or date.min, fitting.id
    return key(one) > key(other)


def _as_kept(spec: StringSpec, last: Fitting | None) -> StringSpec:
    on = last.material if last else None
    if not on or not spec.material or "?" in on:
        return spec
    if may_be_same(on, spec.material):
        return replace(spec, material=more_exact(spec.material, on))
    return replace(spec, material=on, gauge_mm=last.gauge_mm)


def _age_of(spec: StringSpec, fitting: Fitting | None, today: date) -> StringAge:
    if fitting is None:
        return StringAge(spec.name, octave_of(spec), spec.material, None, None, False, True)
    material = material_of(fitting, spec)
    return StringAge(spec.name, octave_of(spec), material, fitting.fitted_on, age_days(fitting, today), fitting.is_stand_in, False,
                     fitting.is_supposed)


def _octave(octave: int, ages: Sequence[StringAge]) -> OctaveAge:
    known = [age.age_days for age in ages if age.age_days is not None]
    if not known:
        return OctaveAge(octave, len(ages), len(ages), None, None, None)
    return OctaveAge(octave, len(ages), len(ages) - len(known), min(known), float(median(known)), max(known))


def _told(fitting: Fitting, field: str) -> str | None:
    value = getattr(fitting, field)
    supposed = SUPPOSED if field == "fitted_on" and fitting.is_supposed else ""
    return None if value is None else f"{supposed}{value}"

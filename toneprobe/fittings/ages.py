"""How old each string is, as far as that is known, and where strings keep breaking."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median

from toneprobe.days import day_text, span_text
from toneprobe.fittings.fitting import Fitting, age_days, material_of
from toneprobe.fittings.log import on_now
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.phrases import as_strings, count_of, listed, one_after_another
from toneprobe.units import octave_of_note

REPEATED = 2  # breaks at one place of one position that mean a rough contact (common practice says repeated; the number is set here)
MOST_NAMED, MOST_DAYS = 4, 3  # strings, and days, that a remark names


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
    is_supposed: bool = False  # `fitted_on` was not written down, but the one before came off then


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


def unknown_age_words(fittings: Iterable[Fitting], fresh_on: Mapping[str, date]) -> str:
    """Which of the strings that are on were of unknown age when their baseline was taken, as what they had lost by then no sweep can tell;
    "" for none. `fresh_on`: by string, the day of its baseline."""
    fittings = tuple(fittings)
    names = [one.string for one in fittings if one.fitted_on is None and one.string in fresh_on]
    if not names:
        return ""
    days = span_text(fresh_on[name] for name in names) or listed(
        [day_text(day) for day in sorted({fresh_on[name] for name in names})], MOST_DAYS)
    any_of = "any of the " if len(names) == len(fittings) else ""
    which = one_after_another(as_strings(names)) if len(names) <= MOST_NAMED else f"{any_of}{count_of(len(names), 'string')}"
    they = "it is judged against itself as it was" if len(names) == 1 else "they are judged against themselves as they were"
    return f"the log does not know the age of {which}: {they} on {days}, so what was lost by then cannot be heard"


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
    days: dict[tuple[str, str], list[date]] = {}
    for one in fittings:
        if one.why_removed == "broke" and one.broke_at and one.removed_on:
            days.setdefault((one.string, one.broke_at), []).append(one.removed_on)
    return tuple(RepeatedBreak(string, place, tuple(sorted(found)))
                 for (string, place), found in sorted(days.items(), key=lambda entry: -len(entry[1])) if len(found) >= REPEATED)


def _age_of(spec: StringSpec, fitting: Fitting | None, today: date) -> StringAge:
    octave = octave_of_note(spec.note)  # as strings are counted: 4 for 4C, whatever the owner calls it
    if fitting is None:
        return StringAge(spec.name, octave, spec.material, None, None, is_stand_in=False, is_empty=True)
    return StringAge(spec.name, octave, material_of(fitting, spec), fitting.fitted_on, age_days(fitting, today),
                     is_stand_in=fitting.is_stand_in, is_empty=False, is_supposed=fitting.is_supposed)


def _octave(octave: int, ages: Sequence[StringAge]) -> OctaveAge:
    known = [age.age_days for age in ages if age.age_days is not None]
    middle = float(median(known)) if known else None
    return OctaveAge(octave, len(ages), len(ages) - len(known), min(known, default=None), middle, max(known, default=None))

"""One new string among the others of its harp: which neighbours tell the weather, and what its own kind leads one to expect."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from toneprobe.fittings import Fitting, material_on
from toneprobe.instrument import Instrument
from toneprobe.practice import USUAL_HABITS, Habits, material_family
from toneprobe.session import Reading
from toneprobe.settling.creep import CreepPrior, prior_from, usual_prior
from toneprobe.settling.forecast import AsOf
from toneprobe.settling.judge import judge_settling
from toneprobe.settling.readings import PitchReading
from toneprobe.settling.steady import OLD_DAYS
from toneprobe.settling.verdict import USUAL_TOLERANCE, Settling, Tolerance

MOST_COMPANY = 3  # neighbours to be plucked with a new string
MOST_PAST = 12  # only the last so many settled strings tell what to expect


@dataclass(frozen=True)
class SettledRecord:
    """That a fitting was found settled: kept once it is said, so that planning and the next string of its kind can use it."""

    fitting_id: int
    string: str
    settled_on: date  # the likely day
    noted_on: date  # of the check at which it was said
    creep_cents: float | None  # A, fall per factor of e in time
    id: int | None = None  # set by the book


def check_of_sweep(reading: Reading, on: date | datetime, *, sweep_id: int | None = None) -> PitchReading:
    """A string's pitch as found, out of a sweep. A sweep without a time of day is taken to be of noon."""
    at = on if isinstance(on, datetime) else datetime.combine(on, time(12))
    return PitchReading(reading.string, reading.note, at, reading.figures.get("pitch_hz"), sweep_id=sweep_id)


def judge_on_harp(
    fitting: Fitting, readings: Mapping[int, Sequence[PitchReading]], fittings: Iterable[Fitting], instrument: Instrument, *,
    records: Iterable[SettledRecord] = (), tolerance: Tolerance = USUAL_TOLERANCE, habits: Habits = USUAL_HABITS,
    today: date | None = None,
) -> Settling:
    """The state of one fitting, given the checks of all by fitting id, the log, and what has settled; without `today`, by the checks
    alone. Only `records` noted before its first check count: strings changed together would else bear witness for each other."""
    log = tuple(fittings)
    records, first = tuple(records), _first_day(fitting, readings)
    known = [record for record in records if first is None or record.noted_on < first]
    day = AsOf(today, None) if today else None
    if today and fitting.fitted_on is not None:  # when a string of its kind has had its time
        usual, late = habits.settle_days_of(_family(fitting, instrument))
        day = AsOf(today, *(fitting.fitted_on + timedelta(days=math.ceil(days)) for days in (late, usual)))
    found = judge_settling(
        readings.get(fitting.id, ()), fitted_on=fitting.fitted_on, neighbours=neighbours_of(fitting, readings, log, instrument, records),
        tolerance=tolerance, prior=expected_creep(fitting, log, instrument, known, tolerance=tolerance, habits=habits),
        day=day, company=company_of(fitting, readings, log, instrument, records, today=today),
    )
    return replace(found, string=fitting.string)


def record_settled(found: Settling, fitting_id: int) -> SettledRecord | None:
    """What to keep once a string is called settled; None while it is not, or where the day is not known."""
    if found.state != "settled" or found.settled_on is None or found.checked_on is None:
        return None
    return SettledRecord(fitting_id, found.string, found.settled_on, found.checked_on, found.creep_cents.value)


def neighbours_of(
    fitting: Fitting, readings: Mapping[int, Sequence[PitchReading]], fittings: Iterable[Fitting], instrument: Instrument,
    records: Iterable[SettledRecord] = (),
) -> dict[int, Sequence[PitchReading]]:
    """Checks of the other strings of the same material that were known to have settled before this one's first check, by fitting id."""
    first = _first_day(fitting, readings)
    if first is None:
        return {}
    return {one.id: readings[one.id] for one in _settled_kin(fitting, first, fittings, instrument, records) if one.id in readings}


def company_of(
    fitting: Fitting, readings: Mapping[int, Sequence[PitchReading]], fittings: Iterable[Fitting], instrument: Instrument,
    records: Iterable[SettledRecord], *, today: date | None,
) -> tuple[str, ...] | None:
    """The strings on now that would tell it the weather, from the top of the harp; None where its material or the day is not known.
    Those plucked at its last check are chosen first, for a string must be read at both ends of an interval; then the nearest."""
    first = _first_day(fitting, readings) or today
    places = {spec.name: place for place, spec in enumerate(instrument.strings)}
    if first is None or fitting.string not in places or _family(fitting, instrument) is None:
        return None
    last = max((reading.at for reading in readings.get(fitting.id, ())), default=None)

    def likeness(one: Fitting) -> tuple[bool, int]:
        was_read = any(reading.at == last for reading in readings.get(one.id, ()))
        return not was_read, abs(places[one.string] - places[fitting.string])

    serving = [one for one in _settled_kin(fitting, first, fittings, instrument, records)
               if one.removed_on is None and one.string != fitting.string and one.string in places]
    return tuple(sorted((one.string for one in sorted(serving, key=likeness)[:MOST_COMPANY]), key=places.__getitem__))


def expected_creep(
    fitting: Fitting, fittings: Iterable[Fitting], instrument: Instrument, records: Iterable[SettledRecord] = (), *,
    tolerance: Tolerance = USUAL_TOLERANCE, habits: Habits = USUAL_HABITS,
) -> CreepPrior:
    """What to expect of a string before its first check: the owner's last ones of its material, else what is usual."""
    family = _family(fitting, instrument)
    usual = usual_prior(family, cents_per_day=tolerance.cents_per_day, habits=habits)
    kin = {one.id for one in fittings if family is not None and _family(one, instrument) == family}
    past = sorted((r for r in records if r.fitting_id in kin and r.fitting_id != fitting.id and r.creep_cents), key=lambda r: r.noted_on)
    return prior_from([record.creep_cents for record in past[-MOST_PAST:]], usual)


def _family(fitting: Fitting, instrument: Instrument) -> str | None:
    return material_family(material_on(fitting, instrument))


def _first_day(fitting: Fitting, readings: Mapping[int, Sequence[PitchReading]]) -> date | None:
    return min((reading.at.date() for reading in readings.get(fitting.id, ())), default=None)


def _settled_kin(
    fitting: Fitting, day: date, fittings: Iterable[Fitting], instrument: Instrument, records: Iterable[SettledRecord]
) -> list[Fitting]:
    """The other strings of its material that were known to have settled before a day."""
    family, settled = _family(fitting, instrument), {record.fitting_id for record in records if record.noted_on < day}
    return [one for one in fittings if one.id != fitting.id and not one.is_stand_in and family and _family(one, instrument) == family
            and (one.id in settled or one.fitted_on is None or (day - one.fitted_on).days >= OLD_DAYS)]

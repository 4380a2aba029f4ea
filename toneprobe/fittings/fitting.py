"""One string on one position: as it is about to be logged, as the log has it, as it came off; and what follows from that alone."""

from dataclasses import dataclass
from datetime import date

from toneprobe.days import day_text
from toneprobe.instrument import Instrument, StringSpec


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
    is_supposed: bool = False  # `fitted_on` was not written down, but the one before came off then


def material_of(fitting: Fitting, spec: StringSpec | None) -> str | None:
    """What a string is made of: as the log says, else as its position has it."""
    return fitting.material or (spec.material if spec else None)


def material_on(fitting: Fitting, instrument: Instrument) -> str | None:
    """The same where the position may not be on the instrument."""
    return material_of(fitting, next((spec for spec in instrument.strings if spec.name == fitting.string), None))


def age_days(fitting: Fitting, today: date) -> int | None:
    """Days on the harp until today, or until it came off; None where the first day is not known."""
    return None if fitting.fitted_on is None else ((fitting.removed_on or today) - fitting.fitted_on).days


def first_day_text(fitting: Fitting) -> str:
    """ "3 May 2025", "3 May 2025 (supposed)", of a string whose first day is known."""
    return f"{day_text(fitting.fitted_on)}{' (supposed)' if fitting.is_supposed else ''}"


def is_placeholder(fitting: Fitting) -> bool:
    """On, since an unknown day: the log of its position has not begun."""
    return fitting.fitted_on is None and fitting.removed_on is None

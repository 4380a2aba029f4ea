"""One spare string: where it lies, how old it is, and which to take first."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from shlex import quote
from typing import Any

from toneprobe.days import day_text
from toneprobe.errors import UsageError
from toneprobe.fittings import check_gauge
from toneprobe.instrument import StringSpec
from toneprobe.phrases import count_of, gauge_words
from toneprobe.practice import ORDERED, PLACES, USUAL_HABITS, Habits, may_be_same

PLACE_WORDS = {"bag": "in the bag", "home": "at home", ORDERED: "on the way"}  # of each of PLACES, and of what is ordered
CORRECTABLE: Mapping[str, tuple[str, Callable[[Any], str]]] = {  # fields that can be put right: name and value of each in words
    "lead_time_days": ("lead time", lambda days: count_of(days, "day")), "bought_on": ("day of purchase", day_text),
    "place": ("place", PLACE_WORDS.__getitem__), "material": ("material", str), "gauge_mm": ("gauge", gauge_words),
    "supplier": ("supplier", str),
}
LONGEST_LEAD_DAYS = 730  # from ordering to arrival (set here: two years)
SAME_GAUGE = 0.05  # gauges that differ by less, as a share, are one gauge: makers' scales step by more (set here)


@dataclass(frozen=True)
class Spare:
    """A string that is not on the harp. Leave None what is not known."""

    string: str  # the position it is made for, "3C"
    material: str | None = None
    gauge_mm: float | None = None
    place: str = "bag"  # one of PLACES, or ORDERED
    bought_on: date | None = None  # of an ordered one: the day of the order
    supplier: str | None = None
    batch: str | None = None
    lead_time_days: int | None = None  # from ordering to arrival, when this one was bought
    price: str | None = None  # as the owner writes it, currency included
    used_on: date | None = None  # put on a harp, or thrown away
    fitting_id: int | None = None  # the fitting that it became
    note: str = ""
    harp_id: int | None = None  # None: for any harp of this owner
    id: int | None = None  # set by the book


@dataclass(frozen=True)
class ShelfAge:
    spare: Spare
    age_days: int | None  # None: the day of purchase is not known
    best_until: date | None  # None: that, or no usual shelf life for its material
    is_past_best: bool


def unused(spares: Iterable[Spare]) -> tuple[Spare, ...]:
    """Those at hand: neither used up nor still on the way. All that takes, counts or offers spares starts from these."""
    return tuple(spare for spare in spares if spare.used_on is None and spare.place != ORDERED)


def on_the_way(spares: Iterable[Spare]) -> tuple[Spare, ...]:
    """Those that are ordered and have not come yet."""
    return tuple(spare for spare in spares if spare.used_on is None and spare.place == ORDERED)


def shelf_age(spare: Spare, *, today: date, habits: Habits = USUAL_HABITS) -> ShelfAge:
    """How long it has lain there and until when it is at its best, None each where that is not known."""
    if spare.bought_on is None:
        return ShelfAge(spare, None, None, False)
    life_days = habits.shelf_life_of(spare.material)
    until = None if life_days is None else spare.bought_on + timedelta(days=life_days)
    return ShelfAge(spare, (today - spare.bought_on).days, until, until is not None and today > until)


def shelf_ages(spares: Iterable[Spare], *, today: date, habits: Habits = USUAL_HABITS) -> tuple[ShelfAge, ...]:
    """All unused spares, first bought first; those of unknown age lead."""
    ages = [shelf_age(spare, today=today, habits=habits) for spare in unused(spares)]
    return tuple(sorted(ages, key=lambda age: (age.spare.bought_on or date.min, age.spare.string)))


def fits(spare: Spare, spec: StringSpec) -> bool:
    """Whether a spare is the right string for a position: made for it, and not known to be of another material or gauge."""
    if spare.string != spec.name:
        return False
    gauges = [gauge for gauge in (spare.gauge_mm, spec.gauge_mm) if gauge is not None]
    return may_be_same(spare.material, spec.material) and (len(gauges) < 2 or abs(gauges[0] / gauges[1] - 1.0) < SAME_GAUGE)


def take_first(spares: Iterable[Spare], spec: StringSpec, *, today: date, habits: Habits = USUAL_HABITS) -> Spare | None:
    """The spare to put on, None where there is none: first bought, first used, one past its best last; of one day that at home, so that
    the bag stays full."""
    right = [shelf_age(spare, today=today, habits=habits) for spare in unused(spares) if fits(spare, spec)]
    best = min(right, key=lambda age: (age.is_past_best, age.spare.bought_on or date.min, age.spare.place != "home"), default=None)
    return best.spare if best else None


def use(spare: Spare, on: date, *, fitting_id: int | None = None) -> Spare:
    """The spare as used up. UsageError where it was used already, or before it was bought."""
    if spare.used_on is not None:
        raise UsageError(f"this spare {spare.string} was used on {day_text(spare.used_on)} already")
    if spare.place == ORDERED:
        raise UsageError(f"this spare {spare.string} is still on the way: once it is here, toneprobe spares arrived {quote(spare.string)}")
    if spare.bought_on is not None and on < spare.bought_on:
        raise UsageError(f"this spare {spare.string} was bought only on {day_text(spare.bought_on)}")
    return replace(spare, used_on=on, fitting_id=fitting_id)


def correct_spare(spare: Spare, changes: Mapping[str, Any]) -> Spare:
    """The spare with some fields of `CORRECTABLE` put right; what they said before goes into its remark. Unchanged where they said so."""
    before = [f"{CORRECTABLE[name][0]} said to be {value_words(spare, name)} before" for name, new in changes.items()
              if getattr(spare, name) not in (None, new)]
    return replace(spare, **changes, note="; ".join(text for text in (spare.note, *before) if text))


def value_words(spare: Spare, name: str) -> str:
    """A field of `CORRECTABLE` in words."""
    value = getattr(spare, name)
    return "not known" if value is None else CORRECTABLE[name][1](value)


def check_spare(spare: Spare, *, today: date) -> None:
    """UsageError, one line, where a spare is impossible as described."""
    if spare.place not in (*PLACES, ORDERED):
        raise UsageError(f"a spare lies in the {' or at '.join(PLACES)}, not {spare.place!r}")
    if spare.place == ORDERED and spare.used_on is not None:
        raise UsageError(f"{spare.string}: used on {day_text(spare.used_on)}, so it cannot be on the way")
    if spare.bought_on is not None and spare.bought_on > today:
        came = "ordered" if spare.place == ORDERED else "bought"
        raise UsageError(f"{spare.string}: {came} on {day_text(spare.bought_on)}, which lies ahead")
    if spare.bought_on is not None and spare.used_on is not None and spare.bought_on > spare.used_on:
        raise UsageError(f"{spare.string}: bought on {day_text(spare.bought_on)}, but used on {day_text(spare.used_on)} already")
    if spare.lead_time_days is not None and not 0 <= spare.lead_time_days <= LONGEST_LEAD_DAYS:
        raise UsageError(f"{spare.string}: a lead time of {spare.lead_time_days} days is not between 0 and {LONGEST_LEAD_DAYS}")
    check_gauge(spare.string, spare.gauge_mm)

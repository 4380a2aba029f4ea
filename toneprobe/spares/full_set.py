"""Is there one of each string in the bag, wires included?"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from toneprobe.instrument import Instrument, StringSpec
from toneprobe.practice import USUAL_HABITS, Habits
from toneprobe.spares.spare import Spare, fits, shelf_age, unused

GAPS = ("missing", "other kind", "past its best", "at home")  # most pressing first; "" where there is none


@dataclass(frozen=True)
class SetCheck:
    """The spares of one position. Counts are of unused ones."""

    string: str
    note: str
    material: str | None
    gauge_mm: float | None
    n_bag: int  # right and at their best
    n_home: int
    n_past_best: int  # right, in either place
    gap: str

    @property
    def n_good(self) -> int:
        return self.n_bag + self.n_home


def check_full_set(
    spares: Iterable[Spare], instrument: Instrument, *, today: date, habits: Habits = USUAL_HABITS
) -> tuple[SetCheck, ...]:
    """One line for each string of the instrument, highest first: a full set travels with the harp (common practice)."""
    left = unused(spares)
    return tuple(_check(spec, [spare for spare in left if spare.string == spec.name], today, habits) for spec in instrument.strings)


def gaps_of(checks: Sequence[SetCheck]) -> tuple[SetCheck, ...]:
    """What is not in order, most pressing kind first."""
    return tuple(sorted((check for check in checks if check.gap), key=lambda check: GAPS.index(check.gap)))


def strays(spares: Iterable[Spare], instrument: Instrument) -> tuple[Spare, ...]:
    """Spares made for a position that this instrument does not have."""
    names = {spec.name for spec in instrument.strings}
    return tuple(spare for spare in unused(spares) if spare.string not in names)


def _check(spec: StringSpec, spares: Sequence[Spare], today: date, habits: Habits) -> SetCheck:
    right = [spare for spare in spares if fits(spare, spec)]
    past = [spare for spare in right if shelf_age(spare, today=today, habits=habits).is_past_best]
    good = [spare for spare in right if spare not in past]
    n_bag = sum(spare.place == "bag" for spare in good)
    n_other = len(spares) - len(right)  # made for the position, but of another material or gauge
    second_best = (("at home", len(good)), ("past its best", len(past)), ("other kind", n_other))
    gap = "" if n_bag else next((word for word, n in second_best if n), "missing")
    return SetCheck(spec.name, spec.note, spec.material, spec.gauge_mm, n_bag, len(good) - n_bag, len(past), gap)

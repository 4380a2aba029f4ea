"""Which neighbour's spare can stand in for a string that is not there.

In need a neighbour serves: an E for a D; an A or B for any from G to B; 5D or 5B for any of octave 5; else the next strings above (common
practice). Only those are offered that pull no harder than the string that belongs there: at the same length and pitch a thinner string
pulls less, so the spare must be made for a higher note, or its gauge be known not to exceed the right one. A stand-in is temporary and
never becomes a baseline.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from toneprobe.instrument import Instrument, StringSpec
from toneprobe.practice import USUAL_HABITS, Habits, material_family, may_be_same
from toneprobe.spares.spare import ShelfAge, Spare, fits, shelf_age, unused
from toneprobe.units import step_of_note, string_of_note

MOST_STEPS_ABOVE = 2  # without a rule of the trade: so near a string is hardly thinner (set here)


@dataclass(frozen=True)
class StandIn:
    spare: Spare
    made_for: str
    cautions: tuple[str, ...]


def stand_ins_for(
    position: StringSpec, spares: Iterable[Spare], instrument: Instrument, *, today: date, habits: Habits = USUAL_HABITS
) -> tuple[StandIn, ...]:
    """Spares that can stand in on a position, best first: at their best, by a rule of the trade, nearest."""
    specs = {spec.name: spec for spec in instrument.strings}

    def can_serve(spare: Spare, made_for: StringSpec) -> bool:
        """By a rule of the trade on a harp alone, whose neighbours are a step apart: on a guitar a D is no A."""
        serves = instrument.is_harp and _is_trade_rule(position, made_for) or _is_next_above(position, made_for)
        return serves and made_for.name != position.name and fits(spare, made_for) and _pulls_no_harder(spare, position, made_for)

    def rank(age: ShelfAge) -> tuple[bool, bool, int, date]:
        made_for = specs[age.spare.string]
        return age.is_past_best, not _is_trade_rule(position, made_for), _steps(position, made_for), age.spare.bought_on or date.min

    ages = [shelf_age(spare, today=today, habits=habits) for spare in unused(spares)
            if spare.string in specs and can_serve(spare, specs[spare.string])]
    return tuple(StandIn(age.spare, age.spare.string, _cautions(age.is_past_best, position, specs[age.spare.string]))
                 for age in sorted(ages, key=rank))


def _octave_and_letter(spec: StringSpec) -> tuple[int, str]:
    """Of a position, by its note, whatever the owner calls it."""
    name = string_of_note(spec.note)
    return int(name[:-1]), name[-1]


def _is_trade_rule(position: StringSpec, made_for: StringSpec) -> bool:
    (octave, letter), (other_octave, other) = _octave_and_letter(position), _octave_and_letter(made_for)
    if octave != other_octave:
        return False
    return (letter == "D" and other == "E") or (letter in "GAB" and other in "AB") or (octave == 5 and other in "DB")


def _is_next_above(position: StringSpec, made_for: StringSpec) -> bool:
    is_near = 0 < step_of_note(made_for.note) - step_of_note(position.note) <= MOST_STEPS_ABOVE
    return is_near and _is_same_material(made_for.material, position.material)


def _steps(one: StringSpec, other: StringSpec) -> int:
    return abs(step_of_note(one.note) - step_of_note(other.note))


def _pulls_no_harder(spare: Spare, position: StringSpec, made_for: StringSpec) -> bool:
    """At the position's length and pitch, compared with the string that belongs there."""
    gauge_mm = spare.gauge_mm or made_for.gauge_mm
    if _is_same_material(spare.material or made_for.material, position.material) and gauge_mm is not None and position.gauge_mm is not None:
        return gauge_mm <= position.gauge_mm
    return step_of_note(made_for.note) > step_of_note(position.note)


def _is_same_material(one: str | None, other: str | None) -> bool:
    """An unknown material is the same as another unknown one, and never the same as one of a known family."""
    return material_family(one) == material_family(other) and may_be_same(one, other)


def _cautions(is_past_best: bool, position: StringSpec, made_for: StringSpec) -> tuple[str, ...]:
    lines = [f"made for {made_for.name}: slacker and quieter here, tune it to {position.note} and no higher"]
    lines.append("check its length before cutting")
    if not _is_same_material(made_for.material, position.material):
        kinds = [spec.material or "unknown material" for spec in (made_for, position)]
        lines.append(" instead of ".join(kinds))
    if is_past_best:
        lines.append("past its best on the shelf")
    return (*lines, "temporary: it never becomes a baseline")

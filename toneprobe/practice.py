"""What is usual in the trade: the figures that serve until the owner's own log says better.

Days are calendar days. All come from common practice (players, teachers, makers, technicians; no single source) unless the line says
otherwise. Where practice differs the owner's setting goes first: every function that uses one of these takes it as an argument.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

# The words in use for why a string came off, where it broke, and where a spare lies.
WHY_REMOVED = ("broke", "dead", "false", "planned", "stand-in")
BROKE_AT = ("knot", "playing area", "disc or lever", "bridge pin", "tuning pin")
PLACES = ("bag", "home")
ORDERED = "ordered"  # instead of a place: on the way, so nowhere yet

PLAIN_FAMILIES = ("nylon", "gut", "fluorocarbon")

# Days from putting on to settled: usual, and the long end, after which a string is late.
SETTLE_DAYS = {"wire": (1.0, 2.0), "gut": (5.0, 7.0), "nylon": (5.0, 7.0), "fluorocarbon": (5.0, 7.0), "wound nylon": (5.0, 7.0)}
UNKNOWN_SETTLE_DAYS = (5.0, 7.0)  # the careful end: a week before is the last sensible day
LONG_ON_DAYS = 365  # from then on no string counts as new: the least that any is said to last (trebles 1 to 2 years, wires 1 to 5)
PLAN_AHEAD_DAYS = (21, 14)  # doubtful strings are changed three to two weeks before a regulation or a big engagement …
LAST_WEEK_DAYS = 7  # … and gut and nylon a week before at the latest: from then on any string only of need
BEST_BEFORE = "two to three weeks before"  # these in words, on every screen and page
WHEN_TO_CHANGE = f"{BEST_BEFORE} a concert, gut and nylon a week before at the latest"

SHELF_LIFE_DAYS = {"gut": 365, "wire": 730, "nylon": 1095}  # at its best; nylon keeps 3 to 4 years. Others: no usual figure
LEAD_TIME_DAYS = 21  # from next day to weeks: where the supplier's own is unknown, three weeks (careful end, set here)

SWEEP_EVERY_DAYS = 31
REGULATION_EVERY_DAYS = 365


@dataclass(frozen=True)
class Habits:
    """The owner's own figures, the usual ones until they are set. Families are those of `material_family`."""

    shelf_life_days: Mapping[str, int] = field(default_factory=lambda: dict(SHELF_LIFE_DAYS))
    lead_time_days: int = LEAD_TIME_DAYS
    settle_days: Mapping[str, tuple[float, float]] = field(default_factory=lambda: dict(SETTLE_DAYS))
    sweep_every_days: int = SWEEP_EVERY_DAYS
    regulation_every_days: int = REGULATION_EVERY_DAYS

    def shelf_life_of(self, material: str | None) -> int | None:
        """Days from purchase for which a spare is at its best; None where no figure is known."""
        return self.shelf_life_days.get(material_family(material) or "")

    def settle_days_of(self, material: str | None) -> tuple[float, float]:
        """Usual and long days from putting on to settled."""
        return self.settle_days.get(material_family(material) or "", UNKNOWN_SETTLE_DAYS)


USUAL_HABITS = Habits()

_FAMILY_WORDS = (  # the first that occurs in a material's name decides
    ("wound nylon", "wound nylon"), ("nylon wound", "wound nylon"), ("nylon-wound", "wound nylon"), ("wrapped nylon", "wound nylon"),
    ("fluoro", "fluorocarbon"), ("carbon", "fluorocarbon"), ("nylon", "nylon"), ("gut", "gut"),
    ("wire", "wire"), ("steel", "wire"), ("bronze", "wire"), ("brass", "wire"), ("copper", "wire"), ("silver", "wire"), ("wound", "wire"),
)


FAMILIES = tuple(dict.fromkeys(family for _, family in _FAMILY_WORDS))  # all that `material_family` gives


def material_family(material: str | None) -> str | None:
    """The family that a material's name belongs to: "pedal gut" gives "gut", "steel wire" gives "wire"; None where it is not known."""
    text = (material or "").casefold()
    return next((family for word, family in _FAMILY_WORDS if word in text), None)

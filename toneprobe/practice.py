"""What is usual in the trade: the figures that serve until the owner's own log says better.

Calendar days, from common practice (players, teachers, makers, technicians; no single source) unless a line says otherwise. As practice
differs the owner's setting comes first: every function that uses one of these takes it as an argument.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

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
PLAN_AHEAD_DAYS = (21, 14)  # doubtful strings are changed three to two weeks before a regulation or a big engagement
LAST_WEEK_DAYS = 7  # gut and nylon a week before at the latest: from then on any string only of need
BEST_BEFORE = "two to three weeks before"  # these in words, on every screen and page
WHEN_TO_CHANGE = f"{BEST_BEFORE} a concert, gut and nylon a week before at the latest"

SHELF_LIFE_DAYS = {"gut": 365, "wire": 730, "nylon": 1095}  # at its best; nylon keeps 3 to 4 years. Others: no usual figure
LEAD_TIME_DAYS = 21  # from next day to weeks: where the supplier's own is unknown, three weeks (careful end, set here)

SWEEP_EVERY_DAYS = 31
REGULATION_EVERY_DAYS = 365


@dataclass(frozen=True)
class Habits:
    """The owner's own figures, the usual ones until they are set, by family of `material_family`."""

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

_METALS = ("steel", "bronze", "brass", "copper", "silver")  # of a wire: each another density and strength
_FAMILY_WORDS = (  # the first that occurs in a material's name decides
    ("wound nylon", "wound nylon"), ("nylon wound", "wound nylon"), ("nylon-wound", "wound nylon"), ("wrapped nylon", "wound nylon"),
    ("fluoro", "fluorocarbon"), ("carbon", "fluorocarbon"), ("nylon", "nylon"), ("gut", "gut"),
    ("wire", "wire"), *((metal, "wire") for metal in _METALS), ("wound", "wire"),
)


FAMILIES = tuple(dict.fromkeys(family for _, family in _FAMILY_WORDS))  # all that `material_family` gives


@cache
def material_family(material: str | None) -> str | None:
    """The family of a material's name: "pedal gut" gives "gut", "steel wire" gives "wire"; None where it is not known."""
    text = (material or "").casefold()
    return next((family for word, family in _FAMILY_WORDS if word in text), None)


def may_be_same(one: str | None, other: str | None) -> bool:
    """Whether two materials may be one: of one family, one of them named by that alone or both by the same name. Brass, bronze and steel
    differ in density and strength. A name of no known family counts as it stands, and what is not known may be anything."""
    if not one or not other:
        return True
    finer = _beyond_family(one), _beyond_family(other)
    return material_family(one) == material_family(other) and ("" in finer or finer[0] == finer[1])


def more_exact(one: str, other: str) -> str:
    """Of two names for what may be one material, the one that says more than its family; the first where neither or both do."""
    return one if _beyond_family(one) or not _beyond_family(other) else other


@cache  # a harp has a few names, and asks for them of each string
def _beyond_family(material: str) -> str:
    """The letters of a name without its family's: "steel" of "Steel wire", "phosphorbronze" of "phosphor bronze", "" of "wound wire"."""
    family, rest = material_family(material), _letters(material)
    for word in (word for word, of in _FAMILY_WORDS if of == family and word not in (*_METALS, "wound")):
        rest = rest.replace(_letters(word), "")
    return "" if rest == "wound" else rest


def _letters(text: str) -> str:
    return "".join(letter for letter in text.casefold() if letter.isalnum())

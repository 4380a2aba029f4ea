"""How long before an engagement a string must be on: from the owner's own strings where enough have settled, else as is usual."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from toneprobe.fittings import Fitting, material_on
from toneprobe.instrument import Instrument
from toneprobe.phrases import count_of
from toneprobe.practice import USUAL_HABITS, Habits, material_family

FEWEST_OWN = 3  # strings of a material before the owner's own times are used, where they are longer than usual (set here)
FEWEST_SHORTER = 9  # where they are shorter: the next takes longer than all of n with a chance of 1/(n + 1), whatever the law (derived)
LATEST_OWN = 12  # only the last so many


@dataclass(frozen=True)
class SettleTime:
    """Days to allow from putting on to settled."""

    days: int
    n_own: int  # the owner's own strings that this rests on; 0: common practice

    @property
    def source(self) -> str:
        if self.n_own:
            return f"the slowest of your last {self.n_own} takes {count_of(self.days, 'day')} to settle"
        return f"usually settled within {count_of(self.days, 'day')}"

    def last_day(self, on: date) -> date:
        """The last sensible day to put it on."""
        return on - timedelta(days=self.days)


def own_settle_days(
    fittings: Iterable[Fitting], settled_on: Mapping[int, date], instrument: Instrument
) -> dict[str, tuple[int, ...]]:
    """Days from putting on to settled of the owner's own strings by material family, first put on first. settled_on: by fitting id, for
    one that still settles the day foretold: without the slow ones those that are done would seem to be all."""
    found: dict[str, list[tuple[date, int]]] = {}
    for one in fittings:
        settled, family = settled_on.get(one.id), material_family(material_on(one, instrument))
        if one.fitted_on is not None and settled is not None and family is not None and settled >= one.fitted_on:
            found.setdefault(family, []).append((one.fitted_on, (settled - one.fitted_on).days))
    return {family: tuple(days for _, days in sorted(rows)) for family, rows in found.items()}


def settle_time(material: str | None, own_days: Mapping[str, tuple[int, ...]], habits: Habits = USUAL_HABITS) -> SettleTime:
    """The time to allow for a material: the longest of the owner's last ones, at least a day; else the long end of what is usual."""
    latest = own_days.get(material_family(material) or "", ())[-LATEST_OWN:]
    longest, usual = max((1, *latest)), math.ceil(habits.settle_days_of(material)[1])
    if len(latest) >= (FEWEST_OWN if longest > usual else FEWEST_SHORTER):
        return SettleTime(longest, len(latest))
    return SettleTime(usual, 0)

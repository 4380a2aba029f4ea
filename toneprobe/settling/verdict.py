"""What the checks of one fitting say: the value that the room hands on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from toneprobe.measure.figure import Figure
from toneprobe.settling.tuned import TunedUp


@dataclass(frozen=True)
class Tolerance:
    """What the owner calls settled. By default a cent a day over three days (set here; players aim within 1 or 2 cents)."""

    cents: float = 3.0
    ahead_days: float = 3.0

    @property
    def cents_per_day(self) -> float:
        return self.cents / self.ahead_days


USUAL_TOLERANCE = Tolerance()


@dataclass(frozen=True)
class DateRange:
    """A day, with an early and a late one: the 10, 50 and 90 % points."""

    early: date
    likely: date
    late: date

    def not_before(self, day: date) -> DateRange:
        return DateRange(*(max(day, one) for one in (self.early, self.likely, self.late)))


@dataclass(frozen=True)
class Settling:
    """The state of one fitting. Drift is negative when the string falls; the neighbours' common drift is taken out of all figures."""

    string: str
    state: str  # "settled", "settling", "slipping" or "unsure"
    checked_on: date | None  # day of the last check
    n_intervals: int
    n_neighbours: int  # fewest in any interval; 0: the weather could not be taken out everywhere
    rate_cents_per_day: Figure  # measured over the last two intervals that count
    expected_drift_cents: Figure  # over the tolerance's days
    tolerance: Tolerance
    settled: DateRange | None  # since when; or from when on if the pin is left alone, of a day none before it; None where it cannot be said
    settled_on: date | None  # the likely day, where the state is "settled" and the day is known
    creep_cents: Figure  # fall per factor of e in time; of past strings it makes the expectation for the next
    jumped_on: tuple[date, ...] = ()  # checks before which it moved further than any stretch explains
    reasons: tuple[str, ...] = ()  # plain sentences, the deciding one first
    next_step: str = ""
    slipping_until: date | None = None  # its checks showed it slipping up to that day, weeks ago, and no later; its state is "unsure"
    due_on: date | None = None  # by then it had had its time to settle, and no check shows whether it has; its state is "unsure"
    check_how_often: str = ""  # "every day", where all that comes next is a check; "" where it is something else
    recurring: Recurring | None = None  # new, slipped in jumps, and has not kept still for long enough since
    company: tuple[str, ...] | None = None  # for that check: settled strings to pluck with it, (): none serves; None: not known or no check

    @property
    def is_or_was_slipping(self) -> bool:
        """As its checks say, however long ago the last of them was."""
        return self.state == "slipping" or self.slipping_until is not None


@dataclass(frozen=True)
class Move:
    """How far a string moved from one check, as left where the pin was turned, to the next, as found."""

    since: datetime
    until: datetime
    drift_cents: Figure  # negative is falling, the neighbours' common drift taken out
    n_neighbours: int
    is_latest: bool  # between the last two checks
    from_left: bool  # from a pitch as left; else as found, and nothing was turned
    excess_cents: float = 0.0  # of one that is left out of the fit: fallen further (positive) or less far than the others explain


@dataclass(frozen=True)
class Recurring:
    """Slips that may come again: a knot or a pin that gives way in jumps."""

    spans: tuple[tuple[datetime, datetime], ...]  # between which checks it fell at once, in order
    still_until: datetime  # it must keep still so long before it counts as settled


@dataclass(frozen=True)
class Grounds:
    """What `judge` knows beyond the figures, for the words."""

    is_old: bool  # on for so long, or since before the log, that stretch is no explanation
    n_counting: int  # intervals long enough to count among the two
    clear_rise: bool
    last_move: Move | None = None
    today: date | None = None  # the day for which it is wanted
    falls_on: bool = False  # its checks speak for a slip beside its stretch, not clearly enough yet to call it slipping
    rises: bool = False  # new, and judged by its measured rate, for no stretch rises
    foretold: bool = False  # its checks foretold an end, and the last of them did not speak against it
    quiet: tuple[bool, ...] = ()  # at the ends of the last two intervals that count: whether the drift to be expected was small enough
    jumps: tuple[Move, ...] = ()  # left out of the fit, in order
    tuned: tuple[TunedUp, ...] = ()  # by a rise that no reading as left explains
    is_hidden: bool = False  # new, and none of its moves tells how it stretches: it may have been tuned in each of them
    company: tuple[str, ...] | None = None  # settled strings of its material to pluck with it, (): there is none; None: not looked for
    falls_short: Move | None = None  # the last of these, where it is no fall that its kind has at its age

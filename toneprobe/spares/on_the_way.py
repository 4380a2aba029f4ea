"""Strings that are ordered and have not come yet: no spares until they arrive, but not to be ordered again."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from toneprobe.days import day_text
from toneprobe.errors import UsageError
from toneprobe.instrument import Instrument
from toneprobe.phrases import as_string, count_of
from toneprobe.practice import ORDERED, USUAL_HABITS, Habits
from toneprobe.spares.lead_times import ASK_THE_SHOP, lead_of
from toneprobe.spares.spare import LONGEST_LEAD_DAYS, Spare, on_the_way


@dataclass(frozen=True)
class Coming:
    """One ordered string, and when it is expected."""

    spare: Spare
    expected_on: date | None  # None: the day of the order is not known
    is_overdue: bool


def coming_spares(spares: Iterable[Spare], instrument: Instrument, *, today: date, habits: Habits = USUAL_HABITS) -> tuple[Coming, ...]:
    """What is on the way, the first expected first: after its own lead time, else the usual one of its string."""
    known, specs = tuple(spares), {spec.name: spec for spec in instrument.strings}

    def lead_days(spare: Spare) -> int:
        if spare.lead_time_days is not None:
            return spare.lead_time_days
        return lead_of(specs[spare.string], known, habits).days if spare.string in specs else habits.lead_time_days

    found = []
    for spare in on_the_way(known):
        expected_on = None if spare.bought_on is None else spare.bought_on + timedelta(days=lead_days(spare))
        found.append(Coming(spare, expected_on, expected_on is not None and expected_on < today))
    return tuple(sorted(found, key=lambda one: (one.expected_on or date.max, one.spare.bought_on or date.max)))


def coming_words(coming: Sequence[Coming], *, needed_by: date | None = None) -> str:
    """ "on the way: 2 × 6D, ordered on 1 June 2024, expected about 22 June 2024", "" where nothing is. `needed_by`: the last day in
    time."""
    numbers = Counter((one.spare.string, one.spare.bought_on, one.expected_on, one.is_overdue) for one in coming)

    def told(n: int, string: str, ordered_on: date | None, expected_on: date | None, is_overdue: bool) -> str:
        if ordered_on is None or expected_on is None:
            return f"{n} × {as_string(string)}, ordered on an unknown day"
        overdue = f", {ASK_THE_SHOP}" if is_overdue else ""
        late = " (may come too late for it)" if needed_by is not None and expected_on > needed_by else ""
        return f"{n} × {as_string(string)}, ordered on {day_text(ordered_on)}, expected about {day_text(expected_on)}{overdue}{late}"

    return f"on the way: {'; '.join(told(n, *kind) for kind, n in numbers.items())}" if numbers else ""


def arrive(spare: Spare, on: date, *, place: str) -> Spare:
    """The ordered string as a spare from that day on, with the days it took as lead time, unless it was written down only on that day;
    what was promised goes into its remark. UsageError where it cannot have come by then."""
    if spare.place != ORDERED or spare.used_on is not None:
        raise UsageError(f"spare {spare.id} ({spare.string}) is not on the way")
    if spare.bought_on is None:
        return replace(spare, place=place, bought_on=on)
    if on < spare.bought_on:
        raise UsageError(f"{spare.string}: it cannot arrive on {day_text(on)}, it was ordered only on {day_text(spare.bought_on)}")
    lead_days = (on - spare.bought_on).days or spare.lead_time_days
    if lead_days is not None and lead_days > LONGEST_LEAD_DAYS:
        raise UsageError(f"{spare.string}: ordered on {day_text(spare.bought_on)}, it would have taken {lead_days} days, and "
                         f"{LONGEST_LEAD_DAYS} at most are kept. Say with --date when it came; where the day of the order is wrong: "
                         f"toneprobe spares correct {spare.id} --bought DATE")
    promised = "" if spare.lead_time_days in (None, lead_days) else f", expected after {count_of(spare.lead_time_days, 'day')}"
    note = "; ".join(text for text in (spare.note, f"ordered on {day_text(spare.bought_on)}{promised}") if text)
    return replace(spare, place=place, bought_on=on, lead_time_days=lead_days, note=note)

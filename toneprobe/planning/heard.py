"""What the sweeps so far have heard of the harp: when, and how much of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from toneprobe.days import day_text
from toneprobe.fittings import on_now
from toneprobe.planning.situation import Situation
from toneprobe.spares import days_text

MOST = 0.8  # of the strings: less than that is a few plucked again, and no sweep of the harp (set here)
FEW = 4  # as many strings are named, more are counted


def strings_on(situation: Situation) -> tuple[str, ...]:
    """The strings of the harp from the top, without positions that are known to be empty."""
    on, logged = on_now(situation.fittings), {one.string for one in situation.fittings}
    return tuple(spec.name for spec in situation.instrument.strings if spec.name in on or spec.name not in logged)


def harp_heard_on(situation: Situation) -> date | None:
    """The day since which most of the strings have been heard, in one sweep or in several; None where they never were."""
    names = strings_on(situation)
    days = sorted((situation.heard_on[name] for name in names if name in situation.heard_on), reverse=True)
    n_most = math.ceil(MOST * len(names))
    return days[n_most - 1] if 0 < n_most <= len(days) else None


def why_sweep(situation: Situation) -> str:
    """Why it is time for a sweep."""
    names, day = strings_on(situation), harp_heard_on(situation)
    if not situation.heard_on:
        return "no sweep is in the book"
    n_since = sum(day is None or situation.heard_on[name] > day for name in names if name in situation.heard_on)
    if day is None:
        return f"only {n_since} of {len(names)} strings have ever been heard"
    ago = f"{day_text(day)}, {days_text((situation.today - day).days)} ago"
    return f"only {n_since} of {len(names)} strings have been heard since {ago}" if n_since else f"the last one was on {ago}"


def last_sweep_words(situation: Situation) -> str:
    """When the last sweep was, and when those strings were heard that it did not hear; "" without a sweep."""
    if not situation.heard_on:
        return ""
    last = max(situation.heard_on.values())
    told = f"the last sweep was on {day_text(last)}, {days_text((situation.today - last).days)} before this page"
    names = strings_on(situation)
    missed = [name for name in names if situation.heard_on.get(name) != last]
    if not missed:
        return told
    return f"{told}, and heard {len(names) - len(missed)} of {len(names)} strings: {_missed_words(missed, situation)}"


def _missed_words(missed: Sequence[str], situation: Situation) -> str:
    """ "18 were last heard on 28 September 2026, 2A never"."""
    known = [situation.heard_on[name] for name in missed if name in situation.heard_on]
    never = [name for name in missed if name not in situation.heard_on]
    if not known:
        return f"{_who(never)} {_were(never)} never heard"
    then = [name for name in missed if situation.heard_on.get(name) == max(known)]
    before = [name for name in missed if name not in then and name not in never]
    told = [f"{_who(then)} {_were(then)} last heard on {day_text(max(known))}"]
    return ", ".join([*told, *([f"{_who(before)} before that"] if before else []), *([f"{_who(never)} never"] if never else [])])


def _who(names: Sequence[str]) -> str:
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part) if len(names) <= FEW else str(len(names))


def _were(names: Sequence[str]) -> str:
    return "was" if len(names) == 1 else "were"

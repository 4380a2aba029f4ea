"""What the sweeps so far have heard of the harp: when, how much of it, and which strings they could not judge."""

import math
from collections.abc import Sequence
from datetime import date

from toneprobe.days import day_text
from toneprobe.phrases import as_strings, count_of, one_after_another, was_or_were
from toneprobe.planning.situation import Situation

MOST_SHARE = 0.8  # of the strings heard: less is a few plucked again, and no sweep of the harp (set here)
NO_VERDICT = {"": "not swept yet", "unrated": "without a fresh baseline", "unheard": "not heard", "unsure": "not heard well enough"}
FEW = 4  # as many strings are named, more are counted


def strings_on(situation: Situation) -> tuple[str, ...]:
    """The strings of the harp from the top, without positions that are known to be empty."""
    logged = {one.string for one in situation.fittings}
    return tuple(spec.name for spec in situation.instrument.strings if spec.name in situation.fitted or spec.name not in logged)


def finds_nothing(situation: Situation) -> bool:
    """Whether a sweep can judge no string at all: nothing on the harp has a baseline to be judged by."""
    return situation.fresh_on == {} and all(one.verdict in (*NO_VERDICT, "settling") for one in situation.conditions.values())


def harp_heard_on(situation: Situation) -> date | None:
    """The day since which MOST_SHARE of the strings have been heard, in one sweep or in several; None where they never were."""
    names = strings_on(situation)
    days = sorted((situation.heard_on[name] for name in names if name in situation.heard_on), reverse=True)
    n_most = math.ceil(MOST_SHARE * len(names))
    return days[n_most - 1] if 0 < n_most <= len(days) else None


def why_sweep(situation: Situation) -> str:
    """Why it is time for a sweep."""
    names, day = strings_on(situation), harp_heard_on(situation)
    if not situation.heard_on:
        return "no sweep is in the book"
    n_since = sum(day is None or situation.heard_on[name] > day for name in names if name in situation.heard_on)
    if day is None:
        return f"only {n_since} of {len(names)} strings have ever been heard"
    ago = f"{day_text(day)}, {_distance(day, situation, 'ago', at_none='today')}"
    return f"only {n_since} of {len(names)} strings have been heard since {ago}" if n_since else f"the last one was on {ago}"


def last_sweep_words(situation: Situation) -> str:
    """When the last sweep was, and when those strings were heard that it did not hear; "" without a sweep."""
    if not situation.heard_on:
        return ""
    last = max(situation.heard_on.values())
    told = f"the last sweep was on {day_text(last)}, {_distance(last, situation, 'before', at_none='the day of')} this page"
    names = strings_on(situation)
    missed = [name for name in names if situation.heard_on.get(name) != last]
    if not missed:
        return told
    return f"{told}, and heard {len(names) - len(missed)} of {len(names)} strings: {_missed_words(missed, situation)}"


def _distance(day: date, situation: Situation, how: str, *, at_none: str) -> str:
    """ "3 days ago"; at_none: what no day is called."""
    n_days = (situation.today - day).days
    return f"{count_of(n_days, 'day')} {how}" if n_days else at_none


def since_words(name: str, situation: Situation) -> str:
    """ " as of 4 October 2025, heard since but not judged", where the verdict is not the last sweep's; else ""."""
    judged, heard = situation.judged_on.get(name), situation.heard_on.get(name)
    if judged is None or judged >= max(situation.heard_on.values(), default=judged):
        return ""
    return f" as of {day_text(judged)}, {'heard since but not judged' if heard and heard > judged else 'not heard since'}"


def unjudged(situation: Situation) -> tuple[str, ...]:
    """The strings that no sweep could judge. Stand-ins and strings still settling have tasks of their own."""
    on = situation.fitted
    own = [name for name in strings_on(situation) if name not in on or not on[name].is_stand_in]
    return tuple(name for name in own if name not in situation.recorded_fresh and _why_no_verdict(name, situation) is not None)


def unjudged_notes(situation: Situation) -> list[str]:
    """How many strings have no verdict and why, and what to do about it."""
    names = unjudged(situation)
    if not names:
        return []
    if not situation.conditions:
        return ["no verdicts yet: strings that are dead or false are not known"]
    why = [(words, [name for name in names if _why_no_verdict(name, situation) == words]) for words in dict.fromkeys(NO_VERDICT.values())]
    told = [words if len(found) == len(names) else f"{_who(found)} {words}" for words, found in why if found]
    whose = _who(names) if len(names) <= FEW else f"{len(names)} of {len(strings_on(situation))} strings"
    notes = [f"no verdict on {whose}, whether dead or false is not known: {', '.join(told)}"]
    if any(found for words, found in why if words == NO_VERDICT["unrated"]):
        notes.append(f"{'without one, another sweep can find nothing; ' if finds_nothing(situation) else ''}once new strings have settled, "
                     "keep a sweep as their fresh baseline: 'toneprobe sweep' with --fresh-for and the name of each, or with --fresh where "
                     "all are new; an old string gets its own when it is changed")
    return notes


def _why_no_verdict(name: str, situation: Situation) -> str | None:
    """Why a string has no verdict, None where it has one."""
    condition = situation.conditions.get(name)
    return NO_VERDICT.get(condition.verdict if condition else "")


def _missed_words(missed: Sequence[str], situation: Situation) -> str:
    """ "18 were last heard on 28 September 2026, 2A never"."""
    on = situation.fitted
    days = {name: situation.heard_on[name] for name in missed if name in situation.heard_on}
    days = {name: day for name, day in days.items() if name not in on or (on[name].fitted_on or day) <= day}  # else it was the one before
    never = [name for name in missed if name not in days]
    if not days:
        return f"{_who(never)} {was_or_were(never)} never heard"
    last = max(days.values())
    then = [name for name in missed if days.get(name) == last]
    before = [name for name in missed if name not in then and name not in never]
    told = [f"{_who(then)} {was_or_were(then)} last heard on {day_text(last)}"]
    return ", ".join([*told, *([f"{_who(before)} before that"] if before else []), *([f"{_who(never)} never"] if never else [])])


def _who(names: Sequence[str]) -> str:
    return one_after_another(as_strings(names)) if len(names) <= FEW else str(len(names))

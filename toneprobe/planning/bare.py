"""New strings that have had their time and wait for their fresh baseline: the sweep that gives it, or what their tone wants before.

Without a baseline no sweep can judge a string, and while it waits it ages: so it waits for no engagement.
"""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from toneprobe.commands import fresh_for
from toneprobe.phrases import as_strings, one_after_another
from toneprobe.planning.changes import Need
from toneprobe.planning.situation import Situation, Task

FRESH = "fresh baseline"  # the purpose of a sweep that finds nothing itself
AGAIN = "before the fresh baseline"
FEW_DAYS = timedelta(days=3)  # to a second sweep, in which a new wire's tone shows whether it moves (set: as "in a few days")


def plan_bare(situation: Situation, needs: Iterable[Need]) -> tuple[Task, ...]:
    """A sweep for those that have come to rest, and one more for each group of the others. None of a harp never swept: its first sweep
    is of all."""
    if not situation.heard_on:
        return ()
    excluded = {need.name for need in needs} | {name for name, found in situation.settling.items() if found.state != "settled"}
    ready: list[str] = []
    lacking: dict[tuple[date, str], list[str]] = {}  # by the day to sweep them again and what they lack
    for name, lacks in situation.bare.items():
        if name in excluded:
            continue
        if lacks:
            lacking.setdefault((_again_on(name, situation), lacks), []).append(name)
        else:
            ready.append(name)
    again = [Task("sweep", day, tuple(names), f"sweep {one_after_another(as_strings(names))}, {_three_plucks(names)}, {AGAIN}",
                  lacks if len(names) == 1 else f"of each: {lacks}", purpose=AGAIN, is_recording=True)
             for (day, lacks), names in sorted(lacking.items(), key=lambda entry: entry[0])]
    return (*([_fresh_task(ready, situation.today)] if ready else []), *again)


def _fresh_task(names: Sequence[str], day: date) -> Task:
    who = one_after_another(as_strings(names))
    has, it = ("has had time to settle and waits", "it") if len(names) == 1 else ("have had time to settle and wait", "them")
    action = f"record {who} fresh, {_three_plucks(names)}, and give it to 'toneprobe sweep' with {fresh_for(names)}"
    return Task("sweep", day, tuple(names), action,
                f"{who} {has} for a fresh baseline, without which no sweep can judge {it}", purpose=FRESH, is_recording=True)


def _three_plucks(names: Sequence[str]) -> str:
    return "three plucks" if len(names) == 1 else "three plucks each"


def _again_on(name: str, situation: Situation) -> date:
    """A few days after the last sweep that heard what is on; today where none did."""
    fitting, heard = situation.fitted.get(name), situation.heard_on.get(name)
    if heard is None or (fitting and fitting.fitted_on and heard < fitting.fitted_on):
        return situation.today
    return min(max(situation.today, heard + FEW_DAYS), situation.on)

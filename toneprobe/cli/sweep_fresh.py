"""What `toneprobe sweep` says of fresh baselines: which strings this sweep is one of, which keep the one that they have."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date
from shlex import quote
from typing import TYPE_CHECKING

from toneprobe.days import day_text
from toneprobe.phrases import as_string, as_strings, count_of, listed
from toneprobe.report.words import sentence

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.condition.context import Spoiler
    from toneprobe.judging.fresh_choice import FreshChoice, FreshWish
    from toneprobe.settling import Settling

FEW = 6  # strings that are named; more are counted


def tell_fresh(
    choice: FreshChoice, wish: FreshWish, console: Console, *, due: Collection[str], few: Mapping[str, int], two_positions: Collection[str],
    waiting: Mapping[str, Settling], spoilt: Spoiler | None,
) -> None:
    """What was taken as fresh, had settled (`due`), rests on a `few` plucks (how many, by string), is fresh in `two_positions`, keeps its
    baseline, or had settled but moves again (`waiting`). `spoilt`: why the recording serves as no baseline."""
    taken, settled = [[name for name in choice.taken if (name in due) == is_due] for is_due in (False, True)]
    if taken or wish.all:
        no_use = f", though it is not usable as one: this recording{spoilt.what}" if taken and spoilt else ""
        console.print(f"Taken as fresh baseline: {_counted(taken)}{no_use}.")
    if settled:
        console.print(f"It is the fresh baseline of {listed(as_strings(settled), len(settled))}, which had settled.")
    if few:
        once, more = [name for name, n in few.items() if n == 1], [name for name, n in few.items() if n > 1]
        parts = [f"From {which}: {_counted(names)}. " for which, names in (("a single pluck", once), ("two plucks", more)) if names]
        console.print(f"{''.join(parts)}Three make a surer baseline: pluck again, and give that recording to 'toneprobe sweep' "
                      "together with this one.")
    if two_positions:
        console.print(f"Fresh at more than one note: {_counted(two_positions)}. Each note has its own baseline, "
                      "and a sweep is compared with that of its own: what a string had lost before that cannot be heard.")
    if choice.kept:
        console.print(_kept(choice.kept))
    for name in (one for one in waiting if one not in choice.taken):
        console.print(f"It is not the fresh baseline of {as_string(name)} as you asked: it had settled, but no longer counts as settled. "
                      f"{sentence(waiting[name].reasons[0])} That waits until its checks show it settled again.")
    for name in sorted(wish.named.difference(choice.taken)):
        console.print(f"{as_string(name, at_start=True)} was not heard in it, so it is no baseline of {as_string(name)}.")


def tell_livelier_room(names: Collection[str], sweep_id: int, console: Console) -> None:
    """Of strings fresh in a sweep whose others ring longer than when fresh. As an ordinary sweep it still says all of the others."""
    if names:
        told = listed(as_strings(names), FEW)
        console.print(f"The strings around {told} ring longer in it than when they were fresh: a livelier room, or neighbours left to "
                      f"ring. Where those were fresh, {told} will seem to have lost ring, and the verdict will be less sure for it. Better "
                      f"pluck {told} there once more, and give that with --fresh-for and the name of each. So that this sweep has no part "
                      f"in that baseline: 'toneprobe withdraw {sweep_id}', then give its recordings again without --fresh and --fresh-for, "
                      "and what it says of the other strings stays.")


def tell_judged_before(names: Collection[str], sweep_id: int, console: Console) -> None:
    """Of strings that became fresh in one pedal or lever position after they were called false, dead or to be watched in another."""
    if names:
        has, one = ("has", "the string") if len(names) == 1 else ("have", "each string")
        console.print(f"{listed(tuple(names), FEW)} {has} an earlier verdict at another note, which this baseline "
                      f"cannot clear, and the log knows of no change since. It stands until {one} is changed, or judged otherwise in that "
                      "position. If a new one was put on meanwhile, log it with 'toneprobe restring'. Not meant so? "
                      f"'toneprobe withdraw {sweep_id}', then give its recordings again without --fresh and --fresh-for.")


def tell_added_to_older(days: Mapping[str, date], sweep_id: int, console: Console) -> None:
    """Of strings that became fresh again, long after they were: most likely a change that nobody logged. `days`: of the older baseline."""
    if days:
        has, it = ("has", "it") if len(days) == 1 else ("have", "each of them")
        since = " or ".join(dict.fromkeys(day_text(day) for day in sorted(days.values())))
        told = listed(as_strings(days, at_start=True), FEW)
        console.print(f"{told} {has} a baseline already, of {since}. From now on {it} is compared with both sweeps together, so "
                      "what it lost in between is partly hidden. If a new string was put on meanwhile, log it with "
                      f"'toneprobe restring'. Not meant so? 'toneprobe withdraw {sweep_id}', then give its recordings again without "
                      "--fresh-for.")


def _counted(names: Collection[str]) -> str:
    if not names:
        return "no string"
    return ", ".join(as_strings(names)) if len(names) <= FEW else count_of(len(names), "string")


def _kept(names: tuple[str, ...]) -> str:
    is_one = len(names) == 1
    why = ("has a baseline and has not been changed since, so it keeps it" if is_one else
           "have a baseline and have not been changed since, so they keep it")
    return (f"{count_of(len(names), 'string')} {why}: {listed(as_strings(names), FEW)}. To add this sweep to a baseline on purpose: "
            f"--fresh-for {quote(names[0]) if is_one else 'STRING'} instead of --fresh.")

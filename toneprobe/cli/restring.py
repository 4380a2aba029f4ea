"""`toneprobe restring`: log that a string came off and another went on."""

from __future__ import annotations

from dataclasses import replace
from datetime import date as Day
from enum import StrEnum
from shlex import quote
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.asking import agrees
from toneprobe.cli.options import BookOption, DateOption, HarpOption, YesOption, day_of, open_harp
from toneprobe.cli.rejudged import judging_shown, tell_rejudged
from toneprobe.cli.screen import screen
from toneprobe.cli.table import print_cautions, print_command, print_paragraph
from toneprobe.days import day_text
from toneprobe.errors import UsageError
from toneprobe.instrument import find_string
from toneprobe.phrases import as_string, kind_words, listed
from toneprobe.practice import BROKE_AT, WHY_REMOVED
from toneprobe.spares import PLACE_WORDS
from toneprobe.typed import one_line, one_name
from toneprobe.units import note_text

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.instrument import StringSpec
    from toneprobe.practice import Habits
    from toneprobe.upkeep.string_change import Changed, HeardSince, StringChange


Why = StrEnum("Why", {word: word for word in WHY_REMOVED})
BrokeAt = StrEnum("BrokeAt", {word: word for word in BROKE_AT})


def restring(
    string: Annotated[str, typer.Argument(metavar="STRING", help="Which string, 4C for instance.")],
    date: DateOption = None,
    material: Annotated[str | None, typer.Option(metavar="MATERIAL", help="Of the new string; else the spare's or the old one's.")] = None,
    gauge: Annotated[float | None, typer.Option("--gauge", metavar="MM",
                                                help="Of the new string; else the spare's or the old one's.")] = None,
    supplier: Annotated[str | None, typer.Option(metavar="NAME", help="Who sold it.")] = None,
    batch: Annotated[str | None, typer.Option(metavar="BATCH", help="The maker's batch.")] = None,
    why: Annotated[Why | None, typer.Option(help="Why the old one came off.")] = None,
    broke_at: Annotated[BrokeAt | None, typer.Option(help="Where it broke.")] = None,
    from_spares: Annotated[bool, typer.Option("--from-spares", help="Take the first bought of the right spares off the list.")] = False,
    spare: Annotated[int | None, typer.Option(metavar="NUMBER", help="Take this spare off the list.")] = None,
    stand_in: Annotated[bool, typer.Option("--stand-in", help="Put on in need: it never becomes a baseline.")] = False,
    before_sweep: Annotated[bool, typer.Option("--before-sweep", help="It was on before that day's sweep, which is in the book.")] = False,
    another: Annotated[bool, typer.Option("--another", help="A second new string went on that day; else the second is refused.")] = False,
    note: Annotated[str, typer.Option(metavar="TEXT", help="A remark.")] = "",
    yes: YesOption = False,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Log a string change: the new string starts without a baseline."""
    from toneprobe.book.settings import settings_of
    from toneprobe.upkeep.string_change import HeardSince, StringChange, change_string

    opened, chosen = open_harp(book, harp)
    spec = find_string(chosen.instrument, string)
    change = StringChange(
        spec.name, day_of(date), why.value if why else None, broke_at.value if broke_at else None, is_stand_in=stand_in,
        material=material, gauge_mm=gauge, supplier=one_name(supplier) if supplier else None, batch=one_name(batch) if batch else None,
        from_spares=from_spares, spare_id=spare, note=one_line(note), before_sweep=before_sweep, is_another=another,
    )
    while True:
        with judging_shown() as step:
            changed = change_string(opened, chosen, change, progress=step)
        if not isinstance(changed, HeardSince):
            break
        _ask(changed, change, yes=yes)
        change = replace(change, agreed=changed.numbers)
    _tell(changed, spec, settings_of(opened, chosen.id).habits, screen())


def _ask(since: HeardSince, change: StringChange, *, yes: bool) -> None:
    """What passes to the new string is said before it does; UsageError where its owner does not agree, or nobody can answer."""
    (_, first), day = since.sweeps[0], day_text(change.day)
    print_paragraph(screen(machine_output=True), f"{_heard_since(since, change.string, day)} So will the fresh baseline of "
                                                 f"{day_text(since.fresh_on)}, and the new string is then judged by it.")
    who = as_string(change.string)
    if not agrees(f"Was the new {who} on by {day_text(first)} already?", yes=yes):
        raise UsageError(f"nothing was logged. If {who} was not changed on {day}, give the right day with --date; if it was on "
                         f"by {day_text(first)}, answer yes, or give --yes")


def _heard_since(since: HeardSince, string: str, day: str) -> str:
    swept = listed([f"sweep {number} of {day_text(on)}" for number, on in since.sweeps])
    count = "that will count as a sweep" if len(since.sweeps) == 1 else "these will count as sweeps"
    return f"{as_string(string, at_start=True)} was heard after {day}, in {swept}: {count} of the new string."


def _tell(changed: Changed, spec: StringSpec, habits: Habits, console: Console) -> None:
    fitting, since = changed.fitting, day_text(changed.fitting.fitted_on)
    take_back = f"this entry back (toneprobe log withdraw {quote(spec.name)}), then"
    what = kind_words(fitting.material, fitting.gauge_mm)
    kind = "a stand-in" if fitting.is_stand_in else "a new string"
    console.print(f"{as_string(spec.name, at_start=True)} ({note_text(spec.note)}): {kind} since {since}{f' ({what})' if what else ''}.")
    if changed.spare:
        made_for = f" made for {changed.spare.string}" if changed.spare.string != spec.name else ""
        place = "home" if changed.spare.place == "home" else "the bag"
        console.print(f"Taken from {place}: spare {changed.spare.id}{made_for}. Spares left for {as_string(spec.name)}: {changed.n_left}.")
        if not changed.n_left:
            console.print("What to order and by when: toneprobe spares order")
    if changed.untaken:
        place = PLACE_WORDS[changed.untaken.place]
        print_paragraph(console, f"There is a spare {spec.name} {place}, number {changed.untaken.id}. If that is what went on, take "
                                 f"{take_back} log the change again with --from-spares, which takes it off the list.")
    if changed.supposed:
        old = changed.supposed
        print_paragraph(console, f"What came off, no. {old.id}, was only supposed to have gone on on {day_text(old.fitted_on)}, when the "
                                 f"one before it came off. If the string of {since} is that very one, take {take_back} say when it went "
                                 "on:")
        print_command(console, f"log correct {quote(spec.name)} --entry {old.id} --fitted {fitting.fitted_on}")
    if changed.swept_old:
        print_paragraph(console, f"What the sweep of {since} says of {spec.name} stays with the string that came off. Was the new one "
                                 f"on by then? Take {take_back} log the change again with --before-sweep.")
    for at in changed.checked_old:
        print_paragraph(console, f"The pitch check of {since} at {at:%H:%M} stays with the string that came off. Was the new one on by "
                                 "then? Take the check back, then give its recordings again:")
        print_command(console, f"withdraw --check {at:%Y-%m-%d} --time {at:%H:%M}")
    if changed.since.sweeps and not changed.since.fresh_on:  # with a baseline among them it was asked
        print_paragraph(console, _heard_since(changed.since, spec.name, since))
    tell_rejudged(console, changed.rejudged)
    _tell_next(changed, habits, console, today=day_of(None))
    console.print(f"Logged on the wrong string? toneprobe log withdraw {quote(spec.name)}", soft_wrap=True)
    print_cautions(console, changed.cautions)


def _tell_next(changed: Changed, habits: Habits, console: Console, *, today: Day) -> None:
    fitting = changed.fitting
    if fitting.is_stand_in:
        console.print("It is shown as a stand-in until you log the right string. Its pitch falls as a new string's does.")
    usual, late = habits.settle_days_of(fitting.material)
    if not fitting.is_stand_in and (today - fitting.fitted_on).days > late:
        console.print(f"It has had time to settle, {usual:g} to {late:g} days as a rule.")
        if not changed.since.fresh_on:
            console.print("It waits for a fresh baseline. Pluck it three times in the next sweep:")
            print_command(console, f"sweep RECORDING --fresh-for {quote(fitting.string)}")
        return
    console.print(f"It settles in {usual:g} to {late:g} days as a rule. Check its pitch daily, before and after you tune it:")
    print_command(console, f"settle {quote(fitting.string)} FOUND.wav --as-left LEFT.wav")

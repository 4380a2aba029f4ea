"""`toneprobe settle`: the pitch of new strings as found and as left, and whether they have settled."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.asking import agrees
from toneprobe.cli.days_to_come import tell_checks_to_come, tell_days_to_come
from toneprobe.cli.options import (
    A4Option,
    BookOption,
    DateOption,
    HarpOption,
    JsonOption,
    TuningOption,
    YesOption,
    day_of,
    open_harp,
    time_of_day,
)
from toneprobe.cli.screen import hand_out, progress
from toneprobe.cli.settling_screen import alike, print_settling, print_settling_of
from toneprobe.cli.table import print_cautions, print_command, print_paragraph
from toneprobe.commands import fresh_for
from toneprobe.condition.next_steps import cautions_of
from toneprobe.errors import UsageError
from toneprobe.instrument import find_string, retune
from toneprobe.phrases import as_string, as_strings, listed, one_after_another
from toneprobe.report.words import reason_sentence, sentence

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.book.connect import Book
    from toneprobe.book.entries import NewCheck
    from toneprobe.harp_state import HarpState
    from toneprobe.instrument import Instrument
    from toneprobe.settling import Settling
    from toneprobe.upkeep.fresh_start import Offer


def settle(
    string: Annotated[str | None, typer.Argument(metavar="STRING", help="Which string; else --all.")] = None,
    recording: Annotated[Path | None, typer.Argument(metavar="RECORDING", readable=False,
                                                     help="Plucked as found, before the pin is touched.")] = None,
    every: Annotated[bool, typer.Option("--all", help="Every new string; plucked in one RECORDING, or as checked so far.")] = False,
    as_left: Annotated[Path | None, typer.Option("--as-left", metavar="RECORDING", help="Plucked again after tuning.")] = None,
    retuned: Annotated[bool, typer.Option("--retuned", help="RECORDING holds both: STRING plucked, tuned, plucked again.")] = False,
    date: DateOption = None,
    time: Annotated[str | None, typer.Option("--time", metavar="HH:MM", help="When; else now, or noon of an earlier --date.")] = None,
    yes: YesOption = False,
    json: JsonOption = None,
    tuning: TuningOption = None,
    a4: A4Option = None,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Tell whether new strings have settled, or when they will.

    Pluck two or three settled neighbours of the same material too: they show what the weather did. Without a recording it says how things
    stand.
    """
    from toneprobe.upkeep.checked import how_things_stand, last_checked, moment_of
    from toneprobe.upkeep.fresh_start import as_offered, offers
    from toneprobe.upkeep.unsettled import unheard_young

    string, recording = _string_and_recording(string, recording, every)
    _check_retuned(retuned, string, recording, as_left)
    opened, chosen = open_harp(book, harp)
    instrument = retune(chosen.instrument, tuning=tuning, a4_hz=a4)
    if every and recording is not None and not recording.exists() and _names_a_string(recording.name, instrument):
        raise UsageError("give a STRING or --all, not both")
    name = find_string(instrument, string).name if string else None
    day, clock = (day_of(date) if date else None), (time_of_day(time) if time else None)
    at = moment_of(day, clock, now=datetime.now(), last=last_checked(opened, chosen.id))
    heard: tuple[NewCheck, ...] = ()
    if recording or as_left:
        from toneprobe.upkeep.pitch_check import CheckFiles, hear_check, take_check  # all that hears, slow to load

        with progress("Measuring plucks") as step:
            heard = hear_check(opened, chosen, CheckFiles(at, recording, as_left, retuned), instrument, string=name, progress=step)
        state, found = take_check(opened, chosen, instrument, heard, today=at.date(), string=name)
    else:
        state, found = how_things_stand(opened, chosen.id, instrument, today=at.date(), string=name)
    offered, names = offers(opened, state, found), [one.reading.string for one in heard]
    told = as_offered(found, offered)
    console = hand_out(json, "settling", chosen.name, checked=state.today, strings=list(told.values()))
    _tell(opened, told, state, console)
    if heard:  # so that a neighbour that was plucked and not heard is missed at once
        console.print(f"Heard in it: {listed(as_strings(names), most=len(names))}.")
    if every and (recording or as_left):
        _tell_unheard(unheard_young(state, names), console)
    _offer_baselines(opened, state, offered, found, console, yes=yes)
    _tell_waiting(opened, state, found, console, only=name)
    tell_days_to_come(opened, chosen.id, console, string=name)
    tell_checks_to_come(opened, chosen.id, console, string=name, new_at=at if heard and not (date or time) else None)
    if any(one.is_or_was_slipping or one.jumped_on for one in found.values()):  # a string whose knot or pin is looked at is let down
        print_cautions(console, cautions_of(state.instrument.word))


def _string_and_recording(string: str | None, recording: Path | None, every: bool) -> tuple[str | None, Path | None]:
    """The two as they are meant: with --all the only argument is the recording. UsageError where that is not clear."""
    if every and recording is not None:
        raise UsageError("give a STRING or --all, not both")
    if every:
        return None, Path(string) if string else None
    if string is None:
        raise UsageError("say which string, or --all for every new one")
    return string, recording


def _names_a_string(text: str, instrument: Instrument) -> bool:
    try:
        return bool(find_string(instrument, text))
    except UsageError:
        return False


def _check_retuned(retuned: bool, string: str | None, recording: Path | None, as_left: Path | None) -> None:
    """UsageError where --retuned lacks what it needs, or is given with --as-left."""
    if not retuned:
        return
    if string is None or recording is None:
        raise UsageError("--retuned needs the STRING that was tuned, and its RECORDING")
    if as_left is not None:
        raise UsageError("--retuned says that one recording holds both, --as-left names a second one: give one of the two")


def _tell_unheard(names: tuple[str, ...], console: Console) -> None:
    for name in names:
        who = as_string(name, at_start=True)
        console.print(f"{who} was not heard in it. Where it is more than a semitone off its note, record it alone:")
        print_command(console, f"settle {quote(name)} RECORDING")


def _tell(book: Book, found: dict[str, Settling], state: HarpState, console: Console) -> None:
    from toneprobe.upkeep.checked import explain_jumps

    if not found:
        console.print("No string is settling. A string change is logged with 'toneprobe restring'.")
    for names in alike(found, state):
        if len(names) > 1:
            print_settling_of(console, names, found, state)
            continue
        (name,) = names
        print_settling(console, name, found[name], state, noted=explain_jumps(book, state, state.on[name], found[name]))


def _offer_baselines(book: Book, state: HarpState, offered: Mapping[str, Offer], found: Iterable[str], console: Console, *,
                     yes: bool) -> None:
    """Only a settled string is offered one, and only with the owner's consent is it kept; of one that moves again its wish waits."""
    from toneprobe.book.pitch_checks import want_baseline
    from toneprobe.upkeep.fresh_start import waiting_wishes

    waiting = waiting_wishes(book, state)
    for name in found:
        who = as_string(name, at_start=True)
        if name in waiting:
            console.print(f"{who} had settled, but no longer counts as settled: the next sweep does not become its fresh baseline as "
                          "you asked. That waits until its checks show it settled again.")
        one = offered.get(name)
        if one is None:
            continue
        if not one.advice.ready:
            why = [] if one.lacks else map(sentence, one.advice.reasons)  # what it lacks was said as what comes next
            console.print(" ".join([f"{who} gets no fresh baseline yet.", *why]))
        elif one.is_wanted:
            console.print(f"The next sweep becomes the fresh baseline of {as_string(name)}.")
        elif agrees(f"{who} has settled. Make the next sweep its fresh baseline?", yes=yes):
            want_baseline(book, one.fitting_id)
            console.print(f"The next sweep becomes the fresh baseline of {as_string(name)}: pluck it three times.")
        else:
            console.print(f"Left as it is. To make the next sweep the fresh baseline of {as_string(name)} after all:")
            print_command(console, f"settle {quote(name)} --yes")


def _tell_waiting(book: Book, state: HarpState, found: Mapping[str, Settling], console: Console, *, only: str | None) -> None:
    """New strings that have had their time, but which no sweep can judge yet; of those whose checks speak all has been said."""
    from toneprobe.upkeep.fresh_start import doubts_about_fresh, waiting_to_sweep

    wanted, rest = waiting_to_sweep(book, state, found, only=only)
    for name in wanted:
        console.print(f"The next sweep becomes the fresh baseline of {as_string(name)}.")
    doubts = doubts_about_fresh(book, state, rest)
    by_reasons: dict[tuple[str, ...], list[str]] = {}
    for name, reasons in doubts.items():
        by_reasons.setdefault(reasons, []).append(name)
    for reasons, names in by_reasons.items():
        who = as_string(names[0], at_start=True) if len(names) == 1 else f"Each of {one_after_another(as_strings(names))}"
        why = " ".join(map(reason_sentence, reasons))
        print_paragraph(console, f"{who} has had time to settle, but gets no fresh baseline yet. {why}")
    rest = tuple(name for name in rest if name not in doubts)
    if rest:
        has, waits, them = ("has", "waits", "it") if len(rest) == 1 else ("have", "wait", "them")
        who = ", ".join(as_strings(rest, at_start=True))
        print_paragraph(console, f"{who} {has} had time to settle and {waits} for a fresh baseline, without which no sweep can "
                                 f"judge {them}. Pluck three times in the next sweep:")
        which = "--fresh" if len(rest) == len(state.on) else fresh_for(rest)
        print_command(console, f"sweep RECORDING {which}")

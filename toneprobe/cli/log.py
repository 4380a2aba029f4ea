"""`toneprobe log`: what is on which string since when; its parts import, export, correct, withdraw and lives."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.days_to_come import tell_days_to_come
from toneprobe.cli.groups import group_of
from toneprobe.cli.log_correct import correct
from toneprobe.cli.log_export import export
from toneprobe.cli.log_import import import_
from toneprobe.cli.log_lives import lives
from toneprobe.cli.log_withdraw import withdraw
from toneprobe.cli.options import BookOption, DateOption, HarpOption, JsonOption, day_of, open_harp
from toneprobe.cli.screen import hand_out, screen
from toneprobe.cli.table import print_heading, print_paragraph, print_table
from toneprobe.days import day_text, short_day
from toneprobe.fittings import age_days, history_of, octave_ages, repeated_breaks, string_ages
from toneprobe.instrument import find_string
from toneprobe.phrases import technician_of
from toneprobe.report.fitting_words import correction_words, fitting_line
from toneprobe.report.words import length_text
from toneprobe.units import note_text

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.book.connect import Book
    from toneprobe.fittings import Correction, Fitting, StringAge
    from toneprobe.harp_state import HarpState


def show(
    string: Annotated[str | None, typer.Argument(metavar="STRING", help="The history of this string; else the ages of all.")] = None,
    date: DateOption = None,
    json: JsonOption = None,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """How old every string is, or all that was ever on one position."""
    from toneprobe.harp_state import harp_state

    opened, chosen = open_harp(book, harp)
    state = harp_state(opened, chosen.id, chosen.instrument, today=day_of(date))
    if string is None:
        _show_ages(state, harp=chosen.name, json=json)
    else:
        string = find_string(chosen.instrument, string).name
        _show_history(opened, state, string, harp=chosen.name, json=json)
    tell_days_to_come(opened, chosen.id, screen(machine_output=json == "-"), string=string)


def _show_ages(state: HarpState, *, harp: str, json: str | None) -> None:
    ages = string_ages(state.instrument, state.fittings, today=state.today)
    octaves, breaks = octave_ages(ages), repeated_breaks(state.fittings)
    console = hand_out(json, "log", harp, today=state.today, strings=ages, octaves=octaves, repeated_breaks=breaks)
    print_heading(console, f"{harp}: the strings on {day_text(state.today)}")
    notes = {spec.name: spec.note for spec in state.instrument.strings}
    rows = ((one.string, note_text(notes[one.string]), one.material, _since(one), _length(one.age_days), _remark(one, state))
            for one in ages)
    print_table(console, ("string", "note", "material", "on since", "age", "remark"), rows, right=("age",))
    if state.instrument.is_harp:
        console.print()
        rows = ((one.octave, one.n_strings, one.n_unknown or None, *map(_length, (one.youngest_days, one.median_days, one.oldest_days)))
                for one in octaves)
        numbers = ("octave", "strings", "age unknown", "youngest", "middle", "oldest")
        print_table(console, numbers, rows, right=numbers)
    _tell_breaks(console, breaks, who=technician_of(state.instrument.word))


def _since(age: StringAge) -> str | None:
    if age.fitted_on is None:
        return None if age.is_empty else "before the log"
    return f"{short_day(age.fitted_on)}{', supposed' if age.is_supposed else ''}"


def _show_history(book: Book, state: HarpState, name: str, *, harp: str, json: str | None) -> None:
    from toneprobe.book.corrections import corrections_of
    from toneprobe.book.withdrawals import withdrawn_fittings

    history = history_of(name, state.fittings)
    numbers = {one.id for one in (*history, *withdrawn_fittings(book, state.harp_id, name))}
    trace = [one for one in corrections_of(book, state.harp_id) if one.fitting_id in numbers]
    console = hand_out(json, "log", harp, string=name, history=history, corrections=trace)
    note = note_text(find_string(state.instrument, name).note)
    print_heading(console, f"{harp}: everything on {name} ({note}), the present string first")
    for one in history:
        _tell_fitting(console, one, state)
    _tell_corrections(console, "Filled in", [one for one in trace if not one.before])  # was not known before
    _tell_corrections(console, "Corrected", [one for one in trace if one.before])
    _tell_breaks(console, [one for one in repeated_breaks(state.fittings) if one.string == name], who=technician_of(state.instrument.word))


def _tell_fitting(console: Console, one: Fitting, state: HarpState) -> None:
    days = age_days(one, state.today)
    print_paragraph(console, f"No. {one.id}  {fitting_line(one)}" + (f" {_length(days)}." if days is not None else ""), indent=2, hang=8)
    if one.id in state.settled_days:
        moves_again = not one.removed_on and state.still_settles(one)
        no_more = f", as its checks said then; by its later ones it is {state.judge(one).state}" if moves_again else ""
        print_paragraph(console, f"Settled by {day_text(state.settled_days[one.id])}{no_more}.", indent=10)


def _tell_corrections(console: Console, heading: str, trace: list[Correction]) -> None:
    if trace:
        console.print()
        print_heading(console, heading)
    for one in trace:
        why = f": {one.why}" if one.why else ""
        print_paragraph(console, f"{short_day(one.on)}  no. {one.fitting_id}{correction_words(one)}{why}", indent=2, hang=13)


def _tell_breaks(console: Console, breaks, *, who: str) -> None:
    if breaks:
        console.print()
    for one in breaks:
        days = ", ".join(day_text(day) for day in one.days)
        console.print(f"{one.string} broke {len(one.days)} times at the {one.broke_at} ({days}): the contact there may be rough. Have "
                      f"{who} look at it.")


def _length(days: float | None) -> str | None:
    return None if days is None else length_text(days)


def _remark(age: StringAge, state: HarpState) -> str:
    if age.is_empty:
        return "no string is on"
    if age.is_stand_in:
        return "STAND-IN"
    return "settling" if state.still_settles(state.on[age.string]) else " "


log = group_of("log", "The string log: ages of all, or all that was on one STRING. Options of these two: 'log show --help'.",
               {"show": show, "import": import_, "export": export, "correct": correct, "withdraw": withdraw, "lives": lives},
               usage="[STRING | COMMAND [ARGS]...]")

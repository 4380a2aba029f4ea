"""`toneprobe sweep`: the month's job. Measure, judge, store, report."""

from __future__ import annotations

import sys
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date as Day
from functools import partial
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.asking import agrees
from toneprobe.cli.note import tell_room_advice
from toneprobe.cli.options import (
    A4Option,
    BookOption,
    DateOption,
    HarpOption,
    HumidityOption,
    TemperatureOption,
    TuningOption,
    YesOption,
    day_of,
    open_harp,
    refuse_overwriting,
)
from toneprobe.cli.report import check_ending, write_report
from toneprobe.cli.screen import progress, screen
from toneprobe.cli.stopping import UnfinishedSweep, tells_if_stopped
from toneprobe.cli.sweep_fresh import tell_added_to_older, tell_fresh, tell_judged_before, tell_livelier_room
from toneprobe.cli.table import print_command, print_paragraph
from toneprobe.days import day_text
from toneprobe.errors import RecordingError, UsageError
from toneprobe.events import Event, check_event
from toneprobe.exchange.writing import require_targets, write_json
from toneprobe.instrument import find_string, retune
from toneprobe.phrases import as_string, as_strings, listed, one_after_another
from toneprobe.report.words import reason_sentence

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp, SweepRecord
    from toneprobe.book.filing import Filed
    from toneprobe.checkup import Checked
    from toneprobe.condition.context import Spoiler
    from toneprobe.harp_state import HarpState
    from toneprobe.instrument import Instrument
    from toneprobe.judging.fresh_choice import FreshWish
    from toneprobe.settling import Settling

CLIMATE, CHECK = "its climate", "its pitches as a check"  # what may be kept besides a sweep, in words


def sweep(
    recordings: Annotated[list[Path], typer.Argument(metavar="RECORDING...", readable=False,
                                                     help="One sweep, in one recording or several.")],
    date: DateOption = None,
    fresh: Annotated[bool, typer.Option("--fresh", help="The strings are new and settled: keep it as their baseline.")] = False,
    fresh_for: Annotated[list[str] | None, typer.Option(metavar="STRING", help="Keep it as the baseline of these strings alone, as "
                                                                               "3D or 3D,5F, even if they have one.")] = None,
    json: Annotated[str | None,
                    typer.Option("--json", metavar="FILE|-", help="Verdicts and figures as JSON; - is standard output.")] = None,
    report: Annotated[str | None, typer.Option("--report", metavar="FILE", help="Write a .html, .png, .svg, .pdf or .csv report.")] = None,
    as_found: Annotated[bool, typer.Option("--as-found", help="The harp was not tuned first: its pitches count as a pitch check.")] = False,
    temperature: TemperatureOption = None,
    humidity: HumidityOption = None,
    yes: YesOption = False,
    tuning: TuningOption = None,
    a4: A4Option = None,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Measure a recorded sweep, judge every string, and keep it."""
    with tells_if_stopped() as begin:
        from toneprobe.book.diary import add_event, events_of
        from toneprobe.checkup import Swept, check
        from toneprobe.harp_state import harp_state
        from toneprobe.hearing import hear
        from toneprobe.identify.between_notes import Known
        from toneprobe.judging.fresh_choice import FreshWish
        from toneprobe.upkeep.fresh_start import due_for_baseline, waiting_wishes
        from toneprobe.upkeep.pitch_check import keep_sweep_as_check
        from toneprobe.workers import usable_cores

        check_ending(report)
        refuse_overwriting(recordings, json, report)
        if fresh and fresh_for:
            raise UsageError("--fresh is for all strings and --fresh-for for some: give one of the two")
        opened, chosen = open_harp(book, harp)
        require_targets(json, report)
        today = day_of(date)
        climate = _climate(today, temperature, humidity)
        wish = FreshWish(fresh, frozenset(name for text in fresh_for or () for name in _names(chosen.instrument, text)))
        on_file = _on_file(opened, chosen, recordings, day=today if date else None)
        extras = [*([CLIMATE] if climate else []), *([CHECK] if as_found else [])]
        begin(UnfinishedSweep(opened, chosen.id, on_file.hashes, extras))
        state = harp_state(opened, chosen.id, chosen.instrument, today=on_file.day or today)
        due = due_for_baseline(opened, state) if on_file.day is None and not fresh else frozenset()
        waiting = waiting_wishes(opened, state) if on_file.day is None else {}
        wish = _agreed(opened, state, wish, yes=yes)
        waiting = {name: found for name, found in waiting.items() if name not in wish.but_not}  # of these it was said in the asking
        wish = replace(wish, named=wish.named | due)
        instrument = retune(next(iter(on_file.instead_of), chosen).instrument, tuning=tuning, a4_hz=a4)
        swept = Swept(tuple(recordings), state.today, instrument, wish)
        with progress("Measuring plucks") as step:
            listen = partial(hear, processes=usable_cores(), known=Known(state.unsettled))
            checked = check(opened, chosen, swept, today=day_of(None), progress=step, listen=listen,
                            insists=partial(insists_on_spoilt, yes=yes))
        added = []
        if climate:
            before = () if checked.is_new else events_of(opened, chosen.id)
            noted = add_event(opened, chosen.id, replace(climate, on=checked.record.date, sweep_id=checked.record.id))
            extras.remove(CLIMATE)
            added += [CLIMATE] if noted not in before else []
        if as_found:
            kept = keep_sweep_as_check(opened, checked.record)
            extras.remove(CHECK)
            added += [CHECK] if kept else []
        _tell(opened, chosen, checked, json=json, report=report, added=added)
        console = screen(machine_output=json == "-")
        _tell_baselines(opened, checked, wish, console, due=due, waiting=waiting)
        if climate:
            tell_room_advice(climate, console)


def _names(instrument: Instrument, text: str) -> list[str]:
    """The strings that one --fresh-for names, "3D" or "3D, 5F": whoever lists them so is understood. A name may have a comma of its own."""
    is_one = any(text.strip().casefold() == spec.name.casefold() for spec in instrument.strings)
    return [find_string(instrument, name).name for name in ([text] if is_one else text.split(","))]


def _tell_baselines(book: Book, checked: Checked, wish: FreshWish, console: Console, *, due: Collection[str],
                    waiting: Mapping[str, Settling]) -> None:
    """What this sweep is the baseline of from now on, and what speaks against its serving as one."""
    from toneprobe.condition.context import spoiler
    from toneprobe.judging.past import captures_of
    from toneprobe.upkeep.fresh_sweep import added_to_older, fresh_in_livelier_room, fresh_in_two_positions, from_few_plucks, judged_before

    record, taken = checked.record, checked.fresh.taken
    tell_fresh(checked.fresh, wish, console, due=due, few=from_few_plucks(book, record, taken),
               two_positions=fresh_in_two_positions(book, record, taken), waiting=waiting,
               spoilt=spoiler(captures_of(record.recordings)))
    tell_judged_before(judged_before(book, record, taken), record.id, console)
    tell_added_to_older(added_to_older(book, record, taken), record.id, console)
    tell_livelier_room(fresh_in_livelier_room(book, record, taken), record.id, console)


def _on_file(book: Book, harp: Harp, recordings: Sequence[Path], *, day: Day | None) -> Filed:
    """What the book has of them already; of a recording that cannot be read nothing, for the sweep itself says so."""
    from toneprobe.book.filing import Filed, filed

    try:
        return filed(book, harp.id, recordings, day=day)
    except RecordingError:
        return Filed(())


def _agreed(book: Book, state: HarpState, wish: FreshWish, *, yes: bool) -> FreshWish:
    """What shall be fresh, once the player has been asked about strings that have not come to rest."""
    from toneprobe.upkeep.fresh_start import asked_for, doubts_about_fresh

    doubts = doubts_about_fresh(book, state, asked_for(state, wish))
    refused = frozenset(name for name, reasons in doubts.items() if not _insists(name, reasons, yes=yes))
    return replace(wish, named=wish.named - refused, but_not=refused)


def _insists(name: str, reasons: Sequence[str], *, yes: bool) -> bool:
    words = screen(machine_output=True)
    words.print(f"{as_string(name, at_start=True)} may not have come to rest. {' '.join(map(reason_sentence, reasons))}")
    if agrees(f"Keep this sweep as the fresh baseline of {as_string(name)} all the same?", yes=yes):
        return True
    words.print(f"It is not kept as the baseline of {as_string(name)}. Once it has come to rest, make a new recording and give that to "
                f"'toneprobe sweep' with --fresh-for {quote(name)}")
    return False


def insists_on_spoilt(spoiler: Spoiler, *, yes: bool) -> bool:
    """Asked only of somebody who can answer: without a terminal it is kept as it was wished, and its report says what is wrong."""
    if yes or not sys.stdin.isatty():
        return True
    words = screen(machine_output=True)
    words.print(f"\nThis recording{spoiler.what}: no ring could ever be compared with it. {spoiler.mend} and record the fresh sweep again.")
    if agrees("Keep it as the fresh baseline all the same?", yes=False):
        return True
    words.print("It is kept as an ordinary sweep. Later: 'toneprobe sweep' with the same recordings, --fresh and --yes")
    return False


def _climate(day: Day, temperature_c: float | None, humidity_pct: float | None) -> Event | None:
    if temperature_c is None and humidity_pct is None:
        return None
    event = Event(day, "climate", "", temperature_c, humidity_pct)
    check_event(event, today=day)
    return event


def _tell(book: Book, harp: Harp, checked: Checked, *, json: str | None, report: str | None, added: Sequence[str]) -> None:
    from toneprobe.exchange.condition import condition_document
    from toneprobe.report.tables import print_report
    from toneprobe.retelling import retell

    record = checked.record
    view = retell(book, record, harp.name)
    if json:
        conditions = [one.condition for one in view.strings]
        write_json(condition_document(record, conditions, harp=harp.name, warnings=[one.text for one in view.warnings]), json)
    console = screen(machine_output=json == "-")
    print_report(view, console)
    if report:
        write_report(view, report)
    console.print()
    if not checked.is_new:
        known = f"These recordings were measured before, as sweep {record.id} of {day_text(record.date)}"
        only = f", only {listed(as_strings(added))}" if added else ""
        console.print(f"{known}: no pluck was added{only}." if checked.fresh.taken or added else f"{known}; nothing was added.")
    if gone := checked.instead_of:
        print_paragraph(console, f"In place of sweep{'s' if len(gone) > 1 else ''} {one_after_another([str(one.id) for one in gone])}. "
                                 f"What {'they' if len(gone) > 1 else 'it'} said is kept in {book.withdrawn}")
    console.print(f"Sweep {record.id} is in the book {book.name}. Its page and picture:")
    print_command(console, f"report --sweep {record.id}")
    if checked.is_new:
        _tell_if_earlier(book, record, console)
        _tell_heard_as_new(book, record, console)
        console.print(f"The wrong recording, day or {record.instrument.word}? toneprobe withdraw {record.id}")


def _tell_if_earlier(book: Book, record: SweepRecord, console: Console) -> None:
    """A computer whose clock was set back would file today's sweep among last year's without a word."""
    from toneprobe.book import read

    last = max(one.date for one in read.sweeps(book, record.harp_id))
    if record.date < last:
        print_paragraph(console, f"It is of {day_text(record.date)}: filed before the last sweep of {day_text(last)}.")


def _tell_heard_as_new(book: Book, record: SweepRecord, console: Console) -> None:
    """`restring` says it where the change comes into the book after the sweep."""
    from toneprobe.upkeep.string_change import heard_as_new

    for name in heard_as_new(book, record):
        print_paragraph(console, f"{as_string(name, at_start=True)} was changed that day, and this counts as a sweep of the new string. "
                                 f"Was the old one still on? Take the change back (toneprobe log withdraw {quote(name)}), then log it "
                                 "again.")

"""`toneprobe spares check` and `spares order`: what is missing from a full set, what to order by when, what can stand in."""

from __future__ import annotations

from collections.abc import Sequence
from shlex import quote
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe import spares
from toneprobe.cli.options import BookOption, DateOption, HarpOption, JsonOption, any_day, day_of, open_harp
from toneprobe.cli.screen import hand_out
from toneprobe.cli.table import print_heading, print_paragraph, print_table
from toneprobe.days import day_text, short_day
from toneprobe.errors import UsageError
from toneprobe.fittings import kept_words
from toneprobe.instrument import find_string
from toneprobe.phrases import as_string, gauge_words
from toneprobe.report.words import sentence
from toneprobe.units import note_text

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp
    from toneprobe.harp_state import HarpState

GAP_WORDS = {"missing": "no spare", "other kind": "another material or gauge", "past its best": "past its best on the shelf",
             "at home": "at home, not in the bag"}
NEED_WORDS = {"empty": "no string is on", "stand-in": "a stand-in is on"}


def check(date: DateOption = None, json: JsonOption = None, harp: HarpOption = None, book: BookOption = None) -> None:
    """Is there one of each string in the bag, wires included?"""
    _, state, chosen, stock = _read(book, harp, date)
    checks = spares.check_full_set(stock, state.strung, today=state.today, habits=state.settings.habits)
    awaited = spares.coming_spares(stock, state.strung, today=state.today, habits=state.settings.habits)
    console = hand_out(json, "spares", chosen.name, today=state.today, checks=checks, on_the_way=awaited)
    gaps = spares.gaps_of(checks)
    print_heading(console, f"{chosen.name}: a full set on {day_text(state.today)}? {_verdict(checks, gaps)}")
    if gaps:
        coming = _right_ones(awaited, state)
        rows = ((one.string, note_text(one.note), one.material, GAP_WORDS[one.gap] + (", on the way" if one.string in coming else ""),
                 _stand_in(one, state, stock)) for one in gaps)
        print_table(console, ("string", "note", "material", "lacking", "in need"), rows)
        console.print("\nBy when to order: toneprobe spares order")
        at_home = [one.string for one in gaps if one.gap == "at home"]
        if at_home:
            which = quote(at_home[0]) if len(at_home) == 1 else "STRING"
            console.print(f"What lies at home goes into the bag: toneprobe spares move {which} --to bag", soft_wrap=True)
    _print_kept(console, state)
    for one in spares.strays(stock, state.instrument):
        console.print(f"Spare {one.id} is made for {one.string}, which this {state.instrument.word} does not have.")


def order(
    by: Annotated[str | None, typer.Option("--by", metavar="DATE", help="When the bag must be full; else as soon as possible.")] = None,
    date: DateOption = None,
    json: JsonOption = None,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """What to order by when, and how many to hold.

    Of several orders noted, the middle lead time tells when yours is expected, the longest by when it must go out. An order that is overdue
    counts with the days that it has taken so far.
    """
    from toneprobe.upkeep.engagement import needs_of
    from toneprobe.upkeep.holdings import holdings_of

    opened, state, chosen, stock = _read(book, harp, date)
    wanted_on = any_day(by) if by else None
    if wanted_on and wanted_on < state.today:
        raise UsageError(f"{day_text(wanted_on)} is over: give a day from {day_text(state.today)} on")
    needs = {need.spec.name: need.kind for need in needs_of(opened, chosen, today=state.today)}
    orders = spares.list_orders(stock, state.strung, today=state.today, needs=dict.fromkeys(needs, 1), wanted_on=wanted_on,
                                habits=state.settings.habits)
    holdings = holdings_of(state, stock)
    coming = spares.coming_spares(stock, state.strung, today=state.today, habits=state.settings.habits)
    console = hand_out(json, "spares", chosen.name, today=state.today, orders=orders, holdings=holdings, on_the_way=coming)
    _print_orders(console, orders, chosen, state)
    needed = [name for name in dict.fromkeys(one.string for one in orders) if name in needs]  # more are ordered than the bag lacks
    if told := ", ".join(f"{name} ({NEED_WORDS.get(needs[name], needs[name])})" for name in needed):
        print_paragraph(console, f"One to put on is counted in for {told}. What to change by when: toneprobe ready --on DATE")
    if coming:
        print_paragraph(console, sentence(spares.coming_words(coming, needed_by=wanted_on)), hang=2)
        console.print("Once it is here: toneprobe spares arrived STRING")
    _print_holdings(console, holdings)
    _print_kept(console, state)


def _read(book: str | None, harp: str | None, day: str | None) -> tuple[Book, HarpState, Harp, tuple[spares.Spare, ...]]:
    from toneprobe.harp_state import harp_state, spares_as_of

    opened, chosen = open_harp(book, harp)
    state = harp_state(opened, chosen.id, chosen.instrument, today=day_of(day))
    return opened, state, chosen, spares_as_of(opened, chosen.id, state.today)


def _right_ones(awaited: Sequence[spares.Coming], state: HarpState) -> frozenset[str]:
    """Strings of which what is on the way is the right kind."""
    specs = {spec.name: spec for spec in state.strung.strings}
    return frozenset(one.spare.string for one in awaited if one.spare.string in specs and spares.fits(one.spare, specs[one.spare.string]))


def _verdict(checks: Sequence[spares.SetCheck], gaps: Sequence[spares.SetCheck]) -> str:
    if not gaps:
        return "Yes."
    n_good = len(checks) - len(gaps)
    return f"No: {n_good} of {len(checks)} {'has' if n_good == 1 else 'have'} a good spare in the bag."


def _stand_in(check: spares.SetCheck, state: HarpState, stock: Sequence[spares.Spare]) -> str:
    """Whose spare serves in need, where the string has no good one."""
    if check.n_good:
        return "its own, from home"
    spec, habits = find_string(state.strung, check.string), state.settings.habits
    offers = spares.stand_ins_for(spec, stock, state.strung, today=state.today, habits=habits)
    return f"the spare {as_string(offers[0].made_for)}" if offers else "none"


def _print_orders(console: Console, orders: Sequence[spares.Order], harp: Harp, state: HarpState) -> None:
    if not orders:
        console.print(f"Nothing to order for {harp.name} on {day_text(state.today)}.")
        return
    print_heading(console, f"{harp.name}: to order on {day_text(state.today)}")
    rows = ((short_day(one.order_by), f"{one.n} × {one.string}", note_text(one.note), one.material,
             gauge_words(one.gauge_mm) or None,
             f"{short_day(one.arrives_on)}{' LATE' if one.is_late else ''}") for one in orders)
    print_table(console, ("order by", "what", "note", "material", "gauge", "arrives about"), rows)
    reasons = dict.fromkeys((one.reason, one.lead) for one in orders if one.reason)
    console.print()
    for reason, lead in reasons:
        names = ", ".join(one.string for one in orders if (one.reason, one.lead) == (reason, lead))
        print_paragraph(console, f"{names}: {reason}; {lead.words}.", indent=2, hang=2)
    if any(one.lead.spare_id is not None for one in orders):
        console.print("Is a lead time wrong? toneprobe spares correct NUMBER --lead-time DAYS")


def _print_kept(console: Console, state: HarpState) -> None:
    """That the log has another material on a string than belongs there, by which the order goes."""
    kept = kept_words(state.instrument, state.strung)
    if kept:
        print_paragraph(console, f"Note: {sentence(kept)}")


def _print_holdings(console: Console, holdings: Sequence[spares.Holding]) -> None:
    if not holdings:
        return
    console.print()
    print_heading(console, "How many to hold")
    for one in holdings:
        held = f"{one.material}, {one.register}: {one.suggested} ({_good_ones(one.n_good)})."
        print_paragraph(console, f"{held} {sentence(one.reason)}", indent=2, hang=2)


def _good_ones(n: int) -> str:
    """What is past its best lies there too, and is not counted."""
    return "there is one good one" if n == 1 else f"there {'are' if n else 'is'} {n or 'no'} good one{'s' if n else ''}"

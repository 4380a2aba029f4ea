"""`toneprobe habits`: the owner's own figures instead of the usual ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date as Day
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.options import BookOption, HarpOption, day_of, open_harp
from toneprobe.cli.screen import screen
from toneprobe.cli.table import print_command, print_heading, print_paragraph, print_table
from toneprobe.days import day_text
from toneprobe.errors import UsageError
from toneprobe.phrases import count_of
from toneprobe.practice import FAMILIES, material_family
from toneprobe.spares import Spare, lead_times_noted

if TYPE_CHECKING:
    from toneprobe.book.entries import OwnerSettings

FEW = 3  # spares that are named for one lead time


def habits(
    tolerance: Annotated[float | None, typer.Option(metavar="CENTS", min=0.5, max=50.0,
                                                    help="A string counts as settled if it drifts by at most this …")] = None,
    over: Annotated[float | None, typer.Option(metavar="DAYS", min=0.5, max=60.0, help="… over so many days.")] = None,
    lead_time: Annotated[int | None, typer.Option(metavar="DAYS", min=0, max=730,
                                                  help="How long an order takes, where no spare tells.")] = None,
    shelf_life: Annotated[list[str] | None, typer.Option(metavar="MATERIAL=DAYS", help="How long a spare is at its best.")] = None,
    sweep_every: Annotated[int | None, typer.Option(metavar="DAYS", min=1, max=3650, help="How often you sweep.")] = None,
    regulate_every: Annotated[int | None, typer.Option(metavar="DAYS", min=1, max=3650, help="How often it is regulated.")] = None,
    log_began: Annotated[str | None, typer.Option(metavar="DATE|none", help="Since when every string change is in the log.")] = None,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Show or set your own figures for a harp.

    What is not set is as usual in the trade.
    """
    from toneprobe.book.settings import keep_settings, settings_of
    from toneprobe.book.spare_box import spares_of

    opened, chosen = open_harp(book, harp)
    old = settings_of(opened, chosen.id)
    figures = {"lead_time_days": lead_time, "sweep_every_days": sweep_every, "regulation_every_days": regulate_every}
    mine = replace(old.habits, **{name: days for name, days in figures.items() if days is not None})
    mine = replace(mine, shelf_life_days={**mine.shelf_life_days, **dict(map(_shelf_life, shelf_life or []))})
    limit = replace(old.tolerance, **{name: figure for name, figure in (("cents", tolerance), ("ahead_days", over)) if figure is not None})
    new = replace(old, habits=mine, tolerance=limit, log_began=_log_began(log_began, old))
    if new != old:
        keep_settings(opened, chosen.id, new)
    _show(new, chosen.name)
    _tell_noted(lead_times_noted(spares_of(opened, chosen.id)))


def _log_began(text: str | None, old: OwnerSettings) -> Day | None:
    if text is None:
        return old.log_began
    return None if text.strip().casefold() == "none" else day_of(text)


def _shelf_life(text: str) -> tuple[str, int]:
    material, _, days = text.partition("=")
    family = material_family(material)
    if family is None and material.strip():
        raise UsageError(f"{text!r} names none of the materials that differ in this: {', '.join(FAMILIES)}. Write it as gut=365")
    if family is None or not days.strip().isdecimal() or not 0 < int(days) <= 36500:
        raise UsageError(f"{text!r} is no shelf life: write it as gut=365")
    return family, int(days)


def _show(settings: OwnerSettings, harp: str) -> None:
    console, mine = screen(), settings.habits
    print_heading(console, f"{harp}: your figures")
    rows = [("settled when it drifts no more than", f"{settings.tolerance.cents:g} cents in {settings.tolerance.ahead_days:g} days"),
            ("an order takes", count_of(mine.lead_time_days, "day")), ("a sweep every", count_of(mine.sweep_every_days, "day")),
            ("a regulation every", count_of(mine.regulation_every_days, "day")),
            *((f"a spare of {family} is at its best for", count_of(days, "day")) for family, days in sorted(mine.shelf_life_days.items())),
            ("every change is in the log", f"since {day_text(settings.log_began)}" if settings.log_began else "from its first entry on")]
    print_table(console, ("what", "figure"), rows)


def _tell_noted(spares: Sequence[Spare]) -> None:
    """Lead times noted with spares go before the usual one: which they are, and how to put one right."""
    if not spares:
        return
    by_days = {one.lead_time_days: [of.id for of in spares if of.lead_time_days == one.lead_time_days] for one in spares}
    told = "; ".join(f"{count_of(days, 'day')} with {_few(numbers)}" for days, numbers in by_days.items())
    print_paragraph(screen(), f"Noted with spares: {told}. These go before the figure above: the middle one for the same string, else for "
                              "its material. To put one right:")
    print_command(screen(), "spares correct NUMBER --lead-time DAYS")


def _few(numbers: Sequence[int]) -> str:
    more = f" and {len(numbers) - FEW} more" if len(numbers) > FEW else ""
    return f"spare{'' if len(numbers) == 1 else 's'} {', '.join(map(str, sorted(numbers[:FEW])))}{more}"

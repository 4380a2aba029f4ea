"""`toneprobe spares correct` and `spares withdraw`: spares that were typed wrong, and spares that never were."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date as Day
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.options import GREATEST_NUMBER, BecauseOption, BookOption, HarpOption, any_day, day_of, open_harp
from toneprobe.cli.screen import screen
from toneprobe.cli.table import print_command, print_paragraph
from toneprobe.errors import UsageError
from toneprobe.phrases import count_of, kind_words, listed
from toneprobe.practice import ORDERED, PLACES
from toneprobe.spares import CORRECTABLE, Spare, check_spare, correct_spare, value_words
from toneprobe.typed import one_line, one_name

if TYPE_CHECKING:
    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp

NumbersArgument = Annotated[list[int], typer.Argument(metavar="NUMBER", max=GREATEST_NUMBER,
                                                       help="The spares' numbers, used, ordered or not.")]

SparePlace = StrEnum("SparePlace", {place: place for place in PLACES})
SparePlaceOrOrdered = StrEnum("SparePlaceOrOrdered", {place: place for place in (*PLACES, ORDERED)})


def what_words(spare: Spare) -> str:
    return kind_words(spare.material or "material not noted", spare.gauge_mm)


def correct(
    numbers: NumbersArgument,
    lead_time: Annotated[str | None, typer.Option("--lead-time", metavar="DAYS|none",
                                                  help="From ordering to arrival; none: not known.")] = None,
    bought: Annotated[str | None, typer.Option(metavar="DATE|none", help="The day of purchase, or of the order; none: not known.")] = None,
    place: Annotated[SparePlaceOrOrdered | None, typer.Option("--in", help="Where it is; or that it is only ordered.")] = None,
    material: Annotated[str | None, typer.Option(metavar="MATERIAL", help="Its material.")] = None,
    gauge: Annotated[float | None, typer.Option("--gauge", metavar="MM", help="Its gauge.")] = None,
    supplier: Annotated[str | None, typer.Option(metavar="NAME", help="Who sold it.")] = None,
    harp: HarpOption = None, book: BookOption = None,
) -> None:
    """Put right what was typed wrong.

    What was said before stays in the spare's remark.
    """
    from toneprobe.book.connect import writing
    from toneprobe.book.spare_box import change_spares

    opened, chosen = open_harp(book, harp)
    changes = {
        "lead_time_days": None if lead_time is None else _lead_time(lead_time), "bought_on": _day_or_none(bought),
        "place": place and place.value, "material": material and one_name(material), "gauge_mm": gauge,
        "supplier": supplier and one_name(supplier),
    }
    may_be_none = {"lead_time_days": lead_time, "bought_on": bought}  # with these "none" is an answer: it is not known
    changes = {name: new for name, new in changes.items() if new is not None or may_be_none.get(name) is not None}
    if not changes:
        raise UsageError("say what is to be put right: --lead-time, --bought, --in, --material, --gauge or --supplier")
    with writing(opened):  # no other program may change them in between
        pairs = [(old, correct_spare(old, changes)) for old in _numbered(opened, chosen, numbers)]
        for _, new in pairs:
            check_spare(new, today=day_of(None))
        pairs = [(old, new) for old, new in pairs if new != old]
        change_spares(opened, [new for _, new in pairs])
    if not pairs:
        screen().print("It said so already; nothing was changed.")
    for old, new in pairs:
        was = (f"{CORRECTABLE[name][0]} was {value_words(old, name)}, now {value_words(new, name)}" for name in changes
               if getattr(old, name) != getattr(new, name))
        print_paragraph(screen(), f"Spare {new.id} ({new.string}, {what_words(new)}): {'; '.join(was)}.")
    if lead_time is None:
        _tell_kept([new for old, new in pairs if new.bought_on != old.bought_on])


def _tell_kept(moved: Sequence[Spare]) -> None:
    """Of spares that came on another day: how long they are said to have taken was counted to the old one, or told."""
    kept = [one for one in moved if one.lead_time_days is not None and one.bought_on is not None and one.place != ORDERED]
    if kept:
        numbers, times = [str(one.id) for one in kept], listed([count_of(n, "day") for n in sorted({one.lead_time_days for one in kept})])
        print_paragraph(screen(), f"What is noted of how long the order took stays: {times}. Where the new day makes it another:")
        print_command(screen(), f"spares correct {' '.join(numbers)} --lead-time DAYS")


def withdraw(
    numbers: NumbersArgument, because: BecauseOption = "",
    harp: HarpOption = None, book: BookOption = None,
) -> None:
    """Take back spares that never were, entered by mistake.

    They leave the list and the record; what was entered is kept in a file in the book. For one that was used, lost or thrown away:
    'spares use', 'spares remove'.
    """
    from toneprobe.book.taken_out import take_out_spares

    opened, chosen = open_harp(book, harp)
    found = _numbered(opened, chosen, numbers)
    path = take_out_spares(opened, [one.id for one in found], today=day_of(None), why=one_line(because))
    for one in found:
        screen().print(f"Taken back: spare {one.id} ({one.string}, {what_words(one)}).")
    print_paragraph(screen(), f"What was entered is kept in {path}")


def _numbered(book: Book, harp: Harp, numbers: Sequence[int]) -> list[Spare]:
    """The spares of these numbers, used or not, each once."""
    from toneprobe.book.spare_box import spares_of

    known = {one.id: one for one in spares_of(book, harp.id)}
    for number in numbers:
        if number not in known:
            raise UsageError(f"no spare has the number {number}: see 'toneprobe spares'")
    return [known[number] for number in dict.fromkeys(numbers)]


def _day_or_none(text: str | None) -> Day | None:
    return None if text is None or text.strip().casefold() == "none" else any_day(text)


def _lead_time(text: str) -> int | None:
    if text.strip().casefold() == "none":
        return None
    if not text.strip().isdecimal() or len(text.strip()) > 4:
        raise UsageError(f"{text!r} is no lead time: write the days, 14 for instance, or none")
    return int(text)

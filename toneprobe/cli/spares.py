"""`toneprobe spares`: what is in the bag and at home; its parts add, use, move, remove, correct, withdraw, check,
order."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.groups import group_of
from toneprobe.cli.options import GREATEST_NUMBER, BookOption, DateOption, HarpOption, JsonOption, any_day, day_of, open_harp
from toneprobe.cli.screen import screen
from toneprobe.cli.spares_order import check, order
from toneprobe.cli.table import print_heading, print_indented, print_table
from toneprobe.days import day_text, short_day
from toneprobe.errors import BookError, UsageError
from toneprobe.phrases import count_of, gauge_words, kind_words
from toneprobe.practice import PLACES
from toneprobe.typed import one_line
from toneprobe.units import note_text

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date as Day

    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp
    from toneprobe.spares import ShelfAge, Spare

WhichArgument = Annotated[str, typer.Argument(metavar="NUMBER|STRING", help="The spare's number, or the first bought of a string.")]
NumbersArgument = Annotated[list[int], typer.Argument(metavar="NUMBER...", max=GREATEST_NUMBER, help="The spares' numbers, used or not.")]

At = StrEnum("At", {place: place for place in PLACES})


def show(date: DateOption = None, json: JsonOption = None, harp: HarpOption = None, book: BookOption = None) -> None:
    """All spares, first bought first."""
    from toneprobe.exchange.life import life_document
    from toneprobe.exchange.writing import write_json
    from toneprobe.harp_state import harp_state, spares_as_of
    from toneprobe.spares import shelf_ages

    opened, chosen = open_harp(book, harp)
    today = day_of(date)
    habits = harp_state(opened, chosen.id, chosen.instrument, today=today).settings.habits
    known = spares_as_of(opened, chosen.id, today)
    ages = shelf_ages(known, today=today, habits=habits)
    if json:
        write_json(life_document("spares", chosen.name, today=today, spares=ages), json)
    console = screen(machine_output=json == "-")
    print_heading(console, f"{chosen.name}: {count_of(len(ages), 'spare')} on {day_text(today)}, first bought first")
    if ages:
        print_table(console, ("no.", "string", "what", "in", "bought", "age", "best until", "from"), map(_row, ages), right=("no.", "age"))
    else:
        console.print("None left; what to order and by when: toneprobe spares order" if known else "None yet: toneprobe spares add STRING")


def add(
    string: Annotated[str, typer.Argument(metavar="STRING", help="The string that it is made for.")],
    count: Annotated[int, typer.Option(metavar="NUMBER", min=1, max=99, help="How many alike.")] = 1,
    material: Annotated[str | None, typer.Option(metavar="MATERIAL", help="Its material; else what belongs on the string.")] = None,
    gauge: Annotated[float | None, typer.Option("--gauge", metavar="MM",
                                                help="Its gauge; else what belongs there.")] = None,
    place: Annotated[At, typer.Option("--in", help="Where it lies.")] = At.bag,
    bought: Annotated[str | None, typer.Option(metavar="DATE", help="The day of purchase.")] = None,
    supplier: Annotated[str | None, typer.Option(metavar="NAME", help="Who sold it.")] = None,
    batch: Annotated[str | None, typer.Option(metavar="BATCH", help="The maker's batch.")] = None,
    lead_time: Annotated[int | None, typer.Option(metavar="DAYS", help="From ordering to arrival.")] = None,
    price: Annotated[str | None, typer.Option(metavar="PRICE", help="With its currency.")] = None,
    note: Annotated[str, typer.Option(metavar="TEXT", help="A remark.")] = "",
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Put spares on the list."""
    from toneprobe.book.spare_box import add_spares
    from toneprobe.instrument import find_string
    from toneprobe.spares import PLACE_WORDS, Spare, check_spare, fits

    opened, chosen = open_harp(book, harp)
    spec = find_string(chosen.instrument, string)
    day = any_day(bought) if bought else None
    supplier, batch, price = (one_line(text) if text else None for text in (supplier, batch, price))
    usual_mm = None if material else spec.gauge_mm
    spare = Spare(spec.name, material or spec.material, usual_mm if gauge is None else gauge, place.value, day, supplier, batch, lead_time,
                  price, note=one_line(note), harp_id=chosen.id)
    check_spare(spare, today=day_of(None))
    numbers = ", ".join(str(one.id) for one in add_spares(opened, [spare] * count))
    numbered = "number" if count == 1 else "numbers"
    screen().print(f"{count} × {spec.name} ({note_text(spec.note)}), {_what(spare)}, {PLACE_WORDS[place]}: {numbered} {numbers}.")
    if not fits(spare, spec):
        usual = " ".join(part for part in (spec.material or "a string", gauge_words(spec.gauge_mm)) if part)
        screen().print(f"Mind: {usual} belongs on {spec.name}. This one counts as another kind.")


def use(
    spare: WhichArgument, date: DateOption = None, note: Annotated[str, typer.Option(metavar="TEXT", help="For what.")] = "used elsewhere",
    harp: HarpOption = None, book: BookOption = None,
) -> None:
    """A spare went onto another harp or to a colleague.

    What goes onto this harp is logged with 'toneprobe restring STRING --from-spares'.
    """
    _take_off(spare, date, note, harp, book)


def remove(
    spare: WhichArgument, date: DateOption = None, note: Annotated[str, typer.Option(metavar="TEXT", help="Why.")] = "thrown away",
    harp: HarpOption = None, book: BookOption = None,
) -> None:
    """A spare is thrown away or lost; it stays on record as used."""
    _take_off(spare, date, note, harp, book)


def correct(
    numbers: NumbersArgument,
    lead_time: Annotated[str | None, typer.Option("--lead-time", metavar="DAYS|none",
                                                  help="From ordering to arrival; none: not known.")] = None,
    bought: Annotated[str | None, typer.Option(metavar="DATE|none", help="The day of purchase; none: not known.")] = None,
    place: Annotated[At | None, typer.Option("--in", help="Where it lies.")] = None,
    material: Annotated[str | None, typer.Option(metavar="MATERIAL", help="Its material.")] = None,
    gauge: Annotated[float | None, typer.Option("--gauge", metavar="MM", help="Its gauge.")] = None,
    supplier: Annotated[str | None, typer.Option(metavar="NAME", help="Who sold it.")] = None,
    harp: HarpOption = None, book: BookOption = None,
) -> None:
    """Put right what was typed wrong.

    What was said before stays in the spare's remark.
    """
    from toneprobe.book.spare_box import change_spares
    from toneprobe.spares import CORRECTED, check_spare, correct_spare, value_words

    opened, chosen = open_harp(book, harp)
    changes = {
        "lead_time_days": None if lead_time is None else _lead_time(lead_time), "bought_on": _day_or_none(bought),
        "place": place and place.value, "material": material and one_line(material), "gauge_mm": gauge,
        "supplier": supplier and one_line(supplier),
    }
    told = {"lead_time_days": lead_time, "bought_on": bought}  # these may be said not to be known
    changes = {name: new for name, new in changes.items() if new is not None or told.get(name) is not None}
    if not changes:
        raise UsageError("say what is to be put right: --lead-time, --bought, --in, --material, --gauge or --supplier")
    pairs = [(old, correct_spare(old, changes)) for old in _numbered(opened, chosen, numbers)]
    for _, new in pairs:
        check_spare(new, today=day_of(None))
    pairs = [(old, new) for old, new in pairs if new != old]
    if not pairs:
        screen().print("It said so already; nothing was changed.")
    change_spares(opened, [new for _, new in pairs])
    for old, new in pairs:
        was = (f"{CORRECTED[name][0]} was {value_words(old, name)}, now {value_words(new, name)}" for name in changes
               if getattr(old, name) != getattr(new, name))
        print_indented(screen(), f"Spare {new.id} ({new.string}, {_what(new)}): {'; '.join(was)}.", by=0)


def withdraw(
    numbers: NumbersArgument, because: Annotated[str, typer.Option(metavar="TEXT", help="Why you take it back.")] = "",
    harp: HarpOption = None, book: BookOption = None,
) -> None:
    """Take back spares that never were, entered by mistake.

    They leave the list and the record; what was entered is kept in a file beside the book. For one that was used, lost or thrown away:
    'spares use', 'spares remove'.
    """
    from toneprobe.book.taken_out import take_out_spares

    opened, chosen = open_harp(book, harp)
    found = _numbered(opened, chosen, numbers)
    path = take_out_spares(opened, [one.id for one in found], today=day_of(None), why=one_line(because))
    for one in found:
        screen().print(f"Taken back: spare {one.id} ({one.string}, {_what(one)}).")
    print_indented(screen(), f"What was entered is kept in {path}", by=0)


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


def move(
    spare: WhichArgument, place: Annotated[At, typer.Option("--to", help="Where it lies from now on.")], harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Put a spare from home into the bag, or back."""
    from dataclasses import replace

    from toneprobe.book.spare_box import change_spare
    from toneprobe.spares import PLACE_WORDS

    opened, chosen = open_harp(book, harp)
    elsewhere = At.home if place is At.bag else At.bag
    found = change_spare(opened, replace(_find(opened, chosen, spare, day_of(None), prefer=elsewhere.value), place=place.value))
    screen().print(f"Spare {found.id} ({found.string}, {_what(found)}) is {PLACE_WORDS[place]}.")


def _take_off(spare: str, date: str | None, note: str, harp: str | None, book: str | None) -> None:
    from toneprobe.book.spare_box import throw_out

    opened, chosen = open_harp(book, harp)
    day, note = day_of(date), one_line(note)
    found = throw_out(opened, _find(opened, chosen, spare, day).id, day, note=note)
    screen().print(f"Spare {found.id} ({found.string}, {_what(found)}) is off the list since {day_text(found.used_on)}: {note}.")


def _find(book: Book, harp: Harp, text: str, today: Day, prefer: str | None = None) -> Spare:
    """The unused spare of that number, or of that string the first bought; of those at `prefer` where there are any."""
    from toneprobe.book.spare_box import spares_of
    from toneprobe.instrument import find_string
    from toneprobe.spares import shelf_ages

    ages = [age.spare for age in shelf_ages(spares_of(book, harp.id), today=today)]
    if text.isdecimal():
        found = [one for one in ages if one.id == int(text)]
        if not found:
            raise UsageError(f"no unused spare has the number {text[:9]}: see 'toneprobe spares'")
        return found[0]
    name = find_string(harp.instrument, text).name
    found = [one for one in ages if one.string == name]
    if not found:
        raise BookError(f"there is no spare {name} in the bag or at home")
    return next((one for one in found if one.place == prefer), found[0])


def _what(spare: Spare) -> str:
    return kind_words(spare.material or "material not noted", spare.gauge_mm)


def _row(age: ShelfAge) -> tuple[object, ...]:
    from toneprobe.report.words import length_text

    one = age.spare
    until = f"{short_day(age.best_until)}{' over' if age.is_past_best else ''}" if age.best_until else None
    seller = ", ".join(part for part in (one.supplier, one.batch, one.price) if part)
    bought = short_day(one.bought_on) if one.bought_on else "not known"
    return one.id, one.string, _what(one), one.place, bought, None if age.age_days is None else length_text(age.age_days), until, seller


spares = group_of("spares", "Spare strings: what there is, what is missing, what to order.",
                  {"show": show, "add": add, "use": use, "move": move, "remove": remove, "correct": correct,
                   "withdraw": withdraw, "check": check, "order": order})

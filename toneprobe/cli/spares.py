"""`toneprobe spares`: what is in the bag and at home; its parts for what comes, goes, moves or was typed wrong."""

from __future__ import annotations

from datetime import date as Day
from shlex import quote
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.groups import group_of
from toneprobe.cli.options import BookOption, DateOption, HarpOption, JsonOption, any_day, day_of, open_harp
from toneprobe.cli.screen import hand_out, screen
from toneprobe.cli.spares_correct import SparePlace, correct, what_words, withdraw
from toneprobe.cli.spares_order import check, order
from toneprobe.cli.table import print_command, print_heading, print_table
from toneprobe.days import day_text, short_day
from toneprobe.errors import BookError, UsageError
from toneprobe.instrument import find_string
from toneprobe.phrases import as_string, count_of, gauge_words
from toneprobe.practice import ORDERED, may_be_same
from toneprobe.report.words import length_text
from toneprobe.spares import PLACE_WORDS, Coming, ShelfAge, Spare, arrive, check_spare, coming_spares, fits, on_the_way, shelf_ages
from toneprobe.typed import one_line, one_name
from toneprobe.units import note_text

if TYPE_CHECKING:
    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp

WhichArgument = Annotated[str, typer.Argument(metavar="NUMBER|STRING", help="The spare's number, or the first bought of a string.")]


def show(date: DateOption = None, json: JsonOption = None, harp: HarpOption = None, book: BookOption = None) -> None:
    """All spares, first bought first; then what is on the way."""
    from toneprobe.harp_state import harp_state, spares_as_of

    opened, chosen = open_harp(book, harp)
    today = day_of(date)
    state = harp_state(opened, chosen.id, chosen.instrument, today=today)
    habits = state.settings.habits
    known = spares_as_of(opened, chosen.id, today)
    ages = shelf_ages(known, today=today, habits=habits)
    coming = coming_spares(known, state.strung, today=today, habits=habits)
    console = hand_out(json, "spares", chosen.name, today=today, spares=ages, on_the_way=coming)
    print_heading(console, f"{chosen.name}: {count_of(len(ages), 'spare')} on {day_text(today)}, first bought first")
    if ages:
        print_table(console, ("no.", "string", "what", "in", "bought", "age", "best until", "from"), map(_row, ages), right=("no.", "age"))
    elif coming:
        console.print("None lies here yet.")
    else:
        console.print("None left; what to order and by when: toneprobe spares order" if known else "None yet: toneprobe spares add STRING")
    if coming:
        console.print()
        print_heading(console, "On the way")
        print_table(console, ("no.", "string", "what", "ordered", "expected", "from"), map(_coming_row, coming), right=("no.",))
        console.print("Once it is here: toneprobe spares arrived STRING")
        if any(one.is_overdue for one in coming):
            console.print("Ask the shop for what is overdue. What never comes: toneprobe spares withdraw NUMBER")


def add(
    string: Annotated[str, typer.Argument(metavar="STRING", help="The string that it is made for.")],
    count: Annotated[int, typer.Option(metavar="NUMBER", min=1, max=99, help="How many alike.")] = 1,
    material: Annotated[str | None, typer.Option(metavar="MATERIAL", help="Its material; else what is kept on the string.")] = None,
    gauge: Annotated[float | None, typer.Option("--gauge", metavar="MM", help="Its gauge; else what belongs there.")] = None,
    place: Annotated[SparePlace | None, typer.Option("--in", help="Where it is; else in the bag.")] = None,
    ordered: Annotated[bool, typer.Option("--ordered", help="It is only ordered, and on the way.")] = False,
    bought: Annotated[str | None, typer.Option(metavar="DATE",
                                               help="The day of purchase; with --ordered that of the order, else today.")] = None,
    supplier: Annotated[str | None, typer.Option(metavar="NAME", help="Who sold it.")] = None,
    batch: Annotated[str | None, typer.Option(metavar="BATCH", help="The maker's batch.")] = None,
    lead_time: Annotated[int | None, typer.Option(metavar="DAYS", help="From ordering to arrival.")] = None,
    price: Annotated[str | None, typer.Option(metavar="PRICE", help="With its currency.")] = None,
    note: Annotated[str, typer.Option(metavar="TEXT", help="A remark.")] = "",
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Put spares on the list, or what is ordered.

    What is ordered with --ordered is not asked for again; once it is here: 'toneprobe spares arrived STRING'.
    """
    from toneprobe.book.spare_box import add_spares
    from toneprobe.harp_state import harp_state

    opened, chosen = open_harp(book, harp)
    spec = find_string(harp_state(opened, chosen.id, chosen.instrument, today=day_of(None)).strung, string)
    if ordered and place is not None:
        raise UsageError("what is ordered lies nowhere yet: leave out --in or --ordered")
    day = any_day(bought) if bought else day_of(None) if ordered else None
    its_place = ORDERED if ordered else (place or SparePlace.bag).value
    supplier, batch, price = (one_name(text) if text else None for text in (supplier, batch, price))
    usual_mm = None if material else spec.gauge_mm
    spare = Spare(spec.name, material or spec.material, usual_mm if gauge is None else gauge, its_place, day, supplier, batch, lead_time,
                  price, note=one_line(note), harp_id=chosen.id)
    check_spare(spare, today=day_of(None))
    numbers = f"number{'' if count == 1 else 's'} {', '.join(str(one.id) for one in add_spares(opened, [spare] * count))}"
    screen().print(f"{count} × {as_string(spec.name)} ({note_text(spec.note)}), {what_words(spare)}, {PLACE_WORDS[its_place]}: {numbers}.")
    if not fits(spare, spec):
        belongs = "belongs" if spec == find_string(chosen.instrument, spec.name) else "is kept, as the log has it,"
        usual = " ".join(part for part in (spec.material or "a string", gauge_words(spec.gauge_mm)) if part)
        screen().print(f"Mind: {usual} {belongs} on {as_string(spec.name)}. This one counts as another kind.")
        if not may_be_same(spare.material, spec.material):
            screen().print(f"If such a string is what is on {as_string(spec.name)} now, and stays there, say so:")
            print_command(screen(), f"log correct {quote(spec.name)} --material {quote(spare.material)}")


def arrived(
    which: Annotated[str, typer.Argument(metavar="NUMBER|STRING", help="Its number, or the first ordered of a string.")],
    count: Annotated[int, typer.Option(metavar="NUMBER", min=1, max=99, help="How many of that string came.")] = 1,
    date: DateOption = None, place: Annotated[SparePlace, typer.Option("--in", help="Where it is now.")] = SparePlace.bag,
    harp: HarpOption = None, book: BookOption = None,
) -> None:
    """What was ordered is here, and a spare from now on.

    Of an order that comes in parts, as many become spares as came. How long they took is kept as their lead time; what was written down as
    ordered only on the day it came tells nothing of that. What never comes: 'toneprobe spares withdraw NUMBER'.
    """
    from toneprobe.book.connect import writing
    from toneprobe.book.spare_box import change_spares, spares_of

    opened, chosen = open_harp(book, harp)
    day = day_of(date)
    with writing(opened):  # no other program may change what was found until it is stored
        coming = _spares_on_the_way(opened, chosen, which, count)
        found = [arrive(one, day, place=place.value) for one in coming]
        for one in found:
            check_spare(one, today=day_of(None))
        change_spares(opened, found)
        n_left = len([one for one in on_the_way(spares_of(opened, chosen.id)) if one.string == found[0].string])
    for one in found:
        screen().print(f"Spare {one.id} ({one.string}, {what_words(one)}) came on {day_text(day)} and is {PLACE_WORDS[place]}.")
    if n_left:
        screen().print(f"Still on the way: {n_left} × {as_string(found[0].string)}.")
    for one in (one for one, noted in zip(found, coming, strict=True) if noted.lead_time_days not in (None, one.lead_time_days)):
        screen().print(f"Spare {one.id} took {count_of(one.lead_time_days, 'day')}, which now counts as its lead time. Is it another?")
        print_command(screen(), f"spares correct {one.id} --lead-time DAYS")
    untold = [str(one.id) for one in found if one.lead_time_days is None]
    if untold:
        screen().print("How long the order took is not known. To note it:")
        print_command(screen(), f"spares correct {' '.join(untold)} --lead-time DAYS")


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


def move(
    spare: WhichArgument, place: Annotated[SparePlace, typer.Option("--to", help="Where it is from now on.")], harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Put a spare from home into the bag, or back."""
    from dataclasses import replace

    from toneprobe.book.connect import writing
    from toneprobe.book.spare_box import change_spares

    opened, chosen = open_harp(book, harp)
    elsewhere = SparePlace.home if place is SparePlace.bag else SparePlace.bag
    with writing(opened):
        moved = replace(_spare_at_hand(opened, chosen, spare, day_of(None), prefer=elsewhere.value), place=place.value)
        (found,) = change_spares(opened, [moved])
    screen().print(f"Spare {found.id} ({found.string}, {what_words(found)}) is {PLACE_WORDS[place]}.")


def _take_off(spare: str, date: str | None, note: str, harp: str | None, book: str | None) -> None:
    from toneprobe.book.connect import writing
    from toneprobe.book.spare_box import use_up

    opened, chosen = open_harp(book, harp)
    day, note = day_of(date), one_line(note)
    with writing(opened):
        found = use_up(opened, _spare_at_hand(opened, chosen, spare, day).id, day, note=note)
    screen().print(f"Spare {found.id} ({found.string}, {what_words(found)}) came off the list on {day_text(found.used_on)}: {note}.")


def _spare_at_hand(book: Book, harp: Harp, text: str, today: Day, prefer: str | None = None) -> Spare:
    """The unused spare of that number, or of that string the first bought; of those at `prefer` where there are any."""
    from toneprobe.book.spare_box import spares_of

    ages = [age.spare for age in shelf_ages(spares_of(book, harp.id), today=today)]
    if _is_number(text, harp):
        if found := [one for one in ages if one.id == int(text)]:
            return found[0]
        raise UsageError(f"no unused spare has the number {text[:9]}: see 'toneprobe spares'")
    name = find_string(harp.instrument, text).name
    found = [one for one in ages if one.string == name]
    if not found:
        raise BookError(f"there is no spare {as_string(name)} in the bag or at home")
    return next((one for one in found if one.place == prefer), found[0])


def _is_number(text: str, harp: Harp) -> bool:
    """Whether it is a spare's number. What a string is called is that string: the commands that are shown name it so."""
    return text.isdecimal() and all(spec.name != text for spec in harp.instrument.strings)


def _spares_on_the_way(book: Book, harp: Harp, text: str, count: int) -> list[Spare]:
    """The ordered one of that number, or of that string so many, the first ordered first."""
    from toneprobe.book.spare_box import spares_of

    coming = sorted(on_the_way(spares_of(book, harp.id)), key=lambda one: (one.bought_on is None, str(one.bought_on), one.id))
    if _is_number(text, harp):
        found = [one for one in coming if one.id == int(text)]
        if not found:
            raise UsageError(f"no ordered spare has the number {text[:9]}: see 'toneprobe spares'")
        if count > 1:
            raise UsageError("one number is one spare: name the string to say how many came")
        return found
    name = find_string(harp.instrument, text).name
    found = [one for one in coming if one.string == name]
    if len(found) < count:
        raise BookError(f"only {len(found)} of {as_string(name)} on the way, not {count}: see 'toneprobe spares'" if found else
                        f"no {as_string(name)} is on the way: see 'toneprobe spares'")
    return found[:count]


def _coming_row(coming: Coming) -> tuple[object, ...]:
    one = coming.spare
    ordered = short_day(one.bought_on) if one.bought_on else "not known"
    expected = f"{short_day(coming.expected_on)}{' overdue' if coming.is_overdue else ''}" if coming.expected_on else None
    return one.id, one.string, what_words(one), ordered, expected, _seller(one)


def _row(age: ShelfAge) -> tuple[object, ...]:
    one = age.spare
    until = f"{short_day(age.best_until)}{' over' if age.is_past_best else ''}" if age.best_until else None
    bought = short_day(one.bought_on) if one.bought_on else "not known"
    age_text = None if age.age_days is None else length_text(age.age_days)
    return one.id, one.string, what_words(one), one.place, bought, age_text, until, _seller(one)


def _seller(spare: Spare) -> str:
    return ", ".join(part for part in (spare.supplier, spare.batch, spare.price) if part)


spares = group_of("spares", "Spare strings: what there is, what is missing, what to order.",
                  {"show": show, "add": add, "arrived": arrived, "use": use, "move": move, "remove": remove, "correct": correct,
                   "withdraw": withdraw, "check": check, "order": order}, usage="[COMMAND [ARGS]...]")

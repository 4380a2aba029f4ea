"""`toneprobe new`: put a harp into the book, and make the book where there is none."""

from __future__ import annotations

from typing import Annotated

import typer

from toneprobe.cli.options import A4Option, BookOption, TuningOption, name_among_others
from toneprobe.errors import UsageError
from toneprobe.instrument import preset_words
from toneprobe.typed import typed_text
from toneprobe.units import note_text

MOST_LETTERS = 80  # of a harp's name, which stands on every page: a line (set here)


def new(
    name: Annotated[str, typer.Argument(metavar="NAME", help="What you call the harp.")],
    preset: Annotated[str | None, typer.Option("--preset", metavar="PRESET",
                                               help=preset_words())] = None,
    own: Annotated[str | None, typer.Option("--from", metavar="FILE.toml", help="The harp's own strings, notes and materials.")] = None,
    tuning: TuningOption = None,
    a4: A4Option = None,
    book: BookOption = None,
    database: Annotated[str | None, typer.Option(metavar="URL", help="Tables in PostgreSQL: postgresql+psycopg://…")] = None,
) -> None:
    """Put a harp into the book.

    Given again with the same name it is entered anew, as long as nothing is recorded of it.
    """
    from toneprobe.book.opening import create_book
    from toneprobe.book.place import book_folder
    from toneprobe.book.read import harps
    from toneprobe.book.stringing import add_harp
    from toneprobe.cli.screen import screen
    from toneprobe.instrument import load_instrument

    if (preset is None) == (own is None):
        raise UsageError("say which strings the harp has: --preset pedal-47, or --from my-harp.toml" + (", not both" if own else ""))
    name = typed_text(name)
    if not name.isprintable():
        raise UsageError("a harp's name is plain text on one line")
    if len(name) > MOST_LETTERS:
        raise UsageError(f"a harp's name has at most {MOST_LETTERS} letters")
    instrument = load_instrument(preset or own, tuning=tuning, a4_hz=a4)
    opened = create_book(book_folder(book), url=database)
    before = [one.name for one in harps(opened)]
    harp = add_harp(opened, name, instrument, preset=preset)
    name_among_others(opened, harp)
    top, bottom = (f"{one.name} ({note_text(one.note)})" for one in (instrument.strings[0], instrument.strings[-1]))
    tuned = f", tuned in {harp.tuning}" if harp.tuning else ""
    screen().print(f"{harp.name}: {len(instrument.strings)} strings from {top} to {bottom}, A {harp.a4_hz:g} Hz{tuned}.")
    if harp.name in before:
        screen().print("Entered anew: nothing was recorded of it yet.")
    screen().print(f"The book is {opened.name}.")
    screen().print("Next: when its strings are new and settled, record a sweep, three plucks a string, and give it to "
                   "'toneprobe sweep RECORDING --fresh'.")

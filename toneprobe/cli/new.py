"""`toneprobe new`: put a harp into the book, and make the book where there is none."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.book.place import book_folder
from toneprobe.cli.asking import agrees
from toneprobe.cli.options import A4Option, BookOption, TuningOption, YesOption, name_among_others
from toneprobe.cli.screen import screen
from toneprobe.cli.table import print_paragraph
from toneprobe.errors import UsageError
from toneprobe.instrument import load_instrument, preset_words
from toneprobe.phrases import as_strings, capital, listed
from toneprobe.typed import typed_text
from toneprobe.units import note_text

if TYPE_CHECKING:
    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp
    from toneprobe.book.other_strings import Restated
    from toneprobe.instrument import Instrument

MOST_LETTERS = 80  # of a harp's name, which stands on every page: a line (set here)


def new(
    name: Annotated[str, typer.Argument(metavar="NAME", help="What you call the harp.")],
    preset: Annotated[str | None, typer.Option("--preset", metavar="PRESET", help=preset_words())] = None,
    own: Annotated[str | None, typer.Option("--from", metavar="FILE.toml", help="The harp's own strings, notes and materials.")] = None,
    tuning: TuningOption = None,
    a4: A4Option = None,
    yes: YesOption = False,
    book: BookOption = None,
    database: Annotated[str | None, typer.Option(metavar="URL", help="Tables in PostgreSQL: postgresql+psycopg://…")] = None,
) -> None:
    """Put a harp into the book.

    Give it again with the same name to start over. Once something has been recorded of it you are asked first: its sweeps and its log
    stay, and from now on it has the strings you name.
    """
    from toneprobe.book.opening import create_book
    from toneprobe.book.other_strings import recorded_harp
    from toneprobe.book.read import harps
    from toneprobe.book.stringing import add_harp

    if (preset is None) == (own is None):
        raise UsageError("say which strings the harp has: --preset pedal-47, or --from my-harp.toml" + (", not both" if own else ""))
    name = typed_text(name)
    if not name.isprintable():
        raise UsageError("a harp's name is plain text on one line")
    if len(name) > MOST_LETTERS:
        raise UsageError(f"a harp's name has at most {MOST_LETTERS} letters")
    instrument = load_instrument(preset or own, tuning=tuning, a4_hz=a4)
    opened = create_book(book_folder(book), url=database)
    known = recorded_harp(opened, name)
    if known is not None:
        _give_strings(opened, known, instrument, preset, yes=yes)
        return
    before = [one.name for one in harps(opened)]
    harp = add_harp(opened, name, instrument, preset=preset)
    name_among_others(opened, harp)
    screen().print(f"{harp.name}: {_described(instrument)}.")
    if harp.name in before:
        screen().print("Entered anew: nothing was recorded of it yet.")
    screen().print(f"The book is {opened.name}.")
    screen().print("Next: when its strings are new and settled, record a sweep, three plucks a string, and give it to "
                   "'toneprobe sweep RECORDING --fresh'.")


def _described(instrument: Instrument) -> str:
    top, bottom = (f"{one.name} ({note_text(one.note)})" for one in (instrument.strings[0], instrument.strings[-1]))
    tuned = f", tuned in {instrument.tuning}" if instrument.tuning else ""
    return f"{len(instrument.strings)} strings from {top} to {bottom}, A {instrument.a4_hz:g} Hz{tuned}"


def _give_strings(book: Book, harp: Harp, instrument: Instrument, preset: str | None, *, yes: bool) -> None:
    """A harp that has a record gets these strings from now on, where its owner means that one."""
    from toneprobe.book.other_strings import give_strings, restated

    print_paragraph(screen(), f"The book has {harp.name} already, with {_described(harp.instrument)}, and something is recorded of it: "
                    f"that stays. From now on it would have {_described(instrument)}. {_otherwise(restated(harp.instrument, instrument))}")
    if not agrees(f"Give {harp.name} these strings?", yes=yes):
        raise UsageError(f"nothing was changed. If they are those of {harp.name}, answer yes, or give --yes; for another "
                         f"{harp.instrument.word} take another name")
    give_strings(book, harp, instrument, preset=preset, today=date.today())
    screen().print(f"{harp.name} has them from now on. Its sweeps so far are judged as they were.")


def _otherwise(found: Restated) -> str:
    from toneprobe.book.other_strings import FEW

    told = [f"{word}: {listed(as_strings(names), FEW)}" for word, names in (
        ("new", found.new), ("no more there", found.gone), ("of another note, material, gauge or length", found.otherwise)) if names]
    return f"{capital('; '.join(told) or 'the strings are the same')}."

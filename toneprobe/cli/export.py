"""`toneprobe export`: everything in the book, to be read without this program."""

from pathlib import Path
from typing import Annotated

import typer

from toneprobe.book.place import book_folder
from toneprobe.cli.options import BookOption
from toneprobe.cli.screen import screen


def export(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new or empty folder.")],
    sounds: Annotated[bool, typer.Option("--sounds", help="Copy the sound of every pluck too.")] = False,
    book: BookOption = None,
) -> None:
    """Write the whole book as CSV and JSON into a folder.

    And check that nothing in it is missing or damaged.
    """
    from toneprobe.book.check import check_book
    from toneprobe.book.export import export_book, unfinished_exports
    from toneprobe.book.opening import open_book

    opened = open_book(book_folder(book))
    for path in export_book(opened, folder, with_clips=sounds):
        screen().print(f"Written: {path}", soft_wrap=True)
    for left in unfinished_exports(folder):
        screen().print(f"An export that was stopped half-way left this behind: {left}. It may be deleted, once no other export is running.",
                       soft_wrap=True)
    for fault in check_book(opened):
        screen().print(f"The book is not whole: {fault}.", soft_wrap=True)

"""`toneprobe log export`: the string log as CSV that opens in a spreadsheet."""

from typing import Annotated

import typer

from toneprobe.cli.options import BookOption, HarpOption, open_harp
from toneprobe.cli.screen import screen
from toneprobe.exchange.writing import STDOUT, write_text
from toneprobe.phrases import count_of


def export(
    file: Annotated[str, typer.Argument(metavar="FILE.csv", help="- is standard output.")] = "-",
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Write the string log as CSV; 'log import' reads it back."""
    from toneprobe.book import read
    from toneprobe.notebook import write_log

    opened, chosen = open_harp(book, harp)
    log = read.fitting_log(opened, chosen.id)
    mark = "" if file == STDOUT else "\ufeff"  # spreadsheets need it to show names rightly
    write_text(mark + write_log(log, chosen.instrument), file)
    screen(machine_output=file == STDOUT).print(f"{count_of(len(log), 'entry', 'entries')} written.")

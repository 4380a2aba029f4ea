"""Tables and paragraphs of at most 80 columns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

from toneprobe.cli.screen import HARP_OPTION
from toneprobe.commands import for_harp
from toneprobe.report.words import sentence

if TYPE_CHECKING:
    from rich.console import Console


def print_table(console: Console, headings: Sequence[str], rows: Iterable[Sequence[object]], *, right: Sequence[str] = ()) -> None:
    """One line for each row; `right` names the headings of columns of numbers. Where the terminal is narrow, cells wrap between words, the
    last column first; where even single words do not fit, each row becomes a paragraph. Nothing is cut off."""
    from rich.table import Table
    from rich.text import Text

    cells = [["–" if cell is None or cell == "" else str(cell) for cell in row] for row in rows]
    widths = _widths(headings, cells, console.width)
    if not widths:
        for row in cells:
            known = [f"{heading} {' '.join(cell.split())}" for heading, cell in zip(headings, row, strict=True) if cell.strip(" –")]
            print_paragraph(console, "; ".join(known), hang=4)
        return
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    for heading, width in zip(headings, widths, strict=True):
        table.add_column(heading, justify="right" if heading in right else "left", width=width, overflow="fold")
    for row in cells:
        table.add_row(*map(Text, row))
    console.print(table)


def _widths(headings: Sequence[str], cells: Sequence[Sequence[str]], most: int) -> list[int]:
    """Of each column, without the two blanks behind it; empty where the longest words do not fit. In the last column words may be split."""
    from rich.cells import cell_len

    columns = [(heading, *(row[k] for row in cells)) for k, heading in enumerate(headings)]
    full = [max(map(cell_len, column)) for column in columns]
    least = [max((cell_len(word) for cell in column for word in cell.split()), default=0) for column in (*columns[:-1], columns[-1][:1])]
    left = most - 2 * (len(columns) - 1) - sum(least)
    if left < 0:
        return []
    widths = []
    for wanted, needed in zip(full, least, strict=True):
        widths.append(needed + min(left, wanted - needed))
        left -= widths[-1] - needed
    return widths


def print_paragraph(console: Console, text: str, *, indent: int = 0, hang: int = 0) -> None:
    """Wrapped between words, every line indented, from the second on by `hang` more; an option such as --from-spares stays whole."""
    from rich.segment import Segment, Segments

    lines = wrap(for_harp(text, HARP_OPTION.get()), console.width, initial_indent=" " * indent, subsequent_indent=" " * (indent + hang),
                 break_on_hyphens=False)
    console.print(Segments(map(Segment, lines), new_lines=True), soft_wrap=True)  # in text it would name the harp once more


def print_command(console: Console, words: str) -> None:
    """A command to type, on a line of its own that is never broken. `words`: those behind "toneprobe"."""
    console.print(f"  toneprobe {words}", soft_wrap=True)


def print_heading(console: Console, text: str) -> None:
    from rich.text import Text

    console.print(Text(text, style="bold"))


def print_cautions(console: Console, cautions: Iterable[str]) -> None:
    """What to mind before a string is changed."""
    console.print()
    print_heading(console, "Before you change a string")
    for caution in cautions:
        print_paragraph(console, f"- {sentence(caution)}", indent=2, hang=2)

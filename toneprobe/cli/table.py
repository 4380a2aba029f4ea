"""Tables and paragraphs of at most 80 columns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console


def print_table(console: Console, headings: Sequence[str], rows: Iterable[Sequence[object]], *, right: Sequence[str] = ()) -> None:
    """One line for each row; `right` names the headings of columns of numbers. The last column gives way where the space is short; where
    even that is not enough, all fold into several lines, for nothing may be cut off unseen."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    cells = [[Text("–" if cell is None or cell == "" else str(cell)) for cell in row] for row in rows]
    widths = [max(Text(heading).cell_len, *(row[k].cell_len for row in cells), 0) for k, heading in enumerate(headings)]
    is_roomy = sum(widths[:-1]) + 2 * (len(headings) - 1) + Text(headings[-1]).cell_len <= console.width
    for heading in headings:
        is_last = heading == headings[-1]
        table.add_column(heading, justify="right" if heading in right else "left", no_wrap=is_roomy and not is_last, overflow="fold")
    for row in cells:
        table.add_row(*row)
    console.print(table)


def print_indented(console: Console, text: str, *, by: int = 4, hang: int = 0) -> None:
    """A paragraph whose every line is indented, from the second on by `hang` more; an option such as --from-spares stays whole."""
    from textwrap import wrap

    for line in wrap(text, console.width, initial_indent=" " * by, subsequent_indent=" " * (by + hang), break_on_hyphens=False):
        console.print(line, soft_wrap=True)


def print_heading(console: Console, text: str) -> None:
    from rich.text import Text

    console.print(Text(text, style="bold"))

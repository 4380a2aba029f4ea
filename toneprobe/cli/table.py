"""Tables and paragraphs of at most 80 columns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderResult


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
    console.print(_Paragraph(text, by, hang), soft_wrap=True)


@dataclass(frozen=True)
class _Paragraph:
    """Wrapped with the harp's name in its commands, and no text of the screen's any more, which would name it once again."""

    text: str
    by: int
    hang: int

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        from textwrap import wrap

        from rich.segment import Segment

        from toneprobe.cli.screen import named_harp
        from toneprobe.commands import for_harp

        first, later = " " * self.by, " " * (self.by + self.hang)
        for line in wrap(for_harp(self.text, named_harp()), console.width, initial_indent=first, subsequent_indent=later,
                         break_on_hyphens=False):
            yield Segment(line)
            yield Segment.line()


def print_heading(console: Console, text: str) -> None:
    from rich.text import Text

    console.print(Text(text, style="bold"))

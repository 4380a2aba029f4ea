"""The key to a picture of strings: each verdict that occurs with its mark, its line and its word, and the colours of C and F."""

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from toneprobe.condition import VERDICTS
from toneprobe.report.figures.look import INK, LETTER, OTHER_STRING, Scale, draw_lines, draw_mark, plain_axes, write
from toneprobe.report.figures.strings import DOTTED, STRING_LOOKS, HarpDrawing, draw_thick
from toneprobe.report.glossary import FRESH, NEEDS_ATTENTION, verdict_word
from toneprobe.report.string_view import StringView

ROW, LINE, MARK, GAP = 20.0, 24.0, 10.0, 18.0


@dataclass(frozen=True)
class Entry:
    """One word of the key, the marks before it, drawn on top of each other, and the line under them: "thick", "thin", "dotted" or ""."""

    word: str
    marks: tuple[str, ...] = ()
    line: str = ""

    @property
    def sample(self) -> float:
        return LINE if self.line else MARK

    @property
    def width(self) -> float:
        return self.sample + 6 + LETTER * len(self.word) + GAP


def harp_entries(harp: HarpDrawing) -> list[Entry]:
    """For strings drawn as lines: thin and without a mark where all is well; then C and F."""
    strings = [one.string for one in harp.placed]
    told = []
    for verdict in sorted({one.verdict for one in strings}, key=VERDICTS.index):
        is_plain = harp.is_plain(verdict)
        line = "thin" if is_plain else "thick" if verdict in NEEDS_ATTENTION else "dotted" if verdict == "unheard" else ""
        told.append(Entry(_word(verdict, strings), () if is_plain else (verdict,), line))
    return [*told, *(Entry(letter, line="thin") for letter in STRING_LOOKS if any(one.letter == letter for one in strings))]


def mark_entries(strings: Sequence[StringView]) -> list[Entry]:
    """For strings drawn as marks."""
    return [Entry(_word(verdict, strings), (verdict,)) for verdict in sorted({one.verdict for one in strings}, key=VERDICTS.index)]


def marks_of(state: str) -> tuple[str, ...]:
    """The marks of a state, drawn on top of each other: "fresh" is a dot in the circle of a string without a verdict."""
    return ("unrated", "sound") if state == FRESH else (state,)


def key_rows(entries: Sequence[Entry], width: float) -> list[list[Entry]]:
    """The entries in as many rows as they need."""
    rows: list[list[Entry]] = [[]]
    for entry in entries:
        if rows[-1] and sum(one.width for one in (*rows[-1], entry)) - GAP > width:
            rows.append([])
        rows[-1].append(entry)
    return rows


def draw_key(figure: Figure, rows: Sequence[Sequence[Entry]], left: float, bottom: float) -> None:
    """The rows, the last at the bottom."""
    width, _ = figure.get_size_inches() * 72.0
    height = ROW * len(rows)
    axes = plain_axes(figure, (left, bottom, width - left, height), Scale(0, width - left), Scale(0, height))
    for nth, row in enumerate(reversed(rows)):
        x, y = 0.0, ROW * (nth + 0.5)
        for entry in row:
            _draw_sample(axes, entry, x, y)
            write(axes, (x + entry.sample + 6, y), entry.word, va="center", color=INK)
            x += entry.width


def _draw_sample(axes: Axes, entry: Entry, x: float, y: float) -> None:
    ends = ((x, y), (x + entry.sample, y))
    if entry.line in ("thin", "dotted"):
        colour, width = STRING_LOOKS.get(entry.word, (OTHER_STRING, 1.0))
        draw_lines(axes, [ends], colour, width=width, style="solid" if entry.line == "thin" else DOTTED)
    if entry.line == "thick":
        draw_thick(axes, entry.marks[0], *ends)
    for mark in entry.marks:  # at the line's head, as on the harp
        draw_mark(axes, mark, [x + (entry.sample - 4 if entry.line else 0.5 * entry.sample)], [y])


def _word(verdict: str, strings: Sequence[StringView]) -> str:
    """The word of a state that all strings of the verdict have, as "fresh"; else the verdict's own."""
    states = {one.state for one in strings if one.verdict == verdict}
    return verdict_word(states.pop() if len(states) == 1 else verdict)

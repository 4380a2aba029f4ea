"""The whole harp in one picture: every string in its place, and below it a lane for each figure against fresh.

A page shows the two as separate pictures, the harp first: it answers which strings need attention.
"""

import textwrap
from dataclasses import replace

from matplotlib.figure import Figure

from toneprobe.report.figures.key import ROW, draw_key, harp_entries, key_rows, mark_entries
from toneprobe.report.figures.lanes import draw_lane, drawn_lanes, lanes_note
from toneprobe.report.figures.look import HEAD_SIZE, INK, LETTER, LINE_HEIGHT, Scale, name_lines, new_figure, plain_axes, write
from toneprobe.report.figures.strings import WIDE, HarpDrawing, Layout, draw_harp, drawing_of, name_look
from toneprobe.report.view import SweepView

LEFT, RIGHT, FOOT = 48.0, 6.0, 8.0
LANE_HEIGHT, HEAD_ROOM = 104.0, 30.0  # of a lane, and of what is over it
NAMES_HEIGHT, UPRIGHT_NAMES_HEIGHT = 20.0, 28.0  # of the names below a lane, at the least where they are written upright
HEAD_LINE = 22.0
LEAST_STEP = 2.6 * LETTER  # from string to string: names that have less room are written upright


def harp_picture(view: SweepView) -> Figure:
    """All in one, for a file 1024 units wide: harp and day, every string, its figures, the key."""
    step = _string_step(view, WIDE)
    layout = replace(WIDE, left=LEFT + 0.6 * step, right=RIGHT + 0.6 * step)  # each string over its marks
    harp = drawing_of(view.strings, layout)
    rows = key_rows(harp_entries(harp), layout.width - 16)
    told = name_lines(view.harp, layout.width)
    below = FOOT + ROW * len(rows) + _lanes_height(view, layout)
    figure = new_figure(layout.width, below + harp.height + HEAD_LINE * (len(told) + 1) + 8)
    _draw_harp(figure, harp, layout, below)
    _draw_lanes(figure, view, layout, FOOT + ROW * len(rows))
    draw_key(figure, rows, 8, FOOT)
    _write_head(figure, told, f"Sweep of {view.day}: {view.headline}")
    return figure


def harp_alone(view: SweepView, layout: Layout) -> Figure:
    """The strings and the key, for a page."""
    harp = drawing_of(view.strings, layout)
    rows = key_rows(harp_entries(harp), layout.width - 8)
    figure = new_figure(layout.width, ROW * len(rows) + harp.height)
    _draw_harp(figure, harp, layout, ROW * len(rows))
    draw_key(figure, rows, 4, 0)
    return figure


def lanes_picture(view: SweepView, layout: Layout) -> Figure | None:
    """How every string stands against fresh; None where none can be compared."""
    if not drawn_lanes(view.strings):
        return None
    rows = key_rows(mark_entries(view.strings), layout.width - LEFT)
    figure = new_figure(layout.width, ROW * len(rows) + _lanes_height(view, layout))
    _draw_lanes(figure, view, layout, ROW * len(rows))
    draw_key(figure, rows, LEFT, 0)
    return figure


def _draw_harp(figure: Figure, harp: HarpDrawing, layout: Layout, bottom: float) -> None:
    axes = plain_axes(figure, (0.0, bottom, layout.width, harp.height), Scale(0.0, layout.width), Scale(0.0, harp.height))
    draw_harp(axes, harp, layout)


def _string_step(view: SweepView, layout: Layout) -> float:
    """From string to string in the lanes."""
    return (layout.width - LEFT - RIGHT) / (len(view.strings) + 0.2)


def _names_height(view: SweepView, layout: Layout) -> float:
    longest = max(len(one.name) for one in view.strings)
    is_upright = _string_step(view, layout) < LEAST_STEP
    return max(UPRIGHT_NAMES_HEIGHT, LETTER * min(longest, 8) + 10) if is_upright else NAMES_HEIGHT


def _lanes_height(view: SweepView, layout: Layout) -> float:
    n_lanes, note_height = len(drawn_lanes(view.strings)), LINE_HEIGHT * len(_note_lines(view, layout)) + 10.0
    return n_lanes * (LANE_HEIGHT + HEAD_ROOM + _names_height(view, layout)) + note_height if n_lanes else 0.0


def _note_lines(view: SweepView, layout: Layout) -> list[str]:
    return textwrap.wrap(" ".join(lanes_note(view.strings)), int((layout.width - LEFT) / LETTER))


def _draw_lanes(figure: Figure, view: SweepView, layout: Layout, bottom: float) -> None:
    """The first lane at the top; what shade and lines mean below the last."""
    strings = view.strings
    places = Scale(len(strings) - 0.4, -0.6)
    names_height, note = _names_height(view, layout), _note_lines(view, layout)
    over_note = bottom + LINE_HEIGHT * len(note) + 10.0
    for nth, lane in enumerate(reversed(drawn_lanes(strings))):
        low = over_note + nth * (LANE_HEIGHT + HEAD_ROOM + names_height) + names_height
        box = (LEFT, low, layout.width - LEFT - RIGHT, LANE_HEIGHT)
        axes = plain_axes(figure, box, places, lane.scale([lane.of(one) for one in strings], lane.title))
        draw_lane(axes, strings, lane)
        how = {"rotation": 90} if names_height > NAMES_HEIGHT else {}
        for one in strings:
            write(axes, (one.place, axes.get_ylim()[0]), one.name, (0, -5), ha="center", va="top", **name_look(one), **how)
        if nth == 0:
            for line, text in enumerate(note):
                write(axes, (0, 0), text, (0, -names_height - 5 - LINE_HEIGHT * line), in_box=True, va="top")


def _write_head(figure: Figure, lines: list[str], sweep: str) -> None:
    """The harp's name, which may need several lines, and what the sweep says."""
    width, height = figure.get_size_inches() * 72.0
    axes = plain_axes(figure, (8, height - 16, width - 8, 8))
    for nth, line in enumerate(lines):
        write(axes, (0, 1), line, (0, -HEAD_LINE * nth), in_box=True, va="top", color=INK, fontsize=HEAD_SIZE, weight="bold")
    write(axes, (0, 1), sweep, (0, -HEAD_LINE * len(lines)), in_box=True, va="top", color=INK)

"""The whole harp for a narrow screen: strings one below the other from the top of the harp down, ring and brightness beside them."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from toneprobe.condition import VERDICTS
from toneprobe.report.figures.harp import STRING_LOOKS, draw_legend, drawn_length_mm
from toneprobe.report.figures.lanes import draw_lane, draw_unnoticed, percent_scale
from toneprobe.report.figures.look import (
    INK,
    OTHER_STRING,
    VERDICT_COLOURS,
    Scale,
    draw_lines,
    new_figure,
    plain_axes,
    write,
)
from toneprobe.report.view import StringView, SweepView

WIDTH, ROW = 328.0, 15.0
TOP, BOTTOM = 40.0, 74.0


def tall_harp_picture(view: SweepView) -> Figure:
    """328 units wide, 15 for each string."""
    strings = view.strings
    n_rows = max(len(strings), 1)
    tall = ROW * n_rows
    figure = new_figure(WIDTH, TOP + tall + BOTTOM)
    rows = Scale(n_rows - 0.5, -0.5, [], [])
    rings, brights = [one.ring for one in strings], [one.brightness for one in strings]
    _draw_strings(plain_axes(figure, (32, BOTTOM, 48, tall), Scale(0.0, 1.0, [], []), rows), strings)
    ring = plain_axes(figure, (150, BOTTOM, 80, tall), _few(percent_scale(rings, "ring")), rows)
    draw_unnoticed(ring, upright=True)
    bright = plain_axes(figure, (244, BOTTOM, 80, tall), _few(percent_scale(brights, "bright")), rows)
    for axes, changes, title in ((ring, rings, "Ring"), (bright, brights, "Brightness")):
        _draw_fresh_line(axes, title)
        draw_lane(axes, strings, changes, upright=True)
    verdicts = sorted({one.verdict for one in strings}, key=VERDICTS.index)
    draw_legend(figure, verdicts[:4], 8, 34, step=80)
    draw_legend(figure, verdicts[4:], 8, 14, step=80)
    return figure


def _few(scale: Scale) -> Scale:
    ticks = [tick for tick in (25, 50, 100, 200) if scale.low <= tick <= scale.high]
    return Scale(scale.low, scale.high, ticks, [f"{tick} %" for tick in ticks], log=True)


def _draw_fresh_line(axes: Axes, title: str) -> None:
    low, high = axes.get_ylim()
    draw_lines(axes, [((tick, low), (tick, high)) for tick in (50, 100)], OTHER_STRING, width=0.6, label="fresh")
    write(axes, (0, 1), title, (0, 6), in_box=True, color=INK, fontweight="bold")


def _draw_strings(axes: Axes, strings: tuple[StringView, ...]) -> None:
    longest = max([drawn_length_mm(one) for one in strings], default=1.0)
    for one in strings:
        colour, width = STRING_LOOKS.get(one.letter, (OTHER_STRING, 1.0))
        style = (0, (1, 3)) if one.verdict == "unheard" else "solid"
        draw_lines(axes, [((0.0, one.place), (drawn_length_mm(one) / longest, one.place))], colour, width=width, style=style)
        _label(axes, one)


def _label(axes: Axes, one: StringView) -> None:
    if one.verdict != "sound" or one.letter in STRING_LOOKS:
        colour = VERDICT_COLOURS[one.verdict] if one.verdict != "sound" else STRING_LOOKS[one.letter][0]
        write(axes, (0, one.place), one.name, (-5, 0), ha="right", va="center", color=colour)
    if one.verdict != "sound":
        write(axes, (1.0, one.place), one.verdict, (6, 0), ha="left", va="center", color=VERDICT_COLOURS[one.verdict])

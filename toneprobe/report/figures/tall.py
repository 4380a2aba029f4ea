"""The whole harp for a narrow screen: strings one below the other from the top of the harp down, ring and brightness beside them."""

from __future__ import annotations

import math

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from toneprobe.condition import VERDICTS
from toneprobe.report.figures.harp import STRING_LOOKS, ZONE_KEY, draw_legend, drawn_length_mm, name_colour
from toneprobe.report.figures.lanes import draw_fresh, draw_lane, draw_noticed, percent_scale
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
from toneprobe.report.string_view import StringView
from toneprobe.report.view import SweepView

WIDTH, ROW = 328.0, 15.0
TOP, BOTTOM, LANE = 40.0, 124.0, 80.0
CLEAR = 24.0  # between the middles of two labels
KEY = ("Both in per cent of fresh.", f"{ZONE_KEY[0].upper()}{ZONE_KEY[1:]}.", "Left of the broken line listeners notice.")


def tall_harp_picture(view: SweepView) -> Figure:
    """328 units wide, 15 for each string."""
    strings = view.strings
    n_rows = max(len(strings), 1)
    tall = ROW * n_rows
    figure = new_figure(WIDTH, TOP + tall + BOTTOM)
    rows = Scale(n_rows - 0.5, -0.5, [], [])
    rings, brights = [one.ring for one in strings], [one.brightness for one in strings]
    _draw_strings(plain_axes(figure, (32, BOTTOM, 48, tall), Scale(0.0, 1.0, [], []), rows), strings)
    for left, changes, title in ((150, rings, "Ring"), (244, brights, "Brightness")):
        scale = _few(percent_scale(changes))
        axes = plain_axes(figure, (left, BOTTOM, LANE, tall), scale, rows)
        _draw_head(axes, scale, title)
        draw_fresh(axes, upright=True)
        if title == "Ring":
            draw_noticed(axes, upright=True)
        draw_lane(axes, strings, changes, upright=True)
    _draw_key(figure)
    verdicts = sorted({one.verdict for one in strings}, key=VERDICTS.index)
    draw_legend(figure, verdicts[:4], 8, 34, step=80)
    draw_legend(figure, verdicts[4:], 8, 14, step=80)
    return figure


def _draw_key(figure: Figure) -> None:
    axes = plain_axes(figure, (8, BOTTOM - 74, WIDTH - 8, 56), Scale(0, 1, [], []), Scale(0, 1, [], []))
    for line, text in enumerate(KEY):
        write(axes, (0, 1), text, (0, -14.0 * line), in_box=True, va="top")


def _few(scale: Scale) -> Scale:
    """Only ticks whose labels stand clear of each other, 100 first, without "%", which stands below once."""
    kept: list[int] = []
    for tick in (100, 50, 200, 25, 400, 10):
        apart_px = [LANE * abs(math.log(tick / other)) / math.log(scale.high / scale.low) for other in kept]
        if scale.low <= tick <= scale.high and all(one >= CLEAR for one in apart_px):
            kept.append(tick)
    return Scale(scale.low, scale.high, sorted(kept), [str(tick) for tick in sorted(kept)], log=True)


def _draw_head(axes: Axes, scale: Scale, title: str) -> None:
    """Title and, as the picture is long, the ticks once more."""
    write(axes, (0, 1), title, (0, 20), in_box=True, color=INK, fontweight="bold")
    for tick, label in zip(scale.ticks, scale.labels, strict=True):
        write(axes, (tick, axes.get_ylim()[1]), label, (0, 4), ha="center", va="bottom")


def _draw_strings(axes: Axes, strings: tuple[StringView, ...]) -> None:
    longest = max([drawn_length_mm(one) for one in strings], default=1.0)
    for one in strings:
        colour, width = STRING_LOOKS.get(one.letter, (OTHER_STRING, 1.0))
        style = (0, (1, 3)) if one.verdict == "unheard" else "solid"
        draw_lines(axes, [((0.0, one.place), (drawn_length_mm(one) / longest, one.place))], colour, width=width, style=style)
        _label(axes, one)


def _label(axes: Axes, one: StringView) -> None:
    colour = VERDICT_COLOURS[one.verdict] if one.verdict != "sound" else name_colour(one)
    write(axes, (0, one.place), one.name, (-5, 0), ha="right", va="center", color=colour)
    if one.verdict != "sound":
        write(axes, (1.0, one.place), one.word, (6, 0), ha="left", va="center", color=VERDICT_COLOURS[one.verdict])

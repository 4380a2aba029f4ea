"""The whole harp in one picture: every string in its place, and below it how it rings and how bright it is against fresh.

Long strings stand left as on a keyboard. Strings are drawn at their own length on a sloping soundboard; a length that is not known is taken
from a usual scale, for the picture only. C strings are red and F strings dark, and both carry their name at the foot. A mark and a word
stand at the head of each string that is not fine.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from toneprobe.condition import VERDICTS
from toneprobe.measure.figure import Figure as Measured
from toneprobe.report.figures.lanes import draw_fresh, draw_lane, draw_noticed, percent_scale
from toneprobe.report.figures.look import (
    C_STRING,
    F_STRING,
    INK,
    NAME_SIZE,
    OTHER_STRING,
    SOFT,
    TEXT_SIZE,
    VERDICT_COLOURS,
    Scale,
    draw_lines,
    draw_mark,
    new_figure,
    plain_axes,
    write,
)
from toneprobe.report.glossary import verdict_word
from toneprobe.report.string_view import StringView
from toneprobe.report.view import SweepView

WIDTH, HEIGHT, LEFT, RIGHT = 880.0, 784.0, 52.0, 14.0
# A usual concert-harp scale, published, second hand: pitch in Hz against length in mm.
USUAL_SCALE = ((32.7, 1515.0), (65.4, 1379.0), (130.8, 1055.0), (261.6, 571.0), (523.3, 328.0), (1046.5, 192.0), (2093.0, 101.0),
               (3136.0, 60.6))
BOARD_MM_PER_STRING = 25.0  # rise of the soundboard from string to string, as the scale above needs for a neck that dips in the middle
USUAL_WORD = 8  # letters over a string's head; longer ones need more room
ZONE_KEY = "shaded: plucks alone make this much"
RING_KEY = f"{ZONE_KEY}; below the broken line listeners notice"
STRING_LOOKS = {"C": (C_STRING, 1.7), "F": (F_STRING, 1.7)}


def harp_picture(view: SweepView) -> Figure:
    """The wide picture, 880 by 784 units."""
    figure = new_figure(WIDTH, HEIGHT)
    strings = view.strings
    wide = WIDTH - LEFT - RIGHT
    places = Scale(len(strings) - 0.4, -0.6, [], [])
    _draw_harp(plain_axes(figure, (LEFT, 376, wide, 384), places, _height_scale(strings)), strings)
    rings, brights = [one.ring for one in strings], [one.brightness for one in strings]
    axes = plain_axes(figure, (LEFT, 208, wide, 116), places, percent_scale(rings, "Ring, in per cent of fresh"))
    draw_noticed(axes)
    write(axes, (1.0, 1.0), RING_KEY, (0, 7), in_box=True, ha="right", va="bottom")
    _draw_lane(axes, strings, rings)
    axes = plain_axes(figure, (LEFT, 52, wide, 116), places, percent_scale(brights, "Brightness, in per cent of fresh"))
    write(axes, (1.0, 1.0), ZONE_KEY, (0, 7), in_box=True, ha="right", va="bottom")
    _draw_lane(axes, strings, brights)
    draw_legend(figure, sorted({one.verdict for one in strings}, key=VERDICTS.index), LEFT, 14)
    return figure


def name_colour(one: StringView) -> str:
    """C red, F dark, as the strings are."""
    return STRING_LOOKS[one.letter][0] if one.letter in STRING_LOOKS else SOFT


def _draw_lane(axes: Axes, strings: Sequence[StringView], changes: Sequence[Measured]) -> None:
    """Every string's name stands at the foot of its mark."""
    draw_fresh(axes)
    draw_lane(axes, strings, changes)
    for one in strings:
        write(axes, (one.place, axes.get_ylim()[0]), one.name, (0, -4), ha="center", va="top", fontsize=NAME_SIZE, color=name_colour(one))


def drawn_length_mm(one: StringView) -> float:
    """The string's length, or that of a usual harp at its pitch."""
    if one.spec is None:
        return 300.0
    if one.spec.length_mm:
        return one.spec.length_mm
    freq_hz, length_mm = np.transpose(USUAL_SCALE)
    return float(np.interp(np.log(one.spec.expected_hz), np.log(freq_hz), length_mm))


def draw_legend(figure: Figure, verdicts: Sequence[str], left: float, bottom: float, *, step: float = 92.0) -> None:
    """The verdicts that occur, each with its mark and word, in one row."""
    width, _ = figure.get_size_inches() * 72.0
    axes = plain_axes(figure, (left, bottom - 8, width - left, 16), Scale(0, width - left, [], []), Scale(-1, 1, [], []))
    for place, verdict in enumerate(verdicts):
        draw_mark(axes, verdict, [place * step + 6], [0])
        write(axes, (place * step + 16, 0), verdict_word(verdict), va="center", color=INK)


def _height_scale(strings: Sequence[StringView]) -> Scale:
    heads = [_foot_mm(one, len(strings)) + drawn_length_mm(one) for one in strings]
    longest = max((len(one.word) for one in strings if one.verdict != "sound"), default=0)
    return Scale(0.0, (1.18 + 0.03 * max(0, longest - USUAL_WORD)) * max([*heads, 1.0]), [], [])


def _foot_mm(one: StringView, n_strings: int) -> float:
    return BOARD_MM_PER_STRING * (n_strings - 1 - one.place) * drawn_scale(n_strings)


def drawn_scale(n_strings: int) -> float:
    """Small harps have a steeper board in proportion, so that their neck keeps its shape."""
    return min(1.0, n_strings / 47.0)


def _draw_harp(axes: Axes, strings: Sequence[StringView]) -> None:
    n = len(strings)
    feet = [(one.place, _foot_mm(one, n)) for one in strings]
    heads = [(one.place, _foot_mm(one, n) + drawn_length_mm(one)) for one in strings]
    placed = list(zip(strings, feet, heads, strict=True))
    axes.plot(*np.transpose(feet), color=SOFT, linewidth=2.2, solid_capstyle="round", label="soundboard")
    axes.plot(*np.transpose(heads), color=SOFT, linewidth=2.2, solid_capstyle="round", label="neck")
    for letter in ("C", "F", ""):
        _draw_strings(axes, letter, [drawn for drawn in placed if _kind(drawn[0]) == letter])
    for one, foot, head in placed:
        if one.letter in STRING_LOOKS:
            write(axes, foot, one.name, (0, -5), ha="center", va="top", color=STRING_LOOKS[one.letter][0])
        if one.verdict != "sound":
            _draw_head(axes, one, head)


def _kind(one: StringView) -> str:
    return one.letter if one.letter in STRING_LOOKS else ""


def _draw_strings(axes: Axes, letter: str, drawn: list) -> None:
    colour, width = STRING_LOOKS.get(letter, (OTHER_STRING, 1.0))
    for is_heard, style in ((True, "solid"), (False, (0, (1, 4)))):
        lines = [(foot, head) for one, foot, head in drawn if (one.verdict != "unheard") == is_heard]
        if lines:
            draw_lines(axes, lines, colour, width=width, style=style, label=f"{letter or 'other'} strings{'' if is_heard else ', unheard'}")


def _draw_head(axes: Axes, one: StringView, head: tuple[float, float]) -> None:
    draw_mark(axes, one.verdict, [head[0]], [head[1]])
    write(axes, head, f"{one.name} {one.word}", (0, 11), ha="center", va="bottom", rotation=90, fontsize=TEXT_SIZE,
          color=VERDICT_COLOURS[one.verdict])

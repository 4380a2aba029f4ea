"""One look for all pictures: colours by what they mean, the mark of each verdict, and plain axes.

Sizes are in units of 1/72 inch, which a page shows as one CSS pixel. Colours differ for every kind of colour vision, and in lightness on
grey paper; a mark's shape and a word say the same. A colour has one meaning, so that a page can replace it in dark mode.
"""

import math
import textwrap
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.transforms import ScaledTranslation

INK, SOFT, LINE, ZONE, PAPER = "#1c2428", "#57636a", "#ccd3d6", "#dae3e7", "#fefefe"
C_STRING, F_STRING, OTHER_STRING = "#9c1f3c", "#2b3a55", "#9aa4a9"
NOW, FRESH = "#0b5d8f", "#8a949a"
VERDICT_COLOURS = {"false": "#8a1fd0", "dead": "#bd4b00", "watch": "#756600", "settling": "#146b66", "unsure": "#566168",
                   "unrated": "#58646b", "unheard": "#5a666d", "sound": "#5c6f64"}
MARKERS = {"false": "X", "dead": "s", "watch": "^", "settling": "v", "unsure": "d", "unrated": "o", "unheard": "_", "sound": "o"}
OPEN_MARKS = ("settling", "unsure", "unrated")
MARK_SIZES = {"sound": 3.6, "unheard": 7.0}
TEXT_SIZE, HEAD_SIZE = 12.0, 15.0  # a page shows no picture smaller than it is drawn, and letters under 12 px tire the eye
LETTER, LINE_HEIGHT = 7.2, 15.0  # room that a letter of TEXT_SIZE takes, and a line

# Roles by colour, for style sheets: --ink, --soft, …
ROLES = {INK: "ink", SOFT: "soft", LINE: "line", ZONE: "zone", PAPER: "paper", C_STRING: "c-string", F_STRING: "f-string",
         OTHER_STRING: "string", NOW: "now", FRESH: "fresh", **{colour: f"v-{verdict}" for verdict, colour in VERDICT_COLOURS.items()}}


@dataclass(frozen=True)
class Scale:
    """One axis: its ends, and where a line with a label goes."""

    low: float
    high: float
    ticks: Sequence[float] = ()
    labels: Sequence[str] = ()
    title: str = ""
    log: bool = False


UNIT = Scale(0.0, 1.0)


def new_figure(width: float, height: float) -> Figure:
    return Figure(figsize=(width / 72.0, height / 72.0), dpi=72, facecolor="none")


def plain_axes(figure: Figure, box: tuple[float, float, float, float], x: Scale = UNIT, y: Scale = UNIT) -> Axes:
    """Axes in `box` (left, bottom, width, height in units): pale lines at the ticks, labels outside, no frame."""
    return draw_scales(empty_axes(figure, box), x, y)


def empty_axes(figure: Figure, box: tuple[float, float, float, float]) -> Axes:
    width, height = figure.get_size_inches() * 72.0
    left, bottom, box_width, box_height = box
    axes = figure.add_axes((left / width, bottom / height, box_width / width, box_height / height))
    axes.set_axis_off()
    axes.set_autoscale_on(False)
    return axes


def draw_scales(axes: Axes, x: Scale, y: Scale) -> Axes:
    """Clear the axes and set their scales: quicker than new axes for each of a page's two hundred pictures."""
    for artist in (*axes.lines, *axes.collections, *axes.texts, *axes.patches):
        artist.remove()
    for scale, get, change in ((x, axes.get_xscale, axes.set_xscale), (y, axes.get_yscale, axes.set_yscale)):
        kind = "log" if scale.log else "linear"
        if get() != kind:
            change(kind)
    axes.set_xlim(x.low, x.high)
    axes.set_ylim(y.low, y.high)
    _draw_ticks(axes, x, y)
    return axes


def write(axes: Axes, at: tuple[float, float], text: str, offset: tuple[float, float] = (0, 0), *, in_box: bool = False, **how) -> None:
    """Write plain text, never mathematics, at a point of the axes' scales, or `in_box` of their box from (0, 0) to (1, 1), moved by
    `offset` units. `how` overrides the look."""
    look = {"color": SOFT, "fontsize": TEXT_SIZE, "parse_math": False, "clip_on": False}
    moved = ScaledTranslation(offset[0] / 72.0, offset[1] / 72.0, axes.figure.dpi_scale_trans)
    axes.text(*at, text, transform=(axes.transAxes if in_box else axes.transData) + moved, **(look | how))


def draw_mark(axes: Axes, verdict: str, x: Sequence[float], y: Sequence[float], *, share: float = 1.0) -> None:
    """The verdict's mark at each point, at a share of its usual size."""
    colour = VERDICT_COLOURS[verdict]
    face = PAPER if verdict in OPEN_MARKS else colour
    size = share * MARK_SIZES.get(verdict, 8.0)
    axes.plot(x, y, linestyle="none", marker=MARKERS[verdict], markersize=size, color=colour, markerfacecolor=face,
              markeredgecolor=colour, markeredgewidth=1.4 if verdict in (*OPEN_MARKS, "unheard") else 0.6, clip_on=False, label=verdict,
              zorder=4)


def draw_lines(axes: Axes, segments: Sequence, colour: str, *, width: float = 1.0, style="solid", label: str = "") -> None:
    """Line segments, each ((x0, y0), (x1, y1)), as one path, which halves the size of a page."""
    if len(segments):
        path = Path(np.reshape(segments, (-1, 2)), [Path.MOVETO, Path.LINETO] * len(segments))
        axes.add_artist(PathPatch(path, fill=False, edgecolor=colour, linewidth=width, linestyle=style, label=label, clip_on=False,
                                  zorder=2))


def nice_step(rough: float) -> float:
    """1, 2 or 5 times a power of ten, at least `rough`."""
    power = 10.0 ** math.floor(math.log10(rough))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= rough * (1 - 1e-9))


def name_lines(name: str, width: float) -> list[str]:
    """A name of any length, wrapped for bold text of HEAD_SIZE. U+2068 and U+2069 keep a right-to-left line from turning what follows."""
    lines = textwrap.wrap(name, int(width / (1.75 * LETTER)))
    return [f"\u2068{line}\u2069" if any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in line) else line for line in lines]


def _draw_ticks(axes: Axes, x: Scale, y: Scale) -> None:
    draw_lines(axes, [((x.low, tick), (x.high, tick)) for tick in y.ticks], LINE, width=0.7)
    for tick, label in zip(x.ticks, x.labels, strict=True):
        write(axes, (tick, y.low), label, (0, -4), ha="center", va="top")
    for tick, label in zip(y.ticks, y.labels, strict=True):
        write(axes, (x.low, tick), label, (-5, 0), ha="right", va="center")
    if x.title:
        write(axes, (1, 0), x.title, (0, -18), in_box=True, ha="right", va="top")
    if y.title:
        write(axes, (0, 1), y.title, (0, 7), in_box=True, ha="left", va="bottom")

"""A lane: how one figure of every string stands against fresh, in per cent, strings side by side."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from toneprobe import limits
from toneprobe.condition import VERDICTS
from toneprobe.measure.figure import Figure as Measured
from toneprobe.report.figures.look import OTHER_STRING, SOFT, ZONE, Scale, draw_lines, draw_mark
from toneprobe.report.string_view import StringView

FRESH_PERCENT = 100.0
NOTICED_PERCENT = 100.0 * limits.LEAST_RING_NOTICED
STEPS_PERCENT = (5, 10, 25, 50, 75, 100, 150, 200, 400, 800)
ENDS_PERCENT = (5.0, 1000.0)  # a change beyond is drawn at the edge


def percent_scale(changes: Sequence[Measured], title: str = "") -> Scale:
    """A logarithmic scale in per cent of fresh that holds all changes with their doubt, and 50 to 150 at least."""
    known = [(100.0 * change.value, 200.0 * (change.se or 0.0)) for change in changes if change.value is not None]
    low = max(ENDS_PERCENT[0], min([48.0, *(0.95 * (value - doubt) for value, doubt in known)]))
    high = min(ENDS_PERCENT[1], max([155.0, *(1.05 * (value + doubt) for value, doubt in known)]))
    ticks = [step for step in STEPS_PERCENT if low <= step <= high]
    return Scale(low, high, ticks, [f"{step} %" for step in ticks], title, log=True)


def draw_lane(axes: Axes, strings: Sequence[StringView], changes: Sequence[Measured], *, upright: bool = False) -> None:
    """The mark of each string at its change, over the zone that plucks alone make; `upright` puts them one below the other."""
    low, high = axes.get_xlim() if upright else axes.get_ylim()
    pairs = zip(strings, changes, strict=True)
    known = [(one.place, change) for one, change in pairs if change.value is not None and change.se is not None]
    _draw_plucks_alone(axes, [(place, *_zone(change, low, high)) for place, change in known], upright)
    for verdict in VERDICTS:
        points = [(one.place, clamped(100.0 * change.value, low, high))
                  for one, change in zip(strings, changes, strict=True) if one.verdict == verdict and change.value is not None]
        if points:
            places, values = zip(*points, strict=True)
            draw_mark(axes, verdict, *((values, places) if upright else (places, values)))


def draw_fresh(axes: Axes, *, upright: bool = False) -> None:
    """A line at 100 %."""
    low, high = axes.get_ylim() if upright else axes.get_xlim()
    ends = ((low, FRESH_PERCENT), (high, FRESH_PERCENT))
    draw_lines(axes, [tuple((y, x) for x, y in ends) if upright else ends], OTHER_STRING, width=0.8, label="fresh")


def draw_noticed(axes: Axes, *, upright: bool = False) -> None:
    """A broken line at the ring below which listeners notice."""
    low, high = axes.get_ylim() if upright else axes.get_xlim()
    ends = ((low, NOTICED_PERCENT), (high, NOTICED_PERCENT))
    draw_lines(axes, [tuple((y, x) for x, y in ends) if upright else ends], SOFT, width=0.8, style=(0, (4, 3)), label="noticed")


def clamped(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def _zone(change: Measured, low: float, high: float) -> tuple[float, float]:
    """What two standard errors either way make of a string as fresh: the error of a ratio grows with it."""
    share = math.exp(2.0 * change.se / change.value)
    return clamped(FRESH_PERCENT / share, low, high), clamped(FRESH_PERCENT * share, low, high)


def _draw_plucks_alone(axes: Axes, zones: Sequence[tuple[int, float, float]], upright: bool) -> None:
    """One shaded step for each string."""
    corners = [[(place - 0.5, low), (place + 0.5, low), (place + 0.5, high), (place - 0.5, high)] for place, low, high in zones]
    if upright:
        corners = [[(y, x) for x, y in box] for box in corners]
    if corners:
        axes.add_artist(PathPatch(Path.make_compound_path(*(Path([*box, box[0]], closed=True) for box in corners)), facecolor=ZONE,
                                  edgecolor="none", label="plucks alone", zorder=0))

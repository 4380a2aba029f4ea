"""A lane: how one figure of every string stands against fresh, in per cent, strings side by side."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from toneprobe.condition import VERDICTS
from toneprobe.measure.figure import Figure as Measured
from toneprobe.report.figures.look import BAND, VERDICT_COLOURS, Scale, draw_lines, draw_mark, write
from toneprobe.report.view import StringView

UNNOTICED_RING_PERCENT = (75.0, 140.0)  # Tolonen & Järveläinen, J. AES 49 (2001): −25 % to +40 % goes unnoticed
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
    """The mark of each string at its change, with a line over two standard errors either way; `upright` puts them one below the other."""
    low, high = axes.get_xlim() if upright else axes.get_ylim()
    for verdict in VERDICTS:
        points = [(one.place, clamped(100.0 * change.value, low, high), _bar(change, low, high))
                  for one, change in zip(strings, changes, strict=True) if one.verdict == verdict and change.value is not None]
        if points:
            _draw_points(axes, verdict, points, upright)


def draw_unnoticed(axes: Axes, *, upright: bool = False) -> None:
    """The band of changes in ring that go unnoticed, with its words."""
    low, high = UNNOTICED_RING_PERCENT
    span = axes.axvspan if upright else axes.axhspan
    span(low, high, facecolor=BAND, edgecolor="none", zorder=0)
    if not upright:
        write(axes, (1.0, 1.0), "shaded: a change that listeners miss", (0, 7), in_box=True, ha="right", va="bottom")


def clamped(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def _bar(change: Measured, low: float, high: float) -> tuple[float, float] | None:
    if change.se is None:
        return None
    doubt = 200.0 * change.se
    return clamped(100.0 * change.value - doubt, low, high), clamped(100.0 * change.value + doubt, low, high)


def _draw_points(axes: Axes, verdict: str, points: list, upright: bool) -> None:
    places, values, bars = zip(*points, strict=True)
    lines = [((place, bar[0]), (place, bar[1])) for place, bar in zip(places, bars, strict=True) if bar]
    if upright:
        lines = [tuple((y, x) for x, y in line) for line in lines]
    draw_lines(axes, lines, VERDICT_COLOURS[verdict], width=1.0)
    draw_mark(axes, verdict, *((values, places) if upright else (places, values)))

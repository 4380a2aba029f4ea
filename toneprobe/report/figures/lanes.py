"""A lane: one figure of every string against fresh, strings side by side.

Ring and brightness are in per cent of fresh, how far the partials have moved against each other (what makes a string false) in cents.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from toneprobe import limits
from toneprobe.condition import VERDICTS
from toneprobe.measure.figure import Figure as Measured
from toneprobe.report.figures.look import LINE_HEIGHT, OTHER_STRING, SOFT, ZONE, Scale, draw_lines, draw_mark, nice_step
from toneprobe.report.string_view import StringView

FRESH_PERCENT = 100.0
NOTICED_PERCENT = 100.0 * limits.LEAST_RING_NOTICED
STEPS_PERCENT = (100, 50, 25, 200, 400, 10, 5, 800, 75, 150)  # ticks, the most wanted first
LEAST_HEIGHT = 86.0  # of a picture with a scale in per cent, in units: one string's
ENDS_PERCENT = (5.0, 1000.0)  # a change beyond is drawn at the edge
LEAST_CENTS, MOST_CENTS = 5.0, 25.0  # reach of a scale in cents
FLOOR = 0.09  # of that below 0, so that marks at 0 stand clear of the names
NOTE = ("Shaded: what plucks alone make.", "A mark in the shade: no change.", "Beyond the broken line listeners notice.")
NOT_OF_CENTS = ("False within the broken line of cents:", "it wavers, or has another stiffness.")  # which no lane shows


@dataclass(frozen=True)
class Lane:
    """One figure and how it is drawn."""

    title: str
    short: str  # title where there is little room
    of: Callable[[StringView], Measured]
    value: Callable[[Measured], float]  # in the lane's unit
    zone: Callable[[Measured], tuple[float, float]]  # where plucks alone may put a string as fresh
    scale: Callable[[Sequence[Measured], str], Scale]
    fresh: float  # level of a line
    noticed: float | None  # level beyond which listeners notice; None where that is not known


def drawn_lanes(strings: Sequence[StringView]) -> tuple[Lane, ...]:
    """The lanes in which at least one string has a point."""
    return tuple(lane for lane in LANES if any(lane.of(one).known for one in strings))


def lanes_note(strings: Sequence[StringView]) -> tuple[str, ...]:
    """What shade and lines mean, in lines for a narrow picture; and why a string may be false whose partials keep their places."""
    is_elsewhere = any(one.verdict == "false" and one.astray.known and one.astray.value < limits.ASTRAY_NOTICED_CENTS for one in strings)
    return (*NOTE, *NOT_OF_CENTS) if is_elsewhere else NOTE


def percent_scale(changes: Sequence[Measured], title: str = "") -> Scale:
    """A logarithmic scale in per cent of fresh that holds all changes with two standard errors, and 50 to 150 at least."""
    known = [(100.0 * change.value, 100.0 * limits.ERRORS_TOLD * (change.se or 0.0)) for change in changes if change.value is not None]
    low = max(ENDS_PERCENT[0], min([48.0, *(0.95 * (value - doubt) for value, doubt in known)]))
    high = min(ENDS_PERCENT[1], max([155.0, *(1.05 * (value + doubt) for value, doubt in known)]))
    apart = math.log(high / low) * LINE_HEIGHT / LEAST_HEIGHT  # of two ticks, in the logarithm, so that their labels stand clear
    ticks: list[int] = []
    for step in STEPS_PERCENT:
        if low <= step <= high and all(abs(math.log(step / other)) >= apart for other in ticks):
            ticks.append(step)
    ticks.sort()
    return Scale(low, high, ticks, [f"{step} %" for step in ticks], title, log=True)


def cents_scale(changes: Sequence[Measured], title: str = "") -> Scale:
    """From 0 upwards; standard errors are not given room."""
    high = min(MOST_CENTS, max([LEAST_CENTS, *(1.15 * change.value for change in changes if change.value is not None)]))
    step = nice_step(high / 3.0)
    ticks = [step * k for k in range(math.floor(high / step) + 1)]
    return Scale(-FLOOR * high, high, ticks, [f"{tick:g}" for tick in ticks], title)


def draw_lane(axes: Axes, strings: Sequence[StringView], lane: Lane, *, upright: bool = False) -> None:
    """The mark of each string at its figure, over its shaded zone; `upright` puts the strings one below the other."""
    low, high = axes.get_xlim() if upright else axes.get_ylim()
    known = [(one, lane.of(one)) for one in strings if lane.of(one).known]
    zones = [(one.place, *(clamped(end, low, high) for end in lane.zone(figure))) for one, figure in known if figure.se is not None]
    _draw_plucks_alone(axes, zones, upright)
    _draw_level(axes, lane.fresh, OTHER_STRING, "solid", "fresh", upright)
    if lane.noticed is not None:
        _draw_level(axes, lane.noticed, SOFT, (0, (4, 3)), "noticed", upright)
    for verdict in VERDICTS:
        points = [(one.place, clamped(lane.value(figure), low, high)) for one, figure in known if one.verdict == verdict]
        if points:
            places, values = zip(*points, strict=True)
            draw_mark(axes, verdict, *((values, places) if upright else (places, values)))


def clamped(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def _draw_level(axes: Axes, level: float, colour: str, style, label: str, upright: bool) -> None:
    low, high = axes.get_ylim() if upright else axes.get_xlim()
    ends = ((low, level), (high, level))
    draw_lines(axes, [tuple((y, x) for x, y in ends) if upright else ends], colour, width=0.8, style=style, label=label)


def _percent(change: Measured) -> float:
    return 100.0 * change.value


def _percent_zone(change: Measured) -> tuple[float, float]:
    """Two standard errors either way of 100 %. The error of a ratio grows with the ratio, so the zone is even in the logarithm."""
    share = math.exp(limits.ERRORS_TOLD * change.se / change.value)
    return FRESH_PERCENT / share, FRESH_PERCENT * share


def _cents_zone(change: Measured) -> tuple[float, float]:
    """Up to two standard errors, which are those of an unchanged string; a distance is never below 0."""
    return 0.0, limits.ERRORS_TOLD * change.se


def _draw_plucks_alone(axes: Axes, zones: Sequence[tuple[int, float, float]], upright: bool) -> None:
    """One shaded step for each string."""
    corners = [[(place - 0.5, low), (place + 0.5, low), (place + 0.5, high), (place - 0.5, high)] for place, low, high in zones]
    if upright:
        corners = [[(y, x) for x, y in box] for box in corners]
    if corners:
        axes.add_artist(PathPatch(Path.make_compound_path(*(Path([*box, box[0]], closed=True) for box in corners)), facecolor=ZONE,
                                  edgecolor="none", label="plucks alone", zorder=0))


LANES = (
    Lane("Ring, in per cent of fresh", "Ring, %", lambda one: one.ring, _percent, _percent_zone, percent_scale, FRESH_PERCENT,
         NOTICED_PERCENT),
    Lane("Brightness, in per cent of fresh", "Bright, %", lambda one: one.brightness, _percent, _percent_zone, percent_scale, FRESH_PERCENT,
         None),
    Lane("Partials off their places, in cents", "Off, cents", lambda one: one.astray, lambda change: change.value, _cents_zone, cents_scale,
         0.0, limits.ASTRAY_NOTICED_CENTS),
)

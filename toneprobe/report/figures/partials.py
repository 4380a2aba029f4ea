"""One string's partials, now over fresh: how loud they start, how long they ring, how far they moved or lie off their places.

Fresh is an open ring, now a filled dot, on the same partial number.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from matplotlib.axes import Axes

from toneprobe.condition.verdict import MovedPartial
from toneprobe.report.figures.lanes import clamped
from toneprobe.report.figures.look import FRESH, NOW, PAPER, Scale, draw_lines, nice_step
from toneprobe.report.series import PartialPoint
from toneprobe.report.string_view import StringView

AxesMaker = Callable[[Scale, Scale], Axes]
Point = PartialPoint | MovedPartial


@dataclass(frozen=True)
class PartialFigure:
    """One figure of a partial."""

    value: Callable[[Point], float | None]
    error: Callable[[Point], float | None]  # two standard errors
    scale: Callable[[Sequence[float]], Scale]  # of all values with their error bars
    sides: Callable[[StringView], tuple[Sequence[Point], Sequence[Point]]] = lambda one: (one.fresh, one.now)


def draw_partials(axes_of: AxesMaker, one: StringView, figure: PartialFigure) -> Axes | None:
    """One figure, fresh and now, over the partial number, on axes that `axes_of` makes for the two scales."""
    fresh, now = figure.sides(one)
    points = [point for point in (*fresh, *now) if figure.value(point) is not None]
    if not points:
        return None
    reached = [figure.value(point) + way * (figure.error(point) or 0.0) for point in points for way in (-1.0, 1.0)]
    axes = axes_of(numbers_scale(points), figure.scale(reached))
    for label, drawn, colour, face, size in (("fresh", fresh, FRESH, PAPER, 8.0), ("now", now, NOW, NOW, 5.0)):
        known = [point for point in drawn if figure.value(point) is not None]
        draw_lines(axes, [_error_bar(point, figure, axes) for point in known if figure.error(point)], colour)
        axes.plot([point.n for point in known], [figure.value(point) for point in known], linestyle="none", marker="o", markersize=size,
                  color=colour, markerfacecolor=face, markeredgecolor=colour, markeredgewidth=1.5, label=label, clip_on=False, zorder=3)
    return axes


def levels_scale(values: Sequence[float]) -> Scale:
    low = min(-20.0, 20.0 * math.floor(min(values) / 20.0))
    high = max(2.0, max(values) + 1.0)
    ticks = list(range(int(low), 1, 20 if low >= -80 else 40))
    return Scale(low, high, ticks, [f"{tick}".replace("-", "−") for tick in ticks], "dB below the strongest")


def decays_scale(values: Sequence[float]) -> Scale:
    step = nice_step(max(values) / 3.0)
    ticks = [step * k for k in range(math.ceil(max(values) / step) + 1)]
    return Scale(0.0, max(ticks[-1], 1.05 * max(values)), ticks, [f"{tick:g}" for tick in ticks], "seconds to fade by 60 dB")


def draw_places(axes_of: AxesMaker, one: StringView) -> Axes | None:
    """How far the partials moved since fresh, or, where that is not known, how far off their places they lie."""
    return draw_partials(axes_of, one, MOVED if one.condition.partials_moved else ASTRAY)


def signed_cents_scale(values: Sequence[float], title: str) -> Scale:
    reach = max(5.0, 1.1 * max(map(abs, values)))
    step = nice_step(reach / 2.0)
    ticks = [step * k for k in range(-math.floor(reach / step), math.floor(reach / step) + 1)]
    return Scale(-reach, reach, ticks, [f"{tick:+g}".replace("-", "−") if tick else "0" for tick in ticks], title)


def numbers_scale(points: Sequence[Point]) -> Scale:
    last = max(point.n for point in points)
    step = 1 if last <= 8 else 2 if last <= 16 else 5 if last <= 40 else 10
    ticks = [1, *(n for n in range(step, last + 1, step) if n > 1)]
    return Scale(0.4, last + 0.6, ticks, [str(n) for n in ticks], "partial")


def _moved_sides(one: StringView) -> tuple[Sequence[MovedPartial], Sequence[MovedPartial]]:
    moved = one.condition.partials_moved.each
    return [MovedPartial(point.n, 0.0, 0.0) for point in moved], moved


def _error_bar(point: Point, figure: PartialFigure, axes: Axes) -> tuple[tuple[float, float], tuple[float, float]]:
    value, error, ends = figure.value(point), figure.error(point), axes.get_ylim()
    return (point.n, clamped(value - error, *ends)), (point.n, clamped(value + error, *ends))


LEVELS = PartialFigure(lambda point: point.level_db, lambda point: None, levels_scale)
DECAYS = PartialFigure(lambda point: point.t60_s, lambda point: 2.0 * point.t60_se_s if point.t60_se_s else None, decays_scale)
ASTRAY = PartialFigure(lambda point: point.astray_cents, lambda point: None, partial(signed_cents_scale, title="cents off their places"))
MOVED = PartialFigure(lambda point: point.cents, lambda point: 2.0 * point.se_cents if point.se_cents else None,
             partial(signed_cents_scale, title="cents since fresh"), _moved_sides)

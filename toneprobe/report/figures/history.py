"""One string over months: ring and brightness of each sweep in per cent of fresh, or the figure by which it is false or watched; and the
days on which a new string went on."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial

from matplotlib.axes import Axes

from toneprobe.days import MONTHS
from toneprobe.limits import ERRORS_TOLD
from toneprobe.measure.figure import Figure
from toneprobe.report.figures.lanes import cents_scale, clamped, percent_scale
from toneprobe.report.figures.look import INK, NOW, PAPER, SOFT, Scale, draw_lines
from toneprobe.report.figures.partials import AxesMaker
from toneprobe.report.series import HistoryPoint, decisive
from toneprobe.report.string_view import StringView

AXIS_WIDTH, LABEL_WIDTH = 218.0, 66.0  # units: a small picture's time axis, one month's label with its gap
SHORT_MONTH_DAYS = 28


def _from_nothing(changes: Sequence[Figure], title: str) -> Scale:
    """From 0 upwards, with room for the error bars."""
    return cents_scale([Figure(change.value + ERRORS_TOLD * (change.se or 0.0)) for change in changes if change.known], title)


@dataclass(frozen=True)
class Curve:
    """What is drawn: one figure as filled dots joined by a line, and maybe another as open squares."""

    line: Callable[[HistoryPoint], Figure]
    squares: Callable[[HistoryPoint], Figure] | None
    factor: float  # by which the figures are multiplied, 100 for per cent
    scale: Callable[[Sequence[Figure]], Scale]


CURVES = {  # by `series.decisive`
    "ring": Curve(lambda point: point.ring, lambda point: point.brightness, 100.0, partial(percent_scale, title="per cent of fresh")),
    "moved": Curve(lambda point: point.moved_cents, None, 1.0, partial(_from_nothing, title="cents since fresh")),
    "waver": Curve(lambda point: point.waver_db, None, 1.0, partial(_from_nothing, title="dB deeper than fresh")),
}


def draw_history(axes_of: AxesMaker, one: StringView) -> Axes | None:
    """Error bars are two standard errors either way; a break in the line is a new string."""
    curve = CURVES[decisive(one.own_history)]
    drawn = [curve.line, *([curve.squares] if curve.squares else [])]
    known = [point for point in one.history if any(figure_of(point).known for figure_of in drawn)]
    if not any(figure_of(point).known for figure_of in drawn for point in one.own_history):
        return None  # what went before it says nothing of the string that is on
    fitted = [fitting.fitted_on for fitting in one.fittings if fitting.fitted_on and known[0].date <= fitting.fitted_on <= known[-1].date]
    begin = known[0].date.replace(day=1)  # so that the first sweep's month has its label too
    axes = axes_of(days_scale(begin, known[-1].date, AXIS_WIDTH), curve.scale([figure_of(point) for point in known for figure_of in drawn]))
    low, high = axes.get_ylim()
    draw_lines(axes, [((day.toordinal(), low), (day.toordinal(), high)) for day in fitted], INK, style=(0, (3, 3)), label="new string")
    if curve.squares:
        _draw_dots(axes, _with_doubt(known, curve.squares, curve.factor), "brightness", linestyle="none", marker="s", color=SOFT,
                   markerfacecolor=PAPER, markeredgewidth=1.0, zorder=2)
    for fitting_id in dict.fromkeys(point.fitting_id for point in known):
        own = _with_doubt([point for point in known if point.fitting_id == fitting_id], curve.line, curve.factor)
        _draw_dots(axes, own, decisive(one.own_history), linewidth=1.2, marker="o", color=NOW, zorder=3)
    return axes


def days_scale(first: date, last: date, width: float) -> Scale:
    """Days as ordinals over `width` units, with ticks at the first of a month: as many as have room, four at most."""
    low, high = first.toordinal(), max(last.toordinal(), first.toordinal() + 1)
    margin = 0.03 * (high - low)
    label_days = LABEL_WIDTH / width * (high - low + 2 * margin)
    starts = _month_starts(first, last, label_days)
    days = [day for day in starts if high + margin - day.toordinal() >= label_days / 3] or [first]  # none beyond the right edge
    labels = [f"{MONTHS[day.month - 1][:3]} {day.year}" for day in days]
    return Scale(low - margin, high + margin, [day.toordinal() for day in days], labels)


def _month_starts(first: date, last: date, apart_days: float) -> list[date]:
    """First days of months, or of every second, third, …: four at most, and so far apart that labels of `apart_days` stand clear."""
    n_months = (last.year - first.year) * 12 + last.month - first.month
    starts = [date(first.year + (first.month - 1 + k) // 12, (first.month - 1 + k) % 12 + 1, 1) for k in range(n_months + 1)]
    starts = [day for day in starts if first - timedelta(days=1) <= day <= last]
    step = max(1, -(-len(starts) // 4), math.ceil(apart_days / SHORT_MONTH_DAYS) if len(starts) > 1 else 1)
    return starts[::step] or [first]


def _with_doubt(points: Sequence[HistoryPoint], figure_of: Callable[[HistoryPoint], Figure], factor: float
                ) -> list[tuple[int, float, float]]:
    """Day, value and two standard errors of each known figure, values and errors multiplied by the factor."""
    figures = [(point.date, figure_of(point)) for point in points]
    return [(day.toordinal(), factor * figure.value, factor * ERRORS_TOLD * (figure.se or 0.0)) for day, figure in figures if figure.known]


def _draw_dots(axes: Axes, known: Sequence[tuple[int, float, float]], label: str, **how) -> None:
    """Dots with their error bars, from `_with_doubt`, cut at the ends of the scale. how: their look."""
    low, high = axes.get_ylim()
    bars = [((day, clamped(value - doubt, low, high)), (day, clamped(value + doubt, low, high))) for day, value, doubt in known if doubt]
    draw_lines(axes, bars, how["color"], width=0.8)
    if known:
        axes.plot([day for day, *_ in known], [clamped(value, low, high) for _, value, _ in known], markersize=4.0, label=label,
                  clip_on=False, **how)

"""One string over months: ring and brightness of each sweep in per cent of fresh, and the days on which a new string went on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta

from matplotlib.axes import Axes

from toneprobe.condition.doubt_words import ERRORS_TOLD
from toneprobe.days import MONTHS
from toneprobe.measure.figure import Figure
from toneprobe.report.figures.lanes import clamped, percent_scale
from toneprobe.report.figures.look import INK, NOW, PAPER, SOFT, Scale, draw_lines
from toneprobe.report.figures.partials import AxesMaker
from toneprobe.report.series import HistoryPoint
from toneprobe.report.string_view import StringView

WIDE, MONTH_WORD, SHORT_MONTH_DAYS = 218.0, 66.0, 28  # units of a small picture's days, and of one label with its gap


def draw_history(axes_of: AxesMaker, one: StringView) -> Axes | None:
    """Filled dots joined by a line are ring, open squares brightness, both with two standard errors either way; a break in the line is a
    new string."""
    known = [point for point in one.history if point.ring.known or point.brightness.known]
    if not any(point.ring.known or point.brightness.known for point in one.own_history):
        return None  # what went before it says nothing of the string that is on
    changes = [change for point in known for change in (point.ring, point.brightness)]
    fitted = [fitting.fitted_on for fitting in one.fittings if fitting.fitted_on and known[0].date <= fitting.fitted_on <= known[-1].date]
    begin = known[0].date.replace(day=1)  # so that the first sweep's month has its label too
    axes = axes_of(days_scale(begin, known[-1].date, WIDE), percent_scale(changes, "per cent of fresh"))
    low, high = axes.get_ylim()
    draw_lines(axes, [((day.toordinal(), low), (day.toordinal(), high)) for day in fitted], INK, style=(0, (3, 3)), label="new string")
    _draw_brightness(axes, known)
    for fitting_id in dict.fromkeys(point.fitting_id for point in known):
        _draw_ring(axes, [point for point in known if point.fitting_id == fitting_id])
    return axes


def days_scale(first: date, last: date, wide: float) -> Scale:
    """Days as ordinals over so many units, a tick at the first of a month, as many as have room, four at most."""
    low, high = first.toordinal(), max(last.toordinal(), first.toordinal() + 1)
    margin = 0.03 * (high - low)
    word_days = MONTH_WORD / wide * (high - low + 2 * margin)
    starts = _month_starts(first, last, word_days)
    days = [day for day in starts if high + margin - day.toordinal() >= word_days / 3] or [first]  # none beyond the right edge
    labels = [f"{MONTHS[day.month - 1][:3]} {day.year}" for day in days]
    return Scale(low - margin, high + margin, [day.toordinal() for day in days], labels)


def _month_starts(first: date, last: date, apart_days: float) -> list[date]:
    n_months = (last.year - first.year) * 12 + last.month - first.month
    starts = [date(first.year + (first.month - 1 + k) // 12, (first.month - 1 + k) % 12 + 1, 1) for k in range(n_months + 1)]
    starts = [day for day in starts if first - timedelta(days=1) <= day <= last]
    step = max(1, -(-len(starts) // 4), math.ceil(apart_days / SHORT_MONTH_DAYS) if len(starts) > 1 else 1)
    return starts[::step] or [first]


def _percent(change: Figure) -> tuple[float, float]:
    """A ratio now/fresh and what stands after its ±, in per cent of fresh."""
    return 100.0 * change.value, 100.0 * ERRORS_TOLD * (change.se or 0.0)


def _draw_ring(axes: Axes, points: Sequence[HistoryPoint]) -> None:
    low, high = axes.get_ylim()
    known = [(point.date.toordinal(), *_percent(point.ring)) for point in points if point.ring.known]
    draw_lines(axes, _bars(known, low, high), NOW, width=0.8)
    axes.plot([day for day, *_ in known], [clamped(value, low, high) for _, value, _ in known], color=NOW, linewidth=1.2, marker="o",
              markersize=4.0, label="ring", clip_on=False, zorder=3)


def _draw_brightness(axes: Axes, points: Sequence[HistoryPoint]) -> None:
    low, high = axes.get_ylim()
    known = [(point.date.toordinal(), clamped(100.0 * point.brightness.value, low, high)) for point in points if point.brightness.known]
    doubts = [(point.date.toordinal(), *_percent(point.brightness)) for point in points if point.brightness.known]
    draw_lines(axes, _bars(doubts, low, high), SOFT, width=0.8)
    if known:
        axes.plot(*zip(*known, strict=True), linestyle="none", marker="s", markersize=4.0, color=SOFT, markerfacecolor=PAPER,
                  markeredgewidth=1.0, label="brightness", clip_on=False, zorder=2)


def _bars(known: Sequence[tuple[int, float, float]], low: float, high: float) -> list:
    """An upright piece for each day, its value and how far it may be off."""
    return [((day, clamped(value - doubt, low, high)), (day, clamped(value + doubt, low, high))) for day, value, doubt in known if doubt]

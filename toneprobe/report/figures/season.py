"""A season in one picture: a row for each string, a mark for each sweep, a bar where a new string went on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from toneprobe.condition import VERDICTS
from toneprobe.days import MONTHS, short_day
from toneprobe.report.figures.history import days_scale
from toneprobe.report.figures.key import ROW as KEY_ROW
from toneprobe.report.figures.key import draw_key, key_rows, marks_of, state_entries
from toneprobe.report.figures.look import INK, LETTER, Scale, draw_lines, draw_mark, new_figure, plain_axes
from toneprobe.report.glossary import FRESH
from toneprobe.report.season import SeasonView

WIDTH, ROW, LEFT, RIGHT, BOTTOM, TOP = 672.0, 15.0, 46.0, 36.0, 32.0, 12.0
GAP = 8.0  # between two labels
NARROW = 288.0  # as wide as a small phone, letters and marks as large


def season_picture(view: SeasonView) -> Figure:
    """672 units wide, 15 for each string; the highest string at the top."""
    return _picture(view, WIDTH)


def narrow_season_picture(view: SeasonView) -> Figure:
    """The same, 288 units wide."""
    return _picture(view, NARROW)


def _picture(view: SeasonView, width: float) -> Figure:
    """The key takes as many rows as it needs."""
    n_rows = max(len(view.strings), 1)
    states = {state for one in view.strings for _, state in one.verdicts}
    seen = [state for state in (*VERDICTS, FRESH) if state in states]
    key = key_rows(state_entries(seen), width - LEFT)
    tall, bottom = ROW * n_rows, BOTTOM + KEY_ROW * len(key)
    figure = new_figure(width, bottom + tall + TOP)
    ticks = list(range(len(view.strings)))
    rows = Scale(n_rows - 0.5, -0.5, ticks, [one.name for one in view.strings])
    axes = plain_axes(figure, (LEFT, bottom, width - LEFT - RIGHT, tall), _sweeps_scale(view, width - LEFT - RIGHT), rows)
    for state in (*VERDICTS, FRESH):
        points = [(day.toordinal(), place) for place, one in enumerate(view.strings) for day, found in one.verdicts if found == state]
        if points:
            _draw_state(axes, state, *zip(*points, strict=True))
    fitted = [(day.toordinal(), place) for place, one in enumerate(view.strings) for day in one.fitted_on]
    draw_lines(axes, [((day, place - 0.45), (day, place + 0.45)) for day, place in fitted], INK, width=3.0, label="new string")
    draw_key(figure, key, LEFT, 0)
    return figure


def _sweeps_scale(view: SeasonView, wide: float) -> Scale:
    """The season's days, labelled with those of its sweeps: the last and as many before it as have room. Without a sweep, its months."""
    scale = days_scale(view.first, view.last, wide)
    days = sorted({day for one in view.strings for day, _ in one.verdicts})
    if not days:
        return scale
    label = _day_label if len({day.year for day in days}) == 1 else lambda day: short_day(day).strip()
    apart = (LETTER * max(len(label(day)) for day in days) + GAP) * (scale.high - scale.low) / wide
    kept: list[date] = []
    for day in reversed(days):
        if not kept or kept[-1].toordinal() - day.toordinal() >= apart:
            kept.append(day)
    kept.reverse()
    return Scale(scale.low, scale.high, [day.toordinal() for day in kept], [label(day) for day in kept])


def _day_label(day: date) -> str:
    """ "8 Jun"."""
    return f"{day.day} {MONTHS[day.month - 1][:3]}"


def _draw_state(axes: Axes, state: str, x: Sequence[float], y: Sequence[float]) -> None:
    """A string without a verdict whose baseline the sweep is gets a dot into its circle."""
    for verdict in marks_of(state):
        draw_mark(axes, verdict, x, y)

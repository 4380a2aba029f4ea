"""A season in one picture: a row for each string, a mark for each sweep, a bar where a new string went on."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from toneprobe.condition import VERDICTS
from toneprobe.report.figures.harp import draw_legend
from toneprobe.report.figures.history import days_scale
from toneprobe.report.figures.look import INK, Scale, draw_lines, draw_mark, new_figure, plain_axes, write
from toneprobe.report.glossary import FRESH
from toneprobe.report.season import SeasonView

WIDTH, ROW, LEFT, BOTTOM, TOP = 700.0, 15.0, 46.0, 64.0, 12.0
NARROW = 350.0  # as wide as a phone, letters and marks as large
STEP, KEY_ROW = 72.0, 20.0  # of the key: nine words at most


def season_picture(view: SeasonView) -> Figure:
    """700 units wide, 15 for each string; the highest string at the top."""
    return _picture(view, WIDTH)


def narrow_season_picture(view: SeasonView) -> Figure:
    """The same, 350 units wide."""
    return _picture(view, NARROW)


def _picture(view: SeasonView, width: float) -> Figure:
    """The key takes as many rows as it needs."""
    n_rows = max(len(view.strings), 1)
    states = {state for one in view.strings for _, state in one.verdicts}
    seen = [state for state in (*VERDICTS, FRESH) if state in states]
    n_beside = int((width - LEFT) // STEP)
    key = [seen[k:k + n_beside] for k in range(0, len(seen), n_beside)]
    tall, bottom = ROW * n_rows, BOTTOM + KEY_ROW * (max(len(key), 1) - 1)
    figure = new_figure(width, bottom + tall + TOP)
    ticks = list(range(len(view.strings)))
    rows = Scale(n_rows - 0.5, -0.5, ticks, [one.name for one in view.strings])
    axes = plain_axes(figure, (LEFT, bottom, width - LEFT - 24, tall), days_scale(view.first, view.last), rows)
    for state in (*VERDICTS, FRESH):
        points = [(day.toordinal(), place) for place, one in enumerate(view.strings) for day, found in one.verdicts if found == state]
        if points:
            _draw_state(axes, state, *zip(*points, strict=True))
    fitted = [(day.toordinal(), place) for place, one in enumerate(view.strings) for day in one.fitted_on]
    draw_lines(axes, [((day, place - 0.45), (day, place + 0.45)) for day, place in fitted], INK, width=3.0, label="new string")
    for place, row in enumerate(reversed(key)):
        _draw_key(figure, row, 18.0 + KEY_ROW * place)
    return figure


def _draw_state(axes: Axes, state: str, x: Sequence[float], y: Sequence[float]) -> None:
    """A string without a verdict whose baseline the sweep is gets a dot into its circle."""
    for verdict in ("unrated", "sound") if state == FRESH else (state,):
        draw_mark(axes, verdict, x, y)


def _draw_key(figure: Figure, states: Sequence[str], bottom: float) -> None:
    """One row of the key; "fresh" is the last of its row."""
    seen = [state for state in states if state != FRESH]
    draw_legend(figure, seen, LEFT, bottom, step=STEP)
    if FRESH in states:
        box = (LEFT + STEP * len(seen), bottom - 8, STEP, 16)
        axes = plain_axes(figure, box, Scale(0, STEP, [], []), Scale(-1, 1, [], []))
        _draw_state(axes, FRESH, [6], [0])
        write(axes, (16, 0), FRESH, va="center", color=INK)

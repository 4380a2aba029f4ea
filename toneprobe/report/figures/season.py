"""A season in one picture: a row for each string, a mark for each sweep, a bar where a new string went on."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from toneprobe.condition import VERDICTS
from toneprobe.report.figures.harp import draw_legend
from toneprobe.report.figures.history import days_scale
from toneprobe.report.figures.look import INK, Scale, draw_lines, draw_mark, new_figure, plain_axes, write
from toneprobe.report.glossary import FRESH
from toneprobe.report.season import SeasonView

WIDTH, ROW, LEFT, BOTTOM, TOP = 700.0, 15.0, 46.0, 64.0, 12.0
STEP = 72.0  # of the key: nine words at most


def season_picture(view: SeasonView) -> Figure:
    """700 units wide, 15 for each string; the highest string at the top."""
    n_rows = max(len(view.strings), 1)
    tall = ROW * n_rows
    figure = new_figure(WIDTH, BOTTOM + tall + TOP)
    ticks = list(range(len(view.strings)))
    rows = Scale(n_rows - 0.5, -0.5, ticks, [one.name for one in view.strings])
    axes = plain_axes(figure, (LEFT, BOTTOM, WIDTH - LEFT - 24, tall), days_scale(view.first, view.last), rows)
    for state in (*VERDICTS, FRESH):
        points = [(day.toordinal(), place) for place, one in enumerate(view.strings) for day, found in one.verdicts if found == state]
        if points:
            _draw_state(axes, state, *zip(*points, strict=True))
    fitted = [(day.toordinal(), place) for place, one in enumerate(view.strings) for day in one.fitted_on]
    draw_lines(axes, [((day, place - 0.45), (day, place + 0.45)) for day, place in fitted], INK, width=3.0, label="new string")
    _draw_key(figure, {state for one in view.strings for _, state in one.verdicts})
    return figure


def _draw_state(axes: Axes, state: str, x: Sequence[float], y: Sequence[float]) -> None:
    """A string without a verdict whose baseline the sweep is gets a dot into its circle."""
    for verdict in ("unrated", "sound") if state == FRESH else (state,):
        draw_mark(axes, verdict, x, y)


def _draw_key(figure: Figure, states: Collection[str]) -> None:
    seen = [verdict for verdict in VERDICTS if verdict in states]
    draw_legend(figure, seen, LEFT, 18, step=STEP)
    if FRESH in states:
        box = (LEFT + STEP * len(seen), 10, STEP, 16)
        axes = plain_axes(figure, box, Scale(0, STEP, [], []), Scale(-1, 1, [], []))
        _draw_state(axes, FRESH, [6], [0])
        write(axes, (16, 0), FRESH, va="center", color=INK)

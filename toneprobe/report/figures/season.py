"""A season in one picture: a row for each string, a mark for each sweep, a bar where a new string went on."""

from __future__ import annotations

from matplotlib.figure import Figure

from toneprobe.condition import VERDICTS
from toneprobe.report.figures.harp import draw_legend
from toneprobe.report.figures.history import days_scale
from toneprobe.report.figures.look import INK, Scale, draw_lines, draw_mark, new_figure, plain_axes
from toneprobe.report.season import SeasonView

WIDTH, ROW, LEFT, BOTTOM, TOP = 700.0, 15.0, 46.0, 64.0, 12.0


def season_picture(view: SeasonView) -> Figure:
    """700 units wide, 15 for each string; the highest string at the top."""
    n_rows = max(len(view.strings), 1)
    tall = ROW * n_rows
    figure = new_figure(WIDTH, BOTTOM + tall + TOP)
    ticks = list(range(len(view.strings)))
    rows = Scale(n_rows - 0.5, -0.5, ticks, [one.name for one in view.strings])
    axes = plain_axes(figure, (LEFT, BOTTOM, WIDTH - LEFT - 24, tall), days_scale(view.first, view.last), rows)
    for verdict in VERDICTS:
        points = [(day.toordinal(), place) for place, one in enumerate(view.strings) for day, found in one.verdicts if found == verdict]
        if points:
            draw_mark(axes, verdict, *zip(*points, strict=True))
    fitted = [(day.toordinal(), place) for place, one in enumerate(view.strings) for day in one.fitted_on]
    draw_lines(axes, [((day, place - 0.45), (day, place + 0.45)) for day, place in fitted], INK, width=3.0, label="new string")
    draw_legend(figure, [verdict for verdict in VERDICTS if any(verdict == v for one in view.strings for _, v in one.verdicts)], LEFT, 18,
                step=78)
    return figure

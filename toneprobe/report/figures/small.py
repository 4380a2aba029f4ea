"""The small pictures of one string, drawn one after the other on one canvas: a page needs hundreds of them."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import matplotlib
from matplotlib.axes import Axes

from toneprobe.report.figures.history import draw_history
from toneprobe.report.figures.inline import svg_of
from toneprobe.report.figures.look import draw_scales, empty_axes, new_figure
from toneprobe.report.figures.partials import DECAYS, LEVELS, AxesMaker, draw_partials, draw_places
from toneprobe.report.figures.saving import SETTINGS
from toneprobe.report.string_view import StringView

WIDTH, HEIGHT = 270.0, 150.0  # as wide as a row of a small phone opens
BOX = (44.0, 36.0, 218.0, 86.0)
Drawer = Callable[[AxesMaker, StringView], Axes | None]
Sketcher = Callable[[StringView, str, str, str], str]

DRAWERS: dict[str, Drawer] = {  # each gives None where there is nothing to draw
    "levels": lambda axes_of, one: draw_partials(axes_of, one, LEVELS),  # of each partial at the onset, dB below the strongest
    "decays": lambda axes_of, one: draw_partials(axes_of, one, DECAYS),  # time in which each falls by 60 dB, two standard errors either way
    "astray": draw_places,  # how far each moved since fresh, two standard errors either way, or lies off the stiff-string series, cents
    "history": draw_history,  # over months: ring and brightness, or what called it false or watched
}


@contextmanager
def sketcher() -> Iterator[Sketcher]:
    """Within a `with`: a function (string, kind of `DRAWERS`, label, prefix) that gives SVG for a page, "" where there is nothing."""
    figure = new_figure(WIDTH, HEIGHT)
    axes = empty_axes(figure, BOX)

    def sketch(one: StringView, kind: str, label: str, prefix: str) -> str:
        drawn = DRAWERS[kind](lambda x, y: draw_scales(axes, x, y), one)
        return svg_of(figure, label, prefix) if drawn else ""

    with matplotlib.rc_context(SETTINGS):
        yield sketch

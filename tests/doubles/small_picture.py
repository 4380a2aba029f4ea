"""One small picture of a string as a figure of its own, to be looked at: pages draw all of theirs on one canvas."""

from toneprobe.report.figures.look import draw_scales, empty_axes, new_figure
from toneprobe.report.figures.small import BOX, DRAWERS, HEIGHT, WIDTH


def small_picture(one, kind):
    """`kind`: one of `DRAWERS`. None where there is nothing to draw."""
    figure = new_figure(WIDTH, HEIGHT)
    axes = empty_axes(figure, BOX)
    return figure if DRAWERS[kind](lambda x, y: draw_scales(axes, x, y), one) else None

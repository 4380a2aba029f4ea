"""One string on one sheet: its partials' levels, decays and distances from the series, and its history."""

from __future__ import annotations

from matplotlib.figure import Figure

from toneprobe.report.figures.look import INK, Scale, new_figure, plain_axes, write
from toneprobe.report.figures.small import BOX, DRAWERS, HEIGHT, WIDTH
from toneprobe.report.view import SweepView, find_string_view

CAPTIONS = {"levels": "How loud its partials start", "decays": "How long its partials ring", "astray": "How far they lie off their places",
            "history": "Over the months: ● ring, □ brightness"}
GAP, HEAD = 40.0, 46.0


def string_picture(view: SweepView, name: str) -> Figure:
    """Four small pictures of one string; UsageError where the harp has no such string. What cannot be drawn is said in its place."""
    one = find_string_view(view, name)
    figure = new_figure(2 * WIDTH, 2 * (HEIGHT + GAP) + HEAD)
    _write_head(figure, f"{view.harp}, string {one.title}, {view.day}: {one.word}    ○ fresh   ● now")
    for place, (kind, caption) in enumerate(CAPTIONS.items()):
        left, bottom = (place % 2) * WIDTH, (1 - place // 2) * (HEIGHT + GAP)
        _write_caption(figure, caption, left, bottom + HEIGHT)
        box = (left + BOX[0], bottom + BOX[1], *BOX[2:])
        if DRAWERS[kind](lambda x, y, box=box: plain_axes(figure, box, x, y), one) is None:
            _write_caption(figure, "Nothing was measured for this picture.", left, bottom + HEIGHT / 2, weight="normal")
    return figure


def _write_head(figure: Figure, text: str) -> None:
    _write_caption(figure, text, 0.0, 2 * (HEIGHT + GAP) + 8, fontsize=13)


def _write_caption(figure: Figure, text: str, left: float, bottom: float, *, weight: str = "bold", **how) -> None:
    axes = plain_axes(figure, (left + 8, bottom, WIDTH - 8, 20), Scale(0, 1, [], []), Scale(0, 1, [], []))
    write(axes, (0, 0.4), text, va="center", weight=weight, color=INK, **how)

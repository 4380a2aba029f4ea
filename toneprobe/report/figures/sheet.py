"""One string on one sheet: its partials' levels, decays and distances from the series, and its history."""

from matplotlib.figure import Figure

from toneprobe.report.figures.key import Entry, draw_key
from toneprobe.report.figures.look import FRESH, HEAD_SIZE, INK, NOW, PAPER, Scale, name_lines, new_figure, plain_axes, write
from toneprobe.report.figures.small import BOX, DRAWERS, HEIGHT, WIDTH
from toneprobe.report.picture_words import PICTURES
from toneprobe.report.view import SweepView, find_string_view

GAP, LINE, MARGIN = 36.0, 22.0, 8.0


def string_picture(view: SweepView, name: str) -> Figure:
    """Four small pictures of one string, or a sentence where there is nothing to draw. UsageError where the harp has no such string."""
    one = find_string_view(view, name)
    harp, below = name_lines(view.harp, 2 * WIDTH), 2 * (HEIGHT + GAP)
    figure = new_figure(2 * WIDTH + MARGIN, below + LINE * (len(harp) + 2) + MARGIN)
    for nth, line in enumerate(harp):
        _write_caption(figure, line, 0.0, below + LINE * (len(harp) + 1 - nth), fontsize=HEAD_SIZE)
    _write_caption(figure, f"String {one.title}, {view.day}", 0.0, below + LINE)
    draw_key(figure, [[Entry(one.word, (one.verdict,))]], MARGIN, below)
    _draw_now_and_fresh(figure, MARGIN + 110, below)
    for place, (kind, (title_of, _)) in enumerate(PICTURES.items()):
        left, bottom = (place % 2) * WIDTH, (1 - place // 2) * (HEIGHT + GAP)
        _write_caption(figure, title_of(one), left, bottom + HEIGHT)
        box = (left + BOX[0], bottom + BOX[1], *BOX[2:])
        if DRAWERS[kind](lambda x, y, box=box: plain_axes(figure, box, x, y), one) is None:
            _write_caption(figure, "Nothing was measured for this picture.", left, bottom + HEIGHT / 2, weight="normal")
    return figure


def _draw_now_and_fresh(figure: Figure, left: float, bottom: float) -> None:
    """The marks of a partial, as in `partials`."""
    axes = plain_axes(figure, (left, bottom, WIDTH, 20), Scale(0, WIDTH), Scale(0, 20))
    for x, word, colour, face, size in ((5, "fresh", FRESH, PAPER, 8.0), (75, "now", NOW, NOW, 6.0)):
        axes.plot([x], [10], linestyle="none", marker="o", markersize=size, color=colour, markerfacecolor=face, markeredgecolor=colour,
                  markeredgewidth=1.5, label=word)
        write(axes, (x + 11, 10), word, va="center", color=INK)


def _write_caption(figure: Figure, text: str, left: float, bottom: float, *, weight: str = "bold", **how) -> None:
    write(plain_axes(figure, (left + MARGIN, bottom, WIDTH - MARGIN, 20)), (0, 0.4), text, va="center", weight=weight, color=INK, **how)

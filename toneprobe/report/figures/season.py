"""A season in one picture: a row for each string, a mark for each sweep, a bar where a new string went on."""

from datetime import date

from matplotlib.figure import Figure

from toneprobe.condition import VERDICTS
from toneprobe.days import short_day
from toneprobe.report.figures.history import days_scale
from toneprobe.report.figures.key import ROW as KEY_ROW
from toneprobe.report.figures.key import Entry, draw_key, key_rows, marks_of
from toneprobe.report.figures.look import INK, LETTER, Scale, draw_lines, draw_mark, new_figure, plain_axes
from toneprobe.report.glossary import FRESH, verdict_word
from toneprobe.report.season import SeasonView

ROW, LEFT, RIGHT, BOTTOM, TOP = 15.0, 46.0, 36.0, 32.0, 12.0
GAP = 8.0  # between two labels


def season_picture(view: SeasonView, width: float) -> Figure:
    """The highest string at the top, 15 units for each; as many rows of the key as `width` needs."""
    states = {state for one in view.strings for _, state in one.verdicts}
    seen = [state for state in (*VERDICTS, FRESH) if state in states]
    key = key_rows([Entry(verdict_word(state), marks_of(state)) for state in seen], width - LEFT)
    height, bottom = ROW * len(view.strings), BOTTOM + KEY_ROW * len(key)
    figure = new_figure(width, bottom + height + TOP)
    rows = Scale(len(view.strings) - 0.5, -0.5, range(len(view.strings)), [one.name for one in view.strings])
    axes = plain_axes(figure, (LEFT, bottom, width - LEFT - RIGHT, height), _sweeps_scale(view, width - LEFT - RIGHT), rows)
    for state in seen:
        points = [(day.toordinal(), place) for place, one in enumerate(view.strings) for day, found in one.verdicts if found == state]
        for verdict in marks_of(state):
            draw_mark(axes, verdict, *zip(*points, strict=True))
    fitted = [(day.toordinal(), place) for place, one in enumerate(view.strings) for day in one.fitted_on]
    draw_lines(axes, [((day, place - 0.45), (day, place + 0.45)) for day, place in fitted], INK, width=3.0, label="new string")
    draw_key(figure, key, LEFT, 0)
    return figure


def _sweeps_scale(view: SeasonView, width: float) -> Scale:
    """The season's days, labelled at its sweeps: the last and as many before it as have room. Without a sweep, at its months."""
    scale = days_scale(view.first, view.last, width)
    days = sorted({day for one in view.strings for day, _ in one.verdicts})
    if not days:
        return scale
    labels = {day: short_day(day).strip() for day in days}
    if len({day.year for day in days}) == 1:
        labels = {day: label.rpartition(" ")[0] for day, label in labels.items()}  # "8 Jun"
    apart = (LETTER * max(map(len, labels.values())) + GAP) * (scale.high - scale.low) / width
    kept: list[date] = []
    for day in reversed(days):
        if not kept or kept[-1].toordinal() - day.toordinal() >= apart:
            kept.append(day)
    kept.reverse()
    return Scale(scale.low, scale.high, [day.toordinal() for day in kept], [labels[day] for day in kept])

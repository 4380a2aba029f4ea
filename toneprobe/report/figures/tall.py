"""How every string stands against fresh, for a narrow screen: strings one below the other from the top of the harp down."""

import math

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from toneprobe.report.figures.key import ROW as KEY_ROW
from toneprobe.report.figures.key import draw_key, key_rows, mark_entries
from toneprobe.report.figures.lanes import draw_lane, drawn_lanes, lanes_note
from toneprobe.report.figures.look import INK, LINE_HEIGHT, VERDICT_COLOURS, Scale, draw_mark, new_figure, plain_axes, write
from toneprobe.report.figures.strings import NARROW, name_look
from toneprobe.report.glossary import NEEDS_ATTENTION
from toneprobe.report.string_view import StringView
from toneprobe.report.view import SweepView

ROW = 15.0  # for each string
TOP, BELOW, LEFT, GAP = 40.0, 24.0, 76.0, 12.0  # over and below the rows; left of the lanes; between two lanes
CLEAR = 26.0  # between the middles of two labels


def tall_lanes_picture(view: SweepView) -> Figure | None:
    """288 units wide, 15 for each string; None where no string can be compared."""
    strings, lanes = view.strings, drawn_lanes(view.strings)
    if not lanes:
        return None
    key = key_rows(mark_entries(strings), NARROW.width)
    note = lanes_note(strings)
    bottom = BELOW + LINE_HEIGHT * len(note) + 8 + KEY_ROW * len(key)
    height, lane_width = ROW * len(strings), (NARROW.width - LEFT) / len(lanes) - GAP
    figure = new_figure(NARROW.width, bottom + height + TOP)
    rows = Scale(len(strings) - 0.5, -0.5)
    _write_names(plain_axes(figure, (26, bottom, 10, height), y=rows), strings)
    for nth, lane in enumerate(lanes):
        scale = _with_clear_ticks(lane.scale([lane.of(one) for one in strings], ""), lane_width)
        axes = plain_axes(figure, (LEFT + nth * (lane_width + GAP) + 0.5 * GAP, bottom, lane_width, height), scale, rows)
        _draw_head(axes, scale, lane.short)
        draw_lane(axes, strings, lane, upright=True)
    axes = plain_axes(figure, (4, bottom - BELOW, NARROW.width - 4, 1))
    for line, text in enumerate(note):
        write(axes, (0, 1), text, (0, -LINE_HEIGHT * line), in_box=True, va="top")
    draw_key(figure, key, 4, 0)
    return figure


def _with_clear_ticks(scale: Scale, width: float) -> Scale:
    """Only ticks whose labels do not meet, those nearest to fresh first. Without "%", which the title has."""
    along = math.log if scale.log else float
    unit = width / (along(scale.high) - along(scale.low))
    kept: list[float] = []
    for tick in sorted(scale.ticks, key=lambda tick: abs(math.log(tick / 100.0)) if scale.log else tick):
        if all(abs(along(tick) - along(other)) * unit >= CLEAR for other in kept):
            kept.append(tick)
    return Scale(scale.low, scale.high, sorted(kept), [f"{tick:g}" for tick in sorted(kept)], log=scale.log)


def _draw_head(axes: Axes, scale: Scale, title: str) -> None:
    """Title and, as the picture is long, the ticks once more."""
    write(axes, (0.5, 1), title, (0, 20), in_box=True, color=INK, ha="center")
    for tick, label in zip(scale.ticks, scale.labels, strict=True):
        write(axes, (tick, axes.get_ylim()[1]), label, (0, 4), ha="center", va="bottom")


def _write_names(axes: Axes, strings: tuple[StringView, ...]) -> None:
    """Each string's name; beside it the verdict in words where it needs attention, the mark alone where it is not judged."""
    for one in strings:
        write(axes, (0, one.place), one.name, (-2, 0), ha="right", va="center", **name_look(one))
        if one.verdict in NEEDS_ATTENTION:
            write(axes, (0, one.place), one.word, (5, 0), va="center", color=VERDICT_COLOURS[one.verdict])
        elif one.verdict != "sound":
            draw_mark(axes, one.verdict, [1.0], [one.place])

"""The harp itself: every string in its place, those that need attention drawn so that they are seen first.

Long strings stand left as on a keyboard, at their own length on a sloping soundboard; an unknown length is that of a usual scale, for the
picture only. A fine string is a thin line, red for C and dark for F as on the harp. One that needs attention is thick, with its name and
verdict at its head, in the colour of the verdict: a dead string is a bar, a false one a wave, one to watch a broken bar.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from scipy.optimize import isotonic_regression

from toneprobe.report.attention import worst_first
from toneprobe.report.figures import look
from toneprobe.report.glossary import FRESH, NEEDS_ATTENTION
from toneprobe.report.string_view import StringView

# A usual concert-harp scale, published, second hand: pitch in Hz against length in mm.
USUAL_SCALE = ((32.7, 1515.0), (65.4, 1379.0), (130.8, 1055.0), (261.6, 571.0), (523.3, 328.0), (1046.5, 192.0), (2093.0, 101.0),
               (3136.0, 60.6))
BOARD_MM_PER_STRING = 25.0  # rise of the soundboard from string to string, as the scale above needs for a neck that dips in the middle
STRING_LOOKS = {"C": (look.C_STRING, 1.4), "F": (look.F_STRING, 1.4)}
THICK = {"dead": 4.6, "false": 2.6, "watch": 3.6}
WAVE, SWING = 13.0, 3.2  # of a false string: length of a wave and how far it swings, in units
BROKEN, DOTTED = (0, (2.0, 0.9)), (0, (1, 4))  # a string to watch, one that was not heard
FEET, CLEAR = 22.0, 11.0  # below the lowest foot, between a head and its label


@dataclass(frozen=True)
class Layout:
    """How large the harp is drawn, in units."""

    width: float
    height: float  # from the lowest foot to the highest head
    share: float  # of the usual thickness
    names_all: bool  # also strings without a verdict get labels at their heads
    left: float = 16.0  # beside the outer strings
    right: float = 16.0


WIDE = Layout(1024.0, 330.0, 1.0, names_all=True)
MIDDLE = Layout(672.0, 290.0, 0.85, names_all=False)
NARROW = Layout(288.0, 190.0, 0.7, names_all=False)


@dataclass(frozen=True)
class PlacedString:
    """One string in its place, in units from the lower left corner."""

    string: StringView
    x: float
    foot: float
    head: float


@dataclass(frozen=True)
class Label:
    """Text that is written upwards over a string's head, at `x`, from `low`."""

    placed: PlacedString
    text: str
    x: float
    low: float


@dataclass(frozen=True)
class HarpDrawing:
    """All that is drawn of the harp, and its height."""

    placed: tuple[PlacedString, ...]
    labels: tuple[Label, ...]
    usual: str  # the verdict of more than half of the strings, "sound" where there is none: these carry no name
    height: float

    def is_plain(self, verdict: str) -> bool:
        """Whether its strings carry no mark: fine strings, and those whose baseline the sweep is where they are the most. A harp that was
        not judged must not look like a healthy one."""
        if verdict == "sound":
            return True
        return verdict == self.usual and all(one.string.state == FRESH for one in self.placed if one.string.verdict == verdict)


def drawing_of(strings: Sequence[StringView], layout: Layout) -> HarpDrawing:
    """Every string in its place, from the lowest foot at FEET upwards."""
    placed = _placed(strings, layout)
    most, number = Counter(one.verdict for one in strings).most_common(1)[0]
    usual = most if 2 * number > len(strings) and most not in NEEDS_ATTENTION else "sound"
    labels = _labels(placed, layout, usual)
    height = max([FEET + layout.height, *(one.low + look.LETTER * len(one.text) for one in labels)]) + 8.0
    return HarpDrawing(placed, labels, usual, height)


def draw_harp(axes: Axes, harp: HarpDrawing, layout: Layout) -> None:
    """The harp on axes whose scales are units from their lower left corner."""
    for label, ends in (("soundboard", [(one.x, one.foot) for one in harp.placed]), ("neck", [(one.x, one.head) for one in harp.placed])):
        axes.plot(*np.transpose(ends), color=look.SOFT, linewidth=2.2 * layout.share, solid_capstyle="round", label=label)
    quiet = [one for one in harp.placed if one.string.verdict not in NEEDS_ATTENTION]
    for letter in ("C", "F", ""):
        of_letter = [one for one in quiet if (one.string.letter if one.string.letter in STRING_LOOKS else "") == letter]
        _draw_quiet(axes, letter, of_letter, layout)
    for one in harp.placed:
        if one.string.verdict in NEEDS_ATTENTION:
            draw_thick(axes, one.string.verdict, (one.x, one.foot), (one.x, one.head), layout.share)
        if not harp.is_plain(one.string.verdict):
            look.draw_mark(axes, one.string.verdict, [one.x], [one.head], share=max(layout.share, 0.8))
    for one in _named_at_foot(harp.placed):
        look.write(axes, (one.x, one.foot), one.string.name, (0, -5), ha="center", va="top", color=_name_colour(one.string))
    for label in harp.labels:
        _write_label(axes, label)


def _named_at_foot(placed: Sequence[PlacedString]) -> list[PlacedString]:
    """C and F of a harp, all strings of other instruments, as far as their names stand clear of each other."""
    named: list[PlacedString] = []
    for one in sorted(placed, key=lambda one: one.x):
        is_wanted = one.string.letter in STRING_LOOKS or not one.string.letter
        if is_wanted and (not named or one.x - named[-1].x
                          >= 2.0 + 0.5 * look.LETTER * (len(one.string.name) + len(named[-1].string.name))):
            named.append(one)
    return named


def draw_thick(axes: Axes, verdict: str, start: tuple[float, float], end: tuple[float, float], share: float = 1.0) -> None:
    """A line in the pattern of that verdict."""
    colour, width = look.VERDICT_COLOURS[verdict], share * THICK[verdict]
    points = _wave(start, end, share) if verdict == "false" else np.array([start, end])
    axes.plot(*points.T, color=colour, linewidth=width, linestyle=BROKEN if verdict == "watch" else "solid", dash_capstyle="butt",
              solid_capstyle="butt", label=f"{verdict} strings", clip_on=False, zorder=3)


def _name_colour(one: StringView) -> str:
    """C red, F dark, as the strings are."""
    return STRING_LOOKS[one.letter][0] if one.letter in STRING_LOOKS else look.SOFT


def name_look(one: StringView) -> dict[str, str]:
    """How a string's name is written beside its marks: in the colour of its verdict where it needs attention."""
    if one.verdict in NEEDS_ATTENTION:
        return {"color": look.VERDICT_COLOURS[one.verdict], "weight": "bold"}
    return {"color": _name_colour(one), "weight": "normal"}


def drawn_length_mm(one: StringView) -> float:
    """The string's length, or that of a usual harp at its pitch."""
    if one.spec.length_mm:
        return one.spec.length_mm
    freq_hz, length_mm = np.transpose(USUAL_SCALE)
    return float(np.interp(np.log(one.spec.expected_hz), np.log(freq_hz), length_mm))


def spread(wanted: Sequence[float], apart: float, ends: tuple[float, float]) -> list[float]:
    """The places nearest to those wanted, in their order, at least `apart` from each other and within the ends."""
    steps = apart * np.arange(len(wanted))
    free = isotonic_regression(np.asarray(wanted) - steps).x
    return list(np.clip(free, ends[0], ends[1] - steps[-1]) + steps) if len(wanted) else []


def _placed(strings: Sequence[StringView], layout: Layout) -> tuple[PlacedString, ...]:
    """The board of a small harp is steeper in proportion, so that its neck keeps its shape."""
    n = len(strings)
    rise_mm = BOARD_MM_PER_STRING * min(1.0, n / 47.0)
    feet_mm = [rise_mm * (n - 1 - one.place) for one in strings]
    heads_mm = [foot + drawn_length_mm(one) for foot, one in zip(feet_mm, strings, strict=True)]
    unit = layout.height / max(heads_mm)
    step = (layout.width - layout.left - layout.right) / max(n - 1, 1)
    return tuple(PlacedString(one, layout.left + step * (n - 1 - one.place), FEET + unit * foot, FEET + unit * head)
                 for one, foot, head in zip(strings, feet_mm, heads_mm, strict=True))


def _labels(placed: Sequence[PlacedString], layout: Layout, usual: str) -> tuple[Label, ...]:
    """Those that need attention first, as many as have room; they stand clear of each other and of the neck."""
    by_place = {one.string.place: one for one in placed}
    pressing = [by_place[one.place] for one in worst_first([one.string for one in placed])]
    others = [one for one in placed if layout.names_all and one.string.verdict not in (*NEEDS_ATTENTION, "sound", usual)]
    ends = (0.5 * look.LINE_HEIGHT, layout.width - 0.5 * look.LINE_HEIGHT)
    n_fit = int((ends[1] - ends[0]) / look.LINE_HEIGHT) + 1
    chosen = sorted([*pressing, *others][:n_fit], key=lambda one: one.x)
    neck = sorted((one.x, one.head) for one in placed)
    return tuple(Label(one, f"{one.string.name} {one.string.word}", x, _above(neck, x, one) + CLEAR)
                 for one, x in zip(chosen, spread([one.x for one in chosen], look.LINE_HEIGHT, ends), strict=True))


def _above(neck: Sequence[tuple[float, float]], x: float, own: PlacedString) -> float:
    """The neck at its highest under a label at x."""
    beside = np.interp([x - 0.5 * look.LINE_HEIGHT, x, x + 0.5 * look.LINE_HEIGHT], *np.transpose(neck))
    return max(own.head, *beside) if abs(x - own.x) > 1.0 else own.head


def _write_label(axes: Axes, label: Label) -> None:
    """The text, with a line that leads to it where it stands aside of its string."""
    verdict = label.placed.string.verdict
    colour = look.VERDICT_COLOURS[verdict]
    if abs(label.x - label.placed.x) > 1.0:
        look.draw_lines(axes, [((label.placed.x, label.placed.head + 4), (label.x, label.low - 2))], colour, width=0.8, label="leader")
    look.write(axes, (label.x, label.low), label.text, ha="center", va="bottom", rotation=90, color=colour,
               weight="bold" if verdict in NEEDS_ATTENTION else "normal")


def _draw_quiet(axes: Axes, letter: str, placed: Sequence[PlacedString], layout: Layout) -> None:
    colour, width = STRING_LOOKS.get(letter, (look.OTHER_STRING, 1.0))
    for is_heard, style in ((True, "solid"), (False, DOTTED)):
        lines = [((one.x, one.foot), (one.x, one.head)) for one in placed if (one.string.verdict != "unheard") == is_heard]
        label = f"{letter or 'other'} strings{'' if is_heard else ', unheard'}"
        look.draw_lines(axes, lines, colour, width=width * layout.share, style=style, label=label)


def _wave(start: tuple[float, float], end: tuple[float, float], share: float) -> np.ndarray:
    """A whole number of half waves from start to end, swinging across."""
    start, end = np.array(start), np.array(end)
    along = end - start
    long = float(np.hypot(*along))
    n_halves = max(2, round(2.0 * long / (WAVE * share)))
    t = np.linspace(0.0, 1.0, 6 * n_halves + 1)
    across = np.array([-along[1], along[0]]) / max(long, 1e-9)
    return start + t[:, None] * along + SWING * share * np.sin(np.pi * n_halves * t)[:, None] * across

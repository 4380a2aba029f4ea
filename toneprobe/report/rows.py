"""The figures of one string as lines of a table: its name, now, fresh, the change. Text, with the reason where there is no figure.

The changes that the verdict rests on (ring, brightness, places and wavering of the partials) have lines of their own; similar figures
of one sweep alone have other names and no change. After ± stand two standard errors.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from toneprobe.condition import Condition
from toneprobe.condition.doubt_words import is_too_wide, why_unmeasured
from toneprobe.condition.verdict import CONDEMNING
from toneprobe.limits import ERRORS_TOLD
from toneprobe.measure.figure import Figure
from toneprobe.report.series import UNKNOWN, highs_change, ratio
from toneprobe.report.words import percent_text, plain_reason, signed


@dataclass(frozen=True)
class FigureRow:
    key: str  # of measure.figure.FIGURES, or "ring", "highs", "brightness", "moved" or "waver" for the change of these
    label: str  # with the unit, "Ring (s)"
    meaning: str  # for a reader who does not know the figure
    now: str
    fresh: str
    change: str
    why: str  # the reason, where the figure now is missing


def figure_rows(condition: Condition, ring: Figure, brightness: Figure) -> tuple[FigureRow, ...]:
    """First what is judged: the changes of ring, its upper partials and brightness, as ratios now/fresh, and of the partials. Then every
    figure that this sweep or the baseline has, in the order in which players ask for them."""
    known = [kind for kind in KINDS if kind.key in condition.figures or kind.key in condition.fresh]
    return (*_judged_changes(condition, ring, brightness), *(_row(kind, condition) for kind in known))


def _judged_changes(condition: Condition, ring: Figure, brightness: Figure) -> list[FigureRow]:
    if not condition.fresh:
        return []
    told = [("ring", "Ring against fresh", "each partial against the same partial when fresh: this is what is judged first", ring)]
    if (high := highs_change(condition)) is not None:
        told.append(("highs", "Ring of the upper partials", "the same for the upper half, which carries the colour", high))
    told.append(("brightness", "Brightness against fresh",
                 "partial by partial, without what all strings share, as from another microphone", brightness))
    return [*(_change_row(key, label, meaning, change, percent_text(change)) for key, label, meaning, change in told),
            *_partial_changes(condition)]


def _partial_changes(condition: Condition) -> Iterator[FigureRow]:
    """The two changes that make a string false, where the sweep was stored with them."""
    for key, names, label, meaning in (
            ("moved", ("moved_cents", "astray_cents"), "Partials moved since fresh (cents)",
             "each partial against itself when fresh: this is judged"),
            ("waver", ("waver_db", "beat_db"), "Partials waver together (dB)",
             "how much deeper than fresh several of them swell and fade at once: this is judged")):
        change = next((condition.changes[name] for name in names if name in condition.changes), None)
        if change is None:
            continue
        if change.known and is_too_wide(change.se or 0.0, names[-1]) and condition.verdict not in CONDEMNING:
            change = Figure(None, reason=why_unmeasured(condition.n_plucks))
        doubt = f" ± {max(0.1, ERRORS_TOLD * change.se):.1f}" if change.known and change.se is not None else ""
        yield _change_row(key, label, meaning, change, f"{max(0.0, change.value):.1f}{doubt}" if change.known else "–")


def _change_row(key: str, label: str, meaning: str, change: Figure, text: str) -> FigureRow:
    return FigureRow(key, label, meaning, "", "", text, "" if change.known else plain_reason(change.reason or ""))


@dataclass(frozen=True)
class _Kind:
    key: str
    label: str  # with the unit, "Ring (s)"
    meaning: str
    show: Callable[[float], str]
    show_se: Callable[[float], str] | None  # None: without ±
    unit: str
    change: Callable[[_Kind, Figure, Figure], str]
    is_magnitude: bool = False  # cannot be negative: a figure smaller than its ± says nothing


def _row(kind: _Kind, condition: Condition) -> FigureRow:
    now, fresh = (_unless_in_doubt(kind, figures.get(kind.key, UNKNOWN)) for figures in (condition.figures, condition.fresh))
    why = "" if now.known else plain_reason(now.reason or "not measured")
    label = f"{kind.label} ({kind.unit})" if kind.unit else kind.label
    return FigureRow(kind.key, label, kind.meaning, _shown(kind, now), _shown(kind, fresh), kind.change(kind, now, fresh), why)


def _unless_in_doubt(kind: _Kind, figure: Figure) -> Figure:
    """The figure, or a reason in its place where its ± is larger than itself."""
    if kind.is_magnitude and figure.known and figure.se is not None and ERRORS_TOLD * figure.se > figure.value:
        return Figure(None, reason="it may be off by more than itself")
    return figure


def _shown(kind: _Kind, figure: Figure) -> str:
    if figure.value is None:
        return "–"
    value = kind.show(figure.value)
    if kind.show_se is None or figure.se is None:
        return value
    doubt, places = ERRORS_TOLD * figure.se, len(value.partition(".")[2])
    text = kind.show_se(doubt)
    if len(text.partition(".")[2]) > places:  # no more places than the value has, and never 0
        text = f"{max(doubt, 10.0 ** -places):.{places}f}"
    return f"{value} ± {text}"


def _in_percent(kind: _Kind, now: Figure, fresh: Figure) -> str:
    return percent_text(ratio(now, fresh))


def _difference(kind: _Kind, now: Figure, fresh: Figure) -> str:
    if now.value is None or fresh.value is None:
        return "–"
    difference = now.value - fresh.value
    shown = kind.show(abs(difference)).lstrip("+−")
    return shown if float(shown) == 0 else f"{'+' if difference > 0 else '−'}{shown}"


def _not_compared(kind: _Kind, now: Figure, fresh: Figure) -> str:
    """No change here: a line of its own has it, partial by partial."""
    return ""


def _fixed(digits: int) -> Callable[[float], str]:
    return lambda value: f"{value:.{digits}f}"


def _with_sign(value: float) -> str:
    return signed(value, 1)


def _three_figures(value: float) -> str:
    return f"{value:.2f}" if abs(value) < 10 else f"{value:.1f}"


def _ten_thousandths(value: float) -> str:
    return f"{1e4 * value:.2f}"


KINDS = (
    _Kind("t60_s", "Decay time", "in which the sound falls by 60 dB, by the partials loudest in each sweep; when fresh these may be "
          "others, so the comparison above is what counts",
          _three_figures, _fixed(2), "s", _not_compared, is_magnitude=True),
    _Kind("centroid_partials_hz", "Brightness", "mean frequency of its partials, weighed by their power", _fixed(0), _fixed(0), "Hz",
          _not_compared, is_magnitude=True),
    _Kind("centroid_hz", "Brightness, whole sound", "mean frequency of the first quarter of a second; the hand and the room are in it too, "
          "so the brightness against fresh is what counts",
          _fixed(0), _fixed(0), "Hz", _not_compared, is_magnitude=True),
    _Kind("centroid_ratio", "Brightness over pitch", "the same as a multiple of the pitch", _three_figures, _fixed(2), "",
          _not_compared, is_magnitude=True),
    _Kind("pitch_hz", "Pitch", "the lowest tone that sounds", _fixed(2), _fixed(2), "Hz", _difference),
    _Kind("cents_off", "Off its note", "100 cents are a semitone", _with_sign, _fixed(1), "cents", _difference),
    _Kind("trueness_cents", "Off an even string’s places",
          "how far its partials lie off them in each sweep alone: not what is judged",
          _fixed(1), _fixed(1), "cents", _difference),
    _Kind("inharmonicity", "Stiffness", "how far it sharpens its higher partials; another gauge or material has another",
          _ten_thousandths, _ten_thousandths, "1/10000", _in_percent, is_magnitude=True),
    _Kind("beat_hz", "Single partial that wavers most", "its swells a second: not what is judged", _fixed(2), None,
          "Hz", _not_compared),
    _Kind("beat_depth_db", "Depth of that one", "in these plucks", _fixed(1), None, "dB", _not_compared),
    _Kind("glide_cents", "Starts sharp", "how much sharper it starts than it settles; a hard pluck makes more",
          _with_sign, _fixed(1), "cents", _difference),
)

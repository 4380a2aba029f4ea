"""The figures of one string as lines of a table: its name, now, fresh, the change. Text, with the reason where there is no figure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from toneprobe.condition import Condition
from toneprobe.measure.figure import Figure
from toneprobe.report.series import UNKNOWN, ratio
from toneprobe.report.words import percent_text, signed


@dataclass(frozen=True)
class FigureRow:
    key: str  # of measure.figure.FIGURES
    label: str  # with the unit, "Ring (s)"
    meaning: str  # what the figure is, for one who has never met it
    now: str
    fresh: str
    change: str
    why: str  # the reason, where the figure now is missing


def figure_rows(condition: Condition) -> tuple[FigureRow, ...]:
    """Every figure that this sweep or the baseline has, in the order in which players ask for them."""
    return tuple(_row(kind, condition) for kind in KINDS if kind.key in condition.figures or kind.key in condition.fresh)


@dataclass(frozen=True)
class _Kind:
    key: str
    label: str  # with the unit, "Ring (s)"
    meaning: str
    show: Callable[[float], str]
    show_se: Callable[[float], str]
    unit: str
    is_ratio: bool  # change in per cent; else the difference


def _row(kind: _Kind, condition: Condition) -> FigureRow:
    now, fresh = condition.figures.get(kind.key, UNKNOWN), condition.fresh.get(kind.key, UNKNOWN)
    why = "" if now.known else (now.reason or "not measured")
    label = f"{kind.label} ({kind.unit})" if kind.unit else kind.label
    return FigureRow(kind.key, label, kind.meaning, _shown(kind, now), _shown(kind, fresh), _change(kind, now, fresh), why)


def _shown(kind: _Kind, figure: Figure) -> str:
    if figure.value is None:
        return "–"
    doubt = f" ± {kind.show_se(figure.se)}" if figure.se is not None else ""
    return f"{kind.show(figure.value)}{doubt}"


def _change(kind: _Kind, now: Figure, fresh: Figure) -> str:
    if kind.is_ratio:
        return percent_text(ratio(now, fresh))
    if now.value is None or fresh.value is None:
        return "–"
    return _signed_like(kind, now.value - fresh.value)


def _signed_like(kind: _Kind, difference: float) -> str:
    shown = kind.show(abs(difference)).lstrip("+−")
    return shown if float(shown) == 0 else f"{'+' if difference > 0 else '−'}{shown}"


def _fixed(digits: int) -> Callable[[float], str]:
    return lambda value: f"{value:.{digits}f}"


def _with_sign(digits: int) -> Callable[[float], str]:
    return lambda value: signed(value, digits)


def _three_figures(value: float) -> str:
    return f"{value:.2f}" if abs(value) < 10 else f"{value:.1f}"


def _ten_thousandths(value: float) -> str:
    return f"{1e4 * value:.2f}"


KINDS = (
    _Kind("t60_s", "Ring", "time in which the sound falls by 60 dB", _three_figures, _fixed(2), "s", True),
    _Kind("centroid_partials_hz", "Brightness", "mean frequency of its partials, weighed by their power", _fixed(0), _fixed(0), "Hz", True),
    _Kind("centroid_hz", "Brightness, whole sound", "mean frequency of the first quarter of a second, room included",
          _fixed(0), _fixed(0), "Hz", True),
    _Kind("centroid_ratio", "Brightness over pitch", "the same as a multiple of the pitch", _three_figures, _fixed(2), "", True),
    _Kind("pitch_hz", "Pitch", "the lowest tone that sounds", _fixed(2), _fixed(2), "Hz", False),
    _Kind("cents_off", "Off its note", "100 cents are a semitone", _with_sign(1), _fixed(1), "cents", False),
    _Kind("trueness_cents", "Trueness", "how far its partials lie from where a whole string has them",
          _fixed(1), _fixed(1), "cents", False),
    _Kind("inharmonicity", "Stiffness", "B of the stiff-string series", _ten_thousandths, _ten_thousandths, "1/10000", True),
    _Kind("beat_hz", "Beat", "wavering, how often a second", _fixed(2), _fixed(2), "Hz", False),
    _Kind("beat_depth_db", "Depth of the beat", "how strongly it wavers", _fixed(1), _fixed(1), "dB", False),
    _Kind("glide_cents", "Glide", "how much sharper it starts than it ends", _with_sign(1), _fixed(1), "cents", False),
)

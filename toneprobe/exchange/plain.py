"""Figures as JSON holds them. What could not be measured is null; NaN and infinities are never written, here they become null too."""

import math
from collections.abc import Mapping
from typing import Any

from toneprobe.measure.figure import Figure

Document = dict[str, Any]


def number(value: float | None) -> float | None:
    """A plain float, None where there is none or where it is not finite."""
    if value is None or not math.isfinite(value):
        return None
    return float(value)


def figure_fields(name: str, figure: Figure) -> dict[str, float | None]:
    """A figure as two fields, `name` and `name_se`; no error where there is no value."""
    value = number(figure.value)
    return {name: value, f"{name}_se": None if value is None else number(figure.se)}


def missing_reasons(figures: Mapping[str, Figure]) -> dict[str, str]:
    """By name, why a figure has no value."""
    return {name: figure.reason or "not measured" for name, figure in figures.items() if number(figure.value) is None}

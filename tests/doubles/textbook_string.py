"""A string by textbook formulas that the package does without: what is measured is held against them."""

import math


def string_hz(tension: float, mu: float, length_mm: float) -> float:
    """f0 = √(T/µ)/(2·L) of a flexible string: tension in N, `mu` in kg/m."""
    return math.sqrt(tension / mu) / (2.0 * length_mm * 1e-3)


def stretch_cents(b: float, n: int) -> float:
    """How far the n-th partial lies above n·f0, in cents."""
    return 600.0 * math.log2(1.0 + b * n * n)


def two_partial_b(fk: float, fm: float, k: int, m: int) -> float:
    """B from partials k and m alone: r = (f_k·m/(f_m·k))², B = (r − 1)/(k² − r·m²) (Hodgkinson et al., DAFx-09)."""
    r = (fk * m / (fm * k)) ** 2
    return (r - 1.0) / (k * k - r * m * m)

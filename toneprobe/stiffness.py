"""Stiff strings: mass, tension, inharmonicity, and the B to expect of a string that has not been measured.

A stiff string's partials lie at f_n = n·f0·√(1 + B·n²), f0 the fundamental of the flexible string (Fletcher, JASA 36 (1964) 203). The other
textbook form, f_n = n·f1·(1 + (n² − 1)·A), has A = B/2 to first order and is not used here. Lengths and gauges (diameters) in mm, moduli in
Pa, tension in N, linear density in kg/m.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

from toneprobe.practice import material_family

if TYPE_CHECKING:
    import numpy as np

# kg/m³. Nylon: published with a 1901 concert-harp scale; steel: Fletcher 1964; gut: from memory.
DENSITY_KG_M3 = {"nylon": 1067.0, "gut": 1300.0, "steel": 7850.0}

# Plain strings of unknown gauge: (Hz, B) of a nylon scale of published lengths and tensions with the modulus law below (derived);
# gut of usual gauges (from memory) comes out within a factor of two. Below C4 no harp is as long as its notes ask: B ∝ E·T/(ρ²·L⁶·f⁴) stays
# where L goes as f to the power −2/3 and rises where it goes with less (derived: gut A2 of 1.11 m and 2.4 mm 2.5e-4, fluorocarbon C2 of
# 1.08 m and 2.2 mm 4.8e-4). Of metal or of no known material it may be a thin string or a wire: there the slope of C4 to C5 is carried on.
# Such values lie above the threshold at which listeners notice inharmonicity, ln B = 2.57·ln f0 − 26.5 (Järveläinen et al.,
# ARLO 2 (2001), from memory), which is therefore a floor and no estimate.
PLAIN_B = ((261.63, 2.6e-4), (523.25, 4.4e-4), (1046.5, 7.2e-4), (2093.0, 1.5e-3), (3136.0, 4.6e-3))
WOUND_B = 4e-5  # derived here: steel cores of 0.5 to 1.0 mm under 350 to 400 N at 1.2 to 1.5 m give 1e-5 to 1e-4
WOUND_NYLON_SHARE = 0.5  # of a plain string's B: the winding adds mass but little stiffness; from memory

PHYSICS_FACTOR = {"nylon": 2.0, "gut": 2.0, "steel": 1.3}  # the modulus is known only so well
PLAIN_FACTOR, WOUND_FACTOR, UNKNOWN_FACTOR = 2.5, 4.0, 5.0


def section_m2(diameter_mm: float) -> float:
    """Area of a round section."""
    return math.pi / 4.0 * (diameter_mm * 1e-3) ** 2


def linear_density(density_kg_m3: float, gauge_mm: float) -> float:
    """Mass per length µ of a plain round string, kg/m."""
    return density_kg_m3 * section_m2(gauge_mm)


def tension_n(mu_kg_m: float, length_mm: float, f_hz: float) -> float:
    """T = µ·(2·L·f)², the tension that tunes a flexible string of linear density `mu_kg_m` to `f_hz`, in N."""
    return mu_kg_m * (2.0 * length_mm * 1e-3 * f_hz) ** 2


def stiff_b(modulus_pa: float, gauge_mm: float, tension_n: float, length_mm: float) -> float:
    """B = π³·E·d⁴/(64·T·L²) of a plain round string, dimensionless (Fletcher 1964)."""
    return math.pi**3 * modulus_pa * (gauge_mm * 1e-3) ** 4 / (64.0 * tension_n * (length_mm * 1e-3) ** 2)


def stiff_partial_hz(f0_hz: float, b: float, n: int) -> float:
    """f_n = n·f0·√(1 + B·n²), f0 of the flexible string."""
    return n * f0_hz * math.sqrt(1.0 + b * n * n)


def stiff_ratio(b: float | np.ndarray, n: float | np.ndarray) -> float | np.ndarray:
    """f_n/f_1 = n·√((1 + B·n²)/(1 + B)), f_1 the sounding first partial. Arrays of shapes that go together, or numbers."""
    return n * ((1.0 + b * n * n) / (1.0 + b)) ** 0.5


def modulus_pa(material: str, stress_pa: float) -> float:
    """Young's modulus under stress σ: nylon's is 4.5 + 39·σ in GPa (Woodhouse & Lynch-Aird, Acta Acust. 105 (2019), second hand), those of
    gut (from memory) and plain steel do not change. KeyError for any other material."""
    return {"nylon": 4.5e9 + 39.0 * stress_pa, "gut": 6.0e9, "steel": 200.0e9}[material]


def expected_b(f_hz: float, *, material: str | None = None, length_mm: float | None = None,
               gauge_mm: float | None = None) -> tuple[float, float]:
    """What B to expect of a string at pitch `f_hz`: geometric centre, and one standard deviation as a factor (×/÷).

    A prior, not a measurement: from physics for plain nylon, gut and steel of known length and gauge, otherwise a broad law over frequency.
    A "wire" is a wound string, whose gauge does not tell the core: it always takes the broad law.
    """
    kind = (material or "").strip().lower()
    if kind in DENSITY_KG_M3 and length_mm and gauge_mm:
        return _physical_b(kind, f_hz, length_mm, gauge_mm), PHYSICS_FACTOR[kind]
    if kind == "wound nylon":
        return WOUND_NYLON_SHARE * _plain_b(f_hz), WOUND_FACTOR
    if "wire" in kind or "wound" in kind:
        return WOUND_B, WOUND_FACTOR
    if material_family(kind) in (None, "wire"):
        return _plain_b(f_hz), PLAIN_FACTOR if kind else UNKNOWN_FACTOR
    return _plain_b(max(f_hz, PLAIN_B[0][0])), PLAIN_FACTOR


def _physical_b(material: str, f_hz: float, length_mm: float, gauge_mm: float) -> float:
    tension = tension_n(linear_density(DENSITY_KG_M3[material], gauge_mm), length_mm, f_hz)
    return stiff_b(modulus_pa(material, tension / section_m2(gauge_mm)), gauge_mm, tension, length_mm)


def _plain_b(f_hz: float) -> float:
    """Line through PLAIN_B in log frequency and log B; beyond the ends the outer slopes go on."""
    points = [(math.log(f), math.log(b)) for f, b in PLAIN_B]
    x = math.log(f_hz)
    (x0, y0), (x1, y1) = next((pair for pair in pairwise(points) if x <= pair[1][0]), points[-2:])
    return math.exp(y0 + (y1 - y0) * (x - x0) / (x1 - x0))

"""How far two takes of one untouched string differ, and do the errors say so: python tests/benchmarks/takes.py [SEED ...]

Four sweeps of a real lever harp, soft and firm, take 1 and take 2, heard whole and without being told the notes, for each seed in noise of
its own (default 2 to 5; 74 dB under full scale: chance alone moves the rarest differences by a third). For each figure that has
a standard error: the difference (cents, or per cent of the value), median and 9 in 10, and |difference|/√(se₁² + se₂²), how often below 1
and below 2 (goals: 60 to 75 %, at least 93 %).
"""

from __future__ import annotations

import math
import sys

import numpy as np
import real_sweeps as real

from toneprobe.audio import recording_from_samples
from toneprobe.hearing import hear
from toneprobe.measure.figure import Figure, PluckMeasurement

FIGURES = ("cents_off", "inharmonicity", "t60_s", "centroid_hz", "centroid_partials_hz", "trueness_cents", "glide_cents",
           "beat_hz", "beat_depth_db")
IN_CENTS = ("cents_off", "trueness_cents", "glide_cents")
GAP_S = 6.0


def heard(hand: str, take: int, seed: int) -> dict[str, PluckMeasurement]:
    files = real.lever(hand, take)
    sweep = real.sweep_of(files, real.downwards(files), gap_s=lambda _: GAP_S, seed=seed)
    return {pluck.string: pluck for pluck in hear(recording_from_samples(sweep.samples, real.RATE_HZ), real.lever_harp()).plucks}


def pairs(seed: int) -> list[tuple[PluckMeasurement, PluckMeasurement]]:
    found = []
    for hand in ("soft", "firm"):
        first, second = heard(hand, 1, seed), heard(hand, 2, seed)
        found += [(first[string], second[string]) for string in first if string in second]
    return found


def in_sigmas(first: Figure, second: Figure) -> float:
    return abs(first.value - second.value) / math.hypot(first.se, second.se)


def difference(name: str, first: Figure, second: Figure) -> float:
    """In cents, or in per cent of the smaller."""
    if name in IN_CENTS:
        return abs(first.value - second.value)
    return 100.0 * (math.exp(abs(math.log(first.value / second.value))) - 1.0)


def row(label: str, sigmas: list[float], differences: list[float] | None = None, missing: int = 0) -> str:
    within = f"{np.median(differences):8.2f}{np.quantile(differences, 0.9):10.2f}{missing:9d}" if differences else 27 * " "
    return f"{label:<22}{len(sigmas):5d}{within}{np.mean(np.array(sigmas) < 1.0):10.0%}{np.mean(np.array(sigmas) < 2.0):9.0%}"


def main() -> None:
    seeds = [int(seed) for seed in sys.argv[1:]] or [2, 3, 4, 5]
    takes, of_all = [pair for seed in seeds for pair in pairs(seed)], []
    print(f"{'figure':<22}{'pairs':>5}{'median':>8}{'9 in 10':>10}{'missing':>9}{'below 1':>10}{'below 2':>9}")
    for name in FIGURES:
        both = [(getattr(a, name), getattr(b, name)) for a, b in takes]
        known = [(a, b) for a, b in both if a.known and b.known and a.se and b.se]
        sigmas = [in_sigmas(a, b) for a, b in known]
        of_all += sigmas
        print(row(name, sigmas, [difference(name, a, b) for a, b in known], len(both) - len(known)))
    print(row("all", of_all))


if __name__ == "__main__":
    main()

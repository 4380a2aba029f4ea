"""How far two takes of one untouched string differ, and do the errors say so: python tests/benchmarks/takes.py [SEED ...]

Four sweeps of a real lever harp, soft and firm, take 1 and take 2, heard whole and without being told the notes, for each seed in noise of
its own (default 2 to 5; 74 dB under full scale: chance alone moves the rarest differences by a third). For each figure that has
a standard error: the difference (cents, or per cent of the value), median and 9 in 10, and |difference|/√(se₁² + se₂²), how often below 1
and below 2 (goals: 60 to 75 %, at least 93 %). Then, by a like hand and soft against firm: decay times, the partials' centroids and decays
paired partial by partial, in per cent.
"""

import math
import sys
from collections.abc import Sequence
from functools import cache

import numpy as np
from sounds import real_sweeps as real

from toneprobe.audio import recording_from_samples
from toneprobe.baseline.decay_change import decay_change
from toneprobe.baseline.pairing import pair_partials
from toneprobe.baseline.scatter import USUAL_SCATTER
from toneprobe.hearing import hear
from toneprobe.measure.figure import Figure, PluckMeasurement
from toneprobe.session.sweep import read_string

FIGURES = ("cents_off", "inharmonicity", "t60_s", "centroid_hz", "centroid_partials_hz", "trueness_cents", "glide_cents",
           "beat_hz", "beat_depth_db")
LIKE, UNLIKE = (("soft", "soft"), ("firm", "firm")), (("soft", "firm"), ("firm", "soft"))
IN_CENTS = ("cents_off", "trueness_cents", "glide_cents")
GAP_S = 6.0


@cache
def heard(hand: str, take: int, seed: int) -> dict[str, PluckMeasurement]:
    files = real.lever(hand, take)
    sweep = real.sweep_of(files, real.downwards(files), gap_s=lambda _: GAP_S, seed=seed)
    return {pluck.string: pluck for pluck in hear(recording_from_samples(sweep.samples, real.RATE_HZ), real.lever_harp()).plucks}


def pairs(seed: int, hands: Sequence[tuple[str, str]]) -> list[tuple[PluckMeasurement, PluckMeasurement]]:
    """Each string of take 1 by one hand, and of take 2 by the other."""
    found = []
    for one, other in hands:
        first, second = heard(one, 1, seed), heard(other, 2, seed)
        found += [(first[string], second[string]) for string in first if string in second]
    return found


def paired_decays(takes: Sequence[tuple[PluckMeasurement, PluckMeasurement]]) -> list[float]:
    """By how much all partials together die sooner or later, each against itself, per cent."""
    changes = [decay_change(pair_partials(read_string([b]), read_string([a])), USUAL_SCATTER, n_now=1, n_fresh=1).all for a, b in takes]
    return [100.0 * math.expm1(abs(change.value)) for change in changes if change.known]


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
    takes, of_all = [pair for seed in seeds for pair in pairs(seed, LIKE)], []
    print(f"{'figure':<22}{'pairs':>5}{'median':>8}{'9 in 10':>10}{'missing':>9}{'below 1':>10}{'below 2':>9}")
    for name in FIGURES:
        both = [(getattr(a, name), getattr(b, name)) for a, b in takes]
        known = [(a, b) for a, b in both if a.known and b.known and a.se and b.se]
        sigmas = [in_sigmas(a, b) for a, b in known]
        of_all += sigmas
        print(row(name, sigmas, [difference(name, a, b) for a, b in known], len(both) - len(known)))
    print(row("all", of_all))
    for label, hands in (("by a like hand", LIKE), ("soft against firm", UNLIKE)):
        both = [pair for seed in seeds for pair in pairs(seed, hands)]
        ratios = {name: [difference(name, getattr(a, name), getattr(b, name)) for a, b in both if getattr(a, name).known and
                         getattr(b, name).known] for name in ("t60_s", "centroid_partials_hz")} | {"decays, paired": paired_decays(both)}
        for name, percents in ratios.items():
            print(f"{label + ', ' + name:<42}{len(percents):5d}{np.median(percents):8.2f}{np.quantile(percents, 0.9):10.2f}")


if __name__ == "__main__":
    main()

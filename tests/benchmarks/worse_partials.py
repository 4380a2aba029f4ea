"""Does a string ever score better for getting worse? Partials made worse by chance: python tests/benchmarks/worse_partials.py [DRAWS]

Each draw is one string of 4 to 12 partials with losses and places by chance, judged twice: as drawn, and with one partial or all of them
worse by unequal amounts. Prints how often the score falls by more than 1 and 5 points, and below what names a string.
"""

import sys
from dataclasses import replace

import numpy as np

from toneprobe.baseline.change import Change
from toneprobe.baseline.decay_change import decay_change
from toneprobe.baseline.pairing import Pairs
from toneprobe.baseline.ripple_change import RippleChange
from toneprobe.baseline.scatter import USUAL_SCATTER
from toneprobe.baseline.series_change import series_change
from toneprobe.condition.dead_score import dead_case
from toneprobe.condition.evidence import score, sureness_asked
from toneprobe.condition.false_score import false_case
from toneprobe.condition.sweep_noise import SweepNoise
from toneprobe.measure.figure import Figure
from toneprobe.units import LN_1000

NOISE = SweepNoise(sureness_asked(47), Figure(0.0, 0.01))
DRAWS = 6000
KINDS = ("one partial dies faster", "all die faster", "one lies farther off", "all lie farther off")


def pairs_of(k: int, f1_hz: float, b: float, rng: np.random.Generator, n_plucks: int) -> Pairs:
    """A healthy string's, n_plucks on either side."""
    n, nothing = np.arange(1.0, k + 1.0), np.zeros(k)
    level_db = -np.sort(rng.uniform(0.0, 40.0, k))
    level_db[0] = 0.0
    share = 2.0 / n_plucks
    t60_s = 3.0 * (f1_hz / 260.0) ** -0.5 * n**-0.6
    return Pairs(n, n * f1_hz * np.sqrt(1.0 + b * n * n), np.full(k, share), nothing, nothing, np.full(k, 1e-4), nothing,
                 np.full(k, 0.01), np.full(k, 0.5 * share), np.full(k, 2.0), nothing, nothing, nothing, level_db, LN_1000 / t60_s, t60_s,
                 nothing, nothing, nothing, np.ones(k))


def scores(pairs: Pairs, b: float, n_plucks: int) -> tuple[float, float, dict[int, float]]:
    """Dead and false score, and how far each partial lies off the fit, cents."""
    decay = decay_change(pairs, USUAL_SCATTER, n_now=n_plucks, n_fresh=n_plucks)
    series = series_change(pairs, Figure(b, 0.02 * b), {}, hand=0.0, room_s=None)
    ripple = RippleChange(Figure(0.0, 0.4))
    change = Change("3A", n_plucks, n_plucks, decay, Figure(0.0, 0.1), series, ripple, series.stretch, 0.0, 440.0, 50.0)
    dead, false = (score(case.strength) or 0.0 for case in (dead_case(change, NOISE), false_case(change, NOISE)))
    return dead, false, {n: rest for n, rest, _ in series.pattern}


def fallen(n_draws: int) -> dict[str, list[tuple[float, float, int]]]:
    """By kind: (score as drawn, score when worse, partials)."""
    rng, found = np.random.default_rng(0), {kind: [] for kind in KINDS}
    for _ in range(n_draws):
        k, f1_hz, n_plucks = int(rng.integers(4, 13)), float(np.exp(rng.uniform(np.log(60.0), np.log(1500.0)))), int(rng.integers(1, 3))
        b = 1e-4 * (f1_hz / 130.0) ** 0.7
        drawn = replace(pairs_of(k, f1_hz, b, rng, n_plucks), cents=rng.normal(0.0, rng.choice([0.5, 2.0, 5.0]), k),
                        log_decay=rng.normal(rng.choice([0.0, 0.3, 0.6]), 0.15, k))
        dead, false, pattern = scores(drawn, b, n_plucks)
        off, one = np.array([pattern.get(i + 1, 0.0) for i in range(k)]), np.eye(k)[rng.integers(k)]
        worse = {
            KINDS[0]: replace(drawn, log_decay=drawn.log_decay + one * rng.uniform(0.05, 1.0)),
            KINDS[1]: replace(drawn, log_decay=drawn.log_decay + rng.uniform(0.0, 0.6, k)),
            KINDS[2]: replace(drawn, cents=drawn.cents + one * np.sign(off) * rng.uniform(0.2, 10.0)),
            KINDS[3]: replace(drawn, cents=drawn.cents + off * rng.uniform(0.1, 2.0)),
        }
        for kind, pairs in worse.items():
            after = scores(pairs, b, n_plucks)
            found[kind].append((dead, after[0], k) if kind in KINDS[:2] else (false, after[1], k))
    return found


def main(n_draws: int) -> None:
    print(f"{'made worse':<26}{'partials':>9}{'draws':>7}{'by > 1':>9}{'by > 5':>9}{'below 50':>10}")
    for kind, rows in fallen(n_draws).items():
        few, many = ([row for row in rows if (row[2] <= 6) == is_few] for is_few in (True, False))
        for words, group in (("all", rows), ("4 to 6", few), ("7 to 12", many)):
            before, after, _ = np.array(group).T
            shares = (np.mean(after < before - 1.0), np.mean(after < before - 5.0), np.mean((before >= 50.0) & (after < 50.0)))
            print(f"{kind:<26}{words:>9}{len(group):>7}" + "".join(f"{share:>9.2%}" for share in shares))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else DRAWS)

"""How often intervals of string lives hold where positions differ: python tests/benchmarks/string_lives.py [N]

N made-up logs for each line (default 150): strings one after another at each position of a register, Weibull lives of shape 3, half of
them outlasting 550 days times a factor of the position's own, whose log scatters by so much. Prints the share of logs in which the
interval of the age that half outlive holds the truth, lives taken as separate draws -> each position as one: Kaplan-Meier and Weibull,
for strings put on (short-lived positions have more of them) and for strings of a position drawn at random; then the intervals' widths, as
high over low, and the share of logs in which positions are told to differ.
"""

import math
import sys
from dataclasses import replace

import numpy as np

from toneprobe.lives import Life, fit_weibull, kaplan_meier, median_life
from toneprobe.lives.registers import positions_apart

SHAPE, MEDIAN_DAYS, SEED = 3.0, 550.0, 404
SCALE_DAYS = MEDIAN_DAYS / math.log(2.0) ** (1.0 / SHAPE)
REGISTERS = ((7, 8, 0.0), (12, 4, 0.0), (21, 4, 0.0), (7, 8, 0.25), (12, 4, 0.25), (21, 4, 0.25), (7, 8, 0.5), (12, 4, 0.5), (21, 8, 0.5))


def log_of(rng, n_positions, years, sd):
    watch, found = 365.0 * years, []
    for k in range(n_positions):
        on, scale = 0.0, SCALE_DAYS * math.exp(rng.normal(0.0, sd))
        while on < watch:
            life = max(1.0, round(scale * rng.weibull(SHAPE)))
            found.append(Life(min(life, watch - on), on + life <= watch, 0.0, f"{k}"))
            on += life
    return found


def truths(sd, n=300_000):
    """The age that half outlive of strings put on, and of one string of each position."""
    rng = np.random.default_rng(2)
    factors = np.exp(rng.normal(0.0, sd, n))
    lives = SCALE_DAYS * factors * rng.weibull(SHAPE, n)
    order = np.argsort(lives)
    put_on = np.cumsum(1.0 / factors[order])
    return float(lives[order][np.searchsorted(put_on, put_on[-1] / 2.0)]), float(np.median(lives))


def main(n_logs: int) -> None:
    print(f"{'register':28} {'Kaplan-Meier: put on':>21}", f"{'a position':>13} {'width':>13} {'Weibull: put on':>16}",
          f"{'a position':>13} {'width':>13} apart")
    for n_positions, years, sd in REGISTERS:
        rng, truth, rows, apart = np.random.default_rng(SEED), truths(sd), [], []
        for _ in range(n_logs):
            together = log_of(rng, n_positions, years, sd)
            separate = [replace(life, position="") for life in together]
            laws = [fit_weibull(lives) for lives in (separate, together)]
            if any(isinstance(law, str) for law in laws):
                continue
            spans = [median_life(kaplan_meier(separate)), median_life(kaplan_meier(together)), *(law.median_life() for law in laws)]
            ends = [(one.low_days or 1.0, one.high_days or 1e9) for one in spans]
            rows.append([[low <= true <= high for true in truth] + [high / low] for low, high in ends])
            apart.append(bool(positions_apart(together, laws[1])))
        held, widths = np.mean(np.array(rows)[:, :, :2], axis=0), np.median(np.array(rows)[:, :, 2], axis=0)
        cells = [f"{one:5.2f} -> {other:.2f}" for k in (0, 2) for one, other in (*zip(held[k], held[k + 1], strict=True),
                                                                               (widths[k], widths[k + 1]))]
        print(f"{n_positions:2d} strings, {years} years, sd {sd:4.2f} {cells[0]:>24}", *cells[1:3], f"{cells[3]:>16}", *cells[4:],
              f"{np.mean(apart):5.2f}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 150)

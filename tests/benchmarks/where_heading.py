"""Which dates are named over the months, and how many hold: python tests/benchmarks/where_heading.py [N]

N made-up histories for each line (default 100), monthly sweeps, a ring's log loss against ln(4/3), told errors 1.5 times the real ones (as
changes between takes of untouched strings are). After every sweep it is asked what is foretold. Prints the share of histories with a
date at any time; the dates, and the share that holds the truth (of what never comes there: none with an end); how many of them have an
end, and how many begin later too ("between A and B"), each with the share that holds; the share said with "may be already", and of those
the share where it was; how many named after the truth put it into the future.
"""

import math
import sys
from datetime import date, timedelta

import numpy as np

from toneprobe.trend import TrendPoint, fit_trend, threshold_crossing

THRESHOLD = math.log(4.0 / 3.0)
FIRST = date(2024, 1, 10)
MONTH = 365.25 / 12.0
SEED = 23
SMALL = {"scatter": 0.03, "baseline": 0.02}
NEVER = FIRST + timedelta(days=100_000)


def line(per_month):
    return lambda rng: lambda days: per_month * days / MONTH


def jump(rng):
    when = rng.uniform(60.0, 400.0)
    return lambda days: 0.2 * (days >= when)


def cycle(rng):
    phase = rng.uniform(0.0, 2.0 * math.pi)
    return lambda days: 0.15 * (np.sin(2.0 * math.pi * days / 365.25 + phase) - math.sin(phase))


def levels_off(at, months):
    return lambda rng: lambda days: at * (1.0 - np.exp(-days / (months * MONTH)))


def two_steps(rng):
    one, other = rng.uniform(60.0, 420.0, 2)
    return lambda days: 0.11 * (days >= one) + 0.11 * (days >= other)


def readings(rng, truth, *, scatter=0.06, baseline=0.03, missing=0.0, wild=0.0, months=18):
    own, se = rng.normal(0.0, baseline), 1.54 * math.hypot(scatter, baseline)
    days = [max(0, round(30.4 * k) + int(rng.integers(-4, 5))) for k in range(months) if k == 0 or rng.random() >= missing]
    off = [rng.choice([-1.0, 1.0]) * rng.uniform(0.15, 0.4) if rng.random() < wild else 0.0 for _ in days]
    return [TrendPoint(FIRST + timedelta(days=day), float(truth(day) + own + rng.normal(0.0, scatter) + more), se)
            for day, more in zip(days, off, strict=True)]


def one_history(rng, truth, options):
    """Of each date named: whether it holds the truth, has an end, begins later, says "may be already"; whether the truth has been."""
    past = np.flatnonzero(truth(np.arange(4000.0)) >= THRESHOLD)
    true_day = FIRST + timedelta(days=int(past[0])) if len(past) else NEVER
    points, said = readings(rng, truth, **options), []
    for n in range(4, len(points) + 1):
        trend = fit_trend(points[:n])
        found = trend and threshold_crossing(trend, THRESHOLD)
        if found:
            begins = found.may_be_past or (found.earliest.year, found.earliest.month) <= (true_day.year, true_day.month)
            ends = found.latest is None or (true_day.year, true_day.month) <= (found.latest.year, found.latest.month)
            has_end, later = found.latest is not None, not found.may_be_past and found.earliest > points[n - 1].date
            said.append((begins and ends, has_end, has_end and later, found.may_be_past, points[n - 1].date >= true_day))
    return said


def main(n_histories: int) -> None:
    kinds = {
        "0.02 a month": (line(0.02), {}), "0.04 a month": (line(0.04), {}),
        "0.02, small scatter": (line(0.02), {"scatter": 0.02, "baseline": 0.01}), "0.02, 35 % missing": (line(0.02), {"missing": 0.35}),
        "0.02, 10 % wild": (line(0.02), {"wild": 0.1}), "quickens, 0.0012·t²": (lambda rng: lambda days: 0.0012 * (days / MONTH) ** 2, {}),
        "no wear": (line(0.0), {}), "jump of 0.2": (jump, {}), "jump, small scatter": (jump, SMALL),
        "0.04, over after 5 months": (lambda rng: lambda days: 0.04 * np.minimum(days / MONTH, 5.0), {}),
        "yearly cycle of 0.15": (cycle, {}), "cycle, small scatter": (cycle, SMALL),
        "levels off at 0.25": (levels_off(0.25, 6.0), {}), "same, small scatter": (levels_off(0.25, 6.0), SMALL),
        "levels off at 0.35, small": (levels_off(0.35, 8.0), SMALL), "two steps of 0.11, small": (two_steps, SMALL),
        "quickens, small scatter": (lambda rng: lambda days: 0.0012 * (days / MONTH) ** 2, SMALL),
    }
    print(f"{'history':28} {'dated':>6} {'dates':>6} {'hold':>5} {'with end':>9} {'hold':>5} {'between':>8} {'hold':>5} {'already':>8} "
          f"{'true':>5} {'past, named ahead':>18}")
    for name, (make, options) in kinds.items():
        rng = np.random.default_rng(SEED)
        histories = [one_history(rng, make(rng), options) for _ in range(n_histories)]
        every = np.array([one for said in histories for one in said], bool).reshape(-1, 5)
        holds, ends, between, already, been = every.T
        figures = [f"{name:28} {sum(map(bool, histories)) / n_histories:6.2f} {len(every):6d}", _share(holds), f"{ends.sum():9d}",
                   _share(holds[ends]), f"{between.sum():8d}", _share(holds[between]), f"   {_share(already)}", _share(been[already])]
        print(*figures, f"{(been & ~already).sum():18d}", flush=True)


def _share(of: np.ndarray) -> str:
    return f"{of.mean():5.2f}" if len(of) else "    –"


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)

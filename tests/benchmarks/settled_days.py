"""How near the day on which a string settled is found: python tests/benchmarks/settled_days.py [N]

Simulated strings of two laws, with retunings, shared weather and reading noise; N strings for each line (default 20). Prints a table.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np

from toneprobe.settling import judge_settling, usual_prior

SEEDS = 1000


def load_workshop():
    path = Path(__file__).parents[1] / "settling" / "conftest.py"
    spec = importlib.util.spec_from_file_location("workshop", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["workshop"] = module
    spec.loader.exec_module(module)
    return module


def one(workshop, string, material, seed, noise):
    """Days from truth, in calendar days and to the hour, whether the range holds the truth, days from truth to verdict, true day."""
    own, neighbours = workshop.play(string, np.random.default_rng(seed), noise=noise)
    prior = usual_prior(material, cents_per_day=1.0)
    for n in range(3, len(own) + 1):
        found = judge_settling(own[:n], fitted_on=workshop.PUT_ON.date(), neighbours=neighbours, prior=prior)
        if found.state == "settled":
            truth = workshop.true_day(string)
            inside = found.settled.early <= truth.date() <= found.settled.late
            return ((found.settled_on - truth.date()).days, inside, (own[n - 1].at - truth).total_seconds() / 86400.0,
                    (truth - workshop.PUT_ON).total_seconds() / 86400.0)
    return None


def main(n_strings: int) -> None:
    workshop = load_workshop()
    makes = {
        "wire, A 1.5": ("wire", lambda: workshop.LogString(1.5)), "wire, A 2": ("wire", lambda: workshop.LogString(2.0)),
        "gut, A 3": ("gut", lambda: workshop.LogString(3.0)), "gut, A 4": ("gut", lambda: workshop.LogString(4.0, 0.02)),
        "nylon, A 5": ("nylon", lambda: workshop.LogString(5.0, 0.006)), "nylon, A 6.5": ("nylon", lambda: workshop.LogString(6.5)),
        "gut, A 5, restarts ×4": ("gut", lambda: workshop.LogString(5.0, 0.02, 4.0)),
        "flow law, stiffening": ("gut", lambda: workshop.FlowString(30.0, 4.0, 600.0)),
        "flow law, soft": ("gut", lambda: workshop.FlowString(12.0, 2.0, 400.0)),
    }
    print(f"{'string':24} {'noise':>5} {'true day':>8} {'±1 day':>7} {'mean off':>8} {'in range':>8} {'verdict after':>13} {'never':>6}")
    for noise in (1.0, 0.58):
        for name, (material, make) in makes.items():
            rows = [one(workshop, make(), material, SEEDS + seed, noise) for seed in range(n_strings)]
            days, inside, lag, truth = np.array([row for row in rows if row is not None], dtype=float).T
            print(f"{name:24} {noise:5.2f} {np.median(truth):8.1f} {np.mean(np.abs(days) <= 1):7.2f} {days.mean():8.2f} "
                  f"{inside.mean():8.2f} {np.median(lag):11.1f} d {rows.count(None):6d}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)

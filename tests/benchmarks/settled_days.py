"""How near the day on which a string settled is found: python tests/benchmarks/settled_days.py [N]

Simulated strings of two laws, with retunings, shared weather and reading noise; N strings for each line (default 20). Prints a table.
A second one tells of strings that fall steadily, which never settle, checked and retuned once a day for ten days: how many are called
settled all the same, and how many slipping or falling on.
"""

import importlib.util
import sys
from pathlib import Path

import numpy as np

from toneprobe.settling import judge_settling, usual_prior

SEEDS = 1000


def load_workshop():
    tests = Path(__file__).parents[1]
    path, doubles = tests / "settling" / "conftest.py", str(tests / "doubles")
    if doubles not in sys.path:  # run by hand: pytest has it there
        sys.path.append(doubles)
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


def one_that_slips(workshop, rate, seed, scatter):
    """Whether a string that falls so many cents every day is called settled, and whether slipping or falling on, within ten days."""
    checks, neighbours = workshop.play_daily(workshop.SlippingString(rate), np.random.default_rng(seed), scatter=scatter)
    said = [judge_settling(checks[:n], fitted_on=workshop.PUT_ON.date(), neighbours=neighbours,
                           prior=usual_prior("nylon", cents_per_day=1.0)) for n in range(3, len(checks) + 1)]
    return (any(found.state == "settled" for found in said), any(found.state == "slipping" for found in said),
            any("slow" in found.reasons[0] for found in said))


def print_slips(workshop, n_strings):
    print(f"{'steady fall':24} {'scatter':>7} {'settled':>8} {'slipping':>9} {'or falls on':>12}")
    for scatter in (0.3, 1.0):
        for rate in (1.0, 2.0, 3.0, 6.0):
            rows = np.array([one_that_slips(workshop, rate, SEEDS + seed, scatter) for seed in range(n_strings)])
            settled, slipping, falls_on = rows.mean(axis=0)
            print(f"{rate:.0f} cents a day            {scatter:8.1f} {settled:8.2f} {slipping:9.2f} {falls_on:12.2f}", flush=True)


def main(n_strings: int) -> None:
    workshop = load_workshop()
    makes = {
        "wire, A 1.5": ("wire", lambda: workshop.LogString(1.5)), "wire, A 2": ("wire", lambda: workshop.LogString(2.0)),
        "gut, A 3": ("gut", lambda: workshop.LogString(3.0)), "gut, A 4": ("gut", lambda: workshop.LogString(4.0, 0.02)),
        "nylon, A 5": ("nylon", lambda: workshop.LogString(5.0, 0.006)), "nylon, A 6.5": ("nylon", lambda: workshop.LogString(6.5)),
        "nylon, A 8": ("nylon", lambda: workshop.LogString(8.0)), "nylon, A 10": ("nylon", lambda: workshop.LogString(10.0)),
        "gut, A 5, restarts ×4": ("gut", lambda: workshop.LogString(5.0, 0.02, 4.0)),
        "flow law, stiffening": ("gut", lambda: workshop.FlowString(30.0, 4.0, 600.0)),
        "flow law, soft": ("gut", lambda: workshop.FlowString(12.0, 2.0, 400.0)),
    }
    print(f"{'string':24} {'noise':>5} {'true day':>8} {'±1 day':>7} {'mean off':>8} {'in range':>8} "
          f"{'verdict after':>13} {'too early':>9} {'never':>6}")
    for noise in (1.0, 0.58):
        for name, (material, make) in makes.items():
            rows = [one(workshop, make(), material, SEEDS + seed, noise) for seed in range(n_strings)]
            days, inside, lag, truth = np.array([row for row in rows if row is not None], dtype=float).T
            print(f"{name:24} {noise:5.2f} {np.median(truth):8.1f} {np.mean(np.abs(days) <= 1):7.2f} {days.mean():8.2f} "
                  f"{inside.mean():8.2f} {np.median(lag):11.1f} d {np.mean(lag < -1.0):9.2f} {rows.count(None):6d}", flush=True)
    print_slips(workshop, n_strings)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)

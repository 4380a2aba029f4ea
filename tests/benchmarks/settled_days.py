"""How near the day on which a string settled is found: python tests/benchmarks/settled_days.py [N]

Simulated strings of two laws, with retunings, shared weather and reading noise; N strings for each line (default 20). Prints a table.
A second one tells of strings that fall steadily, which never settle, checked and retuned once a day for ten days: how many are called
settled all the same, and how many slipping or falling on.
"""

import sys

import numpy as np
from sounds.checked_strings import PUT_ON, FlowString, LogString, SlippingString, play, play_daily, true_day

from toneprobe.settling import judge_settling, usual_prior

SEEDS = 1000


def one(string, material, seed, noise):
    """Days from truth, in calendar days and to the hour, whether the range holds the truth, days from truth to verdict, true day."""
    own, neighbours = play(string, np.random.default_rng(seed), noise=noise)
    prior = usual_prior(material, cents_per_day=1.0)
    for n in range(3, len(own) + 1):
        found = judge_settling(own[:n], fitted_on=PUT_ON.date(), neighbours=neighbours, prior=prior)
        if found.state == "settled":
            truth = true_day(string)
            inside = found.settled.early <= truth.date() <= found.settled.late
            return ((found.settled_on - truth.date()).days, inside, (own[n - 1].at - truth).total_seconds() / 86400.0,
                    (truth - PUT_ON).total_seconds() / 86400.0)
    return None


def one_that_slips(rate, seed, scatter):
    """Whether a string that falls so many cents every day is called settled, and whether slipping or falling on, within ten days."""
    checks, neighbours = play_daily(SlippingString(rate), np.random.default_rng(seed), scatter=scatter)
    said = [judge_settling(checks[:n], fitted_on=PUT_ON.date(), neighbours=neighbours,
                           prior=usual_prior("nylon", cents_per_day=1.0)) for n in range(3, len(checks) + 1)]
    return (any(found.state == "settled" for found in said), any(found.state == "slipping" for found in said),
            any("slow" in found.reasons[0] for found in said))


def print_slips(n_strings):
    print(f"{'steady fall':24} {'scatter':>7} {'settled':>8} {'slipping':>9} {'or falls on':>12}")
    for scatter in (0.3, 1.0):
        for rate in (1.0, 2.0, 3.0, 6.0):
            rows = np.array([one_that_slips(rate, SEEDS + seed, scatter) for seed in range(n_strings)])
            settled, slipping, falls_on = rows.mean(axis=0)
            print(f"{rate:.0f} cents a day            {scatter:8.1f} {settled:8.2f} {slipping:9.2f} {falls_on:12.2f}", flush=True)


def main(n_strings: int) -> None:
    makes = {
        "wire, A 1.5": ("wire", lambda: LogString(1.5)), "wire, A 2": ("wire", lambda: LogString(2.0)),
        "gut, A 3": ("gut", lambda: LogString(3.0)), "gut, A 4": ("gut", lambda: LogString(4.0, 0.02)),
        "nylon, A 5": ("nylon", lambda: LogString(5.0, 0.006)), "nylon, A 6.5": ("nylon", lambda: LogString(6.5)),
        "nylon, A 8": ("nylon", lambda: LogString(8.0)), "nylon, A 10": ("nylon", lambda: LogString(10.0)),
        "gut, A 5, restarts ×4": ("gut", lambda: LogString(5.0, 0.02, 4.0)),
        "flow law, stiffening": ("gut", lambda: FlowString(30.0, 4.0, 600.0)),
        "flow law, soft": ("gut", lambda: FlowString(12.0, 2.0, 400.0)),
    }
    print(f"{'string':24} {'noise':>5} {'true day':>8} {'±1 day':>7} {'mean off':>8} {'in range':>8} "
          f"{'verdict after':>13} {'too early':>9} {'never':>6}")
    for noise in (1.0, 0.58):
        for name, (material, make) in makes.items():
            rows = [one(make(), material, SEEDS + seed, noise) for seed in range(n_strings)]
            days, inside, lag, truth = np.array([row for row in rows if row is not None], dtype=float).T
            print(f"{name:24} {noise:5.2f} {np.median(truth):8.1f} {np.mean(np.abs(days) <= 1):7.2f} {days.mean():8.2f} "
                  f"{inside.mean():8.2f} {np.median(lag):11.1f} d {np.mean(lag < -1.0):9.2f} {rows.count(None):6d}", flush=True)
    print_slips(n_strings)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)

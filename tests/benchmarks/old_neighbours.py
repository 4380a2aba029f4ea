"""How often old neighbours, plucked only for the weather, are called slipping: python tests/benchmarks/old_neighbours.py [N]

N restrings for each line (default 150): three or four old strings read at six checks within nine days, as they are for a new one. All
follow the weather, and each wanders by itself, from check to check (anew at each, or on from where it was) and is read within 0.35 cents.
Prints the share of restrings in which some old string is called slipping after so many checks, or at some time; and, where the first of
them falls steadily beside the others, the share in which it is called slipping within a week.
"""

import sys
from datetime import datetime, timedelta

import numpy as np

from toneprobe.measure.figure import Figure
from toneprobe.settling import PitchReading, judge_settling

DAYS = (1, 2, 3, 5, 7, 9)
FIRST = datetime(2025, 11, 20, 12)
READ_CENTS = 0.35
WEATHER_CENTS = 1.5
CENT = 5.78e-4  # of a frequency


def checks(rng, n_strings, wander, *, walks, falls, days):
    """Readings of each string; the first falls by so many cents a day."""
    weather = np.cumsum(rng.normal(0, WEATHER_CENTS, len(days)))
    own = rng.normal(0, wander, (n_strings, len(days)))
    own = np.cumsum(own, axis=1) if walks else own
    cents = weather + own + rng.normal(0, READ_CENTS, own.shape)
    cents[0] -= falls * np.array(days)
    return [[PitchReading(str(k), "A4", FIRST + timedelta(days=day), heard(one)) for day, one in zip(days, row, strict=True)]
            for k, row in enumerate(cents)]


def heard(cents):
    freq_hz = 440.0 * 2.0 ** (cents / 1200.0)
    return Figure(freq_hz, freq_hz * READ_CENTS * CENT)


def slipping(readings, n):
    """Which of the strings are called slipping after n checks."""
    known = {k: row[:n] for k, row in enumerate(readings)}
    return [judge_settling(known[k], fitted_on=None, neighbours={j: row for j, row in known.items() if j != k}).state == "slipping"
            for k in known]


def print_false(n_restrings):
    print(f"{'called slipping, though it only wanders':42}" + "".join(f"{n:>3} checks" for n in (3, 4, 5, 6)) + "   ever")
    for walks in (False, True):
        for n_strings in (3, 4):
            for wander in (0.5, 1.0):
                rng = np.random.default_rng(7)
                said = np.array([[any(slipping(readings, n)) for n in (3, 4, 5, 6)] for readings in
                                 (checks(rng, n_strings, wander, walks=walks, falls=0.0, days=DAYS) for _ in range(n_restrings))])
                name = f"{n_strings} strings, {wander} cents {'on from the last' if walks else 'anew'} each check"
                shares = "".join(f"{share:9.3f}" for share in said.mean(axis=0))
                print(f"{name:42}{shares}  {said.any(axis=1).mean():.3f}", flush=True)


def print_true(n_restrings):
    print(f"{'the first falls steadily':42}{'it is called':>14}{'another is':>12}  within a week")
    for days in (DAYS, tuple(range(8))):
        for fall in (1.0, 2.0, 3.0):
            for wander in (0.5, 1.0):
                rng, last = np.random.default_rng(8), sum(day <= days[0] + 7 for day in days)
                said = np.array([np.any([slipping(readings, n) for n in range(3, last + 1)], axis=0) for readings in
                                 (checks(rng, 4, wander, walks=False, falls=fall, days=days) for _ in range(n_restrings))])
                name = f"{fall:.0f} cents a day, {last} checks, wander {wander}"
                print(f"{name:42}{said[:, 0].mean():14.3f}{said[:, 1:].any(axis=1).mean():12.3f}", flush=True)


def main():
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 150
    print_false(n)
    print_true(n)


if __name__ == "__main__":
    main()

"""How often a new string that slips in jumps is called settled all the same: python tests/benchmarks/slips_in_jumps.py [N]

Simulated nylon strings, N for each line (default 16), checked and tuned once a day for twenty days beside three neighbours, in dry air.
Each stretches by the logarithmic law (A 2 cents) and slips at random: so often in the mean, by half to one and a half times so many cents.
Printed is, without the wait for jumps that come again (`settling/recurring`) and with it, the share of the checks after a second slip
beyond the tolerance of 3 cents at which the string is called settled; and, of the strings called settled at some check, the share that
falls by more than the tolerance within its days after the first such check. The same strings without a slip show what the wait costs.
Slips of one law only, in no weather, of no string that was ever measured. Takes two minutes.
"""

import sys
from unittest import mock

import numpy as np
from sounds.checked_strings import LogString, play_daily

from toneprobe.settling import judge, judge_settling, usual_prior
from toneprobe.settling.verdict import USUAL_TOLERANCE

SEED = 942
N_DAYS, FIRST_CHECK = 20, 3  # and the first check whose verdict is counted
STRETCH_CENTS = 2.0
SLIPS = ((5.0, 3.0), (8.0, 5.0), (4.0, 2.0), (0.0, 1.0))  # cents, and days from one to the next in the mean


class JumpingString:
    """Stretches by the logarithmic law, and falls by so many cents at each of the given days. Tuning starts nothing again."""

    def __init__(self, law, jumps: tuple[tuple[float, float], ...]):
        self.law, self.jumps = law, jumps

    def fall(self, start: float, end: float) -> float:
        return self.law.fall(max(start, 0.0), end) + sum(cents for day, cents in self.jumps if start < day <= end)

    def retune(self, when: float, cents: float) -> None:
        pass

    def n_slips(self, until: float) -> int:
        """Beyond the tolerance, so far."""
        return sum(day <= until and cents > USUAL_TOLERANCE.cents for day, cents in self.jumps)


def drawn_jumps(rng: np.random.Generator, cents: float, every_days: float) -> tuple[tuple[float, float], ...]:
    """(day, cents) over the days of all checks and of the last one's tolerance."""
    days = np.cumsum(rng.exponential(every_days, int(4 * N_DAYS / every_days)))
    return tuple((float(day), float(cents * rng.uniform(0.5, 1.5))) for day in days) if cents else ()


def called_settled(checks, neighbours) -> list[bool]:
    """At each check from FIRST_CHECK on."""
    prior = usual_prior("nylon", cents_per_day=USUAL_TOLERANCE.cents / USUAL_TOLERANCE.ahead_days)
    return [judge_settling(checks[: n + 1], fitted_on=checks[0].at.date(), neighbours=neighbours, prior=prior).state == "settled"
            for n in range(FIRST_CHECK, len(checks))]


def shares(n_strings: int, cents: float, every_days: float, *, waits: bool) -> tuple[int, float, int, float]:
    """Checks after a second slip, at how many the string is settled; strings ever settled, how many of them too early."""
    rng, after_two, too_early = np.random.default_rng(SEED), [], []
    for _ in range(n_strings):
        string = JumpingString(LogString(STRETCH_CENTS), drawn_jumps(rng, cents, every_days))
        checks, neighbours = play_daily(string, rng, n_days=N_DAYS)
        with mock.patch.object(judge, "recurring_slips", judge.recurring_slips if waits else lambda *_: None):
            settled = called_settled(checks, neighbours)
        days = range(FIRST_CHECK, N_DAYS + 1)
        after_two += [is_settled for day, is_settled in zip(days, settled, strict=True) if string.n_slips(day) >= 2]
        first = next((day for day, is_settled in zip(days, settled, strict=True) if is_settled), None)
        if first is not None:
            too_early.append(string.fall(first, first + USUAL_TOLERANCE.ahead_days) > USUAL_TOLERANCE.cents)
    return (len(after_two), float(np.mean(after_two or [np.nan])), len(too_early), float(np.mean(too_early or [np.nan])))


def main(n_strings: int) -> None:
    print("| slips | checks after a second slip | settled at so many of them, without the wait → with it | first settled too early |")
    print("|---|---:|---:|---:|")
    for cents, every_days in SLIPS:
        before, now = (shares(n_strings, cents, every_days, waits=waits) for waits in (False, True))
        name = f"{cents:g} cents every {every_days:g} days" if cents else "none"
        print(f"| {name} | {now[0]} | {f'{before[1]:.2f} → {now[1]:.2f}' if now[0] else ''} | {before[3]:.2f} of {before[2]} →"
              f" {now[3]:.2f} of {now[2]} |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 16)

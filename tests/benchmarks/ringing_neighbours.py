"""How far strings that still ring pull the pitch of the next one: python tests/benchmarks/ringing_neighbours.py

A diatonic harp of 33 strings made of real plucks (`diatonic_harp`), in four sweeps, up and down, undamped, 1.3 to 2 s apart; and the same
strings once more each alone, stopped before the next, three seconds apart. Counted is how far the two readings of a string's pitch lie
apart, in cents and in their told errors, where both sweeps named it. The two are one pluck, so nothing but what rings on differs; of the
two readings the one alone may be the worse, for a hand cut it. Takes a minute and a half.
"""

import numpy as np
from sounds import diatonic_harp as diatonic

from toneprobe.audio import recording_from_samples
from toneprobe.hearing import hear
from toneprobe.measure.figure import Figure

SWEEPS = ((1.3, "up", 1), (1.3, "down", 4), (2.0, "up", 5), (1.6, "down", 7))  # s apart, which way, seed
ALONE_S = 3.0
FAR_CENTS, FAR_ERRORS = 4.0, 3.0


def pitches(way: str, *, gap_s: float, damped: bool, seed: int) -> dict[str, Figure]:
    """By string, of those that are named rightly and have a pitch."""
    order = [spec.name for spec in diatonic.harp().strings][:: 1 if way == "down" else -1]
    sweep = diatonic.sweep(order, gap_s=gap_s, damped=damped, seed=seed)
    found = hear(recording_from_samples(sweep.samples, diatonic.real.RATE_HZ), diatonic.harp()).plucks
    onsets = dict(sweep.truth)
    return {one.string: one.cents_off for one in found if one.cents_off.known and abs(one.onset_s - onsets[one.string]) < 0.1}


def apart(among: dict[str, Figure], alone: dict[str, Figure]) -> np.ndarray:
    """Rows of (cents, told errors), both above 0, of the strings heard in both."""
    both = [(one, alone[string]) for string, one in among.items() if string in alone]
    cents = np.array([abs(one.value - other.value) for one, other in both])
    return np.column_stack([cents, cents / [np.hypot(one.se, other.se) for one, other in both]])


def row(name: str, rows: np.ndarray) -> str:
    far = int(np.sum((rows[:, 0] > FAR_CENTS) & (rows[:, 1] > FAR_ERRORS)))
    return (f"| {name} | {len(rows)} | {np.median(rows[:, 0]):.2f} | {np.quantile(rows[:, 0], 0.9):.1f} |"
            f" {np.mean(rows[:, 1] < 2.0):.0%} | {far} |")


def main() -> None:
    print("| sweep | readings | median, cents | 9 in 10 | within two errors | off by more than 4 cents and 3 errors |")
    print("|---|---:|---:|---:|---:|---:|")
    every = []
    for gap_s, way, seed in SWEEPS:
        every.append(apart(pitches(way, gap_s=gap_s, damped=False, seed=seed), pitches(way, gap_s=ALONE_S, damped=True, seed=seed)))
        print(row(f"{way}, {gap_s:g} s apart", every[-1]), flush=True)
    print(row("all", np.concatenate(every)))


if __name__ == "__main__":
    main()

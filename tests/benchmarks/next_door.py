"""What another instrument next door does to names and verdicts: python tests/benchmarks/next_door.py

Sweeps of real plucks (`heard_sweeps`), three of 24 strings dead (40 % of their ring), and in them tones of the harp's own notes at random:
blown ones, held for two seconds, or struck ones that die away, so far under the sweep's peak. Counted are the plucks named rightly, what is
named where nothing was plucked, the dead strings found (and watched), and the healthy ones that are called dead or false, watched or
unsure. The tones are plain sums of partials in no room of their own; speech, and an instrument that plays in the sweep's order, are not
among them. Takes two minutes.
"""

import numpy as np
from sounds import heard_sweeps as sweeps
from sounds.heard_sweeps import RATE_HZ, Told
from sounds.real_plucks import lever_harp

from toneprobe.units import LN_1000

DEAD = (("lose", 0.4),)
BAD = (2, 3)  # the strings that are dead: the third from the top and every eighth after it
TONES = (("none", 0, 0.0), ("blown", 20, -30.0), ("blown", 60, -30.0), ("struck", 20, -30.0), ("struck", 60, -30.0), ("struck", 60, -12.0))
BLOWN_S, ATTACK_S, RELEASE_S = 2.0, 0.08, 0.06
STRUCK_T60_S, STRIKE_S = 4.0, 0.004
N_PARTIALS, FALLS_DB = 10, 6.0  # each partial so much weaker than the one before
OFF_CENTS = 5.0
NEAR_S = 0.1


def tone(kind: str, freq_hz: float, rng: np.random.Generator) -> np.ndarray:
    """Of a peak of 1: partials fall by so many dB each, phases at random."""
    time_s = np.arange(int((BLOWN_S if kind == "blown" else STRUCK_T60_S) * RATE_HZ)) / RATE_HZ
    partials = [k for k in range(1, N_PARTIALS + 1) if k * freq_hz < 0.4 * RATE_HZ]
    wave = sum(10 ** (-FALLS_DB * (k - 1) / 20) * np.cos(2 * np.pi * k * freq_hz * time_s + rng.uniform(0, 2 * np.pi)) for k in partials)
    if kind == "blown":
        wave *= np.minimum(1.0, time_s / ATTACK_S) * np.minimum(1.0, (time_s[-1] - time_s) / RELEASE_S)
    else:
        wave *= np.minimum(1.0, time_s / STRIKE_S) * np.exp(-LN_1000 / STRUCK_T60_S * time_s)
    return wave / np.abs(wave).max()


def with_tones(samples: np.ndarray, kind: str, n: int, level_db: float, *, seed: int = 7) -> np.ndarray:
    """So many tones, their peaks so far under the sweep's, anywhere in it."""
    rng, out, peak = np.random.default_rng(seed), samples.copy(), np.abs(samples).max()
    for _ in range(n):
        spec = lever_harp().strings[rng.integers(len(lever_harp().strings))]
        wave = tone(kind, spec.expected_hz * 2 ** (rng.uniform(-OFF_CENTS, OFF_CENTS) / 1200), rng)
        first = int(rng.uniform(1.0, len(samples) / RATE_HZ - 5.0) * RATE_HZ)
        out[first : first + len(wave)] += peak * 10 ** (level_db / 20) * wave[: len(out) - first]
    return out


def named(told: Told) -> tuple[int, int]:
    """Plucks named rightly, and what was named where nothing was plucked."""
    near = [[one.string for one in told.plucks if abs(one.onset_s - onset_s) < NEAR_S] for _, onset_s in sweeps.truth()]
    right = sum(string in heard for (string, _), heard in zip(sweeps.truth(), near, strict=True))
    return right, len(told.plucks) - sum(map(len, near))


def main() -> None:
    fresh, bad = sweeps.told(sweeps.sound(1)), sweeps.faulty(*BAD)
    later = sweeps.sound(2, DEAD, bad=bad, seed=2)
    print(f"| tones | dB | named rightly, of {len(sweeps.truth())} | invented | dead found (watched), of {len(bad)} | healthy dead |"
          " false | watch | unsure |\n|---|---:|---:|---:|---:|---:|---:|---:|---:|")
    for kind, n, level_db in TONES:
        told = sweeps.told(with_tones(later, kind, n, level_db))
        of_bad, well = sweeps.counted(sweeps.judged(told, fresh), bad)
        right, invented = named(told)
        name = f"{n} {kind} | {level_db:g}" if n else f"{kind} | "
        print(f"| {name} | {right} | {invented} | {of_bad['dead']} ({of_bad['watch']}) |"
              f" {well['dead']} | {well['false']} | {well['watch']} | {well['unsure']} |", flush=True)


if __name__ == "__main__":
    main()

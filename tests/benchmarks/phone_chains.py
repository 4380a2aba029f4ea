"""What a phone's gain and noise suppression do to decays and verdicts: python tests/benchmarks/phone_chains.py

Sweeps of real plucks (`heard_sweeps`), all strings healthy, through automatic gain (`disturbances.riding_gain`, two kinds), through
suppression (`disturbances.suppressed`, two depths, in noise at -50 and -60 dBFS), and through both, the gain behind, against the other take
recorded without. Printed is what the verdicts go by: the middle bend of all falls (`measure/bend`, this sweep's and the fresh one's) and
the signs of a moved gain (`baseline/decay_tilt`: tilt, slow partials, how much more than the fast ones, share of strings that tilt so);
then how many healthy strings are called dead without these two refusals, and with them. Below is what is none of both: another take, soft
against firm, a room, a set aged together, plucks cut short. Plucks of three seconds give a gain little time to rise, and the chains are
made up: no phone's maker tells what it does. Takes two minutes.
"""

from collections.abc import Callable
from dataclasses import replace
from unittest import mock

import numpy as np
from sounds import disturbances
from sounds import heard_sweeps as sweeps
from sounds.heard_sweeps import RATE_HZ, Told

from toneprobe.baseline.decay_tilt import decay_tilt
from toneprobe.baseline.pairing import pair_partials
from toneprobe.baseline.robust import middle
from toneprobe.condition import judgement

GAINS = ((0.5, 1.0), (0.7, 2.0))  # share evened out, s to rise
DEPTHS_DB = (-12.0, -24.0)
NOISES_DB = (-50.0, -60.0)
CUT_AFTER_S, ROOM_S, AGED = 1.0, 0.4, 0.6
QUIET_S = 0.9  # before the first pluck


def gained(x: np.ndarray, evened: float, rises_s: float) -> np.ndarray:
    out = disturbances.riding_gain(x, RATE_HZ, evened=evened, rises_s=rises_s)
    return out * np.abs(x).max() / np.abs(out).max()


def suppressed(x: np.ndarray, depth_db: float) -> np.ndarray:
    return disturbances.suppressed(x, RATE_HZ, x[: int(QUIET_S * RATE_HZ)], least_db=depth_db)


def of_hand(told: Told, which: int) -> Told:
    """Each string's first pluck, the soft one, or its second."""
    by_string: dict[str, list] = {}
    for pluck in told.plucks:
        by_string.setdefault(pluck.string, []).append(pluck)
    return replace(told, plucks=tuple(plucks[which] for plucks in by_string.values() if len(plucks) == 2))


def bend(told: Told) -> float:
    return middle([bend for one in told.sweep.readings.values() for bend in one.bends])


def n_dead(now: Told, fresh: Told) -> int:
    return sweeps.counted(sweeps.judged(now, fresh))[1]["dead"]


def row(name: str, now: Told, fresh: Told) -> str:
    here, then = now.sweep.readings, fresh.sweep.readings
    tilt = decay_tilt([pair_partials(here[string], then[string]) for string in here if string in then])
    with (mock.patch.object(judgement, "without_moved_gain", lambda known, *_, **__: known),
          mock.patch.object(judgement, "without_bent_falls", lambda known, *_, **__: known)):
        before = n_dead(now, fresh)
    signs = f"{tilt.tilt:.2f} | {-tilt.slow:.2f} | {tilt.fast - tilt.slow:.2f} | {tilt.share:.2f}" if tilt else " | | | "
    return f"| {name} | {bend(now):.2f}, {bend(fresh):.2f} | {signs} | {before} → {n_dead(now, fresh)} |"


def main() -> None:
    def later(change: Callable[[np.ndarray], np.ndarray] = lambda x: x, **how) -> Told:
        return sweeps.told(change(sweeps.sound(2, **({"seed": 2} | how))))

    fresh, plain = sweeps.told(sweeps.sound(1)), later()
    print("| this sweep, the fresh one without | bend, fresh | tilt | slow partials, log | more than fast | share | dead: before → now |")
    print("|---|---:|---:|---:|---:|---:|---:|")
    for gain in GAINS:
        told = later(lambda x, how=gain: gained(x, *how))
        print(row(f"gain, {gain[0]:.0%} evened out in {gain[1]:g} s", told, fresh), flush=True)
    both = {}
    for noise_db in NOISES_DB:
        noise = 10 ** (noise_db / 20)
        for depth_db in DEPTHS_DB:
            told = later(lambda x, depth=depth_db: suppressed(x, depth), noise=noise)
            print(row(f"suppressed by {-depth_db:g} dB, noise at {noise_db:g} dBFS", told, fresh), flush=True)
        both[noise_db] = later(lambda x: gained(suppressed(x, DEPTHS_DB[0]), *GAINS[1]), noise=noise)
        print(row(f"suppression and gain, noise at {noise_db:g} dBFS", both[noise_db], fresh), flush=True)
    print(row("the last one fresh, now without", plain, both[NOISES_DB[-1]]), flush=True)
    print(row("none", plain, fresh), flush=True)
    print(row("soft against firm", of_hand(plain, 0), of_hand(fresh, 1)), flush=True)
    print(row(f"a room of {ROOM_S:g} s", later(lambda x: disturbances.in_room(x, RATE_HZ, ROOM_S, seed=11)), fresh), flush=True)
    print(row(f"all at {AGED:.0%} of their ring", later(fault=(("lose", AGED),), bad=sweeps.strings()), fresh), flush=True)
    print(row(f"cut after {CUT_AFTER_S:g} s", later(gap_s=CUT_AFTER_S), fresh), flush=True)


if __name__ == "__main__":
    main()

"""What lost sound does to verdicts, and how much of it is found: python tests/benchmarks/drop_outs.py

Sweeps of real plucks (`heard_sweeps`), all strings healthy, out of which pieces are lost anywhere: exact zeros of 30 ms and of two seconds,
as a recorder leaves them, and holes of 10 to 200 ms, as a wireless link does, over which a later stage put its hiss. Printed is how many
are told (what falls into quiet cannot be), how many gaps are told of the sweep without any, and the verdicts without what is known of the
gaps and with it. Zeros and holes only: packets that are repeated or closed up are not among them. Takes a minute and a half.
"""

from dataclasses import replace

import numpy as np
from sounds import heard_sweeps as sweeps
from sounds.heard_sweeps import RATE_HZ, Told

from toneprobe.audio import recording_from_samples

LOST = (("none", 0, (0.0, 0.0)), ("zeros of 30 ms", 25, (0.03, 0.03)), ("zeros of 2 s", 7, (2.0, 2.0)),
        ("holes of 10 to 200 ms", 40, (0.01, 0.2)))
ENDS_S = 1.0  # nothing is lost before the first pluck, nor in the last second


def holes(n_samples: int, n: int, lengths_s: tuple[float, float], *, seed: int = 9) -> list[tuple[int, int]]:
    """First sample and the one after the last, in time order, no two over one another."""
    rng, found = np.random.default_rng(seed), []
    while len(found) < n:
        first = int(rng.uniform(ENDS_S * RATE_HZ, n_samples - (ENDS_S + lengths_s[1]) * RATE_HZ))
        end = first + int(rng.uniform(*lengths_s) * RATE_HZ)
        if all(end < other or first > until for other, until in found):
            found.append((first, end))
    return sorted(found)


def without(samples: np.ndarray, lost: list[tuple[int, int]], *, hiss: float = 0.0, seed: int = 10) -> np.ndarray:
    out, rng = samples.copy(), np.random.default_rng(seed)
    for first, end in lost:
        out[first:end] = rng.normal(0.0, hiss, end - first) if hiss else 0.0
    return out


def not_knowing(told: Told) -> Told:
    """The same sweep heard as if nobody knew of its gaps."""
    recording = told.recording
    return sweeps.told(replace(recording, gaps_at=(), quality=replace(recording.quality, n_gaps=0)))


def verdicts(told: Told, fresh: Told) -> str:
    return sweeps.text(sweeps.counted(sweeps.judged(told, fresh))[1])


def main() -> None:
    fresh, later = sweeps.told(sweeps.sound(1)), sweeps.sound(2, seed=2)
    print("| lost | told | verdicts, the gaps not known | known |\n|---|---:|---|---|")
    for name, n, lengths_s in LOST:
        lost = holes(len(later), n, lengths_s)
        samples = without(later, lost, hiss=sweeps.NOISE if name.startswith("holes") else 0.0)
        told = sweeps.told(recording_from_samples(samples, RATE_HZ))
        before = verdicts(not_knowing(told), fresh) if n else ""
        print(f"| {f'{n} ' if n else ''}{name} | {told.recording.quality.n_gaps} | {before} | {verdicts(told, fresh)} |", flush=True)


if __name__ == "__main__":
    main()

"""What slow drift below any string does to verdicts: python tests/benchmarks/drifting.py

Sweeps of real plucks (`heard_sweeps`), three of 24 strings dead (40 % of their ring), with an offset that swings by 0.2 of full scale at
0.07 or at 0.5 Hz, or stands still. Counted are the verdicts on the dead and on the healthy strings without what takes the drift out
(`audio/drift`) and with it. A drift is one sine here; thumps and wind are not. Takes a minute and a half.
"""

from dataclasses import replace

import numpy as np
from next_door import BAD, DEAD
from sounds import heard_sweeps as sweeps
from sounds.heard_sweeps import RATE_HZ

from toneprobe.audio import recording_from_samples

DRIFTS = (("none", 0.0, 0.0), ("a constant", 0.2, 0.0), ("0.07 Hz", 0.2, 0.07), ("0.5 Hz", 0.2, 0.5))


def drifting(samples: np.ndarray, height: float, freq_hz: float) -> np.ndarray:
    return samples + height * np.cos(2 * np.pi * freq_hz * np.arange(len(samples)) / RATE_HZ)


def main() -> None:
    fresh, bad = sweeps.told(sweeps.sound(1)), sweeps.faulty(*BAD)
    later = sweeps.sound(2, DEAD, bad=bad, seed=2)
    print("| drift | dead strings, left in → taken out | healthy ones, left in → taken out |\n|---|---|---|")
    for name, height, freq_hz in DRIFTS:
        recording = recording_from_samples(drifting(later, height, freq_hz), RATE_HZ)
        pairs = [sweeps.counted(sweeps.judged(sweeps.told(one), fresh), bad)
                 for one in ((replace(recording, drift=None), recording) if recording.drift else (recording,))]
        of_bad, well = (" → ".join(map(sweeps.text, one)) for one in zip(*pairs, strict=True))
        print(f"| {name} | {of_bad} | {well} |", flush=True)


if __name__ == "__main__":
    main()

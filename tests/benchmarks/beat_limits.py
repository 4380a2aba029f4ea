"""How slow and how shallow a beat may be and still be measured: python tests/benchmarks/beat_limits.py [RUNS]

One partial of two modes in white noise, phases and decay rates (up to a factor of two apart) at random, measured as a pluck's partial is.
`swings`: how many fit while both modes stand above the noise of the band. For each depth the share of runs with a rate within 5 % and a
depth within 1 dB (the goal from one swing and 1 dB on), then the share called a beat at all; 0 dB: none may be.
"""

import sys
from collections.abc import Iterator

import numpy as np
from sounds.formula_plucks import PRE_S, damped, time_grid_s

from toneprobe.measure.beats import Beat, partial_beat
from toneprobe.measure.envelope import band, pluck_signal
from toneprobe.units import LN_1000

RATE_HZ = 44100
REGISTERS = ((65.4, 8.0), (261.6, 4.0), (1046.5, 1.2))  # Hz, T60 in s
SNR_DB = (40.0, 60.0)  # of the partial's start over all the noise
SWINGS = (1.1, 1.3, 1.6, 2.0, 3.0, 6.0)
DEPTHS_DB = (0.0, 1.0, 2.0, 4.0, 10.0)
LONGEST_S = 12.0


def trial(freq_hz: float, t60_s: float, snr_db: float, swings: float, depth_db: float, seed: int) -> tuple[Beat | object, float]:
    """What was found, and the true rate in Hz."""
    rng = np.random.default_rng([seed, int(freq_hz), int(snr_db), int(10 * swings), int(10 * depth_db)])
    half_hz = 0.35 * freq_hz
    in_band_db = snr_db + 10.0 * np.log10(0.5 * RATE_HZ / (2.0 * half_hz))
    swing = 10.0 ** (depth_db / 20.0)
    ratio, phases, apart = (swing - 1.0) / (swing + 1.0), rng.uniform(0.0, 2.0 * np.pi, 2), 2.0 ** rng.uniform(-0.5, 0.5)
    weaker_db = in_band_db + (20.0 * np.log10(ratio) if ratio else 0.0)
    both_s = min(LONGEST_S, t60_s * in_band_db / 60.0, t60_s / apart * weaker_db / 60.0)
    rate_hz = swings / both_s
    time_s = time_grid_s(RATE_HZ, min(LONGEST_S, 1.5 * t60_s))
    sound = damped(time_s, freq_hz, LN_1000 / t60_s, phase=phases[0]) + damped(
        time_s, freq_hz + rate_hz, apart * LN_1000 / t60_s, amplitude=ratio, phase=phases[1])
    sound = sound + rng.normal(0.0, np.sqrt(0.5) * 10.0 ** (-snr_db / 20.0), len(sound))
    envelope = band(pluck_signal(sound, rate_hz=RATE_HZ, pre_s=PRE_S, f1_hz=freq_hz), freq_hz, half_hz)
    return partial_beat(envelope, start_s=0.01), rate_hz


def rows(n_runs: int) -> Iterator[str]:
    yield "| Hz | dB | swings |" + "".join(f" {depth:g} dB |" for depth in DEPTHS_DB)
    yield "|---:|---:|---:|" + "---:|" * len(DEPTHS_DB)
    for freq_hz, t60_s in REGISTERS:
        for snr_db in SNR_DB:
            for swings in SWINGS:
                cells = []
                for depth_db in DEPTHS_DB:
                    found = [trial(freq_hz, t60_s, snr_db, swings, depth_db, seed) for seed in range(n_runs)]
                    beats = [(beat, rate_hz) for beat, rate_hz in found if isinstance(beat, Beat)]
                    good = [abs(beat.rate_hz / hz - 1.0) < 0.05 and abs(beat.depth_db - depth_db) < 1.0 for beat, hz in beats]
                    cells.append(f" {sum(good) / n_runs:.0%}, {len(beats) / n_runs:.0%} |")
                yield f"| {freq_hz:g} | {snr_db:g} | {swings:g} |" + "".join(cells)


def main() -> None:
    for line in rows(int(sys.argv[1]) if len(sys.argv) > 1 else 100):
        print(line, flush=True)


if __name__ == "__main__":
    main()

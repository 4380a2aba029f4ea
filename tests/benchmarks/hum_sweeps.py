"""What mains hum does to the figures of real plucks, and what is left of that when it is taken out: python tests/benchmarks/hum_sweeps.py

Whole sweeps of real plucks with a comb of lines at 50 or 60 Hz added, whose clock wanders as a grid's does. For each level of its first
line: strings named, and how far pitch (cents) and decay time (per cent) lie from those of the same sweep without hum, 9 in 10 within
and worst; heard as recorded, then with the hum taken out.
"""

from dataclasses import replace

import numpy as np
from sounds import real_sweeps as real

from toneprobe.audio import Recording, recording_from_samples, without_hum
from toneprobe.hearing import hear
from toneprobe.instrument import Instrument
from toneprobe.measure.figure import PluckMeasurement

LEVELS_DB = (-70.0, -60.0, -50.0, -40.0)  # dBFS, of the first line; sweeps are levelled to peaks of about -10
LINES_DB = {1: 0.0, 2: -6.0, 3: -4.0, 4: -16.0, 5: -12.0, 6: -22.0, 7: -18.0, 9: -24.0}
WANDER_HZ = 0.002  # a step of the clock in a tenth of a second
MOST_WANDER_HZ = 0.03


def hum(n_samples: int, level_db: float, mains_hz: float, *, seed: int = 0, rate_hz: int = real.RATE_HZ) -> np.ndarray:
    rng = np.random.default_rng(seed)
    time_s = np.arange(n_samples) / rate_hz
    wander_hz = np.cumsum(rng.normal(0.0, WANDER_HZ, int(10 * time_s[-1]) + 2))
    wander_hz = np.clip(wander_hz - wander_hz.mean(), -MOST_WANDER_HZ, MOST_WANDER_HZ)
    clock = 2 * np.pi * np.cumsum(mains_hz + np.interp(time_s, 0.1 * np.arange(len(wander_hz)), wander_hz)) / rate_hz
    return sum(10 ** ((level_db + db) / 20) * np.cos(k * clock + rng.uniform(0.0, 2 * np.pi)) for k, db in LINES_DB.items())


def as_recorded(recording: Recording) -> Recording:
    """The same, its hum passed over."""
    return replace(recording, quality=replace(recording.quality, hum_hz=None))


def plucks(recording: Recording, harp: Instrument) -> dict[str, PluckMeasurement]:
    return {pluck.string: pluck for pluck in hear(recording, harp).plucks}


def main() -> None:
    print("| harp | mains | dBFS | heard | named | pitch: 9 in 10, worst | decay: 9 in 10, worst | left of the hum |")
    print("|---|---:|---:|---|---:|---:|---:|---:|")
    for name, files, harp, mains_hz in (("concert", real.concert(), real.concert_harp(), 49.97),
                                        ("lever, firm", real.lever("firm", 1), real.lever_harp(), 60.02)):
        samples = real.sweep_of(files, real.downwards(files), seed=2).samples
        clean = plucks(recording_from_samples(samples, real.RATE_HZ), harp)
        for level_db in LEVELS_DB:
            added = hum(len(samples), level_db, mains_hz)
            recording = recording_from_samples(samples + added, real.RATE_HZ)
            left = without_hum(recording).read(0, len(samples)) - samples
            for how, sound in (("as recorded", as_recorded(recording)), ("hum out", recording)):
                found = plucks(sound, harp)
                cents, decay = real.apart(found, clean)
                rest = f"{10 * np.log10(np.mean(left**2) / np.mean(added**2)):.0f} dB" if how == "hum out" else ""
                print(f"| {name} | {mains_hz:g} | {level_db:g} | {how} | {len(found)} of {len(clean)} |"
                      f" {np.quantile(cents, 0.9):.2f}, {cents.max():.1f} |"
                      f" {np.quantile(decay, 0.9):.0f}, {decay.max():.0f} | {rest} |", flush=True)


if __name__ == "__main__":
    main()

"""What other sounds do to the figures of real plucks that ring on through them: python tests/benchmarks/knock_sweeps.py

Whole sweeps of real plucks, left to ring, with a clock ticking once a second, or with coughs, a creaking chair or knocks on wood while
every third pluck rings; peaks so far below the sweep's own. Strings named, and how far pitch (cents), decay time (per cent) and the ripple
that a string's partials share (dB) lie from those of the same sweep without: 9 in 10 within, and worst. First as heard, then with the
knocks neither bridged nor kept out of the noise, as if nothing were known of them.
"""

from dataclasses import replace

import numpy as np
from sounds import real_sweeps as real
from sounds.knocks import added, cough, creak, tick, wood

from toneprobe.audio import Recording, recording_from_samples
from toneprobe.hearing import hear
from toneprobe.identify.named import Identification
from toneprobe.instrument import Instrument
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.measure.pluck import measure_pluck
from toneprobe.workers import usable_cores

KINDS = {"clock": (tick, (-45.0, -35.0, -25.0)), "coughs": (cough, (-25.0, -10.0)), "chair": (creak, (-25.0, -12.0)),
         "wood": (wood, (-25.0, -12.0))}


def clock_s(sweep: real.RealSweep) -> np.ndarray:
    return np.arange(0.3, len(sweep.samples) / real.RATE_HZ - 0.2, 1.0)


def sprinkled_s(sweep: real.RealSweep) -> np.ndarray:
    """Late while every third pluck rings."""
    onsets_s = np.array([onset_s for _, onset_s in sweep.truth] + [len(sweep.samples) / real.RATE_HZ])
    return (onsets_s[:-1] + 0.6 * np.diff(onsets_s))[::3]


def unaware(recording: Recording, found: Identification) -> dict[str, PluckMeasurement]:
    return {one.string.name: measure_pluck(recording, replace(one, knocks_s=())) for one in found.named}


def ripple(pluck: PluckMeasurement) -> np.ndarray:
    parts = zip(pluck.ripple.in_phase_db, pluck.ripple.quadrature_db, strict=True)
    return np.array([np.nan if x is None else x + 1j * y for x, y in parts])


def worst_swings(found: dict[str, PluckMeasurement], clean: dict[str, PluckMeasurement]) -> np.ndarray:
    both = [(ripple(found[string]), ripple(pluck)) for string, pluck in clean.items() if string in found]
    swings = [np.abs(now - then) for now, then in both if now.size and then.size]
    return np.array([float(np.nanmax(one)) for one in swings if np.isfinite(one).any()])


def row(label: str, found: dict[str, PluckMeasurement], clean: dict[str, PluckMeasurement], n_invented: int) -> str:
    cells = [f"{np.quantile(one, 0.9):.2g}, {one.max():.2g}" for one in (*real.apart(found, clean), worst_swings(found, clean))]
    return f"| {label} | {len(set(found) & set(clean))} of {len(clean)}, {n_invented} | {' | '.join(cells)} |"


def heard(samples: np.ndarray, harp: Instrument, label: str, clean: dict[str, PluckMeasurement]) -> None:
    recording = recording_from_samples(samples, real.RATE_HZ)
    aware = hear(recording, harp, processes=usable_cores())
    n_invented = len(aware.plucks) - len({one.string for one in aware.plucks} & set(clean))
    print(row(label, {one.string: one for one in aware.plucks}, clean, n_invented), flush=True)
    print(row(f"{label}, not known of", unaware(recording, aware.identification), clean, n_invented), flush=True)


def main() -> None:
    print("| sound | named, invented | pitch: 9 in 10, worst | decay | ripple |\n|---|---:|---:|---:|---:|")
    for name, files, harp in (("concert", real.concert(), real.concert_harp()), ("lever, soft", real.lever("soft", 1), real.lever_harp())):
        sweep = real.sweep_of(files, real.downwards(files), gap_s=lambda note: 1.2 * real.ring_gap_s(note), seed=2)
        clean = {one.string: one for one in hear(recording_from_samples(sweep.samples, real.RATE_HZ), harp).plucks}
        for kind, (make, levels_db) in KINDS.items():
            for level_db in levels_db:
                at_s = clock_s(sweep) if kind == "clock" else sprinkled_s(sweep)
                samples = added(sweep.samples, make, at_s, peak=np.abs(sweep.samples).max() * 10 ** (level_db / 20))
                heard(samples, harp, f"{name}, {kind} {level_db:g} dB", clean)


if __name__ == "__main__":
    main()

"""Are plucks named in noise, in eight bits, in a narrow band: python tests/benchmarks/poor_sounds.py

Whole sweeps of real plucks (`real_sweeps`), not told the notes: the lever harp's soft ones in white and in pink noise whose rms lies so far
under the loudest peak; both harps in eight bits without dither, loud and soft, at 44.1 and 22.05 kHz; both at 8 kHz. Counted are plucks
named rightly and wrongly, what was named where nothing was plucked, and how late the worst onset of those named rightly is. The noise is
made here and holds no other sounds; the recorders of real narrow bands filter otherwise. Takes a minute.
"""

from collections.abc import Sequence

import numpy as np
from scipy.signal import resample_poly
from sounds import real_sweeps as real

from toneprobe.audio import recording_from_samples
from toneprobe.identify.named import NamedSpan
from toneprobe.identify.whole_sweep import identify
from toneprobe.instrument import Instrument
from toneprobe.segment import find_spans

NEAR_S = 0.1
SEED = 5
STEPS = 128  # of eight bits, in a full scale of ±1
HEIGHTS = (0.9, 0.3)  # peaks of the sweeps in eight bits
UNDER_DB = 20.0
GAP_S = 2.0  # undamped


def noise(n: int, *, is_pink: bool, seed: int = SEED) -> np.ndarray:
    """Of an rms of 1."""
    spectrum = np.fft.rfft(np.random.default_rng(seed).normal(size=n))
    out = np.fft.irfft(spectrum / np.sqrt(np.arange(1, len(spectrum) + 1)), n) if is_pink else np.fft.irfft(spectrum, n)
    return out / out.std()


def in_noise(samples: np.ndarray, under_db: float, *, is_pink: bool) -> np.ndarray:
    """Its rms so far under the loudest peak."""
    return samples + np.abs(samples).max() * 10 ** (-under_db / 20) * noise(len(samples), is_pink=is_pink)


def in_eight_bits(samples: np.ndarray) -> np.ndarray:
    return np.round(samples * STEPS) / STEPS


def counted(named: Sequence[NamedSpan], truth: Sequence[tuple[str, float]]) -> tuple[int, int, int, float]:
    """Right, wrong, invented, and the worst onset of the right ones in ms."""
    near = [(name, onset_s, [one for one in named if abs(one.span.onset_s - onset_s) < NEAR_S][:1]) for name, onset_s in truth]
    right = [1000.0 * abs(heard[0].span.onset_s - onset_s) for name, onset_s, heard in near if heard and heard[0].string.name == name]
    wrong = sum(bool(heard) for _, _, heard in near) - len(right)
    return len(right), wrong, len(named) - len(right) - wrong, max(right, default=0.0)


def row(name: str, samples: np.ndarray, rate_hz: int, truth: Sequence[tuple[str, float]], harp: Instrument) -> str:
    recording = recording_from_samples(samples, rate_hz)
    right, wrong, invented, late_ms = counted(identify(recording, find_spans(recording), harp).named, truth)
    return f"| {name} | {right} of {len(truth)} | {wrong} | {invented} | {late_ms:.0f} |"


def main() -> None:
    print("| sweep | named rightly | wrongly | invented | worst onset, ms |\n|---|---:|---:|---:|---:|")
    soft, lever, concert = real.lever("soft", 1), real.lever_harp(), real.concert_harp()
    for damped in (True, False):
        sweep = real.sweep_of(soft, real.downwards(soft), gap_s=real.ring_gap_s if damped else lambda _: GAP_S, damped=damped)
        for kind in ("white", "pink"):
            loud = in_noise(sweep.samples, UNDER_DB, is_pink=kind == "pink")
            name = f"lever, soft, {'' if damped else 'un'}damped, {kind} noise"
            print(row(name, 0.3 * loud / np.abs(loud).max(), real.RATE_HZ, sweep.truth, lever), flush=True)
    firm = real.lever("firm", 1)
    for name, files, harp in (("concert", real.concert(), concert), ("lever, soft", soft, lever), ("lever, firm", firm, lever)):
        sweep = real.sweep_of(files, real.downwards(files))
        slow = resample_poly(sweep.samples, 1, 2)
        for height in HEIGHTS:
            for rate_hz, samples in ((real.RATE_HZ, sweep.samples), (real.RATE_HZ // 2, slow)):
                coarse = in_eight_bits(height / np.abs(samples).max() * samples)
                how = f"eight bits, {height * STEPS:.0f} steps high, {rate_hz / 1000:g} kHz"
                print(row(f"{name}, {how}", coarse, rate_hz, sweep.truth, harp), flush=True)
        print(row(f"{name}, 8 kHz", resample_poly(sweep.samples, 80, 441), 8000, sweep.truth, harp), flush=True)


if __name__ == "__main__":
    main()

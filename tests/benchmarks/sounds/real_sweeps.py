"""Sweeps put together from real plucks, each recorded alone: who was plucked when is known, everything else is real.

Two harps: `concert`, natural strings, one pluck each; `lever`, all strings sharpened, each plucked softly and firmly, twice.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile

from toneprobe.instrument import Instrument, StringSpec, load_instrument
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.units import hz_of_note, split_note, string_of_note

RECORDINGS = Path(__file__).resolve().parents[4] / "shared" / "recordings"
RATE_HZ = 44100
PRE_S = 0.005  # a pluck's samples start so long before its onset
HAND_S = 0.25  # damping by hand


@dataclass(frozen=True)
class RealSweep:
    samples: np.ndarray
    truth: tuple[tuple[str, float], ...]  # string name and onset in s, in time order


def available() -> bool:
    return (RECORDINGS / "concert_harp").is_dir() and (RECORDINGS / "lever_harp").is_dir()


@lru_cache(maxsize=128)
def pluck(path: Path) -> np.ndarray:
    """One pluck, as of `from_onset`."""
    return from_onset(path).astype(np.float32)


def from_onset(path: Path) -> np.ndarray:
    """One pluck, mono, from PRE_S before its onset: where its energy, in steps of 2 ms, last lay below 2 % of the peak's."""
    samples, rate_hz = soundfile.read(path, always_2d=True)
    assert rate_hz == RATE_HZ
    samples, hop = samples.mean(axis=1), RATE_HZ // 500
    energy = np.add.reduceat(samples**2, np.arange(0, len(samples), hop))
    peak = int(energy.argmax())
    before = np.flatnonzero(energy[:peak] <= 0.02 * energy[peak])
    onset = (int(before[-1]) + 1) * hop if len(before) else 0
    return samples[max(0, onset - int(PRE_S * RATE_HZ)):]


def lever(hand: str, take: int) -> dict[str, Path]:
    """Note as tuned → file, for "soft" or "firm" plucks, take 1 or 2."""
    return {file.stem.split("_")[0].replace("sharp", "#"): file for file in (RECORDINGS / "lever_harp").glob(f"*_{hand}_take{take}.flac")}


def concert() -> dict[str, Path]:
    return {file.stem: file for file in (RECORDINGS / "concert_harp").glob("*.flac")}


def lever_harp() -> Instrument:
    """The lever harp's strings that were recorded, all sharpened."""
    notes = sorted(lever("soft", 1), key=hz_of_note, reverse=True)
    return Instrument("lever harp", 440.0, None, tuple(StringSpec(string_of(note), note, hz_of_note(note)) for note in notes))


def concert_harp() -> Instrument:
    """A whole pedal harp in naturals; half of its strings were recorded."""
    return load_instrument("pedal-47", tuning="naturals")


def string_of(note: str) -> str:
    return string_of_note(_natural(note))


def _natural(note: str) -> str:
    letter, _, octave = split_note(note)
    return f"{letter}{octave}"


def downwards(files: Mapping[str, Path]) -> list[str]:
    return sorted(files, key=hz_of_note, reverse=True)


def ring_gap_s(note: str) -> float:
    """1.5 s at the top, 5 s at the bottom."""
    return float(1.5 + 3.5 * np.clip(np.log2(1400.0 / hz_of_note(note)) / 4.6, 0.0, 1.0))


def sweep_of(files: Mapping[str, Path], notes: Sequence[str], *, gap_s: Callable[[str], float] = ring_gap_s, damped: bool = True,
             snr_db: float | None = None, seed: int = 3) -> RealSweep:
    """The notes plucked in the given order, each from `files`. `snr_db`: white noise so far below the rms of the whole sweep's sound
    in the first half second of each pluck; without it, noise at −74 dB of full scale."""
    gaps_s = [gap_s(note) for note in notes]
    out = np.zeros(int((1.0 + sum(gaps_s) + 3.0) * RATE_HZ), np.float32)
    now_s, truth = 1.0, []
    for note, gap in zip(notes, gaps_s, strict=True):
        start = int(now_s * RATE_HZ)
        samples = (_damped(pluck(files[note]), gap) if damped else pluck(files[note]))[: len(out) - start]
        out[start : start + len(samples)] += samples
        truth.append((string_of(note), now_s + PRE_S))
        now_s += gap
    out *= 0.3 / np.abs(out).max()
    sigma = 2e-4 if snr_db is None else _loudness(out, truth) * 10.0 ** (-snr_db / 20.0)
    return RealSweep(out + np.random.default_rng(seed).normal(0.0, sigma, len(out)).astype(np.float32), tuple(truth))


def apart(found: Mapping[str, PluckMeasurement], clean: Mapping[str, PluckMeasurement]) -> tuple[np.ndarray, np.ndarray]:
    """How far what was made of a sweep lies from the sweep itself: cents, and per cent of the decay time, of the strings heard in both."""
    both = [(found[string], pluck) for string, pluck in clean.items() if string in found]
    cents = [abs(now.cents_off.value - then.cents_off.value) for now, then in both if now.cents_off.known and then.cents_off.known]
    decay = [100 * (np.exp(abs(np.log(now.t60_s.value / then.t60_s.value))) - 1) for now, then in both
             if now.t60_s.known and then.t60_s.known]
    return np.array(cents), np.array(decay)


def _damped(samples: np.ndarray, gap_s: float) -> np.ndarray:
    n, n_hand = int(gap_s * RATE_HZ), int(HAND_S * RATE_HZ)
    samples = samples[: n + n_hand].copy()
    if len(samples) >= n:
        samples[-n_hand:] *= np.cos(np.linspace(0.0, np.pi / 2, n_hand)) ** 2
    return samples


def _loudness(samples: np.ndarray, truth: Sequence[tuple[str, float]]) -> float:
    """Median over the plucks of the rms of their first half second."""
    pieces = [samples[int(onset_s * RATE_HZ) : int((onset_s + 0.5) * RATE_HZ)] for _, onset_s in truth]
    return float(np.median([np.sqrt(np.mean(np.square(piece, dtype=np.float64))) for piece in pieces]))

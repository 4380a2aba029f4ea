"""Whole sweeps of real plucks with something done to the whole recording, heard and judged as the program does it.

The lever harp's 24 strings, each plucked softly and firmly, three seconds apart, damped: take 1 is fresh, take 2
the later sweep, in which every fourth string may have a fault planted. What a recording tells of itself (its codec, gain, gaps) goes into
the verdicts as it does in the program.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sounds.digital_faults import PRE_S
from sounds.real_plucks import RealPluck, lever_harp, sound_of
from toneprobe.audio import Recording, recording_from_samples
from toneprobe.baseline import fresh_baseline
from toneprobe.condition.context import Capture, SweepContext
from toneprobe.condition.judgement import Judgement, judge
from toneprobe.hearing import hear
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.session import SweepReading
from toneprobe.session.sweep import read_sweep

RATE_HZ = 44100
HANDS = ("soft", "firm")
FADE_S = 0.25
LEAD_S = 1.0  # before the first pluck
PEAK, NOISE = 0.3, 2e-4
GAP_S = 3.0
N_STRINGS, N_FAULTY = 24, 6
NOTHING, HALF_RING, ASTRAY = (), (("lose", 0.5),), (("stray", 8.0),)


@dataclass(frozen=True)
class Told:
    """What one sweep told."""

    plucks: tuple[PluckMeasurement, ...]
    recording: Recording

    @property
    def sweep(self) -> SweepReading:
        return read_sweep(self.plucks)

    @property
    def capture(self) -> Capture:
        return Capture(self.recording.quality, float(self.recording.rate_hz))


def strings() -> list[str]:
    """Downwards."""
    return [spec.name for spec in lever_harp().strings]


def faulty(first: int = 1, n: int = N_FAULTY) -> list[str]:
    """Every so many strings, from that one on."""
    return strings()[first :: N_STRINGS // n]


def sound(take: int, fault: tuple = NOTHING, *, bad: Iterable[str] | None = None, gap_s: float = GAP_S, seed: int = 1,
          noise: float = NOISE) -> np.ndarray:
    """One sweep, shape (n,), full scale ±1."""
    return recorded(take, fault, list(faulty() if bad is None else bad), gap_s=gap_s, damped=True, seed=seed, noise=noise)


def recorded(take: int, done: tuple, bad: Sequence[str], *, gap_s: float, damped: bool, seed: int,
             noise: float = NOISE) -> np.ndarray:
    """One sweep, downwards, shape (n,)."""
    strings = [spec.name for spec in lever_harp().strings]
    out, now_s = np.zeros(int((10.0 + gap_s * len(HANDS) * len(strings)) * RATE_HZ)), LEAD_S
    for string in strings:
        for hand in HANDS:
            sound, _ = sound_of(RealPluck(string, hand, take, done if string in bad else ()))
            first = int(now_s * RATE_HZ)
            sound = (_faded(sound, gap_s) if damped else sound)[: len(out) - first]
            out[first : first + len(sound)] += sound
            now_s += gap_s
    return PEAK * out / np.abs(out).max() + np.random.default_rng(seed).normal(0.0, noise, len(out))


def _faded(sound: np.ndarray, gap_s: float) -> np.ndarray:
    """Damped by hand as the next is plucked."""
    n, fade = int(gap_s * RATE_HZ), int(FADE_S * RATE_HZ)
    if len(sound) < n:
        return sound
    cut = sound[: n + fade].copy()
    cut[n:] *= np.cos(np.linspace(0.0, np.pi / 2, len(cut) - n)) ** 2
    return cut


def truth(gap_s: float = GAP_S) -> list[tuple[str, float]]:
    """String and onset in s of each pluck of a sweep."""
    plucked = [string for string in strings() for _ in HANDS]
    return [(string, LEAD_S + k * gap_s + PRE_S) for k, string in enumerate(plucked)]


def told(recording: np.ndarray | Path | Recording) -> Told:
    found = hear(recording_from_samples(recording, RATE_HZ) if isinstance(recording, np.ndarray) else recording, lever_harp())
    return Told(found.plucks, found.recording)


def judged(now: Told, fresh: Told, captures: tuple[Capture, Capture] | None = None) -> Judgement:
    """captures: what is known of the two recordings, now and fresh, instead of what they tell."""
    of_now, of_fresh = captures or (now.capture, fresh.capture)
    baselines = fresh_baseline([fresh.plucks], capture="fresh")
    return judge(now.sweep, baselines, instrument=lever_harp(), context=SweepContext((of_now,), {"fresh": (of_fresh,)}))


def counted(judgement: Judgement, bad: Iterable[str] = ()) -> tuple[Counter[str], Counter[str]]:
    """Verdicts on the faulty strings, and on the healthy ones; of every string that was heard."""
    bad, heard = set(bad), [one for one in judgement.conditions if one.verdict != "unheard"]
    return (Counter(one.verdict for one in heard if one.string in bad), Counter(one.verdict for one in heard if one.string not in bad))


def text(verdicts: Counter[str]) -> str:
    """In words, the worst first."""
    return ", ".join(f"{verdicts[one]} {one}" for one in ("dead", "false", "watch", "unsure", "sound") if verdicts[one])

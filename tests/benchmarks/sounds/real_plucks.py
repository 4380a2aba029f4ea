"""Plucks of a real lever harp, as they are or with something done to them.

24 strings, each plucked softly and firmly, twice: take 1 serves as fresh, take 2 as the later sweep, so that what an untouched string and
a living hand differ by is in every comparison. Faults are planted at partials found once in the untouched pluck.
"""

from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

import numpy as np

from sounds import digital_faults as faults
from sounds import disturbances
from sounds.real_sweeps import RATE_HZ, from_onset
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.measure.pluck import measure_samples
from toneprobe.synth.point_mass import point_mass_ratio
from toneprobe.units import LN_1000, hz_of_note

RECORDINGS = Path(__file__).resolve().parents[4] / "shared" / "recordings" / "lever_harp"
LONGEST_S = 6.0  # of one pluck; strings below LOW_HZ take twice as long
LOW_HZ = 130.0
HEARD_DB = 30.0  # a beat is heard while the string falls by so much


@dataclass(frozen=True)
class RealPluck:
    """What is heard: one file, and what is done to it, in order: (name, arguments...)."""

    note: str
    hand: str  # soft, firm
    take: int
    done: tuple[tuple, ...] = ()
    seed: int = 0


def available() -> bool:
    return RECORDINGS.is_dir()


@lru_cache(maxsize=1)
def lever_harp() -> Instrument:
    notes = sorted({file.stem.split("_")[0].replace("sharp", "#") for file in RECORDINGS.glob("*.flac")}, key=hz_of_note, reverse=True)
    return Instrument("lever harp", 440.0, None, tuple(StringSpec(note, note, hz_of_note(note)) for note in notes))


def measure_real(pluck: RealPluck) -> PluckMeasurement:
    spec = next(s for s in lever_harp().strings if s.name == pluck.note)
    x, rate_hz = sound_of(pluck)
    return measure_samples(x, rate_hz, spec, pitch_hz=spec.expected_hz, pre_s=faults.PRE_S)


def sound_of(pluck: RealPluck) -> tuple[np.ndarray, int]:
    """What is heard, from PRE_S before the onset, and its rate."""
    x, rate_hz = samples(pluck.note, pluck.hand, pluck.take)
    for name, *arguments in pluck.done:
        x = _DONE[name](x, rate_hz, pluck, *arguments)
    return x, rate_hz


@lru_cache(maxsize=8)
def samples(note: str, hand: str, take: int) -> tuple[np.ndarray, int]:
    """Mono, from PRE_S before the onset, at most LONGEST_S."""
    x = from_onset(RECORDINGS / f"{note.replace('#', 'sharp')}_{hand}_take{take}.flac")
    longest_s = LONGEST_S if hz_of_note(note) > LOW_HZ else 2.0 * LONGEST_S
    return x[: int(longest_s * RATE_HZ)], RATE_HZ


@cache
def partials_of(note: str, hand: str, take: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(numbers, frequencies, decay rates) of the untouched pluck's partials, the rates smoothed over frequency."""
    clean = measure_real(RealPluck(note, hand, take))
    known = [p for p in clean.partials if p.t60_s]
    log_f, log_d = np.log([p.freq_hz for p in known]), np.log([LN_1000 / p.t60_s for p in known])
    slope, level = np.polyfit(log_f, log_d, 1) if len(known) > 2 else (0.0, float(np.mean(log_d)))
    freq = np.array([p.freq_hz for p in clean.partials])
    return np.array([p.n for p in clean.partials]), freq, np.exp(slope * np.log(freq) + level)


def _lose(x, rate_hz, pluck, ring, power=0.0):
    """Decay times to `ring` of what they were; power: more loss at the upper partials (∝ n^power, the mean kept)."""
    _, freq, delta = partials_of(pluck.note, pluck.hand, pluck.take)
    tilt = (freq / np.exp(np.mean(np.log(freq)))) ** power
    return faults.lose_ring(x, rate_hz, freq, delta * (1.0 / ring - 1.0) * tilt)


def _dirt(x, rate_hz, pluck, strength):
    """Loss that grows with the square of frequency: `strength` times the string's own at the partial two thirds up."""
    _, freq, delta = partials_of(pluck.note, pluck.hand, pluck.take)
    ref = int(len(freq) * 2 / 3)
    return faults.lose_ring(x, rate_hz, freq, strength * delta[ref] * (freq / freq[ref]) ** 2)


def _stray(x, rate_hz, pluck, rms_cents):
    """Partials astray at random, rms over the lowest twelve as given; the string's own pattern, the same in each pluck."""
    n, freq, _ = partials_of(pluck.note, pluck.hand, pluck.take)
    pattern = np.random.default_rng([pluck.seed, *map(ord, pluck.note)]).normal(size=64)
    pattern *= rms_cents / np.sqrt(np.mean(pattern[:12] ** 2))
    return faults.shift_partials(x, rate_hz, freq, pattern[n - 1])


def _move(x, rate_hz, pluck, *moved):
    """Single partials out of their places: (number, cents) each."""
    n, freq, _ = partials_of(pluck.note, pluck.hand, pluck.take)
    return faults.shift_partials(x, rate_hz, freq, np.array([dict(moved).get(int(k), 0.0) for k in n]))


def _mass(x, rate_hz, pluck, fraction, place):
    n, freq, _ = partials_of(pluck.note, pluck.hand, pluck.take)
    return faults.shift_partials(x, rate_hz, freq, 1200.0 * np.log2(point_mass_ratio(n, fraction, place)))


def _beat(x, rate_hz, pluck, depth_db, swings):
    """A second voice so many cents higher that the first partial swings so often while it falls by HEARD_DB."""
    first_hz = partials_of(pluck.note, pluck.hand, pluck.take)[1][0]
    return faults.add_beat(x, depth_db, cents=1200.0 * np.log2(1.0 + _swing_hz(pluck, swings) / first_hz))


def _swing_hz(pluck, swings):
    """Rate at which the first partial swings so often while it falls by HEARD_DB; the same for all plucks of a string."""
    decays = [partials_of(pluck.note, hand, pluck.take)[2][0] for hand in ("soft", "firm")]
    return swings * float(np.mean(decays)) / (HEARD_DB / 20.0 * np.log(10.0))


_DONE = {
    "lose": _lose,
    "dirt": _dirt,
    "stray": _stray,
    "move": _move,
    "mass": _mass,
    "heard beat": _beat,
    "heard pulse": lambda x, rate_hz, pluck, depth_db, swings, least_hz: faults.pulse(
        x, rate_hz, depth_db, beat_hz=max(least_hz, _swing_hz(pluck, swings))),
    "beat": lambda x, rate_hz, pluck, depth_db, cents: faults.add_beat(x, depth_db, cents=cents),
    "pulse": lambda x, rate_hz, pluck, depth_db, beat_hz: faults.pulse(x, rate_hz, depth_db, beat_hz=beat_hz),
    "lower": lambda x, rate_hz, pluck, semitones: faults.lower(x, semitones),
    "dull": lambda x, rate_hz, pluck: disturbances.through(x, rate_hz, disturbances.DULL),
    "bright": lambda x, rate_hz, pluck: disturbances.through(x, rate_hz, disturbances.BRIGHT),
    "room": lambda x, rate_hz, pluck, rt60_s: disturbances.in_room(x, rate_hz, rt60_s, seed=11),
    "shoebox": lambda x, rate_hz, pluck, rt60_s: disturbances.in_shoebox(x, rate_hz, rt60_s),
    "gain": lambda x, rate_hz, pluck, db: x * 10 ** (db / 20),
    "noise": lambda x, rate_hz, pluck, snr_db: disturbances.with_noise(x, snr_db, seed=sum(map(ord, pluck.note + pluck.hand)) + pluck.take),
    "high-pass": lambda x, rate_hz, pluck: disturbances.high_passed(x, rate_hz),
    "riding": lambda x, rate_hz, pluck: disturbances.riding_gain(x, rate_hz),
    "cut": lambda x, rate_hz, pluck, after_s: x[: int((faults.PRE_S + after_s) * rate_hz)],
    "overdriven": lambda x, rate_hz, pluck, drive: disturbances.overdriven(x, drive),
    "retuned": lambda x, rate_hz, pluck, cents: disturbances.retuned(x, cents),
}

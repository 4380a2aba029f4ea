"""A diatonic lever harp of 33 strings made of a real one's plucks, each a recorded pluck moved by a semitone at most.

Of the lever harp every other string was recorded, all sharpened. So runs, octaves and neighbours a whole tone apart or less are had from
it only so: a string is the nearest recorded one, its own pitch taken off, played faster or slower (`disturbances.retuned`), which shortens
or lengthens its ring by as much. Two strings may be made of one recording; then they are never quite strangers.
"""

from collections.abc import Sequence
from functools import cache

import numpy as np

from sounds import disturbances
from sounds import real_sweeps as real
from sounds.real_plucks import RealPluck, measure_real
from toneprobe.instrument import Instrument, StringSpec, load_instrument
from toneprobe.units import cents_between, hz_of_note

N_STRINGS = 33  # G6 to C2, the range of what was recorded
PEAK, NOISE = 0.5, 1e-4  # of full scale
FADE_S = 0.02
LEVELS_DB = 2.0  # plucks are louder or softer by so much at the most


@cache
def harp() -> Instrument:
    whole = {spec.note: spec for spec in load_instrument("pedal-47", tuning="naturals").strings}
    notes = [note for note in real.downwards(whole) if hz_of_note("C2") <= hz_of_note(note) <= hz_of_note("G6")]
    return Instrument("diatonic lever harp", 440.0, None, tuple(StringSpec(whole[note].name, note, hz_of_note(note)) for note in notes))


def nearest(spec: StringSpec) -> str:
    """The recorded note that it is made of; of two as near the higher one, which then sounds lower and longer."""
    recorded = real.lever("firm", 1)
    return min(recorded, key=lambda note: (round(abs(cents_between(hz_of_note(note), spec.expected_hz))), -hz_of_note(note)))


@cache
def own_cents(note: str) -> float:
    """How far the recorded string is off its note."""
    return measure_real(RealPluck(note, "firm", 1)).cents_off.value


def sound_of(spec: StringSpec, off_cents: float, *, take: int = 1) -> np.ndarray:
    """One firm pluck of the string, so far off its note."""
    note = nearest(spec)
    moved_by = cents_between(spec.expected_hz, hz_of_note(note)) + off_cents - own_cents(note)
    return disturbances.retuned(real.pluck(real.lever("firm", take)[note]).astype(float), moved_by)


def sweep(order: Sequence[str], *, gap_s: float, damped: bool, seed: int, off_cents: float = 6.0) -> real.RealSweep:
    """Strings, by name, plucked in that order; a string plucked again is its other take. All lie up to `off_cents` off their notes, the
    same ones for a seed."""
    rng = np.random.default_rng(seed)
    off = {spec.name: float(rng.uniform(-off_cents, off_cents)) for spec in harp().strings}
    of, times, truth, now_s = {spec.name: spec for spec in harp().strings}, {}, [], 2.0
    out = np.zeros(int((len(order) * 1.2 * gap_s + 10.0) * real.RATE_HZ))
    for name in order:
        times[name] = times.get(name, 0) + 1
        sound = sound_of(of[name], off[name], take=2 - times[name] % 2) * 10 ** (rng.uniform(-LEVELS_DB, LEVELS_DB) / 20)
        gap, first = gap_s * rng.uniform(0.9, 1.1), int(now_s * real.RATE_HZ)
        sound = (_stopped(sound, gap) if damped else sound)[: len(out) - first]
        out[first : first + len(sound)] += sound
        truth.append((name, now_s + real.PRE_S))
        now_s += gap
    out = out[: int((now_s + 4.0) * real.RATE_HZ)]
    out *= PEAK / np.abs(out).max()
    return real.RealSweep((out + rng.normal(0.0, NOISE, len(out))).astype(np.float32), tuple(truth))


def _stopped(sound: np.ndarray, after_s: float) -> np.ndarray:
    """Stopped by hand just before the next pluck."""
    n, fade = int(after_s * real.RATE_HZ), int(FADE_S * real.RATE_HZ)
    sound = sound[:n].copy()
    if len(sound) == n:
        sound[-fade:] *= np.linspace(1.0, 0.0, fade)
    return sound

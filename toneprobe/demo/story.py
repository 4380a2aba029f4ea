"""The story: a pedal harp of 47 strings, fresh in March, swept again in June, October and March.

All strings grow old a little, are tuned by hand, and are plucked by a player who is not a machine. Eight strings go wrong, some slowly.
One breaks in August and is replaced; in October the new string has settled and gets its own fresh baseline.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from zlib import crc32

import numpy as np

from toneprobe.instrument import Instrument, load_instrument
from toneprobe.synth.faults import add_mass, age, detune, dirty_windings, uneven
from toneprobe.synth.recorder import Recorder
from toneprobe.synth.string_model import StringModel, string_models
from toneprobe.synth.sweep import Player, register_gap_s

HARP = "The made-up harp"
PRESET, TUNING = "pedal-47", "flats"
SEED = 4711
DAYS = (date(2024, 3, 2), date(2024, 6, 8), date(2024, 10, 5), date(2025, 3, 1))
PACE = 0.75  # of the usual time between plucks
USUAL_AGE = (1.0, 0.99, 0.98, 0.96)  # decay time over the fresh one, of strings that only grow a year older
HAND_CENTS = 1.5  # how far a player's tuning scatters
WEATHER_CENTS = (0.0, 3.0, -4.0, 1.0)

BROKEN = "3C"
BROKE_ON = date(2024, 8, 20)
NEW_STRING_SEED = SEED + 1


@dataclass(frozen=True)
class Fault:
    """What happens to one string."""

    string: str
    spoil: Callable[[StringModel, float], StringModel]
    severities: tuple[float | None, ...]  # in each sweep, None while nothing is wrong
    due: float  # severity from which it must be named …
    seen: float  # … and from which it should be watched
    verdict: str  # by which it is named

    def stage(self, sweep: int) -> str:
        """ "none", "begun" (too small to be found), "on the way" or "due"."""
        severity = self.severities[sweep]
        if severity is None:
            return "none"
        return "due" if severity >= self.due else "on the way" if severity >= self.seen else "begun"


def lose_ring(model: StringModel, loss: float) -> StringModel:
    """The ring gets shorter by this share, that of high partials more."""
    return age(model, 1.0 - loss)


def lose_ring_and_highs(model: StringModel, loss: float) -> StringModel:
    """The same, with dirt between the windings."""
    return dirty_windings(age(model, 1.0 - loss), 4.0 * loss)


def gather_lump(model: StringModel, percent: float) -> StringModel:
    """A thick place at a fifth of the length, in per cent of the string's mass."""
    return add_mass(model, percent / 100.0, 0.21)


# A listener misses a ring shortened by a quarter (Tolonen & Järveläinen 2001); half, and 5 cents rms astray, must be named.
DEAD = {"due": 0.50, "seen": 0.30, "verdict": "dead"}

PLAYER = Player(n_each=2, lead_s=3.0, gap_s=lambda spec: PACE * register_gap_s(spec))

FAULTS = (
    Fault("6D", lose_ring_and_highs, (None, 0.15, 0.35, 0.55), **DEAD),
    Fault("7E", lose_ring_and_highs, (None, 0.10, 0.30, 0.50), **DEAD),
    Fault("5G", lose_ring_and_highs, (None, 0.30, 0.50, 0.60), **DEAD),
    Fault("4A", lose_ring, (None, 0.12, 0.30, 0.52), **DEAD),
    Fault("2B", lose_ring, (None, None, 0.32, 0.52), **DEAD),
    Fault("1D", lose_ring, (None, None, 0.32, 0.55), **DEAD),
    Fault("5C", uneven, (None, 9.0, 13.0, 16.0), due=12.3, seen=8.0, verdict="false"),
    Fault("3F", gather_lump, (None, None, None, 1.0), due=0.84, seen=0.55, verdict="false"),
)


def story_instrument() -> Instrument:
    return load_instrument(PRESET, tuning=TUNING)


def strings_on(sweep: int) -> Mapping[str, StringModel]:
    """The true strings on the day of a sweep, 0 to 3."""
    models = dict(string_models(story_instrument(), seed=SEED))
    if DAYS[sweep] >= BROKE_ON:
        models[BROKEN] = string_models(story_instrument(), seed=NEW_STRING_SEED)[BROKEN]
    rng = np.random.default_rng([SEED, sweep])
    faults = {fault.string: fault for fault in FAULTS}
    return {name: _on_the_day(model, faults.get(name), sweep, float(rng.normal())) for name, model in models.items()}


def _on_the_day(model: StringModel, fault: Fault | None, sweep: int, hand: float) -> StringModel:
    severity = fault.severities[sweep] if fault else None
    model = age(model, USUAL_AGE[sweep]) if severity is None else fault.spoil(model, severity)
    return detune(model, HAND_CENTS * hand + WEATHER_CENTS[sweep])


def recorder_of(sweep: int) -> Recorder:
    """The same recorder, never in quite the same place and at quite the same level."""
    return Recorder(noise_db=-72.0, gain_db=(8.0, 6.5, 9.0, 7.5)[sweep])


def sweep_seed(sweep: int) -> int:
    return crc32(f"{SEED} {DAYS[sweep]}".encode())

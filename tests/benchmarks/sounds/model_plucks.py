"""Plucks of the string model's 47-string harp, neighbours, room and recorder included."""

from dataclasses import dataclass, replace
from functools import lru_cache

from sounds.disturbances import BRIGHT, DULL, high_passed, riding_gain
from toneprobe.instrument import Instrument, load_instrument
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.measure.pluck import measure_samples
from toneprobe.synth import faults
from toneprobe.synth.recorder import Recorder
from toneprobe.synth.string_model import StringModel, string_models
from toneprobe.synth.sweep import Player, render_sweep

PRE_S = 0.005
_MICROPHONES = {"dull": DULL, "bright": BRIGHT}


@dataclass(frozen=True)
class ModelPluck:
    """What is heard. seed: of the harp; take: of this pluck's own scatter."""

    string: str
    take: int
    fault: tuple = ()  # (name, arguments…)
    seed: int = 1
    strength: float = 0.5
    place: float = 0.36
    sympathy: float = 1.0
    room_s: float = 0.25
    microphone: str | None = None
    gain_db: float = 0.0
    noise_db: float = -75.0
    cents: float = 0.0
    after: str | None = None  # "high-pass" or "riding"


@lru_cache(maxsize=2)
def pedal_harp() -> Instrument:
    return load_instrument("pedal-47")


@lru_cache(maxsize=4)
def healthy(seed: int) -> dict[str, StringModel]:
    return dict(string_models(pedal_harp(), seed=seed))


def measure_model(pluck: ModelPluck) -> PluckMeasurement:
    instrument, models = pedal_harp(), dict(healthy(pluck.seed))
    models = {name: faults.detune(model, pluck.cents) for name, model in models.items()} if pluck.cents else models
    models[pluck.string] = faulty(models[pluck.string], pluck.fault)
    spec = next(s for s in instrument.strings if s.name == pluck.string)
    recorder = Recorder(noise_db=pluck.noise_db, room_rt60_s=pluck.room_s, gain_db=pluck.gain_db,
                        **({"microphone": _MICROPHONES[pluck.microphone]} if pluck.microphone else {}))
    player = Player(order=(pluck.string,), strength=pluck.strength, place=pluck.place, sympathy=pluck.sympathy, lead_s=0.5)
    sound = render_sweep(instrument, models, player=player, recorder=recorder, seed=1000 * pluck.seed + pluck.take)
    x = sound.samples[int((sound.truth[0][1] - PRE_S) * sound.rate_hz) :].astype(float)
    x = {"high-pass": high_passed, "riding": riding_gain}.get(pluck.after, lambda x, _: x)(x, sound.rate_hz)
    pitch_hz = models[pluck.string].f0_hz * (1 + models[pluck.string].b) ** 0.5
    return measure_samples(x, sound.rate_hz, spec, pitch_hz=pitch_hz, pre_s=PRE_S)


@lru_cache(maxsize=1024)
def faulty(model: StringModel, fault: tuple) -> StringModel:
    if not fault:
        return model
    name, *arguments = fault
    return _FAULTS[name](model, *arguments)


_FAULTS = {
    "age": faults.age,
    "dirt": faults.dirty_windings,
    "dead winding": faults.dead_winding,
    "mass": faults.add_mass,
    "split": faults.split_polarisations,
    "uneven": faults.uneven,
    "gauge": faults.other_gauge,
    "fallen": lambda model, semitones: replace(faults.age(faults.detune(model, -100.0 * semitones), 0.25), scatter_cents=15.0),
}

"""What the whole sweep has in common, found before any string is blamed: pitch level, weather, microphone, room, age of the set."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.baseline.level_curve import LevelCurve
from toneprobe.condition.links import FreshRoom
from toneprobe.condition.room import is_told_by_partials
from toneprobe.condition.sweep_noise import SweepNoise, noise_caution
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.measure.figure import Figure
from toneprobe.session.reading import Reading, SweepReading
from toneprobe.session.sweep import pitch_level

HARDLY_ANY_SHARE = 0.25  # of the strings: where fewer lie near to the middle one, it stands for none of them (set)
MATERIALS_APART_CENTS = 10.0  # from which on a harp has no one pitch level: half of what is worth a word of one string (set)
COMMON_DECAY = 0.12  # least log of fresh over present decay time of most strings that is said: a ninth of the ring (set)
COMMON_DECAY_ERRORS = 3.0  # least number of its standard errors that it is (set)
LEAST_OF_A_KIND = 4  # strings of a material: the median holds though one slipped (set)
NOT_COMPARED = Figure(None, None, "not compared")


@dataclass(frozen=True)
class CommonCause:
    """What all strings, or all of one kind, share between now and fresh; as it is by default, nothing."""

    pitch_level: Figure = NOT_COMPARED  # cents against expected
    has_level: bool = True  # some strings lie where the median does
    level_of_material: Mapping[str, Figure] = field(default_factory=dict)  # the same by material, where the materials lie apart; else empty
    material_cents: Mapping[str, float] = field(default_factory=dict)  # by which a material moved since fresh, where not all moved alike
    decay: Figure = NOT_COMPARED  # natural log of fresh over present decay time of most strings
    room_doubt: Mapping[str, Mapping[str, float]] = field(default_factory=dict)  # by string and part of its partials, log decay that may be
    # another room's
    is_longer_room: bool = False  # told by the partials of all strings: the fresh sweep's
    fresh_rooms: Mapping[str, FreshRoom] = field(default_factory=dict)  # by string, where its own fresh sweep's room was livelier
    brightness_db_per_octave: float | None = None
    beat_db: float = 0.0
    has_fewer_plucks: bool = False  # than when fresh, most strings
    noise_caution: float = 1.0  # factor on all errors, for the recording's own noise
    n_cut_short: int = 0  # strings that could ring much longer in one of the two sweeps than in the other

    def level_for(self, spec: StringSpec) -> Figure:
        """The level, in cents, at which a string belongs: its material's where the materials lie apart, as after a change of weather."""
        return self.level_of_material.get(spec.material or "", self.pitch_level)


def common_cause(sweep: SweepReading, changes: Mapping[str, Change], *, instrument: Instrument, noise: SweepNoise,
                 curve: LevelCurve | None, doubt: Mapping[str, Mapping[str, float]],
                 fresh_rooms: Mapping[str, FreshRoom], levels: Mapping[str, float]) -> CommonCause:
    """What most strings show together. By string: changes since fresh; doubt, the log decay that may be the room's; fresh_rooms, the same
    of the room of its own fresh sweep, and levels, the cents that the whole harp was high in it."""
    return CommonCause(
        pitch_level=sweep.pitch_level_cents,
        has_level=has_level(sweep),
        level_of_material=_levels_apart(sweep, instrument),
        material_cents=_by_material(changes, instrument, levels),
        decay=noise.decay_centre,
        room_doubt=doubt,
        is_longer_room=is_told_by_partials(changes),
        fresh_rooms=fresh_rooms,
        brightness_db_per_octave=curve.db_per_octave if curve else None,
        beat_db=noise.beat_centre_db,
        has_fewer_plucks=2 * sum(change.n_now < change.n_fresh for change in changes.values()) > len(changes),
        noise_caution=noise_caution(list(changes.values())),
        n_cut_short=sum(change.decay.less_rung_db > limits.CUT_SHORT_DB for change in changes.values()),
    )


def has_level(sweep: SweepReading) -> bool:
    """Whether some strings lie where the median does: between two groups of strings none may."""
    level = sweep.pitch_level_cents
    cents = np.array([one.figures["cents_off"].value for one in sweep.readings.values() if one.figures["cents_off"].known], float)
    return level.known and float(np.mean(np.abs(cents - level.value) <= limits.NEAR_LEVEL_CENTS)) >= HARDLY_ANY_SHARE


def _levels_apart(sweep: SweepReading, instrument: Instrument) -> Mapping[str, Figure]:
    """Gut and nylon follow the weather otherwise than wire does: then the median of the harp tells nothing of the others' tuning."""
    of_material: dict[str, list[Reading]] = {}
    for spec in instrument.strings:
        now = sweep.readings.get(spec.name)
        if spec.material and now and now.figures["cents_off"].known:
            of_material.setdefault(spec.material, []).append(now)
    levels = {material: pitch_level(readings) for material, readings in of_material.items() if len(readings) >= LEAST_OF_A_KIND}
    cents = [level.value for level in levels.values()]
    return levels if cents and max(cents) - min(cents) > MATERIALS_APART_CENTS else {}


def _by_material(changes: Mapping[str, Change], instrument: Instrument, levels: Mapping[str, float]) -> Mapping[str, float]:
    """Cents by which the middle string of each material moved since fresh, those that hardly did left out; empty where all moved alike."""
    moved: dict[str, list[float]] = {}
    for spec in instrument.strings:
        change = changes.get(spec.name)
        if spec.material and change and change.pitch_cents.known:
            moved.setdefault(spec.material, []).append(change.pitch_cents.value + levels.get(spec.name, 0.0))
    middles = {material: float(np.median(cents)) for material, cents in moved.items() if len(cents) >= LEAST_OF_A_KIND}
    if not middles or max(middles.values()) - min(middles.values()) <= limits.WEATHER_CENTS:
        return {}
    return {material: middle for material, middle in middles.items() if abs(middle) > limits.WEATHER_CENTS}


def is_shared_shift(shared: Figure) -> bool:
    """Most strings ring shorter or longer than when fresh, beyond doubt."""
    return shared.known and abs(shared.value) >= max(COMMON_DECAY, COMMON_DECAY_ERRORS * shared.error)


def is_shared_loss(shared: Figure) -> bool:
    """Most strings ring shorter than when fresh, beyond doubt."""
    return is_shared_shift(shared) and shared.value > 0.0

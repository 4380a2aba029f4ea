"""What the whole sweep has in common, said before any string is blamed: pitch level, weather, microphone, room, age of the set."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.baseline.fresh import Baseline
from toneprobe.baseline.level_curve import LevelCurve
from toneprobe.baseline.robust import middle_of_most
from toneprobe.condition.doubt_words import shift_from
from toneprobe.condition.links import FreshRoom
from toneprobe.condition.sweep_noise import SweepNoise, noise_caution
from toneprobe.days import day_text
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.measure.figure import Figure
from toneprobe.remarks import listed
from toneprobe.session.reading import Reading, SweepReading
from toneprobe.session.sweep import pitch_level

LEAST_OF_A_KIND = 4
LEAST_SHORT = 5
LEAST_CUT_SHORT = 4


@dataclass(frozen=True)
class CommonCause:
    """What all strings, or all of one kind, share between now and fresh."""

    pitch_level: Figure  # cents against expected
    level_of_material: Mapping[str, Figure]  # the same by material, where the materials lie apart; else empty
    material_cents: Mapping[str, float]  # how far the strings of one material moved since fresh, where not all moved alike
    decay: Figure  # natural log of fresh over present decay time of most strings
    short_decay: float | None  # the same of strings that ring shorter than a room, where the long ones did not change
    room_doubt: Mapping[str, float]  # by string, how much of its log decay may be another room's
    brightness_db_per_octave: float | None
    beat_db: float
    has_fewer_plucks: bool  # than when fresh, most strings
    noise_caution: float  # factor on all errors, for the recording's own noise
    n_cut_short: int  # strings that could ring much longer in one of the two sweeps than in the other
    fresh_rooms: Mapping[str, FreshRoom] = field(default_factory=dict)  # by string, where its own fresh sweep's room was livelier

    def level_beside(self, spec: StringSpec) -> Figure:
        """The level, in cents, at which a string belongs: its material's where the materials lie apart, as after a change of weather."""
        return self.level_of_material.get(spec.material or "", self.pitch_level)


def common_cause(sweep: SweepReading, changes: Mapping[str, Change], fresh: Mapping[str, Baseline], *, instrument: Instrument,
                 noise: SweepNoise, curve: LevelCurve | None, doubt: Mapping[str, float],
                 fresh_rooms: Mapping[str, FreshRoom]) -> CommonCause:
    """What most strings show together. By string: `changes` since `fresh`; `doubt`, the log decay that may be the room's; `fresh_rooms`,
    the same of its own fresh sweep's room, as other strings tell it."""
    return CommonCause(
        sweep.pitch_level_cents,
        _levels_apart(sweep, instrument),
        _by_material(changes, instrument),
        noise.decay_centre,
        _of_short_strings(changes, fresh),
        doubt,
        curve.db_per_octave if curve else None,
        noise.beat_centre_db,
        2 * sum(change.n_now < change.n_fresh for change in changes.values()) > len(changes),
        noise_caution(list(changes.values())),
        sum(change.decay.less_rung_db > limits.CUT_SHORT_DB for change in changes.values()),
        fresh_rooms,
    )


def _levels_apart(sweep: SweepReading, instrument: Instrument) -> Mapping[str, Figure]:
    """Gut and nylon follow the weather otherwise than wire does: the middle string of a harp then tells nothing of the others' tuning."""
    of_material: dict[str, list[Reading]] = {}
    for spec in instrument.strings:
        now = sweep.readings.get(spec.name)
        if spec.material and now and now.figures["cents_off"].known:
            of_material.setdefault(spec.material, []).append(now)
    levels = {material: pitch_level(readings) for material, readings in of_material.items() if len(readings) >= LEAST_OF_A_KIND}
    cents = [level.value for level in levels.values()]
    return levels if cents and max(cents) - min(cents) > limits.MATERIALS_APART_CENTS else {}


def _by_material(changes: Mapping[str, Change], instrument: Instrument) -> Mapping[str, float]:
    moved: dict[str, list[float]] = {}
    for spec in instrument.strings:
        change = changes.get(spec.name)
        if spec.material and change and change.series.pitch_cents.known:
            moved.setdefault(spec.material, []).append(change.series.pitch_cents.value)
    middles = {material: float(np.median(cents)) for material, cents in moved.items() if len(cents) >= LEAST_OF_A_KIND}
    if not middles or max(middles.values()) - min(middles.values()) <= limits.WEATHER_CENTS:
        return {}
    return {material: middle for material, middle in middles.items() if abs(middle) > limits.WEATHER_CENTS}


def _of_short_strings(changes: Mapping[str, Change], fresh: Mapping[str, Baseline]) -> float | None:
    """A shorter ring that only the strings share whose ring is as short as a room's is the room's doing until shown otherwise.

    What at least two thirds of them have lost counts as shared.
    """
    short, long = [], []
    for string, change in changes.items():
        ring = fresh[string].figures["t60_s"]
        if change.decay.all.known and ring.known:
            (short if ring.value < limits.ROOM_RING_S else long).append(change.decay.all.value)
    if len(short) < LEAST_SHORT or len(long) < LEAST_SHORT:
        return None
    of_short, of_long = float(np.percentile(short, 100.0 * limits.MOST_BAD_SHARE)), middle_of_most(np.array(long))
    return of_short if of_short > limits.ROOM_DECAY and of_long < 0.5 * of_short else None


def common_warnings(cause: CommonCause, *, noise: SweepNoise, a4_hz: float) -> Sequence[str]:
    """One plain sentence or two for each thing that is shared."""
    found = [_pitch(cause, a4_hz), *(_weather(m, c) for m, c in cause.material_cents.items()),
             _decay(cause.decay), _livelier_room(cause.room_doubt), _room(cause.short_decay),
             *_own_fresh_rooms(cause.fresh_rooms), _brightness(cause.brightness_db_per_octave),
             _beats(cause.beat_db, has_fewer_plucks=cause.has_fewer_plucks), _noisy(cause.noise_caution),
             _cut_short(cause.n_cut_short), _unsteady(noise)]
    return [text for text in found if text]


def _pitch(cause: CommonCause, a4_hz: float) -> str | None:
    if cause.level_of_material:
        lie = ", ".join(f"{material} {_off(level.value)}" for material, level in cause.level_of_material.items())
        return f"The harp lies at no one pitch. Against A = {a4_hz:g} Hz: {lie}. Each string is judged against those of its material."
    level = cause.pitch_level
    if not level.known or abs(level.value) < limits.PITCH_LEVEL_CENTS:
        return None
    return (f"The whole harp lies {_off(level.value)} of A = {a4_hz:g} Hz "
            f"(about A = {a4_hz * 2 ** (level.value / 1200):.1f} Hz); "
            "each string's pitch is judged against the others.")


def _off(cents: float) -> str:
    """ "25 cents flat", "1 cent sharp", "in tune"."""
    whole = round(abs(cents))
    return f"{whole} cent{'' if whole == 1 else 's'} {'flat' if cents < 0 else 'sharp'}" if whole else "in tune"


def _weather(material: str, cents: float) -> str:
    return (f"The {material} strings moved {abs(cents):.0f} cents {'down' if cents < 0 else 'up'} together since the fresh sweep, not all "
            "others with them: weather or tuning, not wear.")


def shared_loss(shared: Figure) -> bool:
    """Most strings ring shorter than when fresh, beyond doubt."""
    return shared.known and shared.value >= max(limits.COMMON_DECAY, 3.0 * (shared.se or 0.0))


def _decay(shared: Figure) -> str | None:
    if not shared.known or abs(shared.value) < max(limits.COMMON_DECAY, 3.0 * (shared.se or 0.0)):
        return None
    if shared.value < 0:
        return (f"Most strings ring {shift_from(shared.value, 'when fresh')}. Strings do not grow younger: a livelier room, "
                "neighbours left to ring, or a recorder that lifts quiet sounds. Faults may be hidden by it; sweep again as the "
                "fresh sweep was recorded.")
    return (f"Most strings ring {shift_from(shared.value, 'when fresh')}. Either the set has aged together, or the room or the damping "
            "of the neighbours is another. A string of which you know that it is new tells: if it too rings shorter, it is the room.")


def _room(short: float | None) -> str | None:
    if short is None:
        return None
    return (f"Only the strings that ring shorter than a room does lost ring, and all alike ({100 * (1 - np.exp(-short)):.0f} %): the fresh "
            "sweep's room rang longer than this one. They are not blamed for that; sweep them again in the first room.")


def _livelier_room(doubt: Mapping[str, float]) -> str | None:
    most = max(doubt.values(), default=0.0)
    if most < limits.ROOM_DECAY:
        return None
    return (f"The shorter the strings ring, the more they lost, up to {100 * (1 - np.exp(-most)):.0f} % beyond the long ones: as if the "
            "fresh sweep's room rang longer than this one. Whether the short ones lost so much ring of their own cannot be told; sweep "
            "again in the first room.")


def _own_fresh_rooms(rooms: Mapping[str, FreshRoom]) -> list[str]:
    """Of strings that were fresh in a sweep of their own."""
    strings: dict[str, list[str]] = {}
    for string, room in rooms.items():
        if room.is_said:
            strings.setdefault(fresh_sweep_text(room), []).append(string)
    return [f"The fresh sweep of {listed(of)}, {when}, was made in a livelier room than this one: the strings around lost more ring since "
            f"that day than since they were fresh themselves. As much of what {'it' if len(of) == 1 else 'they'} lost is doubted."
            for when, of in strings.items()]


def fresh_sweep_text(room: FreshRoom) -> str:
    """ "6 December 2025"."""
    return " and ".join(day_text(day) for day in room.days)


def _brightness(db_per_octave: float | None) -> str | None:
    if db_per_octave is None or abs(db_per_octave) < limits.CURVE_DB_PER_OCTAVE:
        return None
    word = "duller" if db_per_octave < 0 else "brighter"
    return (f"The whole sweep sounds {word} than the fresh one ({abs(db_per_octave):.1f} dB per octave, all strings alike): another "
            "microphone, place or room, or the whole set has changed. It is taken out before a string's brightness is judged.")


def _beats(beat_db: float, *, has_fewer_plucks: bool) -> str | None:
    if beat_db < limits.COMMON_BEAT_DB:
        return None
    why = ("of several plucks each beats otherwise, and fewer were played this time" if has_fewer_plucks
           else "the neighbours were left to ring this time, or were damped then")
    return f"Nearly all strings beat by {beat_db:.1f} dB more than when fresh: {why}. Only what goes beyond that is held against a string."


def _noisy(caution: float) -> str | None:
    if caution < limits.NOISY_SAID:
        return None
    return ("The recording's own noise lies close under the plucks, so every string is judged more cautiously. Record nearer to the "
            "strings, or where it is quieter, with nothing that filters noise.")


def _cut_short(n_strings: int) -> str | None:
    if n_strings < LEAST_CUT_SHORT:
        return None
    return (f"{n_strings} strings were damped, or followed by the next pluck, much sooner in one of the two sweeps than in the other: how "
            "long they ring is compared with more caution. Let every string ring as long as in the fresh sweep.")


def _unsteady(noise: SweepNoise) -> str | None:
    factor = max(noise.decay_scale, noise.astray_scale)
    if factor < limits.UNSTEADY:
        return None
    return (f"Strings that nothing ails differ {factor:.1f} times as much from the fresh sweep as plucks usually do, so every string is "
            "judged more cautiously. Record as the fresh sweep was: same room, place, hand and damping.")

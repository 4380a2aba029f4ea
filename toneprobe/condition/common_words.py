"""What the whole sweep has in common, in plain sentences: one or two for each thing."""

from collections.abc import Mapping, Sequence

from toneprobe import limits
from toneprobe.condition.common_cause import CommonCause, is_shared_shift
from toneprobe.condition.doubt_words import percent_lost, shift_from
from toneprobe.condition.links import FreshRoom
from toneprobe.condition.sweep_noise import SweepNoise
from toneprobe.days import day_text
from toneprobe.measure.figure import Figure
from toneprobe.phrases import HARP, count_of, listed, one_after_another
from toneprobe.units import shift_hz

PITCH_LEVEL_CENTS = 4.0  # from which the pitch level is told: players aim within 1 or 2 cents and notice 5 in octaves (from memory)
CURVE_DB_PER_OCTAVE = 1.0  # slope of the level curve that all strings share, from which the sweep is called duller or brighter (set)
COMMON_BEAT_DB = 0.7  # new ripple of nearly all strings, peak to peak: less than a listener hears in one string (set)
UNSTEADY = 1.5  # factor on the errors by which untouched strings scatter, from which it is said (set)
NOISY_SAID = 1.1  # factor on the errors that the recording's own noise makes, from which it is said (set)
LEAST_CUT_SHORT = 4


def common_warnings(cause: CommonCause, *, noise: SweepNoise, a4_hz: float, what: str = HARP) -> Sequence[str]:
    """what: the word for all strings together, as `Instrument.word`."""
    found = [_pitch(cause, a4_hz, what), *(_weather(m, c) for m, c in cause.material_cents.items()),
             _decay(cause.decay), _livelier_room(cause.room_doubt, cause.is_longer_room),
             *_own_fresh_rooms(cause.fresh_rooms), _brightness(cause.brightness_db_per_octave),
             _beats(cause.beat_db, has_fewer_plucks=cause.has_fewer_plucks), _noisy(cause.noise_caution),
             _cut_short(cause.n_cut_short), _unsteady(noise)]
    return [text for text in found if text]


def _pitch(cause: CommonCause, a4_hz: float, what: str) -> str | None:
    if cause.level_of_material:
        lie = ", ".join(f"{material} {_off(level.value)}" for material, level in cause.level_of_material.items())
        return f"The {what} is not at one pitch. Against A = {a4_hz:g} Hz: {lie}. Each string is judged against those of its material."
    level = cause.pitch_level
    if not level.known or not cause.has_level or abs(level.value) < PITCH_LEVEL_CENTS:
        return None
    return (f"The whole {what} lies {_off(level.value)} of A = {a4_hz:g} Hz "
            f"(about A = {shift_hz(a4_hz, level.value):.1f} Hz); "
            "each string's pitch is judged against the others.")


def _off(cents: float) -> str:
    """ "25 cents flat", "1 cent sharp", "in tune"."""
    whole = round(abs(cents))
    return f"{count_of(whole, 'cent')} {'flat' if cents < 0 else 'sharp'}" if whole else "in tune"


def _weather(material: str, cents: float) -> str:
    return (f"The {material} strings moved {abs(cents):.0f} cents {'down' if cents < 0 else 'up'} together since the fresh sweep, not all "
            "others with them: weather or tuning, not wear.")


def _decay(shared: Figure) -> str | None:
    if not is_shared_shift(shared):
        return None
    if shared.value < 0:
        return (f"Most strings ring {shift_from(shared.value, 'when fresh')}. Strings do not grow younger: a livelier room, "
                "neighbours left to ring, or a recorder that lifts quiet sounds. Faults may be hidden by it; sweep again as the "
                "fresh sweep was recorded.")
    return (f"Most strings ring {shift_from(shared.value, 'when fresh')}. Either the set has aged together, or the room or the damping "
            "of the neighbours is different. A string that you know to be new can tell: if it too rings shorter, it is the room.")


def _livelier_room(doubt: Mapping[str, Mapping[str, float]], is_told: bool) -> str | None:
    """is_told: by the partials of all strings, else by what each string lost."""
    if is_told:
        return ("Whatever dies away fast died sooner than in the fresh sweep, on low strings as on high ones: the fresh sweep's room rang "
                "longer than this one. Whether short strings and upper partials lost ring of their own cannot be told; sweep again in the "
                "first room, or make a fresh sweep in this one.")
    most = max((of_string["all"] for of_string in doubt.values()), default=0.0)
    if most < limits.ROOM_DECAY:
        return None
    return (f"The shorter the strings ring, the more they lost, up to {percent_lost(most):.0f} % beyond the long ones: as if the "
            "fresh sweep's room rang longer than this one, or the short ones aged together. Which of the two cannot be told; sweep "
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
    return one_after_another([day_text(day) for day in room.days])


def _brightness(db_per_octave: float | None) -> str | None:
    if db_per_octave is None or abs(db_per_octave) < CURVE_DB_PER_OCTAVE:
        return None
    word = "duller" if db_per_octave < 0 else "brighter"
    return (f"The whole sweep sounds {word} than the fresh one ({abs(db_per_octave):.1f} dB per octave, all strings alike): another "
            "microphone, place or room, or the whole set has changed. It is taken out before a string's brightness is judged.")


def _beats(beat_db: float, *, has_fewer_plucks: bool) -> str | None:
    if beat_db < COMMON_BEAT_DB:
        return None
    why = ("each of several plucks beats differently, and fewer were played this time" if has_fewer_plucks
           else "another place or room, or the neighbours were left to ring this time, or were damped then")
    return f"Nearly all strings beat by {beat_db:.1f} dB more than when fresh: {why}. Only what goes beyond that is held against a string."


def _noisy(caution: float) -> str | None:
    if caution < NOISY_SAID:
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
    if factor < UNSTEADY:
        return None
    return (f"Healthy strings differ {factor:.1f} times as much from the fresh sweep as plucks usually do, so every string is "
            "judged more cautiously. Record as the fresh sweep was: same room, place, hand and damping.")

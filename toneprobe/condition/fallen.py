"""A string that sounds semitones below its place: a loosened winding, a slipped pin, or another string than the one named. And one that
fell less far, but alone: weather and age let all strings down, some more than others; one that stands out has a pin, a knot or a hand to
explain it, or gives way. That is no fault of its sound.
"""

from collections.abc import Callable, Mapping
from statistics import median

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.condition.evidence import Evidence, sureness_asked
from toneprobe.condition.sweep_noise import LEAST_STRINGS
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.measure.figure import Figure, errors_together
from toneprobe.medians import SD_OF_DEVIATION
from toneprobe.session.reading import Reading, SweepReading


def pitch_against_others(now: Reading, level: Figure) -> Figure:
    """Cents against the others' pitch level; against the expected pitch where they have none."""
    own = now.figures["cents_off"]
    if not (own.known and level.known):
        return own
    return Figure(own.value - level.value, errors_together(own.se, level.se))


def fallen_case(against_others: Figure, ring: Figure, *, is_dead: bool) -> Evidence | None:
    """Fallen *and* rung out beyond doubt counts as dead; otherwise it is watched, for a pin or a pedal may have done it. ring: natural log
    of fresh over present decay time; is_dead: by its ring alone."""
    if not against_others.known or against_others.value > -limits.FALLEN_CENTS:
        return None
    rung_out = is_dead or (ring.known and ring.value > max(limits.DECAY_NOTICED, limits.ERRORS_TOLD * ring.error))
    strength = limits.THUD_STRENGTH if rung_out else limits.WATCHED
    return Evidence("fallen", strength, strength, against_others.value, against_others.se)


def moved_alone(changes: Mapping[str, Change]) -> Mapping[str, float]:
    """Cents by which each string's pitch moved since fresh beyond the median string; few strings have no such median."""
    moved = {string: change.pitch_cents.value for string, change in changes.items() if change.pitch_cents.known}
    level = median(moved.values()) if len(moved) >= LEAST_STRINGS else 0.0
    return {string: cents - level for string, cents in moved.items()}


def fell_alone(sweep: SweepReading, changes: Mapping[str, Change], instrument: Instrument,
               level_for: Callable[[StringSpec], Figure]) -> frozenset[str]:
    """Strings that lie below their note and the others, and fell as far since fresh, each by more than the others' scatter gives one of all
    by chance. changes: by string; level_for: the cents at which a string belongs (`common_cause`)."""
    against_others = {spec.name: pitch_against_others(sweep.readings[spec.name], level_for(spec)) for spec in instrument.strings
                      if spec.name in changes and changes[spec.name].pitch_cents.known}
    if len(against_others) < LEAST_STRINGS:
        return frozenset()
    now_cents, since_fresh_cents = {string: one.value for string, one in against_others.items()}, moved_alone(changes)
    return frozenset(string for string, one in against_others.items()
                     if _stands_below(string, now_cents) and _stands_below(string, since_fresh_cents)
                     and sweep.readings[string].figures["cents_off"].value <= -limits.OUT_OF_TUNE_CENTS
                     and -one.value >= limits.PITCH_ERRORS * one.error)


def _stands_below(string: str, cents: Mapping[str, float]) -> bool:
    spread = SD_OF_DEVIATION * median(abs(value) for other, value in cents.items() if other != string)
    return -cents[string] >= max(limits.OUT_OF_TUNE_CENTS, sureness_asked(len(cents)) * spread)

"""A string that sounds semitones below its place: a loosened winding, a slipped pin, or another string than the one named."""

from __future__ import annotations

from toneprobe import limits
from toneprobe.condition.evidence import Evidence
from toneprobe.measure.figure import Figure, errors_together
from toneprobe.session.reading import Reading


def pitch_against_others(now: Reading, level: Figure) -> Figure:
    """Cents against the string's place in the others' pitch level; against the expected pitch where they have none."""
    own = now.figures["cents_off"]
    if not (own.known and level.known):
        return own
    return Figure(own.value - level.value, errors_together(own.se, level.se))


def fallen_case(against_others: Figure, ring: Figure, *, is_dead: bool) -> Evidence | None:
    """Fallen *and* rung out beyond doubt counts as dead; fallen with its ring kept, or not known so well, is watched, for a pin or a pedal
    may have done it. ring: natural log of fresh over present decay time, less what is put down to the room; is_dead: by its ring alone."""
    if not against_others.known or against_others.value > -limits.FALLEN_CENTS:
        return None
    rung_out = is_dead or (ring.known and ring.value > max(limits.DECAY_NOTICED, limits.ERRORS_TOLD * ring.error))
    strength = limits.THUD_STRENGTH if rung_out else limits.WATCHED
    return Evidence("fallen", strength, strength, against_others.value, against_others.se)

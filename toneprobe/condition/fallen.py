"""A string that sounds semitones below its place: a loosened winding, a slipped pin, or another string than the one named."""

from __future__ import annotations

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.condition.evidence import Evidence
from toneprobe.measure.figure import Figure, errors_together
from toneprobe.session.reading import Reading


def pitch_against_others(now: Reading, level: Figure) -> Figure:
    """Cents against the string's place in the others' pitch level; against the expected pitch where they have none."""
    own = now.figures["cents_off"]
    if not own.known:
        return own
    if not level.known:
        return own
    return Figure(own.value - level.value, errors_together(own.se, level.se))


def fallen_case(against_others: Figure, change: Change) -> Evidence | None:
    """Fallen *and* rung out counts as dead; fallen with its ring kept is watched, for a pin or a pedal may have done it."""
    if not against_others.known or against_others.value > -limits.FALLEN_CENTS:
        return None
    rung_out = change.decay.all.known and change.decay.all.value > limits.DECAY_NOTICED
    strength = limits.THUD_STRENGTH if rung_out else limits.WATCHED
    return Evidence("fallen", strength, strength, against_others.value, against_others.se)

"""Has the string lost its ring? Decay decides, each partial against itself; brightness supports."""

from dataclasses import replace

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.baseline.decay_change import PARTS
from toneprobe.condition.evidence import Case, Evidence, at_most, joint_strength, strongest_first
from toneprobe.condition.sweep_noise import SweepNoise


def dead_case(change: Change, noise: SweepNoise) -> Case:
    """Brightness alone supports no more than `watch`, and without a decay of all partials nothing is scored.

    All partials together count little more than the lowest: a room of the fresh sweep lengthened the fast upper ones then.
    """
    decay, low, high = (_weigh_ring(part, change, noise) for part in PARTS)
    if change.crushed:
        high = at_most(high, limits.CODEC_SAY)
    if decay is None:
        return Case(None, (), False)
    if change.decay.contradicted:
        decay, low, high = (at_most(piece, limits.CODEC_RING_SAY) for piece in (decay, low, high))
    if change.decay.keeps_slow_plane:
        decay, low, high = (at_most(piece, limits.OTHER_PULL_SAY) for piece in (decay, low, high))
    if low is not None:
        decay = replace(decay, size=min(decay.size, low.size + limits.RING_AND_ALL / limits.DECAY_NOTICED))
    rings = max((one for one in (decay, low, high) if one), key=lambda one: one.strength)
    pieces = [rings, noise.weigh("brightness", change.brightness)]
    could_tell = noise.sureness_asked * noise.decay_scale * change.decay.all.se <= limits.DECAY_GROSS
    return Case(joint_strength(pieces), tuple(strongest_first([*pieces, *_ring_beside(rings, decay, low)])), could_tell)


def _ring_beside(rings: Evidence, decay: Evidence, low: Evidence | None) -> list[Evidence]:
    """The ring as a whole where the upper partials weigh more and it is lost too: no more strength, but the player should hear of it."""
    whole = max((one for one in (decay, low) if one), key=lambda one: one.strength)
    return [whole] if rings.kind == PARTS["high"] and whole.strength >= limits.WATCHED else []


def _weigh_ring(part: str, change: Change, noise: SweepNoise) -> Evidence | None:
    """The strongest evidence: the mean as it is, or with the losses capped at those that many partials share. No more than watch where the
    room leaves one partial alone to tell."""
    figures = (getattr(change.decay, part), *change.decay.at_least.get(part, ()))
    pieces = [noise.weigh(PARTS[part], figure) for figure in figures]
    most = max((piece for piece in pieces if piece), key=lambda piece: piece.strength, default=None)
    return at_most(most, limits.ONE_PARTIAL_RING_SAY) if part in change.decay.told_by_one else most

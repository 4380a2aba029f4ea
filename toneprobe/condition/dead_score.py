"""Has the string lost its ring? Decay decides, partial against partial; brightness supports."""

from __future__ import annotations

from dataclasses import replace

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.baseline.decay_change import PARTS
from toneprobe.condition.evidence import Case, Evidence, strongest, together, weigh, with_say
from toneprobe.condition.sweep_noise import SweepNoise


def dead_case(change: Change, noise: SweepNoise) -> Case:
    """Brightness alone supports no more than `watch`, and without any decay nothing is scored.

    All partials together weigh little more than the lowest do: a room that rang in the fresh sweep lengthened the fast upper ones then.
    """
    asked = noise.sureness_asked
    decay = _weigh_ring("all", change, noticed=limits.DECAY_NOTICED, sureness_asked=asked, scale=noise.decay_scale)
    low = _weigh_ring("low", change, noticed=limits.DECAY_NOTICED, sureness_asked=asked, scale=noise.decay_scale)
    high = _weigh_ring("high", change, noticed=limits.HIGHS_NOTICED, sureness_asked=limits.HIGHS_CAUTION * asked, scale=noise.high_scale)
    if change.crushed:
        high = with_say(high, limits.CODEC_SAY)
    if decay is None:
        return Case(None, (), False)
    if change.decay.contradicted:
        decay, low, high = (with_say(piece, limits.CODEC_RING_SAY) for piece in (decay, low, high))
    if change.decay.keeps_slow_plane:
        decay, low, high = (with_say(piece, limits.OTHER_PULL_SAY) for piece in (decay, low, high))
    if low is not None:
        decay = replace(decay, size=min(decay.size, low.size + limits.RING_AND_ALL / limits.DECAY_NOTICED))
    rings = max((one for one in (decay, low, high) if one), key=lambda one: one.strength)
    pieces = [rings, _supporting(change, noise)]
    could_tell = asked * noise.decay_scale * change.decay.all.se <= limits.DECAY_GROSS
    return Case(together(pieces), tuple(strongest([*pieces, *_ring_beside(rings, decay, low)])), could_tell)


def _ring_beside(rings: Evidence, decay: Evidence, low: Evidence | None) -> list[Evidence]:
    """The ring as a whole where the upper partials weigh more and it is lost too: it adds no strength, but a player is to hear of it."""
    whole = max((one for one in (decay, low) if one), key=lambda one: one.strength)
    return [whole] if rings.kind == PARTS["high"] and whole.strength >= limits.WATCHED else []


def _weigh_ring(part: str, change: Change, *, noticed: float, sureness_asked: float, scale: float) -> Evidence | None:
    """What says most: the mean as it is, or with the losses cut to those that many partials share. No more than watch where the room leaves
    one partial to tell it."""
    figures = (getattr(change.decay, part), *change.decay.at_least.get(part, ()))
    pieces = [weigh(PARTS[part], figure, noticed=noticed, sureness_asked=sureness_asked, scale=scale) for figure in figures]
    most = max((piece for piece in pieces if piece), key=lambda piece: piece.strength, default=None)
    return with_say(most, limits.ONE_PARTIAL_RING_SAY) if part in change.decay.of_one else most


def _supporting(change: Change, noise: SweepNoise) -> Evidence | None:
    piece = weigh("brightness", change.brightness, noticed=limits.BRIGHTNESS_NOTICED, sureness_asked=noise.sureness_asked,
                  scale=noise.brightness_scale)
    return with_say(piece, limits.BRIGHTNESS_SAY)

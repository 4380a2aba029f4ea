"""One piece of evidence against a string, from one figure: how large its change is, and how far beyond doubt.

size = change / what a careful listener notices; sureness = (change / its error) / the sureness asked of a sweep of so many strings. The
strength is the lesser of the two: a large change poorly measured is no evidence, nor is a small one measured well. It grows with the change
and with nothing else, so a worse figure never weakens its own evidence. An unknown figure gives none. Where something else may be the
cause, the strength is limited (`at_most`), not size or sureness: else what is large and in doubt would pass for small, or what is beyond
doubt for doubtful.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from toneprobe import limits

TOGETHER = 4.0  # exponent: two pieces of equal strength are together a fifth stronger, 2^¼ (set: with less, many weak ones name a string)


@dataclass(frozen=True)
class Kind:
    """What holds of all evidence of one kind. Its sentences are in `evidence_words`, what to do in `next_steps`.

    The first four are for `SweepNoise.weigh`; size and sureness of the kinds without `noticed` are worked out where they are found.
    """

    noticed: float = math.nan  # change of size 1, in its own unit
    scale: str = ""  # the factor of `SweepNoise` on its error, "" for none
    caution: float = 1.0  # factor on the sureness asked
    most: float = math.inf  # the greatest strength it can have, see `at_most`
    view_of: str = ""  # the thing it is a view of; of several only the strongest is told
    is_log: bool = False  # its change is the natural log of a ratio
    most_after: float = math.inf  # what may stand after its ±, in its own unit: more could hide in what is wider
    leaves_unsure: bool = True  # where it is large but doubtful; what says too little of a string by itself does not


RING, PARTIALS, STEADINESS = "ring", "partials", "steadiness"
KINDS: dict[str, Kind] = {
    "decay": Kind(limits.DECAY_NOTICED, "decay_scale", view_of=RING, is_log=True),
    "decay_low": Kind(limits.DECAY_NOTICED, "decay_scale", view_of=RING, is_log=True),
    "decay_high": Kind(limits.HIGHS_NOTICED, "high_scale", limits.HIGHS_CAUTION, is_log=True),
    "brightness": Kind(limits.BRIGHTNESS_NOTICED, "brightness_scale", most=limits.BRIGHTNESS_SAY, is_log=True, leaves_unsure=False),
    "astray_cents": Kind(view_of=PARTIALS, most_after=limits.ASTRAY_GROSS_CENTS),
    "two_astray": Kind(view_of=PARTIALS),
    "one_astray": Kind(view_of=PARTIALS),
    "beat_db": Kind(limits.BEAT_NOTICED_DB, "beat_scale", most_after=4.0),  # set
    "pitch_wave": Kind(limits.WAVE_NOTICED_CENTS, "wave_scale", view_of=STEADINESS, most_after=limits.WAVE_NOTICED_CENTS),
    "pitch_walk": Kind(limits.BEAT_NOTICED_DB, "beat_scale", most=limits.PITCH_WALK_SAY, view_of=STEADINESS, most_after=4.0),  # dB, set
    "pitch_fall": Kind(limits.PITCH_FALL_CENTS, "fall_scale", most=limits.PITCH_FALL_SAY, most_after=limits.PITCH_FALL_CENTS),
    "sinks": Kind(limits.SINKS_CENTS, "sinks_scale", limits.SINKS_CAUTION, most=limits.SINKS_SAY, leaves_unsure=False),
    "common_beat": Kind(),
    "stretch": Kind(limits.STRETCH_NOTICED, is_log=True),  # its error is enlarged before that of the tension joins it
    "fallen": Kind(),
}
OF_THE_RING, ASTRAY, UNSTEADY = (tuple(name for name, kind in KINDS.items() if kind.view_of == thing)
                                 for thing in (RING, PARTIALS, STEADINESS))


@dataclass(frozen=True)
class Evidence:
    kind: str  # one of KINDS
    size: float  # 1: as large as is noticed
    sureness: float  # 1: as sure as is asked for
    change: float  # in the figure's own unit
    se: float | None
    most: float = math.inf  # strength that it can have at most, see `at_most`

    @property
    def strength(self) -> float:
        return max(0.0, min(self.size, self.sureness, self.most))


@dataclass(frozen=True)
class Case:
    """All that speaks for one kind of fault, strongest first."""

    strength: float | None  # None: nothing could be known
    evidence: tuple[Evidence, ...]
    could_tell: bool  # a gross fault could hardly have been missed

    @property
    def weight(self) -> float:
        """The strength, 0 where nothing could be known."""
        return self.strength or 0.0

    def at_most(self, most: float) -> Case:
        """The same evidence, limited piece by piece and as a whole."""
        if self.strength is None:
            return self
        return replace(self, strength=min(self.strength, most), evidence=tuple(at_most(piece, most) for piece in self.evidence))


def is_beyond_doubt(piece: Evidence) -> bool:
    """As large as counts and as sure as is asked, however much it may say."""
    return min(piece.size, piece.sureness) >= limits.DECIDED


def another_string(pieces: Iterable[Evidence]) -> Evidence | None:
    """What shows beyond doubt that another string is on than was fitted, also where a lost ring decides (`limits.RINGLESS_SAY`), for
    neighbours' answers fit no one stiffness. Not what a codec may have made, nor what was fitted to partials astray."""
    found = tuple(piece for piece in pieces if is_beyond_doubt(piece))
    if any(piece.kind in ASTRAY for piece in found):
        return None
    return next((piece for piece in found if piece.kind == "stretch" and piece.most >= limits.RINGLESS_SAY), None)


def at_most(piece: Evidence | None, most: float) -> Evidence | None:
    """The piece with its strength limited to that; as large and as sure as it was."""
    return replace(piece, most=min(piece.most, most)) if piece else None


def joint_strength(pieces: Iterable[Evidence | None]) -> float | None:
    """Strength of several pieces: that of the strongest, and a little more where others support it. None where nothing is known."""
    strengths = [one.strength for one in pieces if one is not None]
    return sum(s**TOGETHER for s in strengths) ** (1.0 / TOGETHER) if strengths else None


def strongest_first(pieces: Sequence[Evidence | None]) -> list[Evidence]:
    return sorted((one for one in pieces if one is not None), key=lambda one: -one.strength)


def large_ones(pieces: Iterable[Evidence]) -> list[Evidence]:
    """Those large enough to count, sure or not: where nothing is decided, they leave a string unsure."""
    return [one for one in pieces if one.size >= limits.DECIDED and KINDS[one.kind].leaves_unsure]


def score(strength: float | None) -> float | None:
    """0 as fresh; 50 as large as is noticed and beyond doubt; 100 at twice that."""
    return None if strength is None else min(100.0, 50.0 * strength)


def score_text(value: float | None) -> str:
    """A score as shown, to a tenth, "" for none: never rounded up, or 49.97 would stand as 50.0 beside a string that is not named."""
    return "" if value is None else f"{math.floor(10.0 * value) / 10.0:.1f}"


@lru_cache(maxsize=64)
def sureness_asked(n_strings: int) -> float:
    """z: how many errors a change must be, so that FALSE_ALARMS_PER_SWEEP of so many untouched strings exceed it on average, of few strings
    MOST_FALSE_SHARE of them. Errors are distributed as Student's t, as their sizes are known from a few plucks only."""
    from scipy.special import stdtrit

    return float(-stdtrit(limits.ERROR_FREEDOM, min(limits.FALSE_ALARMS_PER_SWEEP / max(n_strings, 1), limits.MOST_FALSE_SHARE)))

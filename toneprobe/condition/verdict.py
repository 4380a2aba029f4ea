"""The value that this room hands on: the verdict on one string."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from toneprobe.measure.figure import Figure

VERDICTS = ("false", "dead", "watch", "settling", "unsure", "unrated", "unheard", "sound")  # most pressing first
CONDEMNING = ("false", "dead")  # a string that is called so wants changing; most pressing first
SILENT = ("unheard", "unsure")  # these say nothing of a string: what an earlier sweep said of the same one still stands

# Keys of a condition's `changes`. Positive is worse from the first to `waver_db`. Ring and decays are what the verdict rests on.
CHANGES = (
    "ring",  # what is shown to people: decay or decay_low, whichever decided, with the error that the sweep's noise gives
    "decay",  # natural log of fresh over present decay time, of all partials
    "decay_low",  # the same of the partials up to n = 6, which carry the ring
    "decay_high",  # and of the upper half of the partials
    "brightness",  # natural log of fresh over present brightness, what all strings share removed; its error as that of ring
    "astray_cents",  # how far partials left the places that they had when fresh, rms
    "moved_cents",  # the same with the error that the sweep's noise gives: what people are told
    "beat_db",  # ripple that was not there when fresh
    "waver_db",  # the same less what nearly all strings show, with the error that the sweep's noise gives: what people are told
    "stretch",  # natural log of present over fresh inharmonicity
    "pitch_cents",  # pitch now against fresh
    "pitch_against_others_cents",  # pitch against what the sweep has in common
)


class MovedPartial(NamedTuple):
    """How far one partial moved against the others."""

    n: int
    cents: float
    se_cents: float


@dataclass(frozen=True)
class PartialsMoved:
    """How far each partial moved against the others since the string was fresh, as its verdict compared them. Side by side, for a history
    has thousands of them."""

    n: tuple[int, ...]  # ascending
    cents: tuple[float, ...]
    se_cents: tuple[float, ...]  # of an untouched string, as far as the plucks of this sweep scatter
    left_out: int  # of "astray_cents", by its number: the farthest, which may be another sound taken for it

    @property
    def each(self) -> tuple[MovedPartial, ...]:
        return tuple(map(MovedPartial, self.n, self.cents, self.se_cents))


@dataclass(frozen=True)
class Condition:
    """The verdict on one string."""

    string: str
    note: str
    verdict: str  # one of VERDICTS
    dead_score: float | None  # 0 as fresh, 50 as large as is noticed and beyond doubt, 100 twice that; None where it cannot be scored
    false_score: float | None
    n_plucks: int
    reasons: tuple[str, ...]  # plain sentences, the deciding one first
    next_step: str  # what the player does now, "" where nothing
    figures: Mapping[str, Figure]  # this sweep; keys: measure.figure.FIGURES
    fresh: Mapping[str, Figure]  # the fitting's fresh baseline, empty where there is none
    changes: Mapping[str, Figure] = field(default_factory=dict)  # keys: CHANGES; empty without a baseline
    step_kind: str = ""  # what kind of step the next one is, one of `next_steps.KINDS`
    is_wavering_open: bool = False  # of a sound string: whether it wavers, at all or slowly, could not be told
    rests_on_upper_partials: bool = False  # of a dead, false or watched one: their decay decided, and not the ring
    is_ring_coarse: bool = False  # of an unsure one: its first reason is how coarsely its ring is known (`doubt_words.coarse_ring`)
    partials_moved: PartialsMoved | None = None  # None where too few were compared, and in sweeps stored before it was kept

"""A remark on a recording: what the player reads, and beside it what later steps need, so that nobody reads that out of the words."""

from dataclasses import dataclass

TOO_NOISY = "too noisy"  # the plucks hardly stand above the background
GAIN_MOVES, EIGHT_BITS, RINGS_BREAK_OFF = "gain moves", "eight bits", "rings break off"
CRUSHED = "crushed"  # compressed so hard that only the loud partials can be trusted
SINGLE_SOUNDS = "single sounds"  # when something was no pluck, or of which string was doubtful: nothing of the harp itself
KINDS = (TOO_NOISY, GAIN_MOVES, EIGHT_BITS, RINGS_BREAK_OFF, CRUSHED, SINGLE_SOUNDS)
BEND_DECAYS = (GAIN_MOVES, EIGHT_BITS, RINGS_BREAK_OFF)  # every decay of the recording


@dataclass(frozen=True)
class Remark:
    """What a player must know of a recording."""

    text: str  # a plain sentence or a few
    kind: str | None = None  # one of KINDS; None where nobody asks
    lost: tuple[str, ...] = ()  # strings of which plucks were left out …
    along: str = ""  # … because this one rang along
    as_sweep: int | None = None  # whose very plucks it holds: said as long as the book has that sweep

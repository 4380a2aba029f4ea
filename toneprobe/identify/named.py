"""A recording whose plucks have names: what each sound was taken for, and why others are no plucks."""

from collections.abc import Sequence
from dataclasses import dataclass

from toneprobe.instrument import StringSpec
from toneprobe.segment import Span

VOICE = "its pitch wanders, as a voice's does"
PLUCKED_WHILE_RINGING = "its string seems to have been plucked again while it still rang, and what rang then is both"
NOTHING_NEW, LIKE_NO_STRING = "nothing new rings after it", "no string of the instrument sounds like it"
EITHER = "two strings sound alike there, and nothing beside it tells which was plucked"
BESIDE_SWEEP = "it is far fainter than its string's own plucks, and the sweep goes on around it"
BESIDE_ALL = "it is far fainter than the plucks of the strings near it, and the sweep goes on around it"  # of a string that has no others
OUT_OF_ORDER = "it may be a pluck, but it does not fit the sweep's order"
TOO_FAINT = "too faint, or out of the sweep's order"
OCTAVE_BELOW = "it sounds an octave below the string that it is most like, as one that has slipped far, or that the instrument lacks"
BETWEEN = "it lies between the notes of two strings, and nothing tells which was plucked"
_INTERVALS = {2: "an octave", 3: "an octave and a fifth"}  # by how many times as high
_ABOVE = "it sounds {0} above the string that it is most like, as a harmonic does, or {1}"
ABOVE = {times: _ABOVE.format(interval, "a string that the instrument lacks") for times, interval in _INTERVALS.items()}
ABOVE_OF_BOTH = {times: _ABOVE.format(interval, f"the string {interval} higher") for times, interval in _INTERVALS.items()}


@dataclass(frozen=True)
class NamedSpan:
    """A span with the string that it was taken for."""

    span: Span
    string: StringSpec
    sureness: float  # 0 to 1: posterior probability of this name
    offset_cents: float  # rough: the sounding pitch against the expected one
    pitch_hz: float  # rough: first partial
    knocks_s: tuple[float, ...] = ()  # when something else sounded while it rang, s from the recording's start …
    is_knocked: bool = False  # … and whether any of that stands out of what rings


@dataclass(frozen=True)
class Rejected:
    """A span that is no pluck of this instrument."""

    span: Span
    reason: str
    pluck_of: str = ""  # the string that was plucked, where another one sounded with it …
    rang_along: str = ""  # … and that other one
    between: tuple[str, ...] = ()  # where it lies between the notes of strings: which, lowest first


@dataclass(frozen=True)
class Identification:
    named: tuple[NamedSpan, ...]  # in time order
    unheard: tuple[StringSpec, ...]
    rejected: tuple[Rejected, ...]
    respelled: tuple[tuple[str, str], ...] = ()  # ("Eb", "E"): the stated and the played one, of each letter played otherwise
    kind: str | None = None  # the instrument's
    set_by_hand: frozenset[str] = frozenset()  # strings without mechanism


def identified(named: Sequence[NamedSpan], rejected: Sequence[Rejected], strings: Sequence[StringSpec]) -> Identification:
    heard = {one.string.name for one in named}
    return Identification(tuple(named), tuple(one for one in strings if one.name not in heard), tuple(rejected))

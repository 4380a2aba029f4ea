"""Another harp, or another set of strings, than the fresh sweep heard: most strings' stiffness is another, which no wear makes.

Dirt, age and faults shorten rings and shift single partials; stiffness goes with gauge, material and length. One string that differs is
wrongly fitted; where most do, the recording is of another harp, or the log has missed that it was strung anew.
"""

from collections.abc import Iterable

from toneprobe.baseline.change import Change
from toneprobe.condition.false_score import stretch_told
from toneprobe.condition.sweep_noise import SweepNoise
from toneprobe.limits import DECIDED

OTHER_SET_STRINGS = 5  # strings whose stiffness is known on both sides, of which most tell of another harp (set)


def other_set(what: str) -> str:
    """what: as of `Instrument.word`."""
    return (f"Most strings are not as stiff as in the fresh sweep, which no wear makes: another {what} was recorded, or it has other "
            f"strings than the log says. Nothing is compared. If it is another {what}, take this sweep back with 'toneprobe withdraw' and "
            "its number, and give the recording again with --harp; if it has new strings, log them with 'toneprobe restring'.")


def is_other_set(judged: Iterable[tuple[Change, SweepNoise]]) -> bool:
    """judged: the change of every string, with the noise that its neighbours show."""
    told = [piece for change, noise in judged if (piece := stretch_told(change, noise))]
    return len(told) >= OTHER_SET_STRINGS and 2 * sum(piece.strength >= DECIDED for piece in told) > len(told)

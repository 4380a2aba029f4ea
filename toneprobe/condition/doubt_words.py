"""A change and its doubt in words. One kind of doubt everywhere: what stands after ± is two standard errors, by so much two plucks of
one untouched string may differ. A change not known within a factor of `MOST_FACTOR` is no measurement, and no figure is given.
"""

from collections.abc import Sequence
from math import exp, log

from toneprobe import limits
from toneprobe.condition.evidence import KINDS, Evidence
from toneprobe.limits import ERRORS_TOLD
from toneprobe.measure.figure import Figure

MOST_FACTOR = 4.0  # between the ends of ±: a ring known only between a half and twice is not known
MOST_SHOWN = 99.0  # "100 % shorter" would be no string at all

RING, BRIGHT = ("shorter", "longer", "long"), ("duller", "brighter", "bright")  # less, more, as much


def percent_lost(change: float) -> float:
    """Percent lost for a log change: 0.69 gives 50."""
    return min(MOST_SHOWN, 100.0 * (1.0 - exp(-change)))


def plus_minus(change: float, se: float) -> str:
    """ "± 12", in per cent of fresh, for a log change of fresh over now; `report.words` writes the same beside that change."""
    return f"± {percent_doubt(se * exp(-change))}"


def percent_doubt(se: float) -> int:
    """What stands after ± for a ratio now/fresh with that error, in per cent of fresh."""
    return max(1, round(100.0 * ERRORS_TOLD * se))


def shift_words(change: float, words: tuple[str, str, str] = RING) -> str:
    """ "8 % longer", "2.4 times as long"; never more than all of it."""
    less, more, as_much = words
    if _is_multiple(change):
        return f"{exp(-change):.1f} times as {as_much}"
    return f"{abs(percent_lost(change)):.0f} % {less if change > 0 else more}"


def shift_from(change: float, past: str, words: tuple[str, str, str] = RING) -> str:
    """ "8 % longer than fresh", "2.4 times as long as fresh"."""
    return f"{shift_words(change, words)} {'as' if _is_multiple(change) else 'than'} {past}"


def _is_multiple(change: float) -> bool:
    """More than twice as much as when fresh: "130 % longer" is easily misread."""
    return change < -log(2.0)


def is_within_plucks(change: float, se: float) -> bool:
    """Whether two plucks of an untouched string may differ by so much, a log change of fresh over now."""
    return is_within_doubt(Figure(exp(-change), se * exp(-change)))


def is_within_doubt(change: Figure) -> bool:
    """Whether a ratio now/fresh is nearer to 1 than two errors, in whole per cent as both are shown; without an error, nearer than 3 %."""
    if change.value is None:
        return False
    if change.se is None:
        return abs(log(change.value)) < 0.03
    return abs(round(100.0 * (change.value - 1.0))) <= percent_doubt(change.se)


def is_too_wide(se: float, kind: str = "decay") -> bool:
    """Whether a change with that error is no measurement. kind: one of `evidence.KINDS`, in whose unit `se` is."""
    its_kind = KINDS[kind]
    return 2.0 * ERRORS_TOLD * se > log(MOST_FACTOR) if its_kind.is_log else ERRORS_TOLD * se > its_kind.most_after


def is_unmeasured(evidence: Evidence) -> bool:
    """Whether a figure's doubt is so large that to name the figure would mislead. What is beyond doubt all the same is measured."""
    if evidence.sureness >= limits.DECIDED or evidence.se is None:
        return False
    is_gross = KINDS[evidence.kind].is_log and abs(evidence.change) > log(MOST_FACTOR)
    return is_gross or is_too_wide(evidence.se, evidence.kind)


def plucks_text(n_plucks: int) -> str:
    return "one pluck" if n_plucks == 1 else f"{n_plucks} plucks"


def why_unmeasured(n_plucks: int) -> str:
    """The reason, as the end of a sentence, where nothing more of it is known."""
    return f"{plucks_text(n_plucks)} {'is' if n_plucks == 1 else 'are'} not enough"


def coarse_ring(rings: Sequence[Figure], n_plucks: int) -> str:
    """Why a string cannot be cleared whose ring, a log change, is known so coarsely; several such in one: "± 43 to 57 %"."""
    doubts = sorted({percent_doubt(one.se * exp(-one.value)) for one in rings})
    told = f"{doubts[0]} to {doubts[-1]}" if len(doubts) > 1 else f"{doubts[0]}"
    return f"From {plucks_text(n_plucks)} its ring is known only to ± {told} %, so a dead string might pass for a fine one."

"""Does what each partial ends with die as slowly as when fresh, though all die sooner at first?

A string swings in two planes that the soundboard damps differently, and another direction of the pull excites another mixture of them: all
partials die sooner at first, or later, while the two rates stay. A string that lost its ring lost it in both planes. So where a fall bends
now, its slow end is compared with the slow end when fresh, or with the whole of a fall that did not bend. Not seen: a slow plane that lies
in the noise, or in fewer than LEAST_PARTIALS partials.
"""

import numpy as np

from toneprobe import limits
from toneprobe.measure.decay import ONE_MODE_LOG_SE
from toneprobe.measure.figure import Figure
from toneprobe.session.reading import PartialReading, Reading

LEAST_PARTIALS = 3  # whose falls bend now (set: two may be chance's or a neighbour's)
TOO_FEW = Figure(None, None, "too few falls bend")


def slow_change(now: Reading, fresh: Reading) -> Figure:
    """Natural log of the decay rate at the end of the falls that bend now over the slowest when fresh: 0 where that plane lost nothing.

    The error is the partials' scatter, and no less than one mode's rate scatters from pluck to pluck: another string's answer ends each of
    them at another rate.
    """
    then = {partial.n: slowest for partial in fresh.partials if (slowest := _slowest(partial)) is not None}
    bent = {partial.n: partial.late_log_decay for partial in now.partials if partial.late_log_decay is not None}
    lost = [late - then[n] for n, late in bent.items() if n in then]
    if len(lost) < LEAST_PARTIALS:
        return TOO_FEW
    return Figure(float(np.mean(lost)), float(max(np.std(lost, ddof=1), ONE_MODE_LOG_SE) / np.sqrt(len(lost))))


def keeps_slow_plane(slow: Figure) -> bool:
    """Whether that plane, with two errors, has neither lost nor gained what is noticed."""
    return slow.known and abs(slow.value) + limits.ERRORS_TOLD * slow.error < limits.DECAY_NOTICED


def _slowest(partial: PartialReading) -> float | None:
    return partial.log_decay.value if partial.late_log_decay is None else partial.late_log_decay

"""Several plucks' values of one figure into one: a weighted mean that one bad pluck cannot drag away, and its honest error.

Each value is weighted by its own standard error; with three or more, values far from the median count less (Huber). The error of the mean
follows from the given errors, enlarged where the values scatter by more, cautiously (as from `PRIOR_PLUCKS` that agreed). Ratios by nature
are pooled as logarithms: their error grows with the value, so by plain 1/σ² the least would decide.

So is the glide, which goes with the square of the pull: hands differ by a factor, and what a hand does to decays and partials goes with its
logarithm (`baseline.hand`, `baseline.pull`). Its centre is that of the mean log pull, and its error covers both hands.
"""

import math
from collections import Counter
from collections.abc import Sequence
from statistics import median

from toneprobe import limits
from toneprobe.measure.figure import Figure
from toneprobe.medians import SD_OF_DEVIATION

LOG_FIGURES = frozenset({"pitch_hz", "inharmonicity", "t60_s", "centroid_hz", "centroid_ratio", "centroid_partials_hz", "beat_hz",
                         "glide_cents"})
ADDED_BEFORE_LOG = {"glide_cents": limits.LEAST_GLIDE_CENTS}  # as `measure.pull` has it: a glide may be 0
PRIOR_PLUCKS = 3.0  # plucks that agreed, added to those seen
HUBER = 1.5  # errors from the median, from which on a value counts less


def pool(figures: Sequence[Figure], *, as_log: bool = False, added: float = 0.0) -> Figure:
    """One figure for several plucks; with no value, the most frequent reason. added: before the logarithm."""
    known = [f for f in figures if f.known and (not as_log or f.value + added > 0.0)]
    if not known:
        return Figure(None, None, _usual_reason(figures))
    values, errors = [f.value for f in known], [f.se or math.nan for f in known]
    if as_log:
        errors = [se / (value + added) for se, value in zip(errors, values, strict=True)]
        values = [math.log(value + added) for value in values]
    centre, se = pool_values(values, errors)
    if not as_log:
        return Figure(centre, se or None)
    return Figure(math.exp(centre) - added, math.exp(centre) * se if se else None)


def pool_values(values: Sequence[float], errors: Sequence[float]) -> tuple[float, float]:
    """(centre, its standard error) of values with as many standard errors, NaN where unknown. They are few: plain numbers, no arrays.

    Where no error is known the scatter alone tells; one value without error has the error 0, which means unknown.
    """
    known = [se for se in errors if se > 0.0]
    usual = median(known) if known else spread_of(values) or 0.0
    if usual <= 0.0:
        return sum(values) / len(values), 0.0
    sigma = [se if se > 0.0 else usual for se in errors]
    weights = [trust / se**2 for trust, se in zip(_huber(values, sigma), sigma, strict=True)]
    total = sum(weights)
    centre = sum(w * x for w, x in zip(weights, values, strict=True)) / total
    chi2 = sum(w * (x - centre) ** 2 for w, x in zip(weights, values, strict=True))
    inflation = max(1.0, (PRIOR_PLUCKS + chi2) / (PRIOR_PLUCKS + len(values) - 1))
    return centre, math.sqrt(inflation / total)


def spread_of(values: Sequence[float]) -> float | None:
    """Standard deviation of one pluck about the mean; None with fewer than two."""
    if len(values) < 2:
        return None
    mean = sum(values) / len(values)
    return math.sqrt(sum((x - mean) ** 2 for x in values) / (len(values) - 1))


def _huber(values: Sequence[float], sigma: Sequence[float]) -> list[float]:
    centre = median(values)
    off = [abs(x - centre) / se for x, se in zip(values, sigma, strict=True)]
    scale = max(1.0, SD_OF_DEVIATION * median(off))
    return [1.0 / max(1.0, one / (HUBER * scale)) for one in off]


def _usual_reason(figures: Sequence[Figure]) -> str:
    reasons = Counter(f.reason for f in figures if f.reason)
    return reasons.most_common(1)[0][0] if reasons else "not measured"

"""Did one partial or two leave their places while all others stayed?

The rms of all partials dilutes a fault that moved two of twelve, and leaves the farthest out, for it may be a mistaken one. So the farthest
are judged by themselves too, each by its own |r|/σ, σ² enlarged by what its own plucks contradict. Of k partials of an untouched string the
j-th farthest lies beyond z with the chance I_q(j, k − j + 1): at least j of k do, q being the chance that one does, either way (Student's
t, as the errors are known from few plucks only). That chance is expressed as so many errors of a single figure and judged like all others:
so it is as rare in a sweep of healthy strings as any other evidence, and only grows as partials move. The hand counts in σ alone.

Two: the second farthest of those that every pluck of both sweeps has; one of them may be mistaken. One: the farthest of the loud ones on
which its plucks agree. As it may be mistaken, or be moved by another hand that excites a body mode, it is watched by that alone and never
false: of 2112 readings of healthy real strings three had one so far off, a third partial each, two of them by another hand. Size: the rms
that these would make among all.

A partial below the first sum tone that a pluck lacks (see `lost_partials`) has moved beyond reach, for nothing lies over it: in none of
those readings was one lost. But where the string was plucked may have silenced it, so lost ones alone are watched and never false.

Not seen: partials that moved together, as those of another stiffness do, and what no pluck of a side shows.
"""

from collections.abc import Collection, Mapping, Sequence
from math import sqrt
from statistics import median
from typing import NamedTuple

from toneprobe import limits
from toneprobe.baseline.series_change import LEAST_FOR_ASTRAY, SeriesChange
from toneprobe.condition.evidence import Evidence, at_most
from toneprobe.condition.sweep_noise import SweepNoise
from toneprobe.limits import ERRORS_TOLD
from toneprobe.measure.series import FIRST_SUM_TONE

LEAST_CHANCE = 1e-15  # what is rarer is no more sure
N_ASTRAY = {"one_astray": 1, "two_astray": 2}  # by kind of evidence: how many partials it is about
LEAST_JUDGED = {"one_astray": 1, "two_astray": LEAST_FOR_ASTRAY}  # by kind of evidence: least number of partials among which they are found


class Moved(NamedTuple):
    """One partial, against all others."""

    n: int
    cents: float  # higher than when fresh; of one that no pluck has, as far as the series is followed
    sigma_cents: float
    sigmas: float  # off, σ² enlarged by what its own plucks contradict
    is_lost: bool = False  # no pluck has it


def few_astray(series: SeriesChange, noise: SweepNoise) -> Mapping[str, Evidence]:
    """Evidence of two and of one, by kind, where they can be judged and lie beyond what plucks differ by."""
    found = {}
    for kind, count in N_ASTRAY.items():
        judged = moved_most(series, kind, noise.astray_scale)
        if len(judged) >= LEAST_JUDGED[kind] and judged[count - 1].sigmas > ERRORS_TOLD:
            found[kind] = _evidence(kind, judged, len(series.pattern), noise)
    return found


def moved_most(series: SeriesChange, kind: str, scale: float = 1.0) -> list[Moved]:
    """The partials judged for that kind, the farthest off first. scale: how much more than σ this sweep's plucks scatter."""
    numbers = {"one_astray": series.plain, "two_astray": series.steady}[kind]
    return _farthest_first(series, numbers, scale) if series.steady else []


def farthest_first(series: SeriesChange) -> list[Moved]:
    """All compared partials, even those that not every pluck has, or one pluck a side: no evidence, but where a string's partials lie."""
    return _farthest_first(series, [n for n, _, _ in series.pattern], 1.0) if series.pattern else []


def have_others_stayed(series: SeriesChange, moved: Collection[int]) -> bool:
    """Whether the farthest of all other partials lies no farther than that of as many untouched ones may by chance."""
    others = [one for one in farthest_first(series) if one.n not in moved]
    return not others or errors_of_chance(others[0].sigmas, 1, len(others)) <= ERRORS_TOLD


def _farthest_first(series: SeriesChange, numbers: Sequence[int], scale: float) -> list[Moved]:
    """Of the partials with these numbers, and of the low ones that are lost."""
    lost = {n: share for n, share in series.lost if n < FIRST_SUM_TONE}
    chosen = {*numbers, *lost}
    usual = scale * median(sigma for _, _, sigma in series.pattern)
    beyond = {n: Moved(n, limits.OUT_OF_REACH_CENTS, usual, share * limits.OUT_OF_REACH_CENTS / usual, True) for n, share in lost.items()}
    seen = {}
    for (n, cents, sigma), excess in zip(series.pattern, series.contradictions, strict=True):
        if n in chosen:
            off = Moved(n, cents, scale * sigma, abs(cents) / (scale * sigma * sqrt(1.0 + excess)))
            seen[n] = off._replace(sigmas=max(off.sigmas, beyond[n].sigmas)) if n in beyond else off
    return sorted((beyond | seen).values(), key=lambda one: -one.sigmas)


def errors_of_chance(sigmas: float, j: int, k: int) -> float:
    """How many errors of a single figure are as rare as j of k beyond so many."""
    from scipy.special import betainc, stdtr, stdtrit

    chance = betainc(j, k - j + 1, 2.0 * stdtr(limits.ERROR_FREEDOM, -sigmas))
    return float(-stdtrit(limits.ERROR_FREEDOM, max(chance, LEAST_CHANCE)))


def _evidence(kind: str, judged: Sequence[Moved], n_partials: int, noise: SweepNoise) -> Evidence:
    """judged: the farthest off first; n_partials: compared in all."""
    count = N_ASTRAY[kind]
    few, last = judged[:count], judged[count - 1]
    cents = min(abs(one.cents) for one in few)
    sureness = errors_of_chance(last.sigmas, count, len(judged)) / noise.sureness_asked
    piece = Evidence(kind, cents * sqrt(count / n_partials) / limits.ASTRAY_NOTICED_CENTS, sureness, cents, last.sigma_cents)
    return at_most(piece, limits.ONE_ASTRAY_SAY) if count == 1 or all(one.is_lost for one in few) else piece

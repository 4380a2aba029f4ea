"""What became of a string's series of partials: its pitch, its stiffness, and partials that went astray.

The frequency of partial n now against fresh, in cents, is c_n = a + 600·log2((1 + B'·n²)/(1 + B·n²)) + r_n: `a` is the pitch that the pin,
the weather or a pedal moved, B' the present inharmonicity, and r_n what no even string can do, the pattern of a local fault. A mass at one
place shifts partials up and down with n (Rayleigh), a loose winding scatters them. As each partial is compared with itself, the effect of
the harp on a healthy string's partials (board resonances, neighbours) cancels.

The spread σ_n of one pluck's r_n has a part in proportion to frequency, one in Hz (two polarisations) and one in line widths (what dies
fast or was cut short has no sharp pitch); it grows where the plucks of this partial differ by more and where the room outrings it
(`place_in_room`). The partial farthest off is left out, as it may be a mistaken one; but none of the loud lowest three where several plucks
a side by like hands tell: nothing can be taken for those (but a sum tone that lies apart, `sum_tone_places`), only another hand moves them,
by their other polarisation. How astray: the rms of the other r_n, less what σ_n explains. How sure: Σ min(r_n²/σ_n², ASTRAY_CUT), limited
because a partial far off may be mistaken, with a higher limit where it can't be. A lost partial (`lost_partials`) counts as just beyond
reach. This dilutes a fault that moved only one or two, which `condition.few_astray` asks for by themselves.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from math import fsum

import numpy as np
from scipy.special import chdtr, chndtrinc, ndtr

from toneprobe import limits
from toneprobe.baseline.hand import like_hands
from toneprobe.baseline.near_node import near_node
from toneprobe.baseline.pairing import Pairs
from toneprobe.baseline.place_in_room import place_share
from toneprobe.baseline.robust import robust_fit
from toneprobe.baseline.sum_tone_places import at_sum_tones
from toneprobe.measure.figure import Figure
from toneprobe.session.place_spread import place_variance, register_factor
from toneprobe.units import CENTS, LN_1000, shift_hz

PLUCKS_PRIOR = 3.0  # degrees of freedom that the usual scatter of a partial weighs against what its own plucks show (set)
UNCONFIRMED = 2.0  # factor on the variance of a partial found in a single pluck: it may be a mistaken one (measured)
SERIES_SPREAD_CENTS = 1.8  # the upper end of the series as a whole, pluck to pluck (measured)
ASTRAY_CUT = 6.0  # σ² that one partial counts in χ² at most, for it may be a mistaken one (set)
ASTRAY_SURE_CUT = 8.0  # the same of one that can't be mistaken: no more, for another hand may move a single low partial of a healthy string
# by ten cents, and no other (string model)
AGREED = 1.0  # σ² by which the plucks of such a sure partial may contradict each other (set)
LEAST_FOR_PITCH, LEAST_FOR_STRETCH, LEAST_FOR_ASTRAY = 1, 3, 4  # pairs of partials
N_STEPS = 3  # of Gauss–Newton
LOWEST = 3  # up to this number loud partials of several plucks by like hands are not mistaken for others
LOUD_DB = -25.0  # of the string's strongest; what is weaker may be anything (set)
LEAST_SQUARES = 1e-3  # of their number; smaller sums say no more
MOST_CENTS = 25.0  # of one partial in the rms
TOO_FEW = Figure(None, None, "too few partials found in both sweeps")
OF_PARTIALS, OF_PLUCKS, OF_HAND, TOO_LITTLE = "partials", "plucks", "hand", "little"  # what leaves a stretch in doubt: how its partials
# scatter, how far the values of B do, another hand, or that a stiffness so small moves partials no farther than plucks do


@dataclass(frozen=True)
class SeriesChange:
    pitch_cents: Figure  # by how much all partials moved together, fitted with the stretch; what is told is `Change.pitch_cents`
    stretch: Figure  # natural log of present over fresh B
    astray_cents: Figure  # rms beyond what plucks differ by; the error is that of a string that did not change, by which it is judged
    freedom: float  # of the r_n after the fit, lost partials included; 0: not known
    pattern: tuple[tuple[int, float, float], ...]  # (n, r_n in cents, σ_n in cents)
    lost: tuple[tuple[int, float], ...] = ()  # (n, share of plucks in which it is missing), only where some are
    unmistakable: tuple[int, ...] = ()  # partials that can't have been taken for others
    contradictions: tuple[float, ...] = ()  # of the pattern's partials: by how many σ² beyond the usual their own plucks differ
    steady: tuple[int, ...] = ()  # partials that all plucks of both sides have, several a side
    plain: tuple[int, ...] = ()  # of those the loud ones near no node and at no sum tone, on which their plucks agree
    hidden: bool = False  # what went astray is not known because a codec spared too few partials
    moved_cents: Figure = TOO_FEW  # the same rms with the error that is told, see `_most_cents`
    doubted: SeriesChange | None = None  # the same, if lines beside its single plucks' partials may be the string's; None: there are none
    stretch_doubt: str = ""  # the largest part of the stretch's error, one of OF_PARTIALS … TOO_LITTLE

    @property
    def left_out(self) -> int:
        """The farthest of the pattern's partials that may have been taken for another."""
        return max(self.pattern, key=lambda one: (one[0] not in self.unmistakable, abs(one[1]) / one[2]))[0]

    @cached_property
    def chi2_as_told(self) -> float:
        """`cut_chi2` by what its plucks tell alone, kept, for every other string of the sweep asks for it."""
        return cut_chi2(self)


NOTHING_PAIRED = SeriesChange(TOO_FEW, TOO_FEW, TOO_FEW, 0.0, ())


def series_change(pairs: Pairs, fresh_b: Figure, lost: Mapping[int, float], *, hand: float, room_s: float | None,
                  longer_s: float | None = None) -> SeriesChange:
    """Needs 1 pair for the pitch, 3 and a fresh B for the stretch, 4 (lost ones count) for what went astray.

    fresh_b: its error is that of both sides' B, as their plucks show it. room_s: decay time of the room this string is heard in;
    longer_s: of the fresh sweep's, as of `longer_room`.
    """
    pairs = pairs.where(pairs.n <= limits.TRUE_PARTIALS)
    n = len(pairs.n)
    if n < LEAST_FOR_PITCH:
        return NOTHING_PAIRED
    own_share = place_share(LN_1000 / pairs.fresh_decay, room_s, longer_s)
    variance = (cents_variance(pairs) + (limits.HAND_CENTS * hand) ** 2) / own_share**2
    b = fresh_b.value if fresh_b.known else None
    has_stretch = n >= LEAST_FOR_STRETCH and b is not None
    fit = _fit(pairs, variance, b if has_stretch else None)
    untold = TOO_FEW if b is not None else Figure(None, None, fresh_b.reason)
    stretch, doubt = _stretch(fit, pairs, fresh_b, hand) if has_stretch else (untold, "")
    pitch, n_fitted = Figure(fit.pitch, fit.pitch_se), 2 if has_stretch else 1
    n_lost = sum(lost.values())
    freedom = n - 1 + n_lost - n_fitted  # one partial is left out
    missing = tuple((k, share) for k, share in lost.items() if share)
    if n + n_lost < LEAST_FOR_ASTRAY or freedom < 1.0:
        return SeriesChange(pitch, stretch, TOO_FEW, 0.0, (), missing, stretch_doubt=doubt)
    pattern = tuple((int(k), float(r), float(s)) for k, r, s in zip(pairs.n, fit.rest, np.sqrt(variance), strict=True))
    loud = (pairs.fresh_level_db > LOUD_DB) & (own_share >= limits.HIDDEN_BY_ROOM)
    sum_tones = _may_be_sum_tone(pairs, b)
    unmistakable = (pairs.n <= LOWEST) & loud & (pairs.per_pluck <= limits.ONE_PLUCK) & like_hands(hand) & ~sum_tones
    unmistakable &= not unmistakable.all()  # one is left out in any case
    contradictions = np.maximum(pairs.cents_unexplained / variance - 1.0, 0.0)
    astray, moved = _astray(fit.rest, variance, n_lost, unmistakable, contradictions, n_fitted=n_fitted)
    steady = (pairs.per_pluck <= limits.ONE_PLUCK) & (pairs.n_lacking == 0.0)
    plain = steady & loud & (contradictions < AGREED) & ~_near_node(pairs) & ~sum_tones
    unmistakable, steady, plain = (tuple(int(k) for k in pairs.n[chosen]) for chosen in (unmistakable, steady, plain))
    found = SeriesChange(pitch, stretch, astray, freedom, pattern, missing, unmistakable, tuple(contradictions.tolist()), steady, plain,
                         moved_cents=moved, stretch_doubt=doubt)
    return replace(found, doubted=_doubted(found, pairs.cents_beside_var)) if pairs.cents_beside_var.any() else found


def _doubted(found: SeriesChange, beside_var: np.ndarray) -> SeriesChange:
    """The same fit with spreads widened by beside_var, shape (k,) as the pattern."""
    n, rest, sigma = np.array(found.pattern).T
    variance, n_lost = sigma**2 + beside_var, sum(share for _, share in found.lost)
    n_fitted = round(len(n) - 1 + n_lost - found.freedom)
    astray, _ = _astray(rest, variance, n_lost, np.isin(n, found.unmistakable), np.array(found.contradictions), n_fitted=n_fitted)
    pattern = tuple((k, off, float(wide)) for (k, off, _), wide in zip(found.pattern, np.sqrt(variance), strict=True))
    return replace(found, astray_cents=astray, pattern=pattern)


def cut_chi2(change: SeriesChange, scale: float = 1.0) -> float:
    """Σ min(r²/(scale·σ)², ASTRAY_CUT) of all partials but the one left out, plus ASTRAY_CUT for each lost one; ASTRAY_SURE_CUT for a
    partial that can't have been taken for another and whose plucks agree. A partial's own contradictions are subtracted from its own term
    only.

    scale: how much more than σ this sweep's plucks scatter.
    """
    squares, left_out = [], change.left_out
    for (n, rest, sigma), excess in zip(change.pattern, change.contradictions, strict=True):
        most = ASTRAY_SURE_CUT if n in change.unmistakable and excess < AGREED else ASTRAY_CUT
        if n != left_out:
            squares.append(max(min((rest / (scale * sigma)) ** 2, most) - min(excess / scale**2, ASTRAY_CUT), 0.0))
    return fsum(squares) + ASTRAY_CUT * sum(share for _, share in change.lost)


def cents_variance(pairs: Pairs) -> np.ndarray:
    """Variance of each pair's cents, of an untouched string."""
    one = place_variance(pairs.freq_hz, f1_hz=_f1_hz(pairs), level_db=pairs.fresh_level_db, decay=pairs.fresh_decay, heard_s=pairs.heard_s)
    unconfirmed = np.where(pairs.per_pluck > limits.ONE_PLUCK, UNCONFIRMED, 1.0)
    usual, freedom = one * unconfirmed * pairs.per_pluck, pairs.cents_freedom
    # by how much its own plucks differ more than usual
    unsteady = max(1.0, float(np.sum(freedom * np.minimum(pairs.cents_var / usual, ASTRAY_CUT)) / max(freedom.sum(), 1e-9)))
    expected = usual * unsteady
    seen = (PLUCKS_PRIOR * expected + freedom * pairs.cents_var) / (PLUCKS_PRIOR + freedom)
    return np.maximum.reduce([seen, expected, pairs.cents_own_var])


def share_without_farthest(n: int) -> float:
    """Mean square of n normal values without the largest, over their variance: 0.363 of two, 0.449 of three, 0.719 of twelve.

    It is (n − E max)/(n − 1), the mean of n χ² less that of their largest; this curve lies within 0.0003 of it for n = 2 to 12 (fitted).
    """
    return 1.0 - 1.687 * (n + 2.238) ** -0.675


@dataclass(frozen=True)
class _Fit:
    pitch: float
    pitch_se: float
    stretch: float
    stretch_se: float
    rest: np.ndarray


def _fit(pairs: Pairs, variance: np.ndarray, b: float | None) -> _Fit:
    """Gauss–Newton in (a, ln B'); a step in ln B' is held within a factor e."""
    n2, ones, log_ratio = pairs.n**2, np.ones(len(pairs.n)), 0.0
    for _ in range(1 if b is None else N_STEPS):
        if b is None:
            design, model = ones[:, None], 0.0
        else:
            b_now = b * np.exp(log_ratio)
            model = 0.5 * CENTS * np.log((1.0 + b_now * n2) / (1.0 + b * n2))
            design = np.stack([ones, 0.5 * CENTS * b_now * n2 / (1.0 + b_now * n2)], axis=1)
        coefficients, covariance, _ = robust_fit(pairs.cents - model, variance, design)
        log_ratio += float(np.clip(coefficients[1], -1.0, 1.0)) if b is not None else 0.0
    rest = pairs.cents - model - design @ coefficients
    se = np.sqrt(np.diag(covariance))
    return _Fit(float(coefficients[0]), float(se[0]), log_ratio, float(se[-1]) if b is not None else 0.0, rest)


def _stretch(fit: _Fit, pairs: Pairs, fresh_b: Figure, hand: float) -> tuple[Figure, str]:
    """With the part of its error that weighs most."""
    errors = {OF_PARTIALS: fit.stretch_se, OF_PLUCKS: (fresh_b.se or 0.0) / fresh_b.value,
              TOO_LITTLE if like_hands(hand) else OF_HAND: _upper_end_error(pairs, fresh_b.value, hand)}
    return Figure(fit.stretch, float(np.linalg.norm(list(errors.values())))), max(errors, key=errors.get)


def _near_node(pairs: Pairs) -> np.ndarray:
    """On either side."""
    sides = (pairs.fresh_level_db, pairs.fresh_level_db + pairs.level_db)
    weak = [near_node(dict(zip(pairs.n.tolist(), level_db.tolist(), strict=True))) for level_db in sides]
    return np.isin(pairs.n, list(frozenset.union(*weak)))


def _may_be_sum_tone(pairs: Pairs, b: float | None) -> np.ndarray:
    """On either side."""
    sides_hz = (pairs.freq_hz, shift_hz(pairs.freq_hz, pairs.cents))
    return np.logical_or.reduce([at_sum_tones(pairs.n, hz, b or 0.0) for hz in sides_hz])


def _f1_hz(pairs: Pairs) -> float:
    return float(pairs.freq_hz[0] / pairs.n[0])


def _upper_end_error(pairs: Pairs, b: float, hand: float) -> float:
    """Error of ln B where the upper partials as a whole are taken a few cents wrong (sum tones for partials, or the reverse). A sum tone
    goes with the square of the pull, and so with the glide."""
    n2 = float(pairs.n[-1]) ** 2
    cents_per_log_b = 0.5 * CENTS * b * n2 / (1.0 + b * n2)
    spread = SERIES_SPREAD_CENTS * register_factor(_f1_hz(pairs)) * np.sqrt(pairs.per_pluck[-1]) * (1.0 + 2.0 * hand)
    return float(spread) / cents_per_log_b


def _astray(rest: np.ndarray, variance: np.ndarray, n_lost: float, unmistakable: np.ndarray, contradictions: np.ndarray, *,
            n_fitted: int) -> tuple[Figure, Figure]:
    """Rms of what σ does not explain, with the error of a string that did not change, and with the error told to people. The farthest of
    those that may be mistaken is left out, and allowed for as if all were normal.

    n_fitted: parameters fitted, the pitch alone or the stretch too, which took their part of the scatter.
    """
    n, n_mistakable = len(rest), int((~unmistakable).sum())
    kept = np.ones(n, bool)
    kept[int(np.argmax(np.where(unmistakable, -1.0, rest**2 / variance)))] = False
    share = np.where(unmistakable, 1.0, share_without_farthest(n_mistakable))[kept]
    weights = share / variance[kept]
    lost_weight = n_lost / float(np.median(variance))
    seen = float(np.sum(np.minimum(rest[kept] ** 2, MOST_CENTS**2) / variance[kept])) + lost_weight * limits.OUT_OF_REACH_CENTS**2
    in_doubt = np.minimum(np.minimum(contradictions, ASTRAY_CUT), rest**2 / variance)[kept]
    left_share, freedom = float(share.sum()) / n, max(n - n_fitted, 0.5)
    total = float(np.sum(weights)) + lost_weight
    squares = seen - float(in_doubt.sum())
    rms = float(np.sqrt(max(0.0, squares - left_share * freedom) / total))
    most = _most_cents(squares / left_share, freedom=freedom, weight=total / left_share)
    left_out = rms / n  # what the farthest adds to the others depends on the pattern (drawn: 0.96 to 1.0 of this for 2 to 12 partials)
    return Figure(rms, float(np.sqrt(0.5 / total))), Figure(rms, float(np.hypot((most - rms) / limits.ERRORS_TOLD, left_out)))


def _most_cents(squares: float, *, freedom: float, weight: float) -> float:
    """The greatest rms in cents that Σ r²/σ² = `squares` leaves open; `weight`: Σ 1/σ².

    r is what moved plus noise of spread σ, so the sum is a χ² of that freedom with non-centrality rms²·weight. The rms cannot fall below 0,
    and a pattern of one σ gives a small sum in many sweeps, so an error taken at 0 would claim that there is no pattern. Returned is the
    non-centrality at which so small a sum is 1/44 (two errors, one side) as frequent as for a string that did not move at all: a bound that
    no sum, however small by chance, can press to 0 (the ratio of confidence levels, A. L. Read, J. Phys. G 28, 2002).
    """
    least = max(squares, LEAST_SQUARES * freedom)
    chance = ndtr(-limits.ERRORS_TOLD) * chdtr(freedom, least)
    return float(np.sqrt(chndtrinc(least, freedom, chance) / weight))

"""How much faster a string dies away than when fresh, each partial against itself: all partials, the lowest, the upper half.

Δ_n = ln δ_n(now) − ln δ_n(fresh), positive where partial n dies faster. How hard or where the string was plucked hardly changes a partial's
decay, but the mixture of its two polarisations does: a single Δ_n scatters by 10 to 60 %, and only many together tell. The variance of
their mean has six parts: the partials' scatter; what all partials of a pluck share (the direction of the pull); the day; the hand where it
differs; how much less of the fall the noise leaves in one sweep; how much less a pluck shows that was cut short. The first two grow as
either side shows less of the fall.

Loss in the string's matter grows with frequency (δ = π·f·η), loss by dirt in the windings with its square; loss at the ends or on the
surface adds one rate to all, so the low partials, slow to die, lose half their ring where the high ones hardly change. Therefore the lowest
partials, which carry the ring, and the upper half are given separately.

Partials that lost unequally widen the error of their mean, so a worse string would be known less surely. But whatever lost more has also
lost as much as the others: each mean is given with the losses capped at lesser ones too, and the strongest evidence of these counts.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from toneprobe import limits
from toneprobe.baseline.pairing import Pairs
from toneprobe.baseline.robust import robust_shares
from toneprobe.baseline.room_ring import HALF, heard_loss, heard_share
from toneprobe.baseline.scatter import Scatter, level_factor
from toneprobe.measure.decay import LOW_PARTIALS
from toneprobe.measure.figure import Figure
from toneprobe.units import LN_1000

CORE_SHARE = 0.5  # of a partial's own variance, which covers its wild tenth; the fit is robust against that (measured)
WHOLE_DECAY_SPREAD = 0.2  # log decay time of the string as one figure (measured: 6 and 18 %, soft against firm 17 and 40 %; cautious, as
# other partials may decide in each)
SESSION_DECAY_SPREAD = 0.025  # log decay of a string from one day to another, same room; no figure is published, derived from takes
LESS_HEARD_DECAY = 0.006  # log decay of all partials for each dB less of the fall that noise leaves, for the first part is the steeper
# (measured with the partials' own scatter: 48 real readings of two plucks in six noises, 0.07 rms for 9 dB, 0.08 for 13, 0.14 for 16)
LESS_HEARD_PARTIAL = 0.025  # the same of a single partial (half of them within 0.17 for 8 dB, 0.28 for 17, 0.38 for 22)
CUT_SHORT_DECAY = 0.04  # log decay of all partials for each dB less of the fall that is left because a pluck was cut short, but for
# `limits.CUT_SHORT_DB` (measured on 96 real plucks, whole and cut after 0.7 to 4.5 s, each against each: where 0.05 to 0.15 is told they
# err by 0.10 rms, at 0.15 to 0.3 by 0.22, at 0.3 to 0.45 by 0.34, at more by 0.5)
CUT_SHORT_PARTIAL = 0.035  # the same of a single partial, from the first dB on (measured: half within 0.18 for 9 dB, 0.36 for 18)
HAND_DECAY_SHARE = 0.15  # of the log glide ratio, as standard deviation of a log decay (measured: soft against firm, bass most)
HAND_HIGHS_SHARE = 0.2  # the same for the upper partials, which sum tones feed (measured)
LEAST_PARTIALS = 2  # pairs whose decays are known
LEAST_HALF = 3  # partials in each half, from which the halves are given separately
MOST_OF_ONE = 0.6  # share of a part's weight beyond which one of its partials decides alone (set)
N_ROUNDS = 4  # of estimating in turn what was lost and how much of that is heard
LOSSES = np.linspace(0.0, 3.0, 61)  # of a string, in ln T, from none to 95 % of its ring
TOO_FEW = Figure(None, None, "too few partials ring long enough in both sweeps")
PARTS = {"all": "decay", "low": "decay_low", "high": "decay_high"}  # what each is called among a string's changes and evidence


@dataclass(frozen=True)
class DecayChange:
    """Natural logs of fresh over present decay time: 0.69 is half the ring."""

    all: Figure
    low: Figure  # the lowest partials, which carry the ring
    high: Figure  # upper half
    less_rung_db: float = 0.0  # by how much less of the fall one of the two shows because it was cut short, mean of the lowest partials
    heard_share: float = 1.0  # of a half ring's loss, heard through the room in the partials that weigh most
    at_least: Mapping[str, tuple[Figure, ...]] = field(default_factory=dict)  # by part, with greater losses capped at lesser ones
    told_by_one: frozenset[str] = frozenset()  # parts whose loss a single partial tells, for the room hides that of the others
    contradicted: bool = False  # by the string's whole ring, in a file of few bits, as of `is_contradicted`
    keeps_slow_plane: bool = False  # its falls end as slowly as when fresh, as of `slow_plane`

    def with_figures(self, made: Callable[[str, Figure], Figure]) -> DecayChange:
        """With every figure made anew from its part and itself."""
        parts = {part: made(part, getattr(self, part)) for part in PARTS}
        capped = {part: tuple(made(part, figure) for figure in figures) for part, figures in self.at_least.items()}
        return replace(self, **parts, at_least=capped)


def decay_change(pairs: Pairs, scatter: Scatter, *, n_now: int, n_fresh: int, hand: float = 0.0,
                 room_s: float | None = None, crushed: bool = False, with_caps: bool = True) -> DecayChange:
    """Change from the pairs, of which LEAST_PARTIALS must have known decays. n_now, n_fresh: plucks.

    hand: log ratio of pitch glides, how differently the string was plucked (see `hand`). room_s: the room's decay time (see `room_ring`).
    crushed: one of the recordings is compressed too hard. with_caps: `at_least` too, which takes nearly all of the time.
    """
    pairs = pairs.where(np.isfinite(pairs.log_decay))
    n = len(pairs.n)
    if n < LEAST_PARTIALS:
        return DecayChange(TOO_FEW, TOO_FEW, TOO_FEW)
    variance = np.maximum(CORE_SHARE * pairs.log_decay_var, scatter.partial_decay**2 * pairs.per_pluck)
    variance = variance * (level_factor(np.minimum(pairs.fresh_level_db, 0.0)) * pairs.fall_factor) ** 2
    variance = variance + (LESS_HEARD_PARTIAL * pairs.less_heard_db) ** 2 + (CUT_SHORT_PARTIAL * pairs.less_rung_db) ** 2
    variance = variance + (limits.CODEC_DECAY_SPREAD if crushed else 0.0) ** 2
    like_hands_var = (scatter.string_decay * pairs.fall_factor) ** 2 * (1.0 / n_now + 1.0 / n_fresh) + 2.0 * SESSION_DECAY_SPREAD**2
    shared_var = dict.fromkeys(PARTS, like_hands_var + (HAND_DECAY_SHARE * hand) ** 2)
    shared_var["high"] = like_hands_var + (HAND_HIGHS_SHARE * hand) ** 2
    heard, share = _heard(pairs, variance, room_s)
    low, members = pairs.n <= LOW_PARTIALS, members_of_parts(pairs.n)
    telling = heard**2 / variance
    told_by_one = frozenset(part for part, its in members.items() if share < limits.HIDDEN_BY_ROOM and _tells_alone(telling[its]))
    found, at_least = dict.fromkeys(PARTS, TOO_FEW), {}
    for part, its in members.items():
        found[part], *capped = _means(pairs.where(its), variance[its], shared_var[part][its], heard[its], with_caps=with_caps)
        at_least[part] = tuple(capped)
    less_rung_db = float(pairs.less_rung_db[low].mean()) if low.any() else 0.0
    return DecayChange(**found, less_rung_db=less_rung_db, heard_share=share, at_least=at_least, told_by_one=told_by_one)


def members_of_parts(n: np.ndarray) -> dict[str, np.ndarray]:
    """By part, which of the partials with these numbers belong to it; left out where too few do."""
    low, high = n <= LOW_PARTIALS, np.arange(len(n)) >= len(n) // 2
    members = {"all": np.ones(len(n), bool)}
    if low.sum() >= LEAST_HALF:
        members["low"] = low
    if len(n) >= 2 * LEAST_HALF:
        members["high"] = high
    return members


def _tells_alone(telling: np.ndarray) -> bool:
    return bool(telling.max() > MOST_OF_ONE * telling.sum())


def whole_ring_change(now: Figure, fresh: Figure, *, n_now: int, n_fresh: int) -> Figure:
    """The change from the strings' decay times alone, for too few paired partials; other partials may decide in each."""
    if not (now.known and fresh.known):
        return TOO_FEW
    errors = [f.se / f.value if f.se else 0.0 for f in (now, fresh)]
    spread = WHOLE_DECAY_SPREAD * float(np.sqrt(1.0 / n_now + 1.0 / n_fresh))
    return Figure(float(np.log(fresh.value / now.value)), float(np.sqrt(errors[0] ** 2 + errors[1] ** 2 + spread**2)))


def is_contradicted(decay: DecayChange, now: Figure, fresh: Figure) -> bool:
    """Whether the partials show a loss that a listener notices, and the string's own decay times one that is not noticed and lies two
    errors below it."""
    if not (decay.all.known and now.known and fresh.known):
        return False
    lost, error = float(np.log(fresh.value / now.value)), float(np.hypot(*(one.error / one.value for one in (now, fresh))))
    told = max(figure.value for figure in (decay.all, decay.low) if figure.known)
    return lost < limits.DECAY_NOTICED <= told and lost + limits.ERRORS_TOLD * error < told


def _heard(pairs: Pairs, variance: np.ndarray, room_s: float | None) -> tuple[np.ndarray, float]:
    """The share of the string's loss that the room lets be heard in each partial, shape (k,), and in all as they are weighed.

    A partial's ring is taken from both sides alike: of the fresh side alone, one measured too long would seem to be heard and to have lost.
    The string's loss since then is added back in rounds, as it depends on the share.
    """
    n = len(pairs.n)
    if room_s is None or _is_no_room(pairs, variance, room_s):
        return np.ones(n), 1.0
    heard, lost = np.ones(n), 0.0
    middle_t60_s = LN_1000 / (pairs.fresh_decay * np.exp(0.5 * pairs.log_decay))
    for _ in range(N_ROUNDS):
        heard = heard_share(middle_t60_s * np.exp(0.5 * heard * lost), room_s)
        coefficients, _, (weights,) = robust_shares(pairs.log_decay[None, :], variance, heard)
        lost = float(np.clip(coefficients[0], 0.0, HALF))
    return heard, float((weights * heard**2).sum() / (weights * heard).sum())


def _is_no_room(pairs: Pairs, variance: np.ndarray, room_s: float) -> bool:
    """Whether the partials lost as if no room hid anything, two errors clearer than with the room. What ends all sounds in one time is then
    a fade or a gate: it multiplies, where a room lengthens, and the decay rates add."""
    heard = heard_loss(LN_1000 / pairs.fresh_decay, room_s, LOSSES[:, None])
    in_room, alone = (float(((pairs.log_decay - lost) ** 2 / variance).sum(axis=1).min()) for lost in (heard, LOSSES[:, None]))
    return in_room > alone + limits.ERRORS_TOLD**2


def _means(pairs: Pairs, variance: np.ndarray, shared_var: np.ndarray, heard: np.ndarray, *, with_caps: bool) -> list[Figure]:
    """The mean, then the means with all losses capped at what each partial but the worst lost, and at halfway between: at least so much
    was lost.

    heard: share of the string's loss that each partial shows. shared_var: variance, in each partial, of what all share; it counts for more
    where little of the loss is heard, and with what noise or a cut hides on one side, for the first part of a fall is the steepest.
    """
    caps = [cap for cap in lesser_losses(pairs.log_decay / heard) if cap > 0.0] if with_caps else []
    rows = np.stack([pairs.log_decay, *(np.minimum(pairs.log_decay, cap * heard) for cap in caps)])
    coefficients, variances, weights = robust_shares(rows, variance, heard)
    by_noise = LESS_HEARD_DECAY * pairs.less_heard_db.mean()
    by_cut = CUT_SHORT_DECAY * pairs.cut_db.mean()
    shared_errors = (weights @ (heard * np.sqrt(shared_var + by_noise**2 + by_cut**2))) / (weights @ heard**2)
    errors = np.sqrt(variances + shared_errors**2)
    return [Figure(value, se) for value, se in zip(coefficients.tolist(), errors.tolist(), strict=True)]


def lesser_losses(lost: np.ndarray) -> np.ndarray:
    """All but the greatest, and halfway between any two neighbours, ascending."""
    each = np.unique(lost)
    return np.sort([*each[:-1], *(each[1:] + each[:-1]) / 2.0])

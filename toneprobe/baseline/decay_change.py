"""How much faster a string dies away than when fresh, partial against the same partial: all, the lowest, the upper half.

Δ_n = ln δ_n(now) − ln δ_n(fresh), positive where the partial dies faster. How hard or where the string was plucked hardly enters a
partial's decay; which mixture of its two polarisations was excited does, so one Δ_n scatters by 10 to 60 % and only many together tell.
The error of the whole has six parts: the partials' scatter, what all partials of a pluck share (the pull's direction), the day's, the
hand's where it differs, how much less of the fall the noise leaves in one of the two, and how much less a pluck shows that was cut short.
The first two are the larger the less of the fall either side shows.

The damping-law view: what a string loses through its own matter grows with frequency (δ = π·f·η), dirt in the windings with its square,
while a loss at the ends or on the surface adds the same rate to all: the low partials, slow to die, lose half their ring where the high
ones hardly change. So the lowest partials, which carry the ring, and the upper half are given apart.

Where all partials lose, each by another amount, or one loses far more than the rest, their scatter widens the mean's error, and the worse
string would be known the less surely. But a partial that lost more has lost that much too: so each mean is also given with the losses cut
to what the others lost, and whichever of these says most may speak for the string.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from toneprobe import limits
from toneprobe.baseline.pairing import Pairs
from toneprobe.baseline.robust import robust_shares
from toneprobe.baseline.room_ring import HALF, heard_loss, heard_share
from toneprobe.baseline.scatter import Scatter, by_level
from toneprobe.measure.decay import LOW_PARTIALS
from toneprobe.measure.figure import Figure
from toneprobe.units import LN_1000

CORE_SHARE = 0.5  # of a partial's own variance, which covers its wild tenth; the fit is robust against that (measured)
WHOLE_DECAY_SPREAD = 0.2  # log decay time of the string as one figure (measured: 6 and 18 %, soft against firm 17 and 40 %; cautious, as
# other partials may decide in each)
SESSION_DECAY_SPREAD = 0.025  # log decay of a string from one day to another, same room; no figure is published, derived from takes
LESS_HEARD_DECAY = 0.006  # log decay of all partials for each dB less of the fall that noise leaves, for the first part is the steeper
# (measured with the partials' own scatter: 48 real readings of two plucks in six noises, 0.07 rms for 9 dB, 0.08 for 13, 0.14 for 16) …
LESS_HEARD_PARTIAL = 0.025  # … and of a single one (half of them within 0.17 for 8 dB, 0.28 for 17, 0.38 for 22)
CUT_SHORT_DECAY = 0.04  # log decay of all partials for each dB less of the fall that is left because a pluck was cut short, but for
# `limits.CUT_SHORT_DB` (measured on 96 real plucks, whole and cut after 0.7 to 4.5 s, each against each: where 0.05 to 0.15 is told they
# err by 0.10 rms, at 0.15 to 0.3 by 0.22, at 0.3 to 0.45 by 0.34, at more by 0.5)
CUT_SHORT_PARTIAL = 0.035  # the same of a single partial, from the first dB on (measured: half within 0.18 for 9 dB, 0.36 for 18)
HAND_DECAY_SHARE = 0.15  # of the log glide ratio, as standard deviation of a log decay (measured: soft against firm, bass most)
HAND_HIGHS_SHARE = 0.2  # the same for the upper partials, which sum tones feed (measured)
LEAST_PARTIALS = 2
LEAST_HALF = 3  # partials in each half before the halves are told apart
MOST_OF_ONE = 0.6  # of what a part's partials tell of its loss, beyond which one of them tells it alone (set)
N_ROUNDS = 4  # of what was lost and how much of that is heard
LOSSES = np.linspace(0.0, 3.0, 61)  # of a string, in ln T, from none to 95 % of its ring
TOO_FEW = Figure(None, None, "too few partials ring long enough in both sweeps")
PARTS = {"all": "decay", "low": "decay_low", "high": "decay_high"}  # and what each is called among a string's changes and evidence


@dataclass(frozen=True)
class DecayChange:
    """Natural logs of fresh over present decay time: 0.69 is half the ring."""

    all: Figure
    low: Figure  # the lowest partials, which carry the ring
    high: Figure  # upper half
    less_rung_db: float = 0.0  # by how much less of the fall one of the two shows because it was cut short, mean of the lowest partials
    heard_share: float = 1.0  # of a half ring's loss: what the room lets be heard of it in the partials that tell most
    at_least: Mapping[str, tuple[Figure, ...]] = field(default_factory=dict)  # by part, with greater losses cut to lesser ones
    of_one: frozenset[str] = frozenset()  # parts whose loss a single partial tells, for the room hides that of the others
    contradicted: bool = False  # by the string's whole ring, in a file of few bits, as of `is_contradicted`
    keeps_slow_plane: bool = False  # its falls end as slowly as when fresh, as of `slow_plane`

    def each(self, made: Callable[[str, Figure], Figure]) -> DecayChange:
        """With every figure made anew from its part and itself."""
        parts = {part: made(part, getattr(self, part)) for part in PARTS}
        cut = {part: tuple(made(part, figure) for figure in figures) for part, figures in self.at_least.items()}
        return replace(self, **parts, at_least=cut)


def decay_change(pairs: Pairs, scatter: Scatter, *, n_now: int, n_fresh: int, hand: float = 0.0,
                 room_s: float | None = None, crushed: bool = False, with_cuts: bool = True) -> DecayChange:
    """Change from the pairs, which need at least LEAST_PARTIALS decays known in both. n_now, n_fresh: plucks.

    hand: log ratio of pitch glides, how differently the string was plucked (see `hand`). room_s: how long the room rings (see `room_ring`).
    crushed: one of the two recordings is compressed too hard. with_cuts: `at_least` too, which takes nearly all of the time.
    """
    pairs = pairs.where(np.isfinite(pairs.log_decay))
    n = len(pairs.n)
    if n < LEAST_PARTIALS:
        return DecayChange(TOO_FEW, TOO_FEW, TOO_FEW)
    variance = np.maximum(CORE_SHARE * pairs.log_decay_var, scatter.partial_decay**2 * pairs.per_pluck)
    variance = variance * (by_level(np.minimum(pairs.fresh_level_db, 0.0)) * pairs.by_fall) ** 2
    variance = variance + (LESS_HEARD_PARTIAL * pairs.less_heard_db) ** 2 + (CUT_SHORT_PARTIAL * pairs.less_rung_db) ** 2
    variance = variance + (limits.CODEC_DECAY_SPREAD if crushed else 0.0) ** 2
    shared = (scatter.string_decay * pairs.by_fall) ** 2 * (1.0 / n_now + 1.0 / n_fresh) + 2.0 * SESSION_DECAY_SPREAD**2
    of_high = shared + (HAND_HIGHS_SHARE * hand) ** 2
    shared = shared + (HAND_DECAY_SHARE * hand) ** 2
    heard, share = _heard(pairs, variance, room_s)
    low, high = pairs.n <= LOW_PARTIALS, np.arange(n) >= n // 2
    members = {"all": np.ones(n, bool), "low": low if low.sum() >= LEAST_HALF else None, "high": high if n >= 2 * LEAST_HALF else None}
    telling = heard**2 / variance
    is_hidden = share < limits.HIDDEN_BY_ROOM
    of_one = frozenset(part for part, of_it in members.items() if is_hidden and of_it is not None and _tells_alone(telling[of_it]))
    found, at_least = dict.fromkeys(PARTS, TOO_FEW), {}
    for part, of_part in members.items():
        if of_part is not None:
            arguments = pairs.where(of_part), variance[of_part], (of_high if part == "high" else shared)[of_part], heard[of_part]
            found[part], *cut = _means(*arguments, with_cuts=with_cuts)
            at_least[part] = tuple(cut)
    less_rung_db = float(pairs.less_rung_db[low].mean()) if low.any() else 0.0
    return DecayChange(**found, less_rung_db=less_rung_db, heard_share=share, at_least=at_least, of_one=of_one)


def _tells_alone(telling: np.ndarray) -> bool:
    return bool(telling.max() > MOST_OF_ONE * telling.sum())


def whole_ring_change(now: Figure, fresh: Figure, *, n_now: int, n_fresh: int) -> Figure:
    """The change from the strings' decay times alone, where too few partials can be paired; other partials may decide in each."""
    if not (now.known and fresh.known):
        return TOO_FEW
    errors = [f.se / f.value if f.se else 0.0 for f in (now, fresh)]
    spread = WHOLE_DECAY_SPREAD * float(np.sqrt(1.0 / n_now + 1.0 / n_fresh))
    return Figure(float(np.log(fresh.value / now.value)), float(np.sqrt(errors[0] ** 2 + errors[1] ** 2 + spread**2)))


def is_contradicted(decay: DecayChange, now: Figure, fresh: Figure) -> bool:
    """Whether partials tell of a loss that a listener notices and the string's own decay times tell of none: by those it lost less than is
    noticed, and with two errors less than the partials say."""
    if not (decay.all.known and now.known and fresh.known):
        return False
    lost, error = float(np.log(fresh.value / now.value)), float(np.hypot(*(one.error / one.value for one in (now, fresh))))
    told = max(figure.value for figure in (decay.all, decay.low) if figure.known)
    return lost < limits.DECAY_NOTICED <= told and lost + limits.ERRORS_TOLD * error < told


def _heard(pairs: Pairs, variance: np.ndarray, room_s: float | None) -> tuple[np.ndarray, float]:
    """Of each partial the share of the string's loss that the room lets be heard, shape (k,), and that of all as they tell.

    How long a partial rings is asked of both sides alike, or one that was measured too long when fresh would seem to be heard and to have
    lost. What the string lost since is put back: that is not known before the share is.
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
    """Whether the partials lost as if no room hid any of it, two errors clearer than as it would. What then ends all sounds in one time is
    a fade or a gate put on them: it multiplies, where a room lengthens, and the decay rates add."""
    heard = heard_loss(LN_1000 / pairs.fresh_decay, room_s, LOSSES[:, None])
    in_room, alone = (float(((pairs.log_decay - lost) ** 2 / variance).sum(axis=1).min()) for lost in (heard, LOSSES[:, None]))
    return in_room > alone + limits.ERRORS_TOLD**2


def _means(pairs: Pairs, variance: np.ndarray, shared: np.ndarray, heard: np.ndarray, *, with_cuts: bool) -> list[Figure]:
    """The mean, and then with all losses cut to what each partial lost, but the worst, and to halfway between: the string lost at least so
    much.

    Where one of the two shows less of the fall, all partials seem to die faster there, for what comes first is the steeper. heard: share
    of the string's loss that each partial shows. What all partials share counts for more where little of the loss is heard. shared: the
    variance of that in each of them.
    """
    cuts = [most for most in lesser_losses(pairs.log_decay / heard) if most > 0.0] if with_cuts else []
    rows = np.stack([pairs.log_decay, *(np.minimum(pairs.log_decay, most * heard) for most in cuts)])
    coefficients, variances, weights = robust_shares(rows, variance, heard)
    hidden = LESS_HEARD_DECAY * pairs.less_heard_db.mean()
    cut = CUT_SHORT_DECAY * pairs.cut_db.mean()
    of_shared = (weights @ (heard * np.sqrt(shared + hidden**2 + cut**2))) / (weights @ heard**2)
    errors = np.sqrt(variances + of_shared**2)
    return [Figure(value, se) for value, se in zip(coefficients.tolist(), errors.tolist(), strict=True)]


def lesser_losses(lost: np.ndarray) -> np.ndarray:
    each = np.unique(lost)
    return np.sort([*each[:-1], *(each[1:] + each[:-1]) / 2.0])

"""A wavering that was not there: ripple that all partials of a string share, beyond what it showed when fresh.

What a string does of itself starts with the pluck and repeats, swing for swing, in every pluck; chance comes now so, now so. So at each
rate (see `measure.ripple`) the complex swings of a sweep's plucks are averaged, and the amplitude of the mean, freed of the power that its
error adds, is compared with the fresh one. Amplitudes and not swings: another month's hand excites another mixture of the polarisations and
the neighbours, which turns the ripple of a healthy string and scales it (part of the error), and where the weaker of two voices becomes the
stronger the same beat appears on the other side of the partials. So a split is compared with the deeper of its two fresh sides. Several
plucks by one hand repeat even that, so their error is no smaller than one pluck's. The surest of many rates lies a little above zero for
untouched strings too, which `RIPPLE_SEARCHED` allows for. A single pluck also shows its own chance and what else sounded over it (speech
has 3 to 5 syllables a second, in all partials at once), so it never makes a string false (`condition.false_score`); nor does what one of
several plucks shows and the others don't. A beat in single partials is no fault: two polarisations and the neighbours make those.

A pitch that wanders, every partial in proportion to n, turns the phases and leaves the levels: in ln z it is i·A·cos(ωt + φ), as much on
one side as on the other, with c(−ω) = −c(ω)*; a swing of level has +c(ω)*. A second voice is on one side only and swings level and phase by
as much. So where the level's part, |c(ω) + c(−ω)*|, is far below a voice's, it is no wavering: something lets the tension go and come,
which is no fault of the string. The rest of a harder pluck's glide looks the same, and makes it half as sure.

A string that rings for less than a swing or two of its wavering shows none; it only seems to ring longer or shorter. So beside the depth
stands the slowest rate at which its partials were heard for long enough.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from toneprobe import limits
from toneprobe.baseline.hand import hand_change
from toneprobe.measure.figure import Figure
from toneprobe.measure.ripple import N_BEFORE, RATES_HZ, SPLITS_CENTS
from toneprobe.session.reading import Reading
from toneprobe.units import shift_hz

RIPPLE_SEARCHED = 0.65  # factor on the error of the ripple at the surest of many rates (measured: 350 healthy strings below 1.6 errors)
UNCONFIRMED_RIPPLE = 1.7  # factor on that error where a single pluck tells (measured)
N_RATES = len(RATES_HZ) + len(SPLITS_CENTS)  # common rates, and splits to either side
OF_LEVEL = 0.35  # share of a voice's swing of level below which the pitch wanders (model strings: pitch alone 0.3, voices 0.8 on)
HARDER = 2.0  # factor on the error of a wandering where the string was pulled harder than when fresh (set)
WANDERS = 2.0  # errors from which a wandering pitch and a wavering are distinguished (set)
SHOWN_BY_OTHERS = 1.0 / 3.0  # of what one pluck shows (set; a talk over one of two real plucks: 0.04; a string that wavers does so in all)
HAND_SHARE = 0.3  # of the fresh depth, as its standard deviation under another hand: it goes with tan θ of the pull between two
# polarisations, and d ln tan θ = 2·dθ at 45°: 0.3 for 0.15 radian, or 9° (derived; by how much hands differ is set)
LEAST_ERROR_DB = 0.35  # of one side: another day, another hand (measured on whole sweeps of a string model)
OTHER_SIDE = np.array([*range(len(RATES_HZ)), *(len(RATES_HZ) + SPLITS_CENTS.index(-cents) for cents in SPLITS_CENTS)])
NOT_LOOKED_FOR = Figure(None, None, "the ripple of the partials was not looked for")
TOO_SHORT = Figure(None, None, "too few partials ring long enough to tell a ripple")
OF_PITCH = Figure(None, None, "its pitch wanders while it rings, so a wavering could not be told")
STEADY = Figure(None, None, "no wandering of its pitch was heard")


@dataclass(frozen=True)
class RippleChange:
    depth_db: Figure  # peak to peak
    beat_hz: float | None = None  # its rate; of the first partial where the rate rises with frequency
    voices_cents: float = 0.0  # how far apart its two voices lie where the rate rises with frequency
    is_of_one_pluck: bool = False  # now: nothing parts what the string does from what chance did
    slowest_hz: float | None = None  # at which its partials could have been heard to swing; None where at no rate
    is_refused: bool = False  # the recordings are compressed too hard for it
    pitch_walk_db: Figure = STEADY  # in its place where the phases swing and the levels don't: by as much, 8.7 dB for a radian


def ripple_change(now: Reading, fresh: Reading, *, pitch_hz: float) -> RippleChange:
    """The depth has a reason in place of a value where too few partials ring long enough in one of the sweeps, or where it is the pitch
    that wanders."""
    here, then = _swings_of_plucks(now), _swings_of_plucks(fresh)
    if not here or not then:
        return RippleChange(NOT_LOOKED_FOR)
    (depth_now, variance_now), (depth_fresh, variance_fresh) = _amplitude(here), _amplitude(then)
    searched = RIPPLE_SEARCHED * (UNCONFIRMED_RIPPLE if len(here) == 1 else 1.0)
    fresh_deeper_side = depth_fresh + np.maximum(np.nan_to_num(depth_fresh[OTHER_SIDE] - depth_fresh), 0.0)
    deeper, of_plucks = depth_now - fresh_deeper_side, searched * np.sqrt(variance_now + variance_fresh)
    error = np.hypot(of_plucks, HAND_SHARE * fresh_deeper_side)
    if not np.isfinite(deeper).any():
        return RippleChange(TOO_SHORT)
    slowest_hz = min((rate_hz for rate_hz, db in zip(RATES_HZ, deeper, strict=False) if np.isfinite(db)), default=None)
    place = int(np.nanargmax(deeper / error))
    is_of_one = _is_of_one_pluck(here, place)
    depth = max(0.0, float(deeper[place]))
    found = Figure(depth, float(error[place]))
    if depth > WANDERS * found.se and _is_wandering_pitch(here, place):
        hand = hand_change(now, fresh)
        is_harder = hand.known and hand.value >= limits.LIKE_HANDS
        return RippleChange(OF_PITCH, slowest_hz=slowest_hz, pitch_walk_db=Figure(depth, HARDER * found.se if is_harder else found.se))
    if not depth:
        return RippleChange(found, is_of_one_pluck=is_of_one, slowest_hz=slowest_hz)
    return RippleChange(found, _rate_hz(place, pitch_hz), _voices_cents(place), is_of_one, slowest_hz)


class _Swings(NamedTuple):
    """Of one pluck, shape (rates,); NaN where unknown."""

    db: np.ndarray  # complex
    variance: np.ndarray  # E|c|² of what chance adds to it


def _is_of_one_pluck(plucks: Sequence[_Swings], place: int) -> bool:
    """Whether there is but one pluck, or the others show hardly any of what one shows, along their mean. place: of the rate."""
    swings = np.array([pluck.db[place] for pluck in plucks])
    along = np.sort((swings * np.conj(swings.mean())).real)
    return len(plucks) == 1 or bool(along[:-1].mean() < SHOWN_BY_OTHERS * along[-1])


def _is_wandering_pitch(plucks: Sequence[_Swings], place: int) -> bool:
    """False where the other side is not told."""
    if place < len(RATES_HZ):
        return False
    swing = np.mean([pluck.db for pluck in plucks], axis=0)
    return bool(abs(swing[place] + np.conj(swing[OTHER_SIDE[place]])) < OF_LEVEL * abs(swing[place]))


def _rate_hz(place: int, pitch_hz: float) -> float:
    if place < len(RATES_HZ):
        return RATES_HZ[place]
    return abs(shift_hz(pitch_hz, SPLITS_CENTS[place - len(RATES_HZ)]) - pitch_hz)


def _voices_cents(place: int) -> float:
    return 0.0 if place < len(RATES_HZ) else abs(SPLITS_CENTS[place - len(RATES_HZ)])


def _swings_of_plucks(reading: Reading) -> list[_Swings]:
    """Plucks measured before wide splits were sought lack those; plucks with other rates are left out."""
    found = []
    for ripple in reading.ripples:
        n_known = len(ripple.in_phase_db)
        if n_known in (N_BEFORE, N_RATES):
            unknown = (np.nan,) * (N_RATES - n_known)
            re, im, se = (np.array([*values, *unknown], float) for values in (ripple.in_phase_db, ripple.quadrature_db, ripple.se_db))
            found.append(_Swings(re + 1j * im, 2.0 * se**2))
    return found


def _amplitude(plucks: Sequence[_Swings]) -> tuple[np.ndarray, np.ndarray]:
    """Peak to peak depth that the plucks share and its variance, shape (rates,); NaN where any pluck cannot tell."""
    swings, variances = (np.array(values) for values in zip(*plucks, strict=True))
    variance = variances.mean(axis=0)
    of_chance = variance / len(plucks)  # power that errors leave in the mean of so many swings
    return np.sqrt(np.maximum(np.abs(swings.mean(axis=0)) ** 2 - of_chance, 0.0)), variance + LEAST_ERROR_DB**2

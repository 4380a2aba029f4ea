"""Decay: how fast each partial dies away, and the string.

Model: the power of one partial falls as exp(−2δt). On a real string it is two polarisations that beat and fall at two rates, mixed anew by
each pluck, and a straight line through the level follows the beat. Estimator: the backward integral of the power less the noise's share
(Schroeder's, with an exponential tail beyond the end, after Lundeby et al., Acustica 81 (1995) and ISO 3382-1), whose first RANGE_DB fall
nearly straight whatever beats; its slope gives δ.
The string's decay time is that of its strongest low partials: the mean of ln δ_n weighted by amplitude. Single partials differ between
takes of one untouched string by tens of per cent, so each δ_n is first drawn towards a robust line of ln δ_n over ln n (losses rise
smoothly with frequency), for which a few more partials count. A faint partial is hardly less reliable there than a strong one, since takes
differ by the mixture of polarisations and not the noise.
Not seen: a decay that falls by less than LEAST_FALL_DB before the pluck ends, or one faster than the band's own response.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from toneprobe.limits import CUT_SHORT_DB
from toneprobe.measure.beats import TwoSlopes
from toneprobe.measure.envelope import Envelope, heard_until, smooth_power
from toneprobe.measure.exact import ExactPartial
from toneprobe.measure.figure import EARLY_OVER_NOISE, EARLY_RANGE_DB, FALLS_ONLY, LEAST_FALL_DB, Figure
from toneprobe.medians import SD_OF_DEVIATION
from toneprobe.units import LN_1000

RANGE_DB = 40.0
BEYOND_DB = 12.0  # so much more of the fall is integrated
OVER_NOISE = 3.0  # times the noise's power down to which a fall is followed
END_SHARE = 0.2  # of the stretch, its last part, from which what follows is estimated
LEAST_SNR_DB = 12.0
N_TAIL_ROUNDS = 4
MODES_LOG_SE = 0.2  # what two polarisations do to one partial's ln δ from take to take, median of real strings
ONE_MODE_LOG_SE = 0.1  # the same where only one of them is heard
NOISE_OVER_BOUND = 1.5  # of ln δ: the slope's error from noise over the least that white noise allows (set here)
SHORT_LOG_SE = 0.3  # of ln δ where none of RANGE_DB is heard, less in proportion to what is (set here)
GREATEST_EXACT_SE = 0.15
GREATEST_LATE_RATIO = 0.3  # amplitude of a lasting mode over the fast one's: where it is more, both are heard from the start
LOW_PARTIALS = 6  # the string's decay time is that of these, each counted by its amplitude, smoothed by a line
LINE_PARTIALS = 8  # through which that line goes
LINE_SHARE = 0.25  # power of its amplitude by which each counts for the line
OWN_SHARE = 0.7  # of a partial's own departure from the line that counts (all of it where it is one mode, free of beats)
GREATEST_OWN = 0.4  # departure that counts at most
LEAST_SCATTER = 0.3  # departures from the line smaller than this are no reason for distrust
USUAL_SLOPE = 0.75  # of ln δ over ln n: a prior that matters only where few partials sound, or where they scatter
SLOPE_SPREAD = 0.1  # of that slope
LEAST_FREE_SCATTER = 0.02
CUT_SHORT_LOG_SE = 0.06  # of the string's ln δ, for each dB beyond CUT_SHORT_DB of the early fall that is cut off (measured: low
# strings of a lever harp cut after 0.8 to 3 s, two errors hold nine in ten)
SHARED_SHARE = 0.27  # of the partials' own errors, the part that the string's decay time keeps
SYSTEMATIC_SHARE = 0.5  # of the partials' scatter about the line, part belongs to the string and comes back in the next take


@dataclass(frozen=True)
class PartialDecay:
    delta: float  # amplitude decay rate, 1/s
    log_se: float  # standard error of ln δ
    is_one_mode: bool = False  # one damped sinusoid explains it down to the noise
    early_delta: float | None = None  # over the first EARLY_RANGE_DB alone
    lacking_db: float = 0.0  # of these, what the hand or the next pluck cut off while the partial still sounded


def partial_decay(envelope: Envelope, *, start_s: float, exact: ExactPartial | None) -> PartialDecay | str:
    """Decay of one partial from its envelope, or the reason why there is none. `exact`: given where one damped sinusoid is all there is."""
    if exact is not None and exact.log_delta_se < GREATEST_EXACT_SE:
        log_se = float(np.hypot(exact.log_delta_se, ONE_MODE_LOG_SE))
        return PartialDecay(exact.delta, log_se, is_one_mode=True, early_delta=exact.delta)
    first = envelope.first_from(start_s)
    power = envelope.power[first:]
    if len(power) < 8:
        return "too short"
    smooth = smooth_power(envelope, max(0.01, 2.0 * envelope.settle_s))[first:]
    top = int(smooth[: max(4, len(smooth) // 2)].argmax())
    peak = float(smooth[top])
    if peak < envelope.noise_power * 10 ** (LEAST_SNR_DB / 10):
        return "too faint"
    power = power - envelope.noise_power
    heard = _followed(smooth[top:], over=OVER_NOISE * envelope.noise_power, range_db=RANGE_DB)
    found = _energy_slope(power[:top + heard], smooth, envelope, range_db=RANGE_DB)
    if isinstance(found, str):
        return found
    two_delta, fall_db = found
    if fall_db < LEAST_FALL_DB:
        return f"{FALLS_ONLY} {fall_db:.0f} dB before it ends"
    early_heard = _followed(smooth[top:], over=EARLY_OVER_NOISE * envelope.noise_power, range_db=EARLY_RANGE_DB)
    early = _energy_slope(power[:top + early_heard], smooth, envelope, range_db=EARLY_RANGE_DB)
    density = envelope.noise_power / envelope.rate_hz
    noise_se = 2.0 * np.sqrt(0.5 * two_delta * density / peak) * NOISE_OVER_BOUND
    short_se = SHORT_LOG_SE * max(0.0, 1.0 - fall_db / RANGE_DB)
    log_se = float(np.hypot(np.hypot(noise_se, short_se), MODES_LOG_SE))
    lacking_db = 0.0 if heard < len(smooth) - top else max(0.0, EARLY_RANGE_DB - fall_db)
    early_delta = None if isinstance(early, str) else 0.5 * early[0]
    return PartialDecay(0.5 * two_delta, log_se, early_delta=early_delta, lacking_db=lacking_db)


def _followed(level: np.ndarray, *, over: float, range_db: float) -> int:
    """How many values from the first and greatest: until the fall has covered the range and BEYOND_DB, or is no longer heard."""
    fallen = np.flatnonzero(level < level[0] * 10 ** (-(range_db + BEYOND_DB) / 10))
    return min([*fallen[:1], heard_until(level >= over)])


def early_decay(decay: PartialDecay | str, slopes: TwoSlopes) -> PartialDecay | str:
    """The early slope, where the level bends, the lasting mode is much the weaker at first, and the two explain all. On real strings more
    happens as a rule; there the slope of the energy over its whole range repeats better between takes."""
    if isinstance(decay, str) or slopes.ratio > GREATEST_LATE_RATIO or not slopes.is_all:
        return decay
    log_se = float(np.hypot(slopes.early_log_se, MODES_LOG_SE))
    return replace(decay, delta=slopes.early_delta, early_delta=slopes.early_delta, log_se=log_se)


def _energy_slope(power: np.ndarray, smooth: np.ndarray, envelope: Envelope, *, range_db: float) -> tuple[float, float] | str:
    """(2δ, dB covered) of the backward integral over its first range_db, its tail beyond the end estimated from the slope itself.

    power: |z|² less the noise's, as far as the fall is followed; smooth: its running mean with the noise.
    """
    stop = len(power)
    if stop < 6:
        return "too short"
    step_s, n_end = 1.0 / envelope.rate_hz, max(2, int(stop * END_SHARE))
    end_power, end_s = max(float(smooth[stop - n_end: stop].mean()) - envelope.noise_power, 0.0), n_end * step_s
    inside = np.cumsum(power[::-1])[::-1] * step_s
    two_delta = 2.0 / (stop * step_s)
    for _ in range(N_TAIL_ROUNDS):
        left = inside + end_power * end_s / np.expm1(two_delta * end_s)  # an exponential's mean over end_s, and what follows it
        level = np.log(np.maximum(left / left[0], 1e-12))
        n_used = min(max(int(np.flatnonzero(level > -range_db * np.log(10) / 10)[-1]) + 1, 4), stop)
        away = np.arange(n_used) - 0.5 * (n_used - 1)
        slope = float(away @ level[:n_used]) / (float(away @ away) * step_s)
        if slope >= -1e-4:
            return "does not decay"
        two_delta = -slope
    return two_delta, -10 / np.log(10) * float(level[n_used - 1])


def string_decay(n: np.ndarray, decays: list[PartialDecay | str], *, level_db: np.ndarray, lacking: Collection[int]) -> Figure:
    """T60 of the string from its low partials. `level_db`: relative to the strongest, shape (k,) like n. `lacking`: numbers of partials
    that would also count, had they been found."""
    known = [i for i, decay in enumerate(decays) if isinstance(decay, PartialDecay) and n[i] <= LINE_PARTIALS]
    low = n[known] <= LOW_PARTIALS if known else np.zeros(0, bool)
    if not low.any():
        reasons = [decay for decay in decays if isinstance(decay, str)]
        return Figure(None, None, f"no decay could be measured: {reasons[0] if reasons else 'no partials'}")
    log_delta = np.array([np.log(decays[i].delta) for i in known])
    log_se = np.array([decays[i].log_se for i in known])
    amplitude = 10 ** (np.clip(level_db[known], -40.0, 0.0) / 20)
    smooth, spread, n_effective = _smooth_losses(n[known], log_delta, amplitude**LINE_SHARE)
    departure = log_delta - smooth
    is_one_mode = np.array([decays[i].is_one_mode for i in known])
    own = smooth + np.where(is_one_mode, departure, OWN_SHARE * np.clip(departure, -GREATEST_OWN, GREATEST_OWN))
    weight = np.where(low, amplitude, 0.0) / amplitude[low].sum()
    t60_s = float(LN_1000 / np.exp((weight * own).sum()))
    lacking_db = float((weight * [decays[i].lacking_db for i in known]).sum())
    cut = CUT_SHORT_LOG_SE * max(0.0, lacking_db - CUT_SHORT_DB)
    bent = _without_lacking(n[known][low], amplitude[low], [k for k in lacking if k <= LOW_PARTIALS])
    se = np.sqrt((SYSTEMATIC_SHARE * spread) ** 2 / n_effective + (SHARED_SHARE * (weight * log_se).sum()) ** 2 + cut**2 + bent**2)
    return Figure(t60_s, float(t60_s * se))


def _without_lacking(n: np.ndarray, amplitude: np.ndarray, lacking: Sequence[int]) -> float:
    """By how much ln δ of the string would be higher with the lacking partials, as strings usually have them: amplitude 1/n of the
    strongest, losses as n to the USUAL_SLOPE."""
    if not lacking:
        return 0.0
    share, steeper = float(amplitude.max()) / np.array(lacking), np.log(lacking) - (amplitude * np.log(n)).sum() / amplitude.sum()
    return USUAL_SLOPE * float((share * steeper).sum() / (amplitude.sum() + share.sum()))


def _smooth_losses(n: np.ndarray, log_delta: np.ndarray, weight: np.ndarray) -> tuple[np.ndarray, float, float]:
    """ln δ as a robust line over ln n with a prior on its slope: its values, the spread about it, the effective count."""
    x, trust = np.log(n / 3.0), np.ones(len(n))
    prior = (_free_scatter(x, log_delta, weight) / SLOPE_SPREAD) ** 2
    for _ in range(10):
        w = weight * trust
        a, s = _line(x, log_delta, w, prior)
        misfit = log_delta - a - s * x
        trust = 1.0 / np.maximum(1.0, np.abs(misfit) / max(SD_OF_DEVIATION * float(np.median(np.abs(misfit))), LEAST_SCATTER))
    spread = max(float(np.sqrt((w * misfit**2).sum() / w.sum())), 0.5 * MODES_LOG_SE)
    return a + s * x, spread, float(w.sum() ** 2 / (w**2).sum())


def _line(x: np.ndarray, y: np.ndarray, weight: np.ndarray, prior: float) -> np.ndarray:
    """Level and slope of a weighted line; `prior`: how much the usual slope weighs."""
    normal = np.array([[weight.sum(), (weight * x).sum()], [(weight * x).sum(), (weight * x * x).sum() + prior]])
    return np.linalg.solve(normal, [(weight * y).sum(), (weight * x * y).sum() + prior * USUAL_SLOPE])


def _free_scatter(x: np.ndarray, y: np.ndarray, weight: np.ndarray) -> float:
    """How far the losses lie from a line that knows of no usual slope."""
    if len(x) < 3:
        return MODES_LOG_SE
    a, s = _line(x, y, weight, 1e-9)
    variance = (weight * (y - a - s * x) ** 2).sum() / weight.sum() * len(x) / (len(x) - 2)
    return max(float(np.sqrt(variance)), LEAST_FREE_SCATTER)

"""Beats and bends: two close modes in one partial, their rate and depth, or the two slopes that they make.

Model: two exponentials against one (`two_modes`), decided by the Bayesian information criterion. Depth is the ripple 20·log10((1 + r)/(1 −
r)) of the amplitude ratio r at the start, rate the difference of frequencies. The first 40 dB of the fall are used, since real strings show
more than two modes below; where two explain the partial down to the noise all of it is, and slower beats are found. Eight settling times of
the band are left out after the onset and before the end, but at most 15 % of what is heard: its own response lies up to 40 dB above the
noise and passes for a mode.
No beat: less than one period while both modes stand above the noise, or a rate less sure than 1.7 %; that is two slopes. Where the mode
that dies sooner is the louder at first, the level bends where both are equal, at ln(a1/a2)/(δ1 − δ2): the knee.
"""

from dataclasses import dataclass

import numpy as np

from toneprobe.measure.envelope import EDGE, Envelope, smooth_power
from toneprobe.measure.figure import BEAT_PARTIALS, LEVEL_RANGE_DB, Figure
from toneprobe.measure.two_modes import EXPLAINED, TwoModes, fit_two_modes

LEAST_VALUES = 16  # of an envelope
LEAST_EVIDENCE = 20.0  # BIC of one mode minus BIC of two
DEEPEST_DB = 40.0
LEAST_DEPTH_DB = 0.5
AUDIBLE = 8.0  # times the noise's power: below, a level shows no beat (set here)
RANGE = 1e-4  # power that a partial falls by while it is followed, 40 dB …
LONGER = 1.1  # … or to the noise, where it can be heard so many times longer
CLEAR = 8.0  # settling times of the band, after which its answer to the onset has gone
CLEAR_SHARE = 0.15  # most of what is listened to that is left out for that
GREATEST_RATE_SE = 0.017  # share of the rate; six such errors are a tenth of it
FASTEST_HZ = 12.0  # modes farther apart are not heard as a beat of one partial
FLAT_SHARE = 0.5 - EDGE  # of an envelope's rate: farther from its centre lies what the band's edge leaves of the neighbours

NO_FULL_BEAT = "two slopes, no full beat"
LEAST_BEND = 2.0  # ratio of the two decay rates from which two slopes are told apart
NEARLY_ALL = 1e-4  # a misfit of this share of the energy leaves nothing to explain
RATE_SHARE = 0.5  # of itself by which the rate of a string's deepest beat scatters from pluck to pluck (takes of a lever harp)
DEPTH_SHARE = 0.5  # the same of its depth
GREATEST_SLOPE_SE = 0.07  # standard error of ln δ of the early slope


@dataclass(frozen=True)
class TwoSlopes:
    """A mode that dies fast and one that lasts, no full beat between them."""

    early_delta: float  # amplitude decay rate, 1/s
    late_delta: float
    early_log_se: float  # standard error of ln early_delta
    knee_s: float  # after the onset: where both are equally loud
    ratio: float  # of the lasting mode's amplitude over the other's, at the start
    is_all: bool  # the two explain the partial down to the noise


@dataclass(frozen=True)
class Beat:
    rate_hz: float
    depth_db: float
    rate_se_hz: float
    depth_se_db: float
    other_hz: float  # the weaker mode's frequency …
    other_delta: float  # … and amplitude decay rate, 1/s


def partial_beat(envelope: Envelope, *, start_s: float) -> Beat | TwoSlopes | str:
    """The beat in one partial, the two slopes that its modes make, or why there is neither."""
    settled = envelope.first_from(start_s)
    smooth = smooth_power(envelope, max(0.02, 2.0 * envelope.settle_s))[settled:]
    if len(smooth) < LEAST_VALUES:
        return "too short"
    top = float(smooth[: max(4, len(smooth) // 2)].max())
    audible = settled + np.flatnonzero(smooth > AUDIBLE * envelope.noise_power)
    heard = audible[smooth[audible - settled] > top * RANGE]
    if len(heard) < LEAST_VALUES:
        return "too faint"
    clear = min(int(CLEAR * envelope.settle_s * envelope.rate_hz), int(CLEAR_SHARE * heard[-1]))
    first, end = max(settled, clear), len(envelope.z) - clear
    if min(end, heard[-1]) < first + LEAST_VALUES:
        return "too short"
    modes = fit_two_modes(envelope, first, min(end, int(heard[-1]) + 1))
    found = _judged(modes, envelope)
    if (isinstance(found, TwoSlopes) or found == NO_FULL_BEAT) and audible[-1] > LONGER * heard[-1]:
        modes = fit_two_modes(envelope, first, min(end, int(audible[-1]) + 1))
        if modes.explain_all:
            return _judged(modes, envelope)
    return found


def _judged(modes: TwoModes, envelope: Envelope) -> Beat | TwoSlopes | str:
    n_values = 2 * modes.n
    evidence = n_values * np.log(modes.rest_one / modes.rest_two) - 4 * np.log(n_values)
    if evidence < LEAST_EVIDENCE:
        return "one mode"
    if modes.rate_hz > FASTEST_HZ or np.abs(modes.poles.imag).max() / (2 * np.pi) > FLAT_SHARE * envelope.rate_hz:
        return "one mode and something else beside it"
    if modes.rate_hz * _both_heard_s(modes, envelope.noise_power) < 1.0 or modes.rate_se_hz > GREATEST_RATE_SE * modes.rate_hz:
        return _two_slopes(modes) or NO_FULL_BEAT
    weaker, stronger = np.argsort(modes.amplitudes)
    ratio = float(modes.amplitudes[weaker] / modes.amplitudes[stronger])
    depth_db = min(20 * np.log10((1 + ratio) / max(1 - ratio, 1e-3)), DEEPEST_DB)
    if depth_db < LEAST_DEPTH_DB:
        return "no beat to speak of"
    other, swing = modes.poles[weaker], 10 ** (depth_db / 20)
    depth_se_db = 10 / np.log(10) * (swing - 1 / swing) * modes.ratio_log_se  # = 40/ln 10 · r/(1 − r²): what ln r moves the depth by
    return Beat(modes.rate_hz, float(depth_db), modes.rate_se_hz, float(depth_se_db),
                float(envelope.centre_hz + other.imag / (2 * np.pi)), float(-other.real))


def _both_heard_s(modes: TwoModes, noise_power: float) -> float:
    """How long both stand above the noise."""
    above_noise = np.log(np.maximum(modes.amplitudes**2 / noise_power, 1.0))
    return min(modes.stop_s, float((0.5 * above_noise / -modes.poles.real).min()))


def _two_slopes(modes: TwoModes) -> TwoSlopes | None:
    """None where the bend is slight, or lies outside the stretch, or a straight fall explains the level as well: what a glide leaves in the
    phase takes two modes too."""
    delta = -modes.poles.real
    fast, slow = (0, 1) if delta[0] > delta[1] else (1, 0)
    ratio, log_se = float(modes.amplitudes[slow] / max(modes.amplitudes[fast], 1e-30)), float(modes.delta_se[fast] / delta[fast])
    if delta[fast] < LEAST_BEND * delta[slow] or log_se > GREATEST_SLOPE_SE or modes.level_rests[0] <= modes.level_rests[1]:
        return None
    knee_s = float(-np.log(max(ratio, 1e-30)) / (delta[fast] - delta[slow]))
    if not modes.start_s < knee_s < modes.stop_s:
        return None
    is_all = modes.rest_two < max(EXPLAINED * modes.noise_energy, NEARLY_ALL * modes.energy)
    return TwoSlopes(float(delta[fast]), float(delta[slow]), log_se, knee_s, ratio, is_all)


def string_beat(n: np.ndarray, beats: list[Beat | TwoSlopes | str], level_db: np.ndarray) -> tuple[Figure, Figure]:
    """Rate and depth of the string's deepest beat among its strong low partials. Each pluck excites other modes, so another partial may
    beat deepest next time, at its own rate: the errors cover that, unlike those of each partial's own beat."""
    strong = [i for i in range(len(n)) if n[i] <= BEAT_PARTIALS and level_db[i] > -LEVEL_RANGE_DB]
    found = [beats[i] for i in strong if isinstance(beats[i], Beat)]
    if not found:
        reasons = [NO_FULL_BEAT if isinstance(beats[i], TwoSlopes) else beats[i] for i in strong]
        reason = reasons[0] if reasons else "no strong partial to look at"
        return Figure(None, None, f"no beat: {reason}"), Figure(None, None, f"no beat: {reason}")
    beat = max(found, key=lambda one: one.depth_db)
    return (Figure(beat.rate_hz, float(np.hypot(beat.rate_se_hz, RATE_SHARE * beat.rate_hz))),
            Figure(beat.depth_db, float(np.hypot(beat.depth_se_db, DEPTH_SHARE * beat.depth_db))))

"""Beats and bends: two close modes in one partial, their rate and depth, or the two slopes that they make.

Model: z(t) = a1·exp((2πi·f1 − δ1)t) + a2·exp((2πi·f2 − δ2)t) + noise, against one exponential; the Bayesian information criterion
decides. Estimator: both poles refined together by Gauss–Newton from the two strongest found one after the other. Depth is the ripple
20·log10((1 + r)/(1 − r)) of the amplitude ratio r at the start; rate the difference of frequencies.
It cannot see a beat of which less than one period fits while both modes stand above the noise and the partial falls by 40 dB, nor one whose
rate is less sure than 2.5 %: that is two slopes, and is not called a beat. Where the mode that dies sooner is the louder one at first, the
level bends where both are equal, at ln(a1/a2)/(δ1 − δ2): the knee.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from toneprobe.measure.envelope import EDGE, Envelope, smooth_power
from toneprobe.measure.figure import Figure
from toneprobe.measure.poles import find_poles

BEAT_PARTIALS = 8
LEVEL_RANGE_DB = 25.0  # a partial weaker than the strongest by more does not make a string false
LEAST_EVIDENCE = 20.0  # BIC of one mode minus BIC of two
DEEPEST_DB = 40.0
LEAST_DEPTH_DB = 0.5
N_STEPS = 12
RANGE = 1e-4  # a partial is followed through the first 40 dB of its fall
GREATEST_RATE_SE = 0.025  # share of the rate
FASTEST_HZ = 12.0  # modes farther apart are not heard as a beat of one partial
RIDGE = 1e-12
FLAT_SHARE = 0.5 - EDGE  # of an envelope's rate: farther from its centre lies what the band's edge leaves of the neighbours


NO_FULL_BEAT = "two slopes, no full beat"
LEAST_BEND = 2.0  # ratio of the two decay rates from which two slopes are told apart
EXPLAINED = 2.0  # a misfit of less than so many times the noise leaves nothing to explain
NEARLY_ALL = 1e-4  # nor does a misfit of this share of the energy
GREATEST_SLOPE_SE = 0.1  # standard error of ln δ of the early slope


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
    first = int(np.ceil(max(start_s, envelope.settle_s) * envelope.rate_hz))
    smooth = smooth_power(envelope, max(0.02, 2.0 * envelope.settle_s))[first:]
    if len(smooth) < 16:
        return "too short"
    top = float(smooth[: max(4, len(smooth) // 2)].max())
    heard = np.flatnonzero(smooth > max(8.0 * envelope.noise_power, top * RANGE))
    if len(heard) < 16:
        return "too faint"
    z = envelope.z[first: first + int(heard[-1]) + 1]
    found = _compare(z, envelope.rate_hz, noise_power=envelope.noise_power)
    if isinstance(found, Beat):
        return replace(found, other_hz=envelope.centre_hz + found.other_hz)
    return replace(found, knee_s=found.knee_s + first / envelope.rate_hz) if isinstance(found, TwoSlopes) else found


def _compare(z: np.ndarray, rate_hz: float, *, noise_power: float) -> Beat | TwoSlopes | str:
    time_s = np.arange(len(z)) / rate_hz
    start = find_poles(z, rate_hz=rate_hz, n_poles=2)
    if len(start) < 2:
        return "too short"
    poles = np.array([2j * np.pi * pole.freq_hz - pole.delta for pole in start])
    rest_one = _misfit(z, time_s, poles[:1])[0]
    starts = [poles] if rest_one < EXPLAINED * len(z) * noise_power else [poles, _bent(z, time_s, poles[0])]
    poles, rest_two, amplitudes, cov = min((_refine(z, time_s, start) for start in starts), key=lambda found: found[1])
    n = 2 * len(z)
    evidence = n * np.log(max(rest_one, 1e-30) / max(rest_two, 1e-30)) - 4 * np.log(n)
    if evidence < LEAST_EVIDENCE:
        return "one mode"
    rate = abs(poles[0].imag - poles[1].imag) / (2 * np.pi)
    ratio = min(abs(amplitudes[0]), abs(amplitudes[1])) / max(abs(amplitudes[0]), abs(amplitudes[1]))
    depth = min(20 * np.log10((1 + ratio) / max(1 - ratio, 1e-3)), DEEPEST_DB)
    if rate > FASTEST_HZ or np.abs(poles.imag).max() / (2 * np.pi) > FLAT_SHARE * rate_hz:
        return "one mode and something else beside it"
    above_noise = np.log(np.maximum(np.abs(amplitudes) ** 2 / noise_power, 1.0))
    both_s = min(float(time_s[-1]), float((0.5 * above_noise / -poles.real).min()))
    if rate * both_s < 1.0 or cov[0] > GREATEST_RATE_SE * rate:
        little = max(EXPLAINED * len(z) * noise_power, NEARLY_ALL * float(np.sum(np.abs(z) ** 2)))
        return _two_slopes(poles, np.abs(amplitudes), cov[2], heard_s=float(time_s[-1]), is_all=rest_two < little) or NO_FULL_BEAT
    if depth < LEAST_DEPTH_DB:
        return "no beat to speak of"
    weaker = poles[int(np.argmin(np.abs(amplitudes)))]
    return Beat(float(rate), float(depth), float(cov[0]), float(cov[1] * depth), float(weaker.imag / (2 * np.pi)), float(-weaker.real))


def _bent(z: np.ndarray, time_s: np.ndarray, pole: complex) -> np.ndarray:
    """Two poles of one frequency to start from, as steep as the level's first and last third."""
    log_level, third = np.log(np.abs(z) + 1e-30), len(z) // 3
    early, late = (max(-float(np.polyfit(time_s[part], log_level[part], 1)[0]), 0.05) for part in (slice(0, third), slice(-third, None)))
    return np.array([-max(early, 1.2 * late), -late]) + 1j * pole.imag


def _two_slopes(poles: np.ndarray, amplitude: np.ndarray, delta_se: np.ndarray, *, heard_s: float, is_all: bool) -> TwoSlopes | None:
    """None where the bend is slight, lies beyond what is heard, or is not there because the lasting mode is the louder one."""
    delta = -poles.real
    fast, slow = (0, 1) if delta[0] > delta[1] else (1, 0)
    ratio, log_se = float(amplitude[slow] / max(amplitude[fast], 1e-30)), float(delta_se[fast] / delta[fast])
    if ratio >= 1.0 or delta[fast] < LEAST_BEND * delta[slow] or log_se > GREATEST_SLOPE_SE:
        return None
    knee_s = float(-np.log(max(ratio, 1e-30)) / (delta[fast] - delta[slow]))
    return TwoSlopes(float(delta[fast]), float(delta[slow]), log_se, knee_s, ratio, is_all) if knee_s < heard_s else None


def _misfit(z: np.ndarray, time_s: np.ndarray, poles: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
    """Sum of squares left, amplitudes and shapes for given poles."""
    shapes = np.exp(poles[None, :] * time_s[:, None])
    amplitudes = _least_squares(shapes, z)
    return float(np.sum(np.abs(z - shapes @ amplitudes) ** 2)), amplitudes, shapes


def _least_squares(columns: np.ndarray, z: np.ndarray) -> np.ndarray:
    """By the normal equations, several times as fast for a few columns; those that cannot be told apart share what they explain."""
    scale = np.sqrt(np.sum(np.abs(columns) ** 2, axis=0)) + 1e-300
    scaled = columns / scale
    adjoint = scaled.conj().T
    return np.linalg.solve(adjoint @ scaled + RIDGE * np.eye(len(scale)), adjoint @ z) / scale


def _refine(z: np.ndarray, time_s: np.ndarray, poles: np.ndarray) -> tuple[np.ndarray, float, np.ndarray, tuple[float, float, np.ndarray]]:
    """Gauss–Newton on both poles together, halving a step that does not help."""
    rest, amplitudes, shapes = _misfit(z, time_s, poles)
    for _ in range(N_STEPS):
        design = np.concatenate([shapes, time_s[:, None] * shapes * amplitudes], axis=1)
        step = _least_squares(design, z - shapes @ amplitudes)[len(poles):]
        for shrink in (1.0, 0.3, 0.1):
            tried = poles + shrink * step
            tried = np.minimum(tried.real, -1e-3) + 1j * tried.imag
            new = _misfit(z, time_s, tried)
            if new[0] < rest:
                break
        else:
            break
        gain, poles, (rest, amplitudes, shapes) = rest - new[0], tried, new
        if gain < 1e-6 * rest:
            break
    design = np.concatenate([shapes, time_s[:, None] * shapes * amplitudes], axis=1)
    variance = rest / max(len(z) - 4, 1)
    cov = np.linalg.pinv(np.conj(design.T) @ design).real * variance
    rate_se = np.sqrt(max(cov[2, 2] + cov[3, 3], 0.0)) / (2 * np.pi)
    ratio_se = np.sqrt(max(cov[0, 0], 0.0)) / max(abs(amplitudes[0]), 1e-30) + np.sqrt(max(cov[1, 1], 0.0)) / max(abs(amplitudes[1]), 1e-30)
    return poles, rest, amplitudes, (float(rate_se), float(ratio_se), np.sqrt(np.maximum(np.diag(cov)[2:], 0.0)))


def string_beat(n: np.ndarray, beats: list[Beat | TwoSlopes | str], level_db: np.ndarray) -> tuple[Figure, Figure]:
    """Rate and depth of the string's deepest beat among its strong low partials."""
    strong = [i for i in range(len(n)) if n[i] <= BEAT_PARTIALS and level_db[i] > -LEVEL_RANGE_DB]
    found = [beats[i] for i in strong if isinstance(beats[i], Beat)]
    if not found:
        reasons = [NO_FULL_BEAT if isinstance(beats[i], TwoSlopes) else beats[i] for i in strong]
        reason = reasons[0] if reasons else "no strong partial to look at"
        return Figure(None, None, f"no beat: {reason}"), Figure(None, None, f"no beat: {reason}")
    beat = max(found, key=lambda one: one.depth_db)
    return Figure(beat.rate_hz, beat.rate_se_hz), Figure(beat.depth_db, max(beat.depth_se_db, 0.3))

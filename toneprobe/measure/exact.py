"""One partial at the limit that noise sets: a maximum-likelihood fit, where a single damped sinusoid is all there is.

In white noise the fit (`damped_line`) reaches the Cramér–Rao bound, for a long record σ_f = (2/π)·√(δ³/rate)·σ/A, σ_δ/δ = 4·√(δ/rate)·σ/A.
Real partials are often two modes, or glide: then the misfit exceeds the noise, the model is refused, and the estimates that do not rest on
it (`glide`, `decay`) stand. Both powers are known from few values only, so their ratio follows Fisher's F, and the limit is what chance
exceeds once in a million partials: a good partial refused is known hundreds of times less well than it could be, while a second mode or a
glide of usual size leaves far more than that.

Other partials lend their skirts to a partial's bins. Partials are fitted from the strongest down, each without those known by then, so that
a faint one, or a ripple in the noise, is never taken for the skirt of a strong one and subtracted from it.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtri

from toneprobe.measure.damped_line import DampedLine, OpenSpectrum, Stretch, fit_line, stretch_around
from toneprobe.measure.envelope import PluckSignal

N_ROUNDS = 3
CHANCE = 1e-6  # with which noise alone has one refused
N_FITTED = 4  # real numbers taken out of the data by the fit
GREATEST_MISFIT = 4.0  # what is left must not be more times the noise, however little is known of that


@dataclass(frozen=True)
class ExactPartial:
    freq_hz: float
    delta: float  # 1/s
    freq_se_hz: float
    log_delta_se: float


def exact_partials(spectrum: OpenSpectrum, signal: PluckSignal, *, freq_hz: np.ndarray, delta: np.ndarray) -> list[ExactPartial | None]:
    """Refine partials found at about `freq_hz` with decay rates of about `delta`, arrays of shape (k,). None where one damped sinusoid does
    not explain a partial."""
    stretches = [stretch_around(spectrum, signal, freq_hz=float(f), delta=float(d)) for f, d in zip(freq_hz, delta, strict=True)]
    lines = _lines(stretches)
    return [_judged(lines[i], stretch, spectrum.rate_hz) if i in lines else None
            for i, stretch in enumerate(stretches)]


def chance_limit(n_bins: int, n_noise: float) -> float:
    """Mean square of n_bins fitted complex values over a noise that is the median of n_noise values: beyond it chance is ruled out.

    A quantile of Fisher's F. A median of n exponential values is known to 1/(ln 2·√n), like a mean of n·ln²2.
    """
    left, noise = 2 * n_bins - N_FITTED, 2.0 * np.log(2.0) ** 2 * n_noise  # degrees of freedom
    return min(GREATEST_MISFIT, float(fdtri(left, noise, 1.0 - CHANCE)) * left / (2 * n_bins))


def _lines(stretches: list[Stretch | None]) -> dict[int, DampedLine]:
    """By index the line of each stretch that has one, from the strongest down, each without those known by then."""
    heard = [i for i, stretch in enumerate(stretches) if stretch is not None]
    heard.sort(key=lambda i: -np.abs(stretches[i].data).max())
    lines: dict[int, DampedLine] = {}
    for _ in range(N_ROUNDS):
        for i in heard:
            line = fit_line(stretches[i], known=lines.pop(i, None), others=list(lines.values()))
            if line is not None:
                lines[i] = line
        heard = [i for i in heard if i in lines]
        if len(heard) < 2:
            break
    return lines


def _judged(line: DampedLine, stretch: Stretch, rate_hz: float) -> ExactPartial | None:
    if line.misfit > chance_limit(len(stretch.index), stretch.n_noise):
        return None
    turn_se, log_delta_se = line.standard_errors(stretch.noise_power)
    turn_hz = rate_hz / (2 * np.pi)
    return ExactPartial(line.pole.imag * turn_hz, -line.pole.real * rate_hz, turn_se * turn_hz, log_delta_se)

"""The partials of one pluck, found once for every measurement that needs them.

Choose the series (`series`), remove the pitch glide if one is heard (`glide`), look again, and follow the series from its low partials,
which nothing imitates, to the high ones, taking in each zone the strongest line where the series so far predicts it. The fit over all
numbers is weighted and robust (Huber), so that a body mode or a sum tone that slipped in loses weight. It is not redescending, because
whether a partial counts must not flip between two takes of one string.
"""

from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from toneprobe.measure.damped_line import open_spectrum
from toneprobe.measure.envelope import TOP_SHARE, PluckSignal
from toneprobe.measure.exact import ExactPartial, exact_partials
from toneprobe.measure.glide import Glide, measure_glide
from toneprobe.measure.series import FIRST_SUM_TONE, N_SERIES, ZONE, Lines, Series, find_lines, fit_series, only, tolerance_hz
from toneprobe.measure.two_families import own_lines, own_series
from toneprobe.units import CENTS, shift_hz

MODEL_CENTS = 1.5  # how far a healthy string's partials lie off the stiff-string law
WINDOW_CENTS = 9.0  # a line farther off the prediction is not the partial
LOW_WINDOW_CENTS = 25.0  # the same of the lowest, which the soundboard pulls, and for which nothing can be mistaken
LOWEST = 3
FAR_CENTS = 30.0  # so far a string's own partial may have strayed where it is the strongest line in its zone
FAR_TO = 8  # highest number of such a partial
FAR_LEVEL_DB = -40.0  # its least level against the strongest line of all
FAR_DECAY = 6.0  # times as fast as the string's own partials; what dies faster is a mode of the body
SAY_POWER = 0.1  # of its energy, by which a partial counts while a series is followed
LAST_SAY_POWER = 0.2  # the same in the last fit, once all are found: strong partials count more, for they are mistaken less
SAY_RANGE = 1e-6  # share of the strongest, below which all count alike
MANY = 6
LONGEST_HOLE = 2  # a series is not followed past more missing partials than this
HUBER = 2.5  # partials farther astray than so many errors count less
N_ROUNDS = 6
FIRST_LOOK = 14  # partials searched before the glide is known; all of them on low strings, whose stiffness shows only in the high ones
LOW_HZ = 200.0
EXACT_SKIP_S = 0.010  # after the onset, while the finger's own noise dies away
EXACT_SKIP_SHARE = 0.25  # of the longest partial's time constant, where that is less: what dies so soon is soon inaudible
PITCH_PARTIALS = 5  # the pitch is that of so many lowest partials heard
PITCH_POWER = 0.25  # of their energy, by which they are weighed
PITCH_CENTS = 4.0  # those farther off count less
LACK_TO = 6  # up to this number it matters that a partial could not be found: pitch and decay are those of the lowest ones


@dataclass(frozen=True)
class SeriesFit:
    """Partials matched to a series. Arrays over the matched partials, ascending number."""

    series: Series
    pitch_hz: float  # sounding first partial
    pitch_se_cents: float  # of it, what the glide's error makes
    f1_se_cents: float
    log_b_se: float
    n: np.ndarray
    line: np.ndarray  # index into the lines
    weight: np.ndarray  # how much it counts in the last fit
    freq_hz: np.ndarray
    freq_se_hz: np.ndarray
    astray_cents: np.ndarray
    trust: np.ndarray  # 0 to 1, the weight that the robust fit left


@dataclass(frozen=True)
class FoundPartials:
    lines: Lines
    fit: SeriesFit
    glide: Glide | str  # or the reason why there is none
    exact: dict[int, ExactPartial]  # by partial number: where a single damped sinusoid is all there is
    advance_s: np.ndarray | None
    lacking: tuple[int, ...] = ()  # see `lacking_partials`


def find_partials(samples: np.ndarray, signal: PluckSignal, *, f1_hz: float, prior_b: float, prior_factor: float) -> FoundPartials | None:
    """All partials of a pluck whose pitch is about `f1_hz` (± 60 cents). None where no series can be made out."""
    guess = Series(f1_hz, prior_b)
    lines = find_lines(signal, guess, n_most=N_SERIES if f1_hz < LOW_HZ else FIRST_LOOK)
    fit, own = _matched(lines, f1_hz, prior_b=prior_b, prior_factor=prior_factor)
    if fit is None:
        return None
    heard = measure_glide(signal, fit.series, lines)
    glide = heard if isinstance(heard, Glide) else None
    advance_s = glide.advance(signal.length_s) if glide and glide.is_heard else None
    if glide:
        again = find_lines(signal, fit.series, advance_s=advance_s)
        better, _ = _matched(again, fit.series.f1_hz, own=fit.series if own else None, prior_b=prior_b, prior_factor=prior_factor,
                             reach_cents=25.0, near_b=fit.series.b)
        if better is not None:
            lines, fit = again, better
    exact = _exact_partials(samples, signal, lines, fit)
    fit = _with_exact(with_settled_pitch(fit, glide, exact), exact)
    return FoundPartials(lines, fit, heard, exact, advance_s, lacking_partials(lines, fit, rate_hz=signal.rate_hz))


def _matched(lines: Lines, f1_hz: float, *, own: Series | None = None, **search: float) -> tuple[SeriesFit | None, Series | None]:
    """The lines matched to the best series or, where that is the sum tones', to the string's own, and then that series. `own`: known so
    far, if two families were found before. `search`: see `fit_series`."""
    among = own_lines(lines, own) if own else np.arange(len(lines.zone))
    sought = only(lines, among)
    series = fit_series(sought, f1_hz, **search)
    fit = follow_series(sought, series) if series else None
    if fit and own is None:
        own = own_series(lines, fit.series)
        without = own_lines(lines, own) if own else among
        fit, among = (follow_series(only(lines, without), own), without) if own else (fit, among)
    return replace(fit, line=among[fit.line]) if fit else None, own


def _exact_partials(samples: np.ndarray, signal: PluckSignal, lines: Lines, fit: SeriesFit) -> dict[int, ExactPartial]:
    skip_s = min(EXACT_SKIP_S, EXACT_SKIP_SHARE / float(lines.delta[fit.line].min()))
    spectrum = open_spectrum(samples, signal, skip_s=skip_s)
    partials = exact_partials(spectrum, signal, freq_hz=lines.freq_hz[fit.line], delta=lines.delta[fit.line])
    return {int(n): partial for n, partial in zip(fit.n, partials, strict=True) if partial is not None}


def _with_exact(fit: SeriesFit, exact: dict[int, ExactPartial]) -> SeriesFit:
    """The same partials, those known exactly at their exact frequency, fitted for the last time."""
    freq_hz, se_hz = fit.freq_hz.copy(), fit.freq_se_hz.copy()
    for i, n in enumerate(fit.n):
        if int(n) in exact:
            freq_hz[i], se_hz[i] = exact[int(n)].freq_hz, exact[int(n)].freq_se_hz
    series, f1_se_cents, log_b_se, trust = fit.series, fit.f1_se_cents, fit.log_b_se, fit.trust
    for _ in range(3):
        series, f1_se_cents, log_b_se, trust = _fit_stiff(fit.n, freq_hz, se_hz, fit.weight, series)
    return replace(fit, series=series, f1_se_cents=f1_se_cents, log_b_se=log_b_se, freq_hz=freq_hz, freq_se_hz=se_hz,
                   astray_cents=CENTS * np.log(freq_hz / series.partial_hz(fit.n)), trust=trust)


def lacking_partials(lines: Lines, fit: SeriesFit, *, rate_hz: float) -> tuple[int, ...]:
    """Numbers of low partials that the string may well have and that were not found: beyond the recording's band, or in a zone with a loud
    line that is not where the series leads. Which of several lines is the partial may flip with a little noise, so what rests on the low
    ones is unsure by the effect of those left out.
    """
    loud = set(lines.zone[lines.energy >= lines.energy.max() * 10.0 ** (FAR_LEVEL_DB / 10.0)].tolist())
    missing = (n for n in range(1, LACK_TO + 1) if n not in fit.n)
    return tuple(n for n in missing if n in loud or (n + ZONE) * fit.series.f1_hz > TOP_SHARE * rate_hz)


def with_settled_pitch(fit: SeriesFit, glide: Glide | None, exact: dict[int, ExactPartial]) -> SeriesFit:
    """The pitch as the robust mean of the lowest partials where they settle, weighted by strength: it repeats better between takes than the
    series' own f1, on which all partials up to the highest pull."""
    exact_hz, tracked_hz = {n: partial.freq_hz for n, partial in exact.items()}, glide.settled if glide else {}
    settled = exact_hz | tracked_hz if glide and glide.is_sure else tracked_hz | exact_hz
    strength = dict(glide.strength) if glide else {}
    low = sorted(set(settled) & {int(n) for n in fit.n})[:PITCH_PARTIALS]  # a partial that was not found may be anything
    if not low:
        return fit
    cents = np.array([CENTS * np.log(settled[n] / fit.series.partial_hz(n)) for n in low])
    weight = np.array([strength.get(n, 1.0) for n in low]) ** PITCH_POWER
    centre = float(np.quantile(cents, 0.5, weights=weight, method="inverted_cdf"))
    for _ in range(8):
        w = weight / np.maximum(1.0, np.abs(cents - centre) / PITCH_CENTS)
        centre = float((w * cents).sum() / w.sum())
    se_cents = float((w * [glide.unsure_cents(n) if glide else 0.0 for n in low]).sum() / w.sum())
    return replace(fit, pitch_hz=shift_hz(fit.series.f1_hz, centre), pitch_se_cents=se_cents)


def follow_series(lines: Lines, start: Series) -> SeriesFit | None:
    """Match lines to partials and refine (f1, B) together. None where no partial fits."""
    series = start
    for round_ in range(N_ROUNDS):
        window_cents = WINDOW_CENTS if round_ < 3 else 0.7 * WINDOW_CENTS
        n, line = _match(lines, series, window_cents)
        if len(n) == 0:
            return None
        freq_hz, se_hz = lines.freq_hz[line], _line_se_hz(lines, line)
        series, f1_se_cents, log_b_se, trust = _fit_stiff(n, freq_hz, se_hz, _say(lines.energy[line], SAY_POWER), series)
    say = _say(lines.energy[line], LAST_SAY_POWER)
    far_n, far = _strayed(lines, series, n, line)
    order = np.argsort(np.concatenate([n, far_n]))
    n, line = np.concatenate([n, far_n])[order], np.concatenate([line, far])[order]
    say, trust = (np.concatenate([x, np.zeros(len(far))])[order] for x in (say, trust))
    freq_hz = lines.freq_hz[line]
    astray = CENTS * np.log(freq_hz / series.partial_hz(n))
    return SeriesFit(series, series.f1_hz, 0.0, f1_se_cents, log_b_se, n, line, say, freq_hz, _line_se_hz(lines, line), astray, trust)


def _match(lines: Lines, series: Series, window_cents: float) -> tuple[np.ndarray, np.ndarray]:
    off_cents = CENTS * np.log(lines.freq_hz / series.partial_hz(lines.zone))
    reach_cents = np.where(lines.zone <= LOWEST, LOW_WINDOW_CENTS, window_cents)
    value = lines.weight * np.exp(-0.5 * (off_cents / (0.45 * reach_cents)) ** 2)
    value[np.abs(off_cents) > reach_cents] = 0.0
    zone, value = lines.zone.tolist(), value.tolist()
    numbers, chosen = [], []
    for n, inside in groupby(range(len(zone)), key=zone.__getitem__):
        if numbers and n > numbers[-1] + LONGEST_HOLE + 1 and n > MANY:
            break
        likeliest = max(inside, key=value.__getitem__)
        if value[likeliest] > 0.02:
            numbers.append(n)
            chosen.append(likeliest)
    return np.array(numbers, int), np.array(chosen, int)


def _strayed(lines: Lines, series: Series, n: np.ndarray, line: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Low partials not found at their places: the strongest line of their zone, unless a sum tone of the found ones lies there. They have
    no weight in the fit: partials far astray must not bend the string's series."""
    low = line[n <= FAR_TO]
    if not len(low):
        return np.array([], int), np.array([], int)
    found, most_decay = lines.freq_hz[low], FAR_DECAY * float(np.median(lines.delta[low]))
    sums_hz = np.add.outer(found, found)
    numbers, chosen = [], []
    for k in (k for k in np.unique(lines.zone) if k <= FAR_TO and k not in n):
        inside = np.flatnonzero(lines.zone == k)
        best = int(inside[lines.energy[inside].argmax()])
        hz = lines.freq_hz[best]
        near = abs(CENTS * np.log(hz / series.partial_hz(k))) <= FAR_CENTS
        loud = lines.energy[best] >= lines.energy.max() * 10.0 ** (FAR_LEVEL_DB / 10.0)
        summed = k >= FIRST_SUM_TONE and (np.abs(sums_hz - hz) < tolerance_hz(hz)).any()
        if near and loud and not summed and lines.delta[best] <= most_decay:
            numbers.append(int(k))
            chosen.append(best)
    return np.array(numbers, int), np.array(chosen, int)


def _say(energy: np.ndarray, power: float) -> np.ndarray:
    return np.maximum(energy / energy.max(), SAY_RANGE) ** power


def _line_se_hz(lines: Lines, line: np.ndarray) -> np.ndarray:
    """Cramér–Rao bound of one damped exponential heard to its end: σ_f = √(N·δ³)/(π·A), in white noise of density N per Hz."""
    delta, level, density = lines.delta[line], lines.level[line], lines.noise_density[line]
    return np.sqrt(4.0 * delta**3 * density / level) / (2 * np.pi)


def _fit_stiff(n: np.ndarray, freq_hz: np.ndarray, se_hz: np.ndarray, weight: np.ndarray,
               start: Series) -> tuple[Series, float, float, np.ndarray]:
    """One step from `start` towards the series f_n = n·f1·√((1 + B·n²)/(1 + B)), by weighted robust least squares in cents.

    Arrays of shape (k,), one value per partial found. Returns the series, the error of f1 in cents, the error of ln B (inf below three
    partials heard: then only the pitch moves), and each partial's trust, 0 to 1.
    """
    se_cents = np.hypot(CENTS * se_hz / freq_hz, MODEL_CENTS)
    astray = CENTS * np.log(freq_hz / start.partial_hz(n))
    trust = (weight > 0) / np.maximum(1.0, np.abs(astray) / (HUBER * se_cents))
    n_heard = int((weight > 0).sum())
    if n_heard < 3:
        shift = float(np.sum(weight * astray) / max(np.sum(weight), 1e-9))
        return Series(shift_hz(start.f1_hz, shift), start.b), MODEL_CENTS, np.inf, (weight > 0).astype(float)
    # In (ln f1, B): ln f_n = ln n + ln f1 + ½·ln(1 + B·n²) − ½·ln(1 + B); one Gauss–Newton step from the present series.
    w = trust * weight / se_cents**2
    slope = 0.5 * CENTS * (n**2 / (1 + start.b * n**2) - 1.0 / (1 + start.b))
    design = np.stack([np.ones(len(n)), slope], axis=1)
    normal = design.T @ (w[:, None] * design)
    step = np.linalg.solve(normal + np.diag([1e-12, 1e-6 * normal[1, 1]]), design.T @ (w * astray))
    b = float(np.clip(start.b + step[1], 0.3 * start.b, 3.0 * start.b))
    se = _errors(design, w, se_cents, misfit=astray - design @ step)
    series = Series(shift_hz(start.f1_hz, float(step[0])), b)
    return series, float(se[0]), float(se[1]) / b, trust


def _errors(design: np.ndarray, weight: np.ndarray, se_cents: np.ndarray, *, misfit: np.ndarray) -> np.ndarray:
    """Standard errors of a fit whose weights are not the inverse variances, enlarged where the misfit exceeds the partials' errors."""
    normal = design.T @ (weight[:, None] * design)
    inverse = np.linalg.inv(normal + np.diag([1e-12, 1e-9 * normal[1, 1]]))
    middle = design.T @ ((weight * se_cents)[:, None] ** 2 * design)
    share, n_heard = weight * se_cents**2, int((weight > 0).sum())
    excess = float(np.sum(share * (misfit / se_cents) ** 2) / np.sum(share)) * n_heard / max(n_heard - 2, 1)
    return np.sqrt(np.diag(inverse @ middle @ inverse) * max(1.0, excess))

"""One identified pluck in, all its figures out."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from toneprobe.audio import Recording
from toneprobe.audio.breaks import comes_back
from toneprobe.identify.named import NamedSpan
from toneprobe.instrument import StringSpec, string_expected_b
from toneprobe.measure import beats, brightness, decay, inharmonicity, refusal, steps
from toneprobe.measure.bend import fall_bend
from toneprobe.measure.damping import fit_damping
from toneprobe.measure.envelope import Envelope, PluckSignal, band, noise_density, onset_power, pluck_signal
from toneprobe.measure.figure import BEAT_PARTIALS, BROKEN_OFF, FIGURES, GAP, UNSURE_NAME, Figure, Partial, PluckMeasurement
from toneprobe.measure.knocks import without_knocks
from toneprobe.measure.other_lines import other_lines
from toneprobe.measure.partials import FoundPartials, find_partials
from toneprobe.measure.pitch_wave import pitch_wave
from toneprobe.measure.ring import ring_end_s
from toneprobe.measure.ripple import shared_ripple
from toneprobe.measure.series import Series
from toneprobe.segment import Span
from toneprobe.units import t60_of_decay

PRE_S = 0.005
LONGEST_S = 12.0
SHORTEST_S = 0.05
START_S = 0.010
DECAY_BAND_SHARE = 0.04  # half-width of a partial's band, as a share of its frequency
DECAY_BAND_F1 = 0.35  # at most, as a share of f1
DECAY_BAND_HZ = 12.0  # at least
EXPECTED_FACTOR = 1.5  # one standard deviation of an inharmonicity that other plucks tell of
GLIDE_SE_CENTS = 0.5  # two plucks are never equally hard: a floor of the glide's error
GLIDE_SHARE = 0.3  # of the glide, added to that error
DOUBTFUL_NAME = "the name of the string is doubtful"


@dataclass(frozen=True)
class _Heard:
    """What the single measurements have in common."""

    samples: np.ndarray
    signal: PluckSignal
    found: FoundPartials
    bands: list[Envelope]
    level: np.ndarray  # |z|² of each partial at the onset
    level_db: np.ndarray  # relative to the strongest


@dataclass(frozen=True)
class _Piece:
    """What of a recording can be measured of one pluck, and why not more."""

    samples: np.ndarray
    first: int  # of the recording's samples …
    stop: int  # … and the one after the last, before what sinks among the steps between sample values is left out
    flags: tuple[str, ...]


def measure_pluck(recording: Recording, named: NamedSpan, *, expected_b: float | None = None) -> PluckMeasurement:
    """Measure one pluck of a recording. expected_b: what other plucks tell of B, instead of the instrument (see `stiffness_run`)."""
    piece = _piece(recording, named.span)
    if piece is None:
        return _as_named(_unmeasured(named.string, steps.BURIED_IN_STEPS), named, ())
    clipped_s, until_s = _clipped(recording, piece.first, piece.stop)
    flags = [*((refusal.CLIPPED,) if clipped_s else ()), *piece.flags, *((DOUBTFUL_NAME,) if named.sureness < UNSURE_NAME else ())]
    measured = measure_samples(piece.samples, recording.rate_hz, named.string, pitch_hz=named.pitch_hz, pre_s=PRE_S,
                               expected_b=expected_b, knocks_s=tuple(at_s - named.span.onset_s for at_s in named.knocks_s))
    measured = steps.without_ring(measured) if steps.SUNK in piece.flags else measured
    return _as_named(refusal.without_spoilt(measured, clipped_s=clipped_s, until_s=until_s), named, flags)


def _piece(recording: Recording, span: Span) -> _Piece | None:
    """Up to a drop-out, to where all sound breaks off, or to where the pluck sinks among the steps between sample values. None where it
    never rises above these."""
    onset, first = int(span.onset_s * recording.rate_hz), int((span.onset_s - PRE_S) * recording.rate_hz)
    length_s = min(max(span.end_s, span.onset_s + SHORTEST_S) - span.onset_s, LONGEST_S)
    stop, flags = first + int((PRE_S + length_s) * recording.rate_hz), []
    gap = next((gap for gap in recording.gaps(onset, stop) if gap[0] > onset), None)
    if gap:
        stop = gap[0]
        flags.append(GAP)
    samples = recording.read(first, stop)
    broken_at = _breaks_off(recording, samples, first=first, onset=onset)
    if broken_at is not None:
        stop, samples = first + broken_at, samples[:broken_at]
        flags.append(BROKEN_OFF)
    step = recording.source.lsb
    sinks_at = steps.sinks_at(samples, rate_hz=recording.rate_hz, step=step)
    if sinks_at is not None:
        if steps.is_too_low(samples, step=step):
            return None
        samples = samples[:sinks_at]
        flags.append(steps.SUNK)
    return _Piece(samples, first, stop, tuple(flags))


def _as_named(measured: PluckMeasurement, named: NamedSpan, flags: Sequence[str]) -> PluckMeasurement:
    """The measurement at its place in the recording, with remarks on that before its own flags."""
    return replace(measured, onset_s=named.span.onset_s, sureness=named.sureness, flags=(*flags, *measured.flags))


def _breaks_off(recording: Recording, samples: np.ndarray, *, first: int, onset: int) -> int | None:
    """Index in a pluck's samples, which start at `first` in the recording, where all sound breaks off for good."""
    found = [at - first for at in recording.breaks_at if onset < at < first + len(samples)]
    return next((at for at in found if not comes_back(samples, at, rate_hz=recording.rate_hz)), None)


def measure_samples(samples: np.ndarray, rate_hz: float, string: StringSpec, *, pitch_hz: float, pre_s: float,
                    expected_b: float | None = None, knocks_s: tuple[float, ...] = ()) -> PluckMeasurement:
    """Measure a pluck given as samples, shape (n,), starting `pre_s` before its onset, of roughly `pitch_hz` (± 60 cents), as one at 0 s of
    a sure name. `knocks_s`: when something else sounded, after the onset."""
    samples = np.asarray(samples, float)
    reason = refusal.why_unfit(samples, rate_hz=rate_hz, pre_s=pre_s, f1_hz=pitch_hz)
    if reason:
        return _unmeasured(string, reason)
    samples = samples - samples.mean()  # some recorders add a constant
    prior_b, prior_factor = (expected_b, EXPECTED_FACTOR) if expected_b else string_expected_b(string)
    signal = pluck_signal(samples, rate_hz=rate_hz, pre_s=pre_s, f1_hz=pitch_hz, knocks_s=knocks_s)
    ring_s = ring_end_s(signal, Series(pitch_hz, prior_b))
    if ring_s < signal.length_s - 0.05:
        keep = int((pre_s + ring_s) * rate_hz)
        samples = samples[:keep]
        signal = pluck_signal(samples, rate_hz=rate_hz, pre_s=pre_s, f1_hz=pitch_hz, noise=signal.noise, knocks_s=knocks_s)
    found = find_partials(samples, signal, f1_hz=pitch_hz, prior_b=prior_b, prior_factor=prior_factor)
    if found is None:
        is_short = ring_s < refusal.needed_length_s(pitch_hz)
        return _unmeasured(string, refusal.BURIED if is_short else "no series of partials could be made out", ring_s)
    heard = _listen(samples, signal, found)
    if refusal.is_buried(heard.level, np.array([one.noise_power for one in heard.bands])):
        return _unmeasured(string, refusal.BURIED, ring_s)
    return _assemble(heard, string, ring_s)


def _listen(samples: np.ndarray, signal: PluckSignal, found: FoundPartials) -> _Heard:
    fit, f1_hz = found.fit, found.fit.series.f1_hz
    bands = []
    for n, freq_hz in zip(fit.n, fit.freq_hz, strict=True):
        half_hz = DECAY_BAND_F1 * f1_hz
        if n > 3:
            half_hz = min(half_hz, max(DECAY_BAND_HZ, DECAY_BAND_SHARE * freq_hz))
        heard = band(signal, float(freq_hz), half_hz, advance_s=found.advance_s)
        bands.append(without_knocks(heard, signal, half_hz=half_hz, f1_hz=f1_hz))
    level = np.array([onset_power(one) for one in bands])
    return _Heard(samples, signal, found, bands, level, 10 * np.log10(level / level.max()))


def _assemble(heard: _Heard, string: StringSpec, ring_s: float) -> PluckMeasurement:
    fit = heard.found.fit
    pitch_hz, cents_off = inharmonicity.pitch(fit, string.expected_hz, heard.found.lacking)
    decays = [decay.partial_decay(one, start_s=START_S, exact=heard.found.exact.get(int(n)))
              for n, one in zip(fit.n, heard.bands, strict=True)]
    found_beats = [beats.partial_beat(one, start_s=START_S) if n <= BEAT_PARTIALS else "not looked at"
                   for n, one in zip(fit.n, heard.bands, strict=True)]
    decays = [decay.early_decay(fall, beat) if isinstance(beat, beats.TwoSlopes) else fall
              for fall, beat in zip(decays, found_beats, strict=True)]
    beat_hz, beat_depth_db = beats.string_beat(fit.n, found_beats, heard.level_db)
    centroid_hz = brightness.spectral_centroid(heard.samples, heard.signal, fit.pitch_hz)
    delta = np.array([one.delta if isinstance(one, decay.PartialDecay) else line for one, line in
                      zip(decays, heard.found.lines.delta[fit.line], strict=True)])
    partials = _partials(heard, decays, found_beats)
    measured = PluckMeasurement(
        string=string.name, note=string.note, onset_s=0.0, ring_s=ring_s, sureness=1.0,
        snr_db=_snr_db(heard), pitch_hz=pitch_hz, cents_off=cents_off, inharmonicity=inharmonicity.inharmonicity(fit),
        t60_s=decay.string_decay(fit.n, decays, level_db=heard.level_db, lacking=heard.found.lacking),
        centroid_hz=centroid_hz, centroid_ratio=brightness.centroid_ratio(centroid_hz, pitch_hz),
        centroid_partials_hz=brightness.partials_centroid(fit.freq_hz, heard.level, delta),
        beat_hz=beat_hz, beat_depth_db=beat_depth_db, trueness_cents=inharmonicity.trueness(fit), glide_cents=_glide(heard),
        partials=partials, flags=(), damping=fit_damping(partials), ripple=shared_ripple(fit.n, heard.bands),
        others=other_lines(heard.found.lines, fit.n, fit.line), wave=pitch_wave(fit.n, heard.bands))
    return _with_reasons(measured)


def _partials(heard: _Heard, decays: list, found_beats: list) -> tuple[Partial, ...]:
    fit, rows = heard.found.fit, []
    for i, n in enumerate(fit.n):
        fall, beat = decays[i], found_beats[i]
        t60_s = t60_of_decay(fall.delta) if isinstance(fall, decay.PartialDecay) else None
        rows.append(Partial(
            n=int(n), freq_hz=float(fit.freq_hz[i]), freq_se_hz=float(fit.freq_se_hz[i]), level_db=float(heard.level_db[i]),
            snr_db=float(10 * np.log10(heard.level[i] / heard.bands[i].noise_power)),
            t60_s=t60_s, t60_se_s=t60_s * fall.log_se if t60_s is not None else None, astray_cents=float(fit.astray_cents[i]),
            late_t60_s=t60_of_decay(beat.late_delta) if isinstance(beat, beats.TwoSlopes) else None,
            knee_s=beat.knee_s if isinstance(beat, beats.TwoSlopes) else None,
            early_t60_s=t60_of_decay(fall.early_delta or fall.delta) if isinstance(fall, decay.PartialDecay) else None,
            bend=fall_bend(heard.bands[i], start_s=START_S),
            **(_beat_fields(beat) if isinstance(beat, beats.Beat) else {})))
    return tuple(rows)


def _beat_fields(beat: beats.Beat) -> dict[str, float]:
    return {"beat_hz": beat.rate_hz, "beat_se_hz": beat.rate_se_hz, "beat_depth_db": beat.depth_db, "beat_depth_se_db": beat.depth_se_db,
            "beat_other_hz": beat.other_hz, "beat_other_t60_s": t60_of_decay(beat.other_delta)}


def _snr_db(heard: _Heard) -> float:
    """All partials together at the onset over the noise up to the highest of them."""
    grid_hz = np.linspace(0.0, float(heard.found.fit.freq_hz.max()) * 1.1, 256)
    noise = float(noise_density(heard.signal, grid_hz).mean() * grid_hz[-1])
    return float(10 * np.log10(heard.level.sum() / noise))


def _glide(heard: _Heard) -> Figure:
    glide = heard.found.glide
    if isinstance(glide, str):
        return Figure(None, None, glide)
    return Figure(glide.cents, float(np.sqrt(glide.se_cents**2 + GLIDE_SE_CENTS**2 + (GLIDE_SHARE * glide.cents) ** 2)))


def _clipped(recording: Recording, first: int, stop: int) -> tuple[float, float]:
    """Time at the rails in all, and until when after the onset, in s."""
    if recording.quality.clipped_s == 0:
        return 0.0, 0.0
    samples = recording.read_as_recorded(first, stop)
    return refusal.clipped_stretch(samples, rate_hz=recording.rate_hz, pre_s=PRE_S, peak=10 ** (recording.quality.peak_db / 20))


def _with_reasons(measured: PluckMeasurement) -> PluckMeasurement:
    """Put the reason of every figure that could not be measured among the flags."""
    reasons = []
    for name in FIGURES:
        figure: Figure = getattr(measured, name)
        if not figure.known and figure.reason and figure.reason not in reasons and not figure.reason.startswith("no beat"):
            reasons.append(figure.reason)
    return replace(measured, flags=tuple(reasons))


def _unmeasured(string: StringSpec, reason: str, ring_s: float | None = None) -> PluckMeasurement:
    none = Figure(None, None, reason)
    return PluckMeasurement(string.name, string.note, 0.0, ring_s, 1.0, None, **dict.fromkeys(FIGURES, none), partials=(), flags=(reason,))

"""How far the untouched strings of this sweep scatter, told by the sweep itself.

Faults only shorten rings and only send partials astray. So the strings that ring *longer* than most, and those whose partials strayed
*least*, show the noise of the comparison, whatever a third of the harp suffers from. Where that exceeds the strings' own errors (another
room, other neighbours damped, an unsteady hand), the errors are enlarged; but where most have lost ring, a string that rings as when fresh
shows no noise: it did not age. A string is judged by the noise of its neighbours in pitch, as hand, room and damping work by register,
shrunk towards that of the whole harp; it has no say in it itself, so that worse readings cannot excuse themselves.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.baseline.robust import middle, middle_of_most
from toneprobe.condition.evidence import KINDS, Evidence, sureness_asked
from toneprobe.measure.figure import Figure
from toneprobe.medians import MEDIAN_OF_NORMAL

NOISE_CAUTION = 0.05  # added to the factor on all errors for each dB by which the plucks stand less than CLEAR_SNR_DB out of the noise:
# fewer partials are left, and what they err by is less well known (set on real plucks in noise)
CLEAR_SNR_DB = 42.0  # median over the plucks of a sweep (set on the same)
SET_AGED_DECAY = 0.25  # log decay that most strings have lost where the set aged: then one that rings as when fresh shows no noise (set)
LEAST_STRINGS = 6  # that show noise: half of them lie on the side that faults do not reach, and three are a scatter (set)
PRIOR_STRINGS = 6.0  # strings that scattered as their errors, or the whole harp, say, added to those seen
N_NEAREST = 14  # strings about two octaves wide, with fewer their noise is learnt from chance, with more from other registers (set)
# A centre's standard error is this times the spread over the cube root of how many strings: so it goes for the middle of the shortest half
# (Andrews et al. 1972, Kim & Pollard 1990); 1.16 to 1.26 for 6 to 47 normal values (simulated)
SHORTEST_HALF = 1.25
WITHIN_ONE_SD = 0.683  # share of normal values within one standard deviation of their centre: erf(1/√2) (derived)
QUIET_SHARE = 0.35  # strings at this rank of straying are untouched even where a third are bad
# What cut_chi2 over the freedom of such a string may be (set). Were all σ as told it would be 0.43, 0.49, 0.54 of 8, 10, 12 partials, for
# the farthest is left out and the rest are cut (simulated): so errors grow only where strings stray 1.2 to 1.35 times as far as told, for
# these spreads are set on the cautious side
QUIET_CHI2 = 0.78
SCALES = ("decay_scale", "high_scale", "brightness_scale", "astray_scale", "stretch_scale", "beat_scale", "wave_scale", "fall_scale",
          "sinks_scale")


@dataclass(frozen=True)
class SweepNoise:
    """Factors of at least 1 on the standard errors, and the centres about which the strings scatter."""

    sureness_asked: float
    decay_centre: Figure  # what most strings' decay has done, natural log of fresh over present decay time
    decay_scale: float = 1.0
    high_scale: float = 1.0
    brightness_scale: float = 1.0
    astray_scale: float = 1.0
    stretch_scale: float = 1.0
    beat_centre_db: float = 0.0  # what most strings show beyond limits.RIPPLE_USUAL_DB
    beat_scale: float = 1.0
    wave_centre_cents: float = 0.0  # by which the pitch of most strings goes up and down: a recorder's clock may
    wave_scale: float = 1.0
    fall_centre_cents: float = 0.0  # what most strings fell by from their first pluck to their last, as in a room that warms
    fall_scale: float = 1.0
    sinks_scale: float = 1.0

    def weigh(self, kind: str, change: Figure) -> Evidence | None:
        """Evidence of a change (positive is worse) in this noise; None where the change or its error is not known."""
        if not change.known or not change.se:
            return None
        its_kind = KINDS[kind]
        se = getattr(self, its_kind.scale) * change.se if its_kind.scale else change.se
        sureness = change.value / (se * (its_kind.caution * self.sureness_asked))
        return Evidence(kind, change.value / its_kind.noticed, sureness, change.value, se, its_kind.most)


def sweep_noise(changes: Sequence[Change], *, n_judged: int | None = None, prior: SweepNoise | None = None,
                may_be_room: bool = False) -> SweepNoise:
    """The noise that these strings show, shrunk towards the prior's. n_judged: strings judged in all; may_be_room: that most lost ring may
    be another room's doing, which treats no two strings alike."""
    prior = prior or SweepNoise(0.0, Figure(None, None, ""))
    decay, decay_scale = _centre_and_scale([c.decay.all for c in changes], prior.decay_scale, one_sided=True, may_have_aged=not may_be_room)
    _, high_scale = _centre_and_scale([c.decay.high for c in changes], prior.high_scale, one_sided=True, may_have_aged=not may_be_room)
    _, brightness_scale = _centre_and_scale([c.brightness for c in changes], prior.brightness_scale, one_sided=False)
    _, stretch_scale = _centre_and_scale([c.series.stretch for c in changes], prior.stretch_scale, one_sided=False)
    beat, beat_scale = _centre_and_scale([c.ripple.depth_db for c in changes], prior.beat_scale, one_sided=True)
    wave, wave_scale = _centre_and_scale([c.wave.cents for c in changes], prior.wave_scale, one_sided=True)
    fall, fall_scale = _centre_and_scale([c.pitch_fall.beyond_fresh for c in changes], prior.fall_scale, one_sided=True)
    _, sinks_scale = _centre_and_scale([c.sinking.log_ratio for c in changes], prior.sinks_scale, one_sided=True)
    return SweepNoise(sureness_asked(n_judged or len(changes)), decay, decay_scale, high_scale, brightness_scale,
                      _astray_scale(changes, prior.astray_scale), stretch_scale,
                      max(0.0, beat.value - limits.RIPPLE_USUAL_DB) if beat.known else 0.0, beat_scale,
                      max(0.0, wave.value) if wave.known else 0.0, wave_scale,
                      max(0.0, fall.value) if fall.known else 0.0, fall_scale, sinks_scale)


def noise_caution(changes: Sequence[Change]) -> float:
    """Factor of at least 1 on all errors where the recording's own noise lies close under the plucks; 1 where none was compared."""
    heard_db = [change.snr_db for change in changes if change.series.pitch_cents.known]
    if not heard_db:
        return 1.0
    return 1.0 + NOISE_CAUTION * max(0.0, CLEAR_SNR_DB - float(np.median(heard_db)))


def _with_caution(noise: SweepNoise, factor: float) -> SweepNoise:
    return replace(noise, **{name: factor * getattr(noise, name) for name in SCALES})


def noise_for(string: Change, changes: Sequence[Change], *, may_be_room: bool = False) -> SweepNoise:
    """The noise by which one string is judged: that of its nearest others, shrunk towards that of all others."""
    others = [change for change in changes if change is not string]
    others.sort(key=lambda change: abs(np.log(change.pitch_hz / string.pitch_hz)))
    noise = sweep_noise(others, n_judged=len(changes), may_be_room=may_be_room)
    if len(others) > N_NEAREST:
        noise = sweep_noise(others[:N_NEAREST], n_judged=len(changes), prior=noise, may_be_room=may_be_room)
    return _with_caution(noise, noise_caution(others))


def _centre_and_scale(figures: Sequence[Figure], prior: float, *, one_sided: bool, may_have_aged: bool = False) -> tuple[Figure, float]:
    """one_sided: only strings below the centre show the noise. may_have_aged: a centre far above 0 is the set's age. Then some may be new,
    which is no noise: it shows in what lies beyond those, and in how near the aged ones stand together."""
    known = [f for f in figures if f.known and f.se]
    if len(known) < LEAST_STRINGS:
        return Figure(None, None, "too few strings to tell what they share"), prior
    values, errors = np.array([f.value for f in known]), np.array([f.se for f in known])
    centre = middle_of_most(values)
    off = (values - centre) / errors
    has_aged = may_have_aged and centre > SET_AGED_DECAY
    below = np.maximum((0.0 if has_aged else centre) - values, 0.0) / errors
    noise = np.sort(below[off <= 0] if one_sided else np.abs(off))
    seen_variance = float(noise[int(WITHIN_ONE_SD * (len(noise) - 1) + 0.5)]) ** 2
    if has_aged:
        seen_variance = max(seen_variance, (np.sort(np.abs(off))[len(off) // 2] / MEDIAN_OF_NORMAL) ** 2)
    scale = _shrunk_scale(seen_variance, noise.size, prior)
    return Figure(centre, scale * middle(errors) * SHORTEST_HALF / float(np.cbrt(len(known)))), scale


def _astray_scale(changes: Sequence[Change], prior: float) -> float:
    """By the strings whose partials strayed least."""
    ratios = sorted(c.series.chi2_as_told / c.series.freedom for c in changes if c.series.freedom)
    if len(ratios) < LEAST_STRINGS:
        return prior
    seen_variance = ratios[int(QUIET_SHARE * len(ratios))] / QUIET_CHI2
    return _shrunk_scale(seen_variance, QUIET_SHARE * len(ratios), prior)


def _shrunk_scale(seen_variance: float, n_strings: float, prior: float) -> float:
    """At least 1: the scale that so many strings show, shrunk towards the prior. seen_variance: over that of their own errors."""
    return float(np.sqrt(max(1.0, (PRIOR_STRINGS * prior**2 + n_strings * seen_variance) / (PRIOR_STRINGS + n_strings))))

"""Is the string false? Partials that left their places, beats that were not there, a stiffness that is another string's. Or is it held
badly, so that its pitch wanders or falls?

Stiffness is B = π³·E·d⁴ / (64·T·L²) (Fletcher 1964). A pin or the weather changes T alone, and T ∝ f²: the same string 42 cents flat has
lost 4.7 % of T and gained 4.9 % of B. That is subtracted before its stiffness is held against it, and doubted: a lever that grips elsewhere
changes L and f, and so B the other way, and E is no constant of nylon. A gauge step of 10 % makes B 21 % more (at one pitch T ∝ d², so B ∝
d²). Beyond limits.FALLEN_CENTS the partials lie among other resonances, or it is another string's place, and nothing is compared.
"""

from dataclasses import replace
from math import hypot

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.baseline.hand import like_hands
from toneprobe.baseline.series_change import SeriesChange, cut_chi2
from toneprobe.condition.evidence import KINDS, Case, Evidence, at_most, joint_strength, strongest_first
from toneprobe.condition.few_astray import few_astray
from toneprobe.condition.sweep_noise import SweepNoise
from toneprobe.measure.figure import Figure
from toneprobe.units import CENTS


def false_case(change: Change, noise: SweepNoise, *, hardly_rings: bool = False, has_fallen: bool = False) -> Case:
    """Partials, stiffness and beats can each decide alone; what is not known says nothing. That a string does not waver is no strength of 0
    by itself, which would say "as fresh".

    hardly_rings: so much ring is lost that what sounds at the places of its partials may be its neighbours' answers. has_fallen: its
    partials lie semitones off, among other resonances of the board and other neighbours, and are not compared.
    """
    few = {} if has_fallen else few_astray(change.series, noise)
    astray = None if has_fallen else _stronger(_astray(change, noise), few.get("two_astray"))
    of_series = [astray, stretch_told(change, noise)]
    if change.crushed:
        of_series = [at_most(piece, limits.CODEC_SAY) for piece in of_series]
    if hardly_rings:
        of_series = [at_most(piece, limits.RINGLESS_SAY) for piece in of_series]
    one_astray, beats, common_beat = few.get("one_astray"), _beats(change, noise), _common_beat(change)
    unsteady = [_pitch_wave(change, noise), _sinks(change, noise), _pitch_walk(change, noise), _pitch_fall(change, noise)]
    strength = joint_strength([*of_series, beats])
    for piece in (one_astray, *unsteady, common_beat):  # they add nothing to what the others tell of the string
        strength = max(strength or 0.0, piece.strength) if piece else strength
    others = [one_astray, beats, *unsteady, common_beat]
    is_told = any(of_series) or any(piece is not None and piece.strength >= limits.WATCHED for piece in others)
    return Case(strength if is_told else None, tuple(strongest_first([*of_series, *others])), _could_tell(change, noise))


def _common_beat(change: Change) -> Evidence | None:
    """Of partials that have begun to beat at one rate: unsure from three on, or where the first does so in several plucks; watched from
    four, never false by that alone. None where the pitch wanders, which makes all partials beat."""
    n = change.beats.n_partials
    if (n < limits.COMMON_BEAT_PARTIALS and not change.beats.is_of_first) or change.ripple.pitch_walk_db.known:
        return None
    sureness = limits.COMMON_BEAT_SAY if n > limits.COMMON_BEAT_PARTIALS else limits.COMMON_BEAT_DOUBTED
    return Evidence("common_beat", max(1.0, n / limits.COMMON_BEAT_PARTIALS), sureness, float(n), None)


def stretch_by_tension(change: Change) -> Figure:
    """Natural log of present over fresh B of the very same string at its present pitch, B ∝ 1/T ∝ 1/f²; its doubt as `se`."""
    pitch = change.pitch_cents
    if not pitch.known:
        return Figure(0.0, 0.0)
    if abs(pitch.value) > limits.FALLEN_CENTS:
        return Figure(None, None, "its pitch lies too far from where it was")
    if pitch.se is None:
        return Figure(None, None, "how far its pitch moved is not known well enough")
    explained = -2.0 * pitch.value / CENTS
    return Figure(explained, hypot(limits.TENSION_DOUBT * explained, 2.0 * pitch.se / CENTS))


def chi2_sigmas(chi2: float, freedom: float) -> float:
    """How many standard deviations a χ² lies above what chance gives (Wilson & Hilferty's cube root, 1931); grows with χ².

    That holds for a plain χ². `cut_chi2` lacks the farthest partial and is cut: for untouched strings its mean is 0.66 to 0.71 of the
    freedom, and this gives −0.6 ± 0.9 where σ is as told (simulated, 8 to 12 partials). It is a scale to set a limit on, and no
    probability: the limit, ASTRAY_CAUTION, was measured with these very sums.
    """
    spread = 2.0 / (9.0 * freedom)
    return float(((chi2 / freedom) ** (1.0 / 3.0) - (1.0 - spread)) / spread**0.5)


def _stronger(*pieces: Evidence | None) -> Evidence | None:
    """Of views of one thing the one that speaks."""
    found = strongest_first(pieces)
    return found[0] if found else None


def _astray(change: Change, noise: SweepNoise) -> Evidence | None:
    """Where single plucks tell it, and other lines as loud beside their partials could explain it, watched and never false."""
    piece, doubted = _astray_in(change.series, change, noise), change.series.doubted
    if piece is None or doubted is None or _astray_in(doubted, change, noise).strength >= limits.DECIDED:
        return piece
    return at_most(piece, limits.LINES_BESIDE_SAY)


def _astray_in(series: SeriesChange, change: Change, noise: SweepNoise) -> Evidence | None:
    if not series.astray_cents.known:
        return None
    asked = noise.sureness_asked * (limits.UNCONFIRMED_ASTRAY if min(change.n_now, change.n_fresh) == 1 else 1.0)
    cents, se = series.astray_cents.value, noise.astray_scale * series.astray_cents.se
    sigmas = chi2_sigmas(cut_chi2(series, noise.astray_scale), series.freedom)
    sureness = min(sigmas / (limits.ASTRAY_CAUTION * asked), cents / (limits.ASTRAY_RMS_CAUTION * asked * se))
    return Evidence("astray_cents", cents / limits.ASTRAY_NOTICED_CENTS, sureness, cents, se)


def own_ripple(ripple: Figure, noise: SweepNoise) -> Figure:
    """New ripple beyond what nearly all strings of the sweep show, dB peak to peak."""
    return Figure(ripple.value - noise.beat_centre_db, ripple.se) if ripple.known else ripple


def _beats(change: Change, noise: SweepNoise) -> Evidence | None:
    """From one pluck watched and never false: whatever else sounded may swing all its partials once."""
    piece = noise.weigh("beat_db", own_ripple(change.ripple.depth_db, noise))
    return at_most(piece, limits.ONE_PLUCK_RIPPLE_SAY) if change.ripple.is_of_one_pluck else piece


def _pitch_wave(change: Change, noise: SweepNoise) -> Evidence | None:
    """What several plucks tell alike is a false string's, which has no pitch to be tuned to; else watched at most."""
    wave = change.wave.cents
    piece = noise.weigh("pitch_wave", Figure(wave.value - noise.wave_centre_cents, wave.se) if wave.known else wave)
    return piece if change.wave.is_confirmed else at_most(piece, limits.WAVE_SAY)


def _pitch_walk(change: Change, noise: SweepNoise) -> Evidence | None:
    """Watched and never false: a loose pin, disc or lever does it, and another string would not mend that."""
    return noise.weigh("pitch_walk", own_ripple(change.ripple.pitch_walk_db, noise))


def _sinks(change: Change, noise: SweepNoise) -> Evidence | None:
    """Watched and never false: worn nylon does it, what holds the string, or a harder pluck. Its size is in cents, its sureness that of the
    ratio: a hand twice as hard makes many cents of many and few of few."""
    more_cents = change.sinking.now_cents - change.sinking.fresh_cents
    piece = noise.weigh("sinks", change.sinking.log_ratio)
    return replace(piece, size=more_cents / KINDS["sinks"].noticed, change=more_cents, se=None) if piece else None


def _pitch_fall(change: Change, noise: SweepNoise) -> Evidence | None:
    """Watched and never false: what holds the string gives way. What most strings of the sweep fell by is subtracted."""
    fall = change.pitch_fall.beyond_fresh
    own = Figure(fall.value - noise.fall_centre_cents, fall.se) if fall.known else fall
    return noise.weigh("pitch_fall", own)


def stretch_told(change: Change, noise: SweepNoise) -> Evidence | None:
    """What the paired partials and the two values of B agree on, beyond what tension explains: where a series was mistaken in one pluck
    they disagree. But the sum tones of a firm pluck lie at exact multiples; mistaken for partials they make it far less stiff by both
    views. So less stiffness told by a single pluck is watched and never false."""
    stretch, stiffness, tension = change.series.stretch, change.stiffness, stretch_by_tension(change)
    if not (stretch.known and stiffness.known and tension.known) or len(change.series.pattern) < limits.LEAST_STRETCH_PAIRS:
        return None
    by_partials, by_b = stretch.value - tension.value, stiffness.value - tension.value
    agreed = min(abs(by_partials), abs(by_b)) if by_partials * by_b > 0.0 else 0.0
    confirmed = like_hands(change.hand) and min(change.n_now, change.n_fresh) > 1
    share = limits.STRETCH_CAUTION if confirmed else 1.0  # of the error of one: two that agree are known better
    se = hypot(share * noise.stretch_scale * stretch.se, tension.se)  # what tension does not explain all plucks share
    piece = noise.weigh("stretch", Figure(agreed, se))
    n_less_stiff = change.n_now if by_partials < 0.0 else change.n_fresh  # plucks of the side that seems less stiff
    return at_most(piece, limits.SUM_TONES_SAY) if n_less_stiff == 1 else piece


def _could_tell(change: Change, noise: SweepNoise) -> bool:
    """Whether partials gone astray by ASTRAY_GROSS_CENTS would have been seen. Too few partials claim nothing, unless a codec left too few.
    """
    series = change.series
    if series.hidden:
        return False
    if not series.freedom:
        return True
    return limits.ASTRAY_RMS_CAUTION * noise.sureness_asked * noise.astray_scale * series.astray_cents.se <= limits.ASTRAY_GROSS_CENTS

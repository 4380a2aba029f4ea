"""The values of this room: one string in one sweep, and the sweep.

Every figure is the centre over the string's plucks with the standard error of that centre; what cannot be known is None with a reason. A
spread is the standard deviation of *one* pluck about the string's centre, seen within the sweep; None with a single pluck.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from toneprobe.measure.figure import Figure, PitchWave, SharedRipple

NOT_MEASURED = Figure(None, None, "not measured")


@dataclass(frozen=True)
class Stray:
    """One partial in one pluck: how far it lies from where all plucks together put it."""

    cents: float
    glide_cents: float | None  # of that pluck: how hard the string was pulled


@dataclass(frozen=True)
class StringBeat:
    """The beat of one strong partial in one pluck."""

    n: int
    rate_hz: float
    depth_db: float


@dataclass(frozen=True)
class PartialReading:
    """One partial of one string over all its plucks in a sweep."""

    n: int
    freq_hz: Figure
    log_decay: Figure  # natural log of the amplitude decay rate δ (1/s)
    level_db: Figure
    n_plucks: int = 1  # in which it was found
    decay_spread: float | None = None  # of log_decay
    snr_db: float | None = None  # that of the pluck in which it stood out least
    strays: tuple[Stray, ...] = ()  # of the plucks that have it
    heard_db: float | None = None  # how much of the fall that is compared stands above the noise, the mean of the plucks
    heard_s: float | None = None  # how long it could be heard before the hand, the next pluck or the noise ended it, the same
    beside_cents: float = 0.0  # where one pluck alone has it: how far off other lines as loud leave its place, rms
    late_log_decay: float | None = None  # as log_decay, of the slow end of its falls that bend; None where none does


@dataclass(frozen=True)
class Reading:
    """One string in one sweep (or, as a fresh baseline, in the fresh sweeps of one fitting)."""

    string: str
    note: str
    n_plucks: int
    snr_db: float | None  # None where no pluck has partials
    figures: Mapping[str, Figure]  # keys: measure.figure.FIGURES
    partials: tuple[PartialReading, ...]
    flags: tuple[str, ...] = ()
    decay_spread: float | None = None  # of the log decay of all partials together
    ripples: tuple[SharedRipple, ...] = ()  # of each pluck in which it was looked for
    waves: tuple[PitchWave, ...] = ()  # the same
    beats: tuple[StringBeat, ...] = ()  # in all plucks, of strong low partials that no other string is found to answer
    bends: tuple[float, ...] = ()  # of the partials' falls in all plucks, as `measure.bend` has it
    pitch_steps: tuple[Figure, ...] = ()  # cents by which each pluck lay below the one before, as `session.pitch_steps` has it


@dataclass(frozen=True)
class SweepReading:
    """All strings of one sweep."""

    readings: Mapping[str, Reading]  # by string, in the order first plucked
    pitch_level_cents: Figure = NOT_MEASURED  # where the middle string lies against its expected pitch
    other_notes: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # by string, those that it was plucked in too, not read
    at_two_pitches: tuple[str, ...] = ()  # strings that were heard, as one note, a semitone apart or more

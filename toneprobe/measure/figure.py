"""The values that a measurement hands on: a figure with its error, a partial, and everything measured of one pluck.

A figure that could not be measured has `value` None and a `reason`; it is never 0 or NaN. Standard errors (`se`) are one standard deviation
in the figure's own unit and cover the difference between two takes of one untouched string. Only those of a partial's place and beat
(`freq_se_hz`, `beat_se_hz`, `beat_depth_se_db`) are the noise's alone: how takes differ is learnt and added where plucks are compared or
written out (`session.place_spread.covering_takes`).
"""

import math
from dataclasses import dataclass

UNSURE_NAME = 0.6  # a pluck less surely named is of doubtful name

# How plucks are measured, as far as whoever compares them must know
BEAT_PARTIALS = 8  # up to this one a partial's beat is looked for
LEVEL_RANGE_DB = 25.0  # a partial weaker than the strongest by more does not make a string false
EARLY_RANGE_DB = 30.0  # what a noisier or softer recording still shows of a partial's fall: verdicts compare this part
EARLY_OVER_NOISE = 6.0  # times the noise's power, down to which that part goes at most
LEAST_FALL_DB = 4.0  # a partial that falls by less before the pluck ends has no decay
FALLS_ONLY = "falls only"  # how the reason begins where a tone ends before it has fallen far
GAP = "measured up to a gap in the recording"
BROKEN_OFF = "measured up to where all sound breaks off at once"
HUM = "hum"  # what a line that is no partial may be taken for, see `other_lines`


@dataclass(frozen=True)
class Figure:
    value: float | None
    se: float | None = None
    reason: str | None = None  # set exactly when value is None

    @property
    def known(self) -> bool:
        return self.value is not None

    @property
    def error(self) -> float:
        """`se` for comparisons: infinite where it is not known, since nothing lies beyond an unknown error."""
        return math.inf if self.se is None else self.se


def errors_together(*errors: float | None) -> float | None:
    """Error of a sum or difference of independent parts; None where one of their errors is not known."""
    return None if None in errors else math.hypot(*errors)


@dataclass(frozen=True)
class Partial:
    """One partial of one pluck."""

    n: int
    freq_hz: float
    freq_se_hz: float
    level_db: float  # level at the onset relative to the pluck's strongest partial, dB
    snr_db: float  # level at the onset over the noise in its own band, dB
    t60_s: float | None  # decay time of this partial, None where it could not be measured
    t60_se_s: float | None
    astray_cents: float | None  # distance from the fitted stiff-string series
    beat_hz: float | None = None
    beat_depth_db: float | None = None
    beat_se_hz: float | None = None
    beat_depth_se_db: float | None = None
    beat_other_hz: float | None = None  # the weaker of the two modes …
    beat_other_t60_s: float | None = None
    answered_by: str | None = None  # … and the other string whose own partial it is taken for
    late_t60_s: float | None = None  # where its level bends: decay time after the knee; t60_s is that before it where that is much louder
    knee_s: float | None = None  # after the onset
    early_t60_s: float | None = None  # over the first 30 dB alone: the same however much of the fall the noise leaves
    bend: float | None = None  # of its fall, as `measure.bend` has it; None where it is not heard down to the noise


@dataclass(frozen=True)
class OtherLine:
    """A line in a pluck's spectrum that is no partial of the string."""

    freq_hz: float
    level_db: float  # relative to the pluck's strongest partial, dB; 15 ms after the onset, or 0.7/(0.45·f1) s where that is later
    t60_s: float | None  # None where it hardly falls
    taken_for: str  # "hum", "body", "sum tone of partials 2 and 5", "second voice of partial 3", a string that answers, "not known"


@dataclass(frozen=True)
class DampingLaw:
    """Loss over frequency: δ(f) = board + air·√(f/kHz) + inner·(f/kHz), amplitude decay rates in 1/s; see `damping`."""

    board_per_s: float
    air_per_s: float
    inner_per_s: float
    log_misfit: float  # rms of the residuals
    n: tuple[int, ...]  # partials that the law was fitted to
    log_residual: tuple[float, ...]  # ln of each partial's measured decay rate over the law's


@dataclass(frozen=True)
class SharedRipple:
    """Ripple common to all partials, at the rates of `ripple`, dB peak to peak, None where it could not be measured: the component in phase
    with the onset, the one a quarter turn later, and the standard error of either."""

    in_phase_db: tuple[float | None, ...] = ()
    quadrature_db: tuple[float | None, ...] = ()
    se_db: tuple[float | None, ...] = ()


@dataclass(frozen=True)
class PitchWave:
    """How the pitch goes up and down while the string rings, at the rates of `pitch_wave`, in cents from lowest to highest, else
    as `SharedRipple`."""

    in_phase_cents: tuple[float | None, ...] = ()
    quadrature_cents: tuple[float | None, ...] = ()
    se_cents: tuple[float | None, ...] = ()


@dataclass(frozen=True)
class PluckMeasurement:
    string: str
    note: str
    onset_s: float
    ring_s: float | None  # None where nothing was heard to ring; books of before have 0 there, and for an `snr_db` that is not known
    sureness: float  # of the name, 0 to 1
    snr_db: float | None  # None where there are no partials
    pitch_hz: Figure  # sounding first partial, f1 = f0·√(1+B)
    cents_off: Figure  # pitch against the string's expected pitch
    inharmonicity: Figure  # B of f_n = n·f0·√(1 + B·n²)
    t60_s: Figure  # decay time of the strongest low partials
    centroid_hz: Figure  # 20 to 250 ms after the onset, noise removed
    centroid_ratio: Figure  # centroid over f1
    centroid_partials_hz: Figure  # power-weighted mean of the partials only
    beat_hz: Figure
    beat_depth_db: Figure
    trueness_cents: Figure  # rms distance of the partials from the fitted series
    glide_cents: Figure  # pitch 20 to 60 ms after the onset, below 150 Hz over the second to seventh period, over the settled pitch
    partials: tuple[Partial, ...]  # ascending n
    flags: tuple[str, ...]  # short reasons and remarks
    damping: DampingLaw | None = None
    ripple: SharedRipple | None = None  # None where not looked for
    others: tuple[OtherLine, ...] = ()  # ascending in frequency
    wave: PitchWave | None = None  # None where not looked for

    @property
    def clearness_db(self) -> float:
        """`snr_db` for ranking plucks; those without one come last."""
        return -math.inf if self.snr_db is None else self.snr_db


# Figure names of a PluckMeasurement, in the order in which they are shown; also the keys of a reading's `figures`.
FIGURES = ("pitch_hz", "cents_off", "inharmonicity", "t60_s", "centroid_hz", "centroid_ratio", "centroid_partials_hz",
           "beat_hz", "beat_depth_db", "trueness_cents", "glide_cents")

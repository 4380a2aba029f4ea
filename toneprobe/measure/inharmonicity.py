"""Pitch, inharmonicity and trueness, from the partials matched to a stiff string's series.

f_n = n·f0·√(1 + B·n²) (Fletcher, JASA 36 (1964) 203). Pitch is the sounding first partial f1 = f0·√(1 + B) of the fitted series. Trueness
is the rms distance of the partials from that series: stiffness is a smooth n², a local fault moves partials up and down.
"""

from collections.abc import Collection

import numpy as np
from scipy.special import ndtri, stdtrit

from toneprobe.measure.figure import Figure
from toneprobe.measure.partials import PITCH_PARTIALS, SeriesFit
from toneprobe.units import CENTS, cents_between

LEAST_PARTIALS_FOR_B = 4
LEAST_PARTIALS_FOR_TRUENESS = 5
NORMAL_95 = 0.975  # two errors hold 95 % of what is normal, and shall of what is Student's t
TAKE_CENTS = 0.5  # what two takes of an untouched string differ by beyond the fit's own error
TAKE_LOG_B = 0.03
STRAY_CENTS = 3.0  # by which one low partial strays from the series, unknown to the others: times 1 + pitch over STRAY_DOUBLES_HZ
STRAY_DOUBLES_HZ = 800.0  # 24 strings of a lever harp: 2 to 4 cents below 600 Hz, 5 on the mean and up to 9 above 1 kHz
MOST_LOG_B_SE = 0.5
SCATTERED_CENTS = 5.0  # what stiffness does to the highest partial is known worse than this: then it is not the string that lacks it
AS_NONE = "the inharmonicity is too small to be told from none"  # begins that reason: with a B of 0 its partials lie where they are heard
TRUE_LOW = 10  # partials up to this number count for trueness


def pitch(fit: SeriesFit, expected_hz: float, lacking: Collection[int]) -> tuple[Figure, Figure]:
    """Pitch in Hz and in cents off the expected one. lacking: partials that it would also rest on, had they been found."""
    f1_hz = fit.pitch_hz
    low = fit.n <= PITCH_PARTIALS
    noise_cents = CENTS / np.sqrt(np.sum((fit.freq_hz[low] / fit.freq_se_hz[low]) ** 2)) if low.any() else fit.f1_se_cents
    se_cents = float(np.linalg.norm([noise_cents, fit.pitch_se_cents, TAKE_CENTS, _without_lacking_cents(fit, lacking)]))
    return Figure(f1_hz, f1_hz * se_cents / CENTS), Figure(cents_between(f1_hz, expected_hz), se_cents)


def _without_lacking_cents(fit: SeriesFit, lacking: Collection[int]) -> float:
    """Distance between the mean of the low partials found and that with the lacking ones, each as far astray as a single one is."""
    n_found = max(int((fit.n <= PITCH_PARTIALS).sum()), 1)
    n_all = n_found + sum(n <= PITCH_PARTIALS for n in lacking)
    return STRAY_CENTS * (1.0 + fit.pitch_hz / STRAY_DOUBLES_HZ) * float(np.sqrt(1.0 / n_found - 1.0 / n_all))


def inharmonicity(fit: SeriesFit) -> Figure:
    """B, dimensionless. None where it is not twice its error: comparisons take its logarithm, which 0 ± se has not."""
    used = int((fit.trust > 0).sum())
    if used < LEAST_PARTIALS_FOR_B:
        return Figure(None, None, f"only {used} partials could be followed, too few for the inharmonicity")
    if fit.log_b_se > MOST_LOG_B_SE:
        return Figure(None, None, _why_unknown(fit, used))
    few = float(stdtrit(used - 2, NORMAL_95)) / float(ndtri(NORMAL_95))  # two of them were fitted: how far the rest scatter is little known
    return Figure(fit.series.b, fit.series.b * float(np.hypot(few * fit.log_b_se, TAKE_LOG_B)))


def _why_unknown(fit: SeriesFit, used: int) -> str:
    """Whether the string is not stiff enough to tell, or its partials say too little. Stiffness moves partial n by 866·B·n² cents."""
    doubt_cents = 0.5 * CENTS * fit.series.b * fit.log_b_se * float(fit.n[fit.trust > 0].max()) ** 2
    if doubt_cents > SCATTERED_CENTS:
        return "the partials are too few or too scattered for the inharmonicity"
    return f"{AS_NONE} by the {used} partials that could be followed"


def trueness(fit: SeriesFit) -> Figure:
    """Rms distance of the low partials from the series, in cents."""
    low = (fit.n <= TRUE_LOW)
    if low.sum() < LEAST_PARTIALS_FOR_TRUENESS:
        return Figure(None, None, f"only {int(low.sum())} low partials could be followed, too few to say whether the string is true")
    rms = float(np.sqrt(np.mean(fit.astray_cents[low] ** 2)))
    return Figure(rms, max(rms, 0.3) / np.sqrt(2.0 * low.sum()))

"""How far the plucks of one untouched string differ in a partial's place and beat, beyond what the recording's noise explains.

Each pluck excites another mixture of the two polarisations and the neighbours, so a partial's place varies far more than by noise (lever
harp, two takes of one pluck: 0.7 cents, of which the noise explains 0.01, medians). Model of the place: the spread of one pluck has a part
in proportion to frequency, larger for weak partials and short strings; one in Hz, of the polarisations, larger where little was heard; and
one in line widths, for what dies fast has no sharp pitch. This is the usual string; what a string's own plucks show beyond it is learnt
where they are compared. What moves all partials of a pluck alike is the error of its pitch.

A beat is that mixture itself, so its depth differs from pluck to pluck; its rate stays, unless other modes beat.
"""

from dataclasses import replace
from math import hypot

import numpy as np

from toneprobe.measure.figure import Partial, PluckMeasurement
from toneprobe.units import CENTS, LN_1000

# Standard deviations of one partial's place in one pluck.
PARTIAL_PITCH_SPREAD_CENTS = 0.5  # the part in proportion to frequency (measured)
PARTIAL_PITCH_SPREAD_HZ = 0.12  # the part that two polarisations cause (measured)
PARTIAL_PITCH_SPREAD_TURNS = 0.13  # what a pluck cut short leaves in its place, turns in the time it was heard, where that is more
# (measured: partials of 48 real plucks cut after 0.15 to 1.5 s, C#2 to G#6: half within 0.05 turns of the whole pluck's, 9 in 10 in 0.25)
PARTIAL_PITCH_SPREAD_WIDTHS = 0.6  # the part that goes with the width of its line, decay rate over 2π (measured)
CLEAR_BELOW_HZ = 800.0  # spreads in cents grow as 1 + pitch over this (measured in the top octaves; 2.3 times as large at C6, 3.6 at C7,
# 4.9 at G7, derived)
WEAK_FROM_DB, WEAK_DOUBLES_DB = 15.0, 30.0  # weaker partials' frequencies scatter more: twice as much 30 dB further down (measured)
BEAT_RATE_SHARE = 0.2  # of itself: how a partial's beat rate scatters from pluck to pluck (measured: 127 partials that beat in both of two
# takes of a lever harp, 97 % within two such errors)
BEAT_DEPTH_SHARE = 0.5  # the same of its depth (measured on the same: all within two such errors)


def place_variance(freq_hz: np.ndarray | float, *, f1_hz: float, level_db: np.ndarray | float, decay: np.ndarray | float,
                   heard_s: np.ndarray | float) -> np.ndarray | float:
    """Of one pluck of an untouched string, cents², arrays of shape (k,) or numbers.

    f1_hz: the string's lowest. level_db: relative to its strongest partial. decay: amplitude decay rate, 1/s; NaN where unknown, as
    heard_s.
    """
    width_hz = np.nan_to_num(decay) / (2.0 * np.pi)
    polarisations_hz = np.fmax(PARTIAL_PITCH_SPREAD_HZ, PARTIAL_PITCH_SPREAD_TURNS / heard_s)
    variance_hz2 = polarisations_hz**2 + (PARTIAL_PITCH_SPREAD_WIDTHS * width_hz) ** 2
    weak_db = np.clip(-level_db - WEAK_FROM_DB, 0.0, 60.0)
    proportional_cents = PARTIAL_PITCH_SPREAD_CENTS * (1.0 + weak_db / WEAK_DOUBLES_DB) * register_factor(f1_hz)
    return proportional_cents**2 + variance_hz2 * (CENTS / freq_hz) ** 2


def register_factor(f1_hz: float) -> float:
    """On spreads in cents: short strings have few partials, and what else sounds near them is more easily taken for one."""
    return 1.0 + f1_hz / CLEAR_BELOW_HZ


def covering_takes(partial: Partial, pluck: PluckMeasurement) -> Partial:
    """The partial with errors that cover what two plucks of one untouched string differ by. Those of place and beat were the noise's alone;
    that of its decay time covers it as measured."""
    place = place_variance(partial.freq_hz, f1_hz=partial.freq_hz / partial.n, level_db=partial.level_db,
                           decay=LN_1000 / partial.t60_s if partial.t60_s else np.nan, heard_s=pluck.ring_s)
    of_pitch = (pluck.pitch_hz.se or 0.0) / pluck.pitch_hz.value if pluck.pitch_hz.known else 0.0
    of_takes_hz = partial.freq_hz * hypot(float(np.sqrt(place)) / CENTS, of_pitch)
    return replace(partial, freq_se_hz=hypot(partial.freq_se_hz or 0.0, of_takes_hz),
                   beat_se_hz=_with_share(partial.beat_hz, partial.beat_se_hz, BEAT_RATE_SHARE),
                   beat_depth_se_db=_with_share(partial.beat_depth_db, partial.beat_depth_se_db, BEAT_DEPTH_SHARE))


def _with_share(value: float | None, se: float | None, share: float) -> float | None:
    return None if value is None or se is None else hypot(se, share * value)

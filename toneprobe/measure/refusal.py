"""What cannot be measured of a pluck, and why: too high for the rate, too short, silent, a knock, under the noise, or clipped.

A click or a knock is over at once, but a narrow band rings for as long as it is narrow, and its response would pass for partials: a single
odd sample came out with a pitch, a stiffness and a decay. So a sound must last beyond its first ten periods, or 10 ms.

Clipping adds tones and holds the loudest stretch down: partials lean on those tones, brightness and beats come out wrong, and the decay
looks longer by the stretch held down. The first partial keeps its place, and the error of the pitch, which rests on others too, reaches to
there. A few samples at the rails do no harm.
"""

from dataclasses import replace

import numpy as np
from scipy.fft import rfft

from toneprobe.measure.envelope import TOP_SHARE
from toneprobe.measure.figure import Figure, PluckMeasurement, errors_together
from toneprobe.measure.series import ZONE
from toneprobe.medians import MEDIAN_OF_EXPONENTIAL
from toneprobe.units import cents_between

LEAST_PERIODS = 10.0
LEAST_S = 0.04
SILENT = 1e-7  # swing over full scale, −140 dB
RAIL_SHARE = 0.985  # of the recording's peak: what is higher is at the rail
HARMLESS_S = 0.002  # in all, at the rails: less changes no figure (plucks of C3, C4 and C6 clipped by calculation)
CLIPPED_SHARE = 0.1  # of the decay time: held down for so long, it comes out 2 % too long (the same)
KNOCK_S = 0.01  # a click with what a speaker or a table answers to it (set); of low strings LEAST_PERIODS are more
LEAST_LEFT_DB = -40.0  # of the power above half the pitch, about 15 periods on: what falls by so much in that time rings for 22, with a
# quality of 10, and has hardly a pitch (derived; 119 real plucks keep -15 dB and more)
MOST_NOISE_DB = -20.0  # of the same, noise and all: in more a knock cannot be told from a pluck that is drowned (set)
LEAST_SNR_DB = 12.0  # of the strongest partial in its band; in noise alone chance gives up to 9 dB (300 draws, all registers)
NO_NUMBERS = "it holds samples that are no numbers"
KNOCK = "over at once, as a click or a knock is"
BURIED = "too little of it stands out of the noise"
CLIPPED = "clipped: too loud for the recorder"
NO_MODES = dict.fromkeys(("beat_hz", "beat_se_hz", "beat_depth_db", "beat_depth_se_db", "beat_other_hz", "beat_other_t60_s",
                          "late_t60_s", "knee_s"))
SPOILT = ("inharmonicity", "trueness_cents", "centroid_hz", "centroid_ratio", "centroid_partials_hz", "beat_hz", "beat_depth_db")


def why_unfit(samples: np.ndarray, *, rate_hz: float, pre_s: float, f1_hz: float) -> str | None:
    """Why a pluck that begins `pre_s` after its first sample cannot be measured at all; None if it may be."""
    if f1_hz > highest_hz(rate_hz):
        return f"too high: at {rate_hz:.0f} samples a second strings up to {highest_hz(rate_hz):.0f} Hz can be measured"
    needed_s, length_s = needed_length_s(f1_hz), len(samples) / rate_hz - pre_s
    if length_s < needed_s:
        return f"too short: {max(length_s, 0.0):.2f} s, and a string this low needs {needed_s:.2f} s"
    if not np.isfinite(samples).all():
        return NO_NUMBERS
    if np.ptp(samples) < SILENT:
        return "silent"
    return KNOCK if _is_knock(samples, rate_hz=rate_hz, pre_s=pre_s, f1_hz=f1_hz) else None


def _is_knock(samples: np.ndarray, *, rate_hz: float, pre_s: float, f1_hz: float) -> bool:
    """Whether hardly anything but white noise is left above half the pitch after the first periods; False where the piece ends too soon to
    tell."""
    n, onset = int(max(KNOCK_S, LEAST_PERIODS / f1_hz) * rate_hz), int(pre_s * rate_hz)
    if len(samples) < onset + 2 * n:
        return False
    window, lowest = np.hanning(n), int(0.5 * f1_hz * n / rate_hz)
    pieces = samples[max(0, onset - n // 2): onset + n // 2], samples[onset + n: onset + 2 * n]
    at_once, later = (np.abs(rfft(piece * window[-len(piece):], n)[lowest:]) ** 2 for piece in pieces)
    all_left, noise = float(later.sum()), float(np.median(later)) / MEDIAN_OF_EXPONENTIAL * len(later)
    over = float(at_once.sum())
    return all_left < 10 ** (MOST_NOISE_DB / 10) * over and all_left - noise < 10 ** (LEAST_LEFT_DB / 10) * over


def is_buried(level: np.ndarray, noise_power: np.ndarray) -> bool:
    """Whether no partial stands clear of its band's noise, so that all may be chance. Arrays of one shape, |z|²."""
    return float((level / noise_power).max()) < 10 ** (LEAST_SNR_DB / 10)


def highest_hz(rate_hz: float) -> float:
    """Pitch of the highest string whose first partial's zone the recording carries."""
    return TOP_SHARE * rate_hz / (1.0 + ZONE)


def needed_length_s(f1_hz: float) -> float:
    """How long, in s, a string of that pitch in Hz must sound to be measured."""
    return max(LEAST_S, LEAST_PERIODS / f1_hz)


def clipped_stretch(samples: np.ndarray, *, rate_hz: float, pre_s: float, peak: float) -> tuple[float, float]:
    """Total time at the rails, and the time after the onset when it ends, both in s. `peak`: of the whole recording."""
    at = np.flatnonzero(np.abs(samples) > RAIL_SHARE * peak)
    return (len(at) / rate_hz, at[-1] / rate_hz - pre_s) if len(at) else (0.0, 0.0)


def without_spoilt(measured: PluckMeasurement, *, clipped_s: float, until_s: float) -> PluckMeasurement:
    """The measurement of a clipped pluck without the figures that clipping spoils."""
    if clipped_s < HARMLESS_S:
        return measured
    lost = [name for name in SPOILT if getattr(measured, name).known]
    if measured.t60_s.known and until_s > CLIPPED_SHARE * measured.t60_s.value:
        lost.append("t60_s")
    partials = tuple(replace(partial, **NO_MODES) for partial in measured.partials)
    told = _unsure_by_first_partial(measured)
    return replace(told, partials=partials, others=(), **{name: Figure(None, None, CLIPPED) for name in lost})


def _unsure_by_first_partial(measured: PluckMeasurement) -> PluckMeasurement:
    """With an error of the pitch that reaches to the first partial; unchanged if that was not found."""
    pitch_hz, first_hz = measured.pitch_hz, next((one.freq_hz for one in measured.partials if one.n == 1), None)
    if first_hz is None:
        return measured
    apart_hz, apart_cents = pitch_hz.value - first_hz, cents_between(pitch_hz.value, first_hz)
    return replace(measured, pitch_hz=replace(pitch_hz, se=errors_together(pitch_hz.se, apart_hz)),
                   cents_off=replace(measured.cents_off, se=errors_together(measured.cents_off.se, apart_cents)))

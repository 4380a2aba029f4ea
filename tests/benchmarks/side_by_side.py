"""Errors on the same sounds, side by side: this program, and general-purpose libraries told which note to look for.

    python tests/benchmarks/side_by_side.py [--quick]

Prints Markdown tables. Synthetic: plucks of known truth over eight registers, at 60, 40 and 20 dB, with a beat, with sum tones, gliding.
Real: two takes of each string of a lever harp, soft and firm, which should agree; needs the recordings of real plucks beside the project.
Each cell: median error / 9 in 10 within, and how many were missing. Pitch in cents, all others as |ln of the ratio| in per cent.
"""

import argparse
import warnings
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache

import numpy as np
from sounds import real_sweeps as real
from sounds.changed_plucks import measured
from sounds.formula_plucks import PRE_S, REGISTERS, FormulaPluck, Register, damped, render, time_grid_s

from toneprobe.measure.brightness import FIRST_S, LAST_S
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.measure.pluck import measure_samples

RATE_HZ = 44100
SEEDS = 4
Estimate = Callable[[np.ndarray, float], float | None]


# Pitch, Hz: told the note, looking from a third below to a third above

def praat_hz(sound: np.ndarray, note_hz: float) -> float | None:
    import parselmouth

    try:
        pitch = parselmouth.Sound(sound, RATE_HZ).to_pitch_ac(pitch_floor=0.8 * note_hz, pitch_ceiling=1.25 * note_hz, very_accurate=True)
    except parselmouth.PraatError:
        return None
    values = pitch.selected_array["frequency"]
    return float(np.median(values[values > 0])) if (values > 0).any() else None


def yin_hz(sound: np.ndarray, note_hz: float) -> float | None:
    import librosa

    values = librosa.yin(sound, fmin=0.8 * note_hz, fmax=1.25 * note_hz, sr=RATE_HZ, frame_length=frame_length(note_hz))
    return float(np.median(values[np.isfinite(values)]))


def pyin_hz(sound: np.ndarray, note_hz: float) -> float | None:
    import librosa

    values, voiced, _ = librosa.pyin(sound, fmin=0.8 * note_hz, fmax=1.25 * note_hz, sr=RATE_HZ, frame_length=frame_length(note_hz),
                                     resolution=0.01, max_transition_rate=5.0)
    return float(np.median(values[voiced])) if voiced.any() else None


def frame_length(note_hz: float) -> int:
    return max(2048, int(2 ** np.ceil(np.log2(6 * RATE_HZ / note_hz))))


# Inharmonicity: essentia's figure is no B but a mean relative distance of peaks from harmonics; compared by how it repeats

def essentia_inharmonicity(sound: np.ndarray, note_hz: float) -> float | None:
    import essentia.standard as es

    size = 2 ** int(np.ceil(np.log2(min(len(sound), 0.5 * RATE_HZ))))
    piece = np.zeros(size, np.float32)
    start = round((PRE_S + 0.02) * RATE_HZ)
    part = sound[start : start + min(size, len(sound) - start)]
    piece[: len(part)] = part * np.hanning(len(part))
    spectrum = es.Spectrum(size=size)(piece)
    freq_hz, magnitude = es.SpectralPeaks(sampleRate=RATE_HZ, minFrequency=0.5 * note_hz, maxPeaks=60, magnitudeThreshold=1e-6,
                                          orderBy="frequency")(spectrum)
    if not len(freq_hz):
        return None
    at = int(np.argmin(np.abs(freq_hz - note_hz)))
    freq_hz, magnitude = es.HarmonicPeaks(maxHarmonics=20)(freq_hz, magnitude, float(freq_hz[at]))
    if not len(freq_hz) or freq_hz[0] <= 0:
        return None
    return float(es.Inharmonicity()(freq_hz, magnitude)) or None


def peaks_b(sound: np.ndarray, note_hz: float) -> float | None:
    """The straightforward B: highest peaks within ± 30 % of f1 about n·f1, a line through (f_n/n)² over n²."""
    n_fft = 2**19
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), n_fft))
    grid_hz, n, peaks = np.arange(len(spectrum)) * RATE_HZ / n_fft, [], []
    for k in range(1, min(17, int(0.45 * RATE_HZ / note_hz))):
        near = np.flatnonzero(np.abs(grid_hz - k * note_hz) < 0.3 * note_hz)
        n.append(k)
        peaks.append(grid_hz[near[spectrum[near].argmax()]])
    if len(n) < 4:
        return None
    slope, level = np.polyfit(np.square(n), np.square(np.array(peaks) / n), 1)
    return float(slope / level) if slope > 0 else None


# Brightness, Hz: the same window, centroid of power

def window_of(sound: np.ndarray) -> np.ndarray:
    piece = sound[int((PRE_S + FIRST_S) * RATE_HZ) : int((PRE_S + LAST_S) * RATE_HZ)]
    return piece * np.hanning(len(piece))


def librosa_centroid_hz(sound: np.ndarray, note_hz: float) -> float | None:
    import librosa

    piece = window_of(sound)
    power, freq_hz = np.abs(np.fft.rfft(piece)) ** 2, np.fft.rfftfreq(len(piece), 1 / RATE_HZ)
    return float(librosa.feature.spectral_centroid(S=power[:, None], freq=freq_hz[:, None], sr=RATE_HZ)[0, 0])


def essentia_centroid_hz(sound: np.ndarray, note_hz: float) -> float | None:
    import essentia.standard as es

    return float(es.Centroid(range=RATE_HZ / 2)((np.abs(np.fft.rfft(window_of(sound))) ** 2).astype(np.float32)))


# Decay, s: T60 of the first partial in its own band, so that all look at the same thing

def first_partial(sound: np.ndarray, note_hz: float) -> np.ndarray:
    from scipy.signal import butter, sosfiltfilt

    filtered = sosfiltfilt(butter(4, [0.7 * note_hz, 1.4 * note_hz], "band", fs=RATE_HZ, output="sos"), sound)
    return filtered[round((PRE_S + 0.01) * RATE_HZ):]


def pyroomacoustics_t60_s(sound: np.ndarray, note_hz: float) -> float | None:
    from pyroomacoustics.experimental import measure_rt60

    try:
        t60_s = float(measure_rt60(first_partial(sound, note_hz), fs=RATE_HZ, decay_db=30))
    except (IndexError, ValueError):
        return None
    return t60_s if np.isfinite(t60_s) and t60_s > 0 else None


def straight_line_t60_s(sound: np.ndarray, note_hz: float) -> float | None:
    """A line through the level in dB, from the peak to 30 dB below it, or the end."""
    from scipy.signal import hilbert

    level_db = 20 * np.log10(np.abs(hilbert(first_partial(sound, note_hz))) + 1e-12)
    peak = int(level_db[: len(level_db) // 2].argmax())
    below = np.flatnonzero(level_db[peak:] < level_db[peak] - 30.0)
    stop = peak + int(below[0]) if len(below) else len(level_db)
    if stop - peak < 0.02 * RATE_HZ:
        return None
    slope = np.polyfit(np.arange(stop - peak) / RATE_HZ, level_db[peak:stop], 1)[0]
    return float(-60.0 / slope) if slope < 0 else None


OTHERS: dict[str, dict[str, Estimate]] = {
    "pitch": {"Praat": praat_hz, "librosa yin": yin_hz, "librosa pyin": pyin_hz},
    "inharmonicity": {"highest peaks": peaks_b, "essentia (its own figure)": essentia_inharmonicity},
    "centroid": {"librosa": librosa_centroid_hz, "essentia": essentia_centroid_hz},
    "decay of partial 1": {"pyroomacoustics": pyroomacoustics_t60_s, "straight line": straight_line_t60_s},
}


def ours(found: PluckMeasurement, figure: str) -> float | None:
    if figure == "decay of partial 1":
        return next((partial.t60_s for partial in found.partials if partial.n == 1), None)
    names = {"pitch": "pitch_hz", "inharmonicity": "inharmonicity", "centroid": "centroid_hz", "decay of the string": "t60_s",
             "centroid, partials only": "centroid_partials_hz"}
    return getattr(found, names[figure]).value


# Synthetic plucks

def centroid_of(pluck: FormulaPluck) -> float:
    time_s = np.linspace(FIRST_S, LAST_S, 2001)
    energy = pluck.amplitude**2 * np.trapezoid(np.hanning(len(time_s)) ** 2 * np.exp(-2 * np.outer(pluck.delta, time_s)), time_s, axis=1)
    return float(np.average(pluck.freq_hz, weights=energy))


def truth_of(pluck: FormulaPluck) -> dict[str, float]:
    return {"pitch": pluck.f1_hz, "inharmonicity": pluck.b, "centroid": centroid_of(pluck), "decay of partial 1": pluck.t60_s,
            "decay of the string": pluck.string_t60_s}


def with_sum_tones(register: Register, pluck: FormulaPluck) -> np.ndarray:
    """Tones at f_i + f_j from number 8 up, twice as strong as the partials there."""
    sound = render(pluck, length_s=register.length_s)
    time_s = time_grid_s(RATE_HZ, register.length_s)
    for n in range(8, pluck.n_partials + 1):
        i, j = n // 2 - 1, n - n // 2 - 1
        sound += damped(time_s, float(pluck.freq_hz[i] + pluck.freq_hz[j]), float(pluck.delta[i] + pluck.delta[j]),
                        amplitude=2.0 * float(pluck.amplitude[n - 1]), phase=n)
    return sound


SOUNDS: dict[str, Callable[[Register, FormulaPluck], np.ndarray]] = {
    "60 dB": lambda register, pluck: render(pluck, length_s=register.length_s),
    "40 dB": lambda register, pluck: render(pluck, length_s=register.length_s, snr_db=40.0),
    "20 dB": lambda register, pluck: render(pluck, length_s=register.length_s, snr_db=20.0),
    "beating 3 dB": lambda register, pluck: render(replace(pluck, split_hz=1.5, split_ratio=0.17), length_s=register.length_s),
    "gliding 12 cents": lambda register, pluck: render(replace(pluck, glide_cents=12.0), length_s=register.length_s),
    "sum tones": with_sum_tones,
}


MORE_SOUND = ("beating 3 dB", "sum tones")  # what is added has a brightness of its own


def synthetic_rows(n_seeds: int) -> Iterator[tuple[str, str, dict[str, list]]]:
    """(figure, sound, errors by estimator)."""
    plucks = [(register, register.pluck(seed=seed)) for register in REGISTERS.values() for seed in range(n_seeds)]
    for name, make in SOUNDS.items():
        sounds = [make(register, pluck) for register, pluck in plucks]
        found = [measured(sound, f1_hz=pluck.f1_hz, spec=register.spec) for sound, (register, pluck) in zip(sounds, plucks, strict=True)]
        for figure in ("pitch", "inharmonicity", "centroid", "decay of partial 1"):
            if figure == "centroid" and name in MORE_SOUND:
                continue
            truths = [truth_of(pluck)[figure] for _, pluck in plucks]
            errors = {"ours": [apart(ours(one, figure), truth, figure) for one, truth in zip(found, truths, strict=True)]}
            for library, estimate in OTHERS[figure].items():
                if "own figure" not in library:
                    errors[library] = [apart(estimate(sound, pluck.f1_hz), truth, figure)
                                       for sound, (_, pluck), truth in zip(sounds, plucks, truths, strict=True)]
            yield figure, name, errors


def apart(found: float | None, truth: float | None, figure: str) -> float | None:
    if found is None or truth is None or found <= 0 or truth <= 0:
        return None
    return abs(1200 * np.log2(found / truth)) if figure == "pitch" else 100 * abs(np.log(found / truth))


# Real plucks: two takes

@cache
def takes() -> tuple[tuple[float, np.ndarray, np.ndarray, PluckMeasurement, PluckMeasurement], ...]:
    harp, pairs = {string.name: string for string in real.lever_harp().strings}, []
    for hand in ("soft", "firm"):
        for note in real.downwards(real.lever(hand, 1)):
            spec = harp[real.string_of(note)]
            sounds = [real.pluck(real.lever(hand, take)[note])[: 6 * RATE_HZ].astype(float) for take in (1, 2)]
            found = [measure_samples(sound, RATE_HZ, spec, pitch_hz=spec.expected_hz, pre_s=real.PRE_S) for sound in sounds]
            pairs.append((spec.expected_hz, *sounds, *found))
    return tuple(pairs)


def real_rows() -> Iterator[tuple[str, dict[str, list]]]:
    for figure in ("pitch", "inharmonicity", "centroid", "centroid, partials only", "decay of partial 1", "decay of the string"):
        errors = {"ours": [apart(ours(first, figure), ours(second, figure), figure) for *_, first, second in takes()]}
        for library, estimate in OTHERS.get(figure.split(",")[0], {}).items():
            errors[library] = [apart(estimate(one, note_hz), estimate(other, note_hz), figure) for note_hz, one, other, *_ in takes()]
        yield figure, errors


def cell(errors: list[float | None]) -> str:
    known = np.array([error for error in errors if error is not None])
    missing = f" ({len(errors) - len(known)} missing)" if len(known) < len(errors) else ""
    return f"{np.median(known):.3g} / {np.quantile(known, 0.9):.3g}{missing}" if len(known) else "none"


def lines_of(label: str, errors: dict[str, list]) -> str:
    return f"| {label} | " + " | ".join(f"{library}: {cell(values)}" for library, values in errors.items()) + " |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="one draw of each synthetic pluck, no real ones")
    args = parser.parse_args()
    warnings.simplefilter("ignore")
    print("Synthetic, median / 9 in 10, cents or per cent\n\n| figure, sound | ours | others |\n|---|---|---|")
    for figure, name, errors in synthetic_rows(1 if args.quick else SEEDS):
        print(lines_of(f"{figure}, {name}", errors), flush=True)
    if args.quick or not real.available():
        return
    print("\nReal, two takes of one string, median / 9 in 10, cents or per cent\n\n| figure | ours | others |\n|---|---|---|")
    for figure, errors in real_rows():
        print(lines_of(figure, errors), flush=True)


if __name__ == "__main__":
    main()

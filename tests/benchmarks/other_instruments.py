"""Instruments that nothing was chosen on: python tests/benchmarks/other_instruments.py FOLDER ...

A folder holds one instrument's single notes, a file each, named by note in scientific pitch (A4.wav, Cs3.mp3 for C sharp), at 44.1 kHz.
Printed is how many are named in whole sweeps, down damped, up damped, down undamped; then how many planted faults are named, in a third of
the strings at a time. There each note is heard twice fresh and twice later, at two gains, in a noise of its own, told the note: as it is
the same pluck, that tells what can be found beside a pluck's noise, and nothing of false alarms.
"""

import argparse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
from sounds import digital_faults as faults
from sounds import real_sweeps as real

from toneprobe.audio import recording_from_samples
from toneprobe.baseline import fresh_baseline
from toneprobe.condition.judgement import judge
from toneprobe.hearing import hear
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.measure.pluck import measure_samples
from toneprobe.session.sweep import read_sweep
from toneprobe.units import LN_1000, hz_of_note

NEAR_S = 0.08
LONGEST_S = 6.0
GAINS, NOISE = (0.3, 0.15), 2e-4
LEAST_PARTIALS = 4
SWINGS, HEARD = 3.0, 30.0 / 20.0 * np.log(10.0)  # a second voice beats so often while the first partial falls by 30 dB
FAULTS = ("nothing", "decay to 50 %", "decay to 70 %", "partials 5 cents astray", "partials 8 cents astray", "second voice, 2 dB",
          "second voice, 4 dB")


def notes_in(folder: Path) -> dict[str, Path]:
    return {file.stem.replace("s", "#"): file for file in sorted(folder.iterdir()) if file.suffix in (".wav", ".mp3", ".flac", ".ogg")}


def named(files: dict[str, Path], harp: Instrument, *, upwards: bool, damped: bool) -> tuple[str, dict[str, float]]:
    """How many were named, and at what pitch each is, in Hz."""
    notes = real.downwards(files)[:: -1 if upwards else 1]
    sweep = real.sweep_of(files, notes, gap_s=lambda note: 4.0 if damped else 2.0, damped=damped)
    found = hear(recording_from_samples(sweep.samples, real.RATE_HZ), harp).plucks
    near = [[one.note for one in found if abs(one.onset_s - onset_s) < NEAR_S] for _, onset_s in sweep.truth]
    right = sum(one[:1] == [note] for one, note in zip(near, notes, strict=True))
    wrong = sum(bool(one) for one in near) - right
    pitch_hz = {one.note: one.pitch_hz.value for one in found if one.pitch_hz.known}
    return f"{right} of {len(notes)} right, {wrong} wrong, {len(found) - right - wrong} invented", pitch_hz


def changed(samples: np.ndarray, fault: str, pluck: PluckMeasurement) -> np.ndarray:
    known = [one for one in pluck.partials if one.t60_s]
    slope, level = np.polyfit(np.log([one.freq_hz for one in known]), np.log([LN_1000 / one.t60_s for one in known]), 1)
    n, freq_hz = np.array([one.n for one in pluck.partials]), np.array([one.freq_hz for one in pluck.partials])
    loss, amount = np.exp(slope * np.log(freq_hz) + level), float(next((one for one in fault.split() if one.isdigit()), 0))
    if fault.startswith("decay"):
        return faults.lose_ring(samples, real.RATE_HZ, freq_hz, loss * (100.0 / amount - 1.0))
    if fault.startswith("partials"):
        pattern = np.random.default_rng([3, *map(ord, pluck.note)]).normal(size=64)
        return faults.shift_partials(samples, real.RATE_HZ, freq_hz, (amount * pattern / np.sqrt(np.mean(pattern[:12] ** 2)))[n - 1])
    if fault.startswith("second voice"):
        return faults.add_beat(samples, amount, cents=1200.0 * np.log2(1.0 + SWINGS * loss[0] / HEARD / freq_hz[0]))
    return samples


def heard(spec: StringSpec, file: Path, pitch_hz: float) -> dict[str, list[PluckMeasurement]]:
    """The plucks of one string, two each: "fresh", and with every fault. Empty where the pluck has too few partials."""
    samples, rng = real.pluck(file)[: int(LONGEST_S * real.RATE_HZ)].astype(float), np.random.default_rng(1)

    def twice(sound: np.ndarray) -> list[PluckMeasurement]:
        return [measure_samples(gain * sound / np.abs(samples).max() + rng.normal(0.0, NOISE, len(sound)), real.RATE_HZ, spec,
                                pitch_hz=pitch_hz, pre_s=real.PRE_S) for gain in GAINS]

    fresh = twice(samples)
    if sum(one.t60_s is not None for one in fresh[0].partials) < LEAST_PARTIALS:
        return {}
    return {"fresh": fresh} | {fault: twice(changed(samples, fault, fresh[0])) for fault in FAULTS}


def verdicts(rows: dict[str, dict[str, list[PluckMeasurement]]], harp: Instrument, fault: str) -> tuple[Counter[str], Counter[str]]:
    """Of the faulty strings, and of the others."""
    fresh, bad, good = fresh_baseline([[one for row in rows.values() for one in row["fresh"]]]), Counter(), Counter()
    for third in range(3):
        faulty = set(list(rows)[third::3])
        plucks = [one for note, row in rows.items() for one in row[fault if note in faulty else "nothing"]]
        for one in judge(read_sweep(plucks), fresh, instrument=harp).conditions:
            if one.string in rows:
                (bad if one.string in faulty else good)[one.verdict] += 1
    return bad, good


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="+", type=Path)
    for folder in parser.parse_args().folders:
        files = notes_in(folder)
        harp = Instrument(folder.name, 440.0, None, tuple(StringSpec(note, note, hz_of_note(note)) for note in real.downwards(files)))
        for way in ({"upwards": False, "damped": True}, {"upwards": True, "damped": True}, {"upwards": False, "damped": False}):
            told, pitch_hz = named(files, harp, **way)
            print(f"{folder}, {'up' if way['upwards'] else 'down'}, {'' if way['damped'] else 'never '}damped: {told}")
        with ProcessPoolExecutor(2) as pool:
            strings = [spec for spec in harp.strings if spec.name in pitch_hz]
            found = pool.map(heard, strings, *zip(*((files[spec.name], pitch_hz[spec.name]) for spec in strings), strict=True))
            rows = {spec.name: row for spec, row in zip(strings, found, strict=True) if row}
        for fault in FAULTS:
            bad, good = verdicts(rows, harp, fault)
            print(f"  {fault:25} {dict(bad)}; the others {dict(good)}", flush=True)


if __name__ == "__main__":
    main()

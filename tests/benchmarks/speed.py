"""How fast and in how much memory a recording is measured, the program's start included.

    python tests/benchmarks/speed.py [--cores N] [--repeat N] [--plain] [FILE ...]

Prints a Markdown table: length of the recording, plucks, time, time over length, greatest memory. Without files it renders one sweep of a
47-string harp (two and a half minutes) and one of a lever harp; --repeat plays each N times over (48 makes two hours of the first).
--plain adds what librosa alone needs to load the same file and run its onsets, centroid and yin over it. --cores: how many all may use
(1 unless told); memory is then that of the processes together, what they share counted once.
"""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import soundfile

from toneprobe.instrument import load_instrument
from toneprobe.synth.recorder import Recorder
from toneprobe.synth.string_model import string_models
from toneprobe.synth.sweep import render_sweep

ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1", "NUMBA_NUM_THREADS": "1"}
PLAIN = ("import sys, librosa\ny, r = librosa.load(sys.argv[1], sr=None)\nlibrosa.onset.onset_detect(y=y, sr=r)\n"
         "librosa.feature.spectral_centroid(y=y, sr=r)\nlibrosa.yin(y, fmin=30, fmax=3500, sr=r)\n")

WATCH_S = 0.1


def rendered(preset: str, folder: Path, *, repeat: int) -> Path:
    harp = load_instrument(preset)
    sweep = render_sweep(harp, string_models(harp, seed=1), recorder=Recorder(), seed=1)
    path = folder / f"{preset}.wav"
    with soundfile.SoundFile(path, "w", sweep.rate_hz, 1, "PCM_24") as out:
        for _ in range(repeat):
            out.write(np.asarray(sweep.samples))
    return path


def run(command: Sequence[str], *, cores: int) -> tuple[float, float, float]:
    """Wall time in s, processor time in s, greatest memory in MB, of one program kept to so many cores (Linux)."""
    kept, peak_mb = sorted(os.sched_getaffinity(0))[-cores:], [0.0]
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    process = subprocess.Popen(command, env={**os.environ, **ONE_THREAD}, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                               preexec_fn=lambda: os.sched_setaffinity(0, kept))
    watch = threading.Thread(target=_watch_memory, args=(process, peak_mb))
    watch.start()
    status, wall_s = process.wait(), time.perf_counter() - start
    watch.join()
    if status:
        sys.exit(f"{' '.join(command)} failed")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, peak_mb[0]


def _watch_memory(process: subprocess.Popen[bytes], peak_mb: list[float]) -> None:
    while process.poll() is None:
        peak_mb[0] = max(peak_mb[0], sum(_memory_mb(Path("/proc") / pid) for pid in _family(str(process.pid))))
        time.sleep(WATCH_S)


def _family(pid: str) -> list[str]:
    """A process and all that it started."""
    try:
        children = [child for task in Path(f"/proc/{pid}/task").iterdir() for child in (task / "children").read_text().split()]
    except OSError:  # it has just ended
        children = []
    return [pid, *(one for child in children for one in _family(child))]


def _memory_mb(process: Path) -> float:
    """Its proportional set size: what several share counts once in all."""
    try:
        lines = (process / "smaps_rollup").read_text().splitlines()
        return next(float(line.split()[1]) for line in lines if line.startswith("Pss:")) / 1024.0
    except (OSError, StopIteration):
        return 0.0


def line(label: str, length_s: float, figures: tuple[float, float, float]) -> str:
    wall_s, used_s, memory_mb = figures
    return f"| {label} | {length_s:.0f} | {wall_s:.1f} | {used_s:.1f} | 1/{length_s / wall_s:.0f} | {memory_mb:.0f} |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="*", type=Path)
    parser.add_argument("--instrument", default="pedal-47")
    parser.add_argument("--cores", type=int, default=1)
    parser.add_argument("--repeat", type=int, default=1)
    parser.add_argument("--plain", action="store_true")
    args = parser.parse_args()
    print("| recording | length s | wall s | processor s | of the length | memory MB |\n|---|---:|---:|---:|---:|---:|")
    with tempfile.TemporaryDirectory() as folder:
        jobs = [(path, args.instrument) for path in args.files]
        jobs = jobs or [(rendered(preset, Path(folder), repeat=args.repeat), preset) for preset in ("pedal-47", "lever-34")]
        for path, instrument in jobs:
            length_s, out = soundfile.info(path).duration, str(Path(folder) / "out.json")
            program = "from toneprobe.cli import main; main()"
            measure = [sys.executable, "-c", program, "measure", str(path), "--instrument", instrument, "--json", out]
            print(line(path.name, length_s, run(measure, cores=args.cores)), flush=True)
            if args.plain:
                plain = [sys.executable, "-c", PLAIN, str(path)]
                print(line(f"{path.name}, librosa alone", length_s, run(plain, cores=args.cores)), flush=True)


if __name__ == "__main__":
    main()

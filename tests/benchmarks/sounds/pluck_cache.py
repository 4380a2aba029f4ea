"""Measurements of many plucks, in N_JOBS processes, kept on disk until the measuring code or the recipe changes."""

import hashlib
import os
import pickle
import tempfile
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import toneprobe

N_JOBS = 2
PARTS = ("audio", "instrument", "measure", "synth")  # and what lies beside these rooms: units, limits, medians


def source_mark() -> str:
    """A text that changes with the measuring code, the string model and the bench's own recipes."""
    home, mark = Path(toneprobe.__file__).parent, hashlib.sha256()
    recipes = ("digital_faults", "disturbances", "real_plucks", "real_sweeps", "model_plucks")
    files = [*sorted(home.glob("*.py")), *(file for part in PARTS for file in sorted((home / part).rglob("*.py")))]
    for file in [*files, *(Path(__file__).with_name(f"{recipe}.py") for recipe in recipes)]:
        mark.update(file.read_bytes())
    return mark.hexdigest()[:16]


def measure_all(recipes: Iterable, measure: Callable, *, n_jobs: int = N_JOBS) -> dict:
    """recipe → measurement, for hashable recipes whose repr says everything."""
    folder = Path(tempfile.gettempdir()) / "toneprobe-fault-bench"
    folder.mkdir(exist_ok=True)
    file = folder / f"{measure.__name__}-{source_mark()}.pickle"
    known = pickle.loads(file.read_bytes()) if file.exists() else {}
    wanted = list(dict.fromkeys(recipes))
    missing = [recipe for recipe in wanted if repr(recipe) not in known]
    try:
        with ProcessPoolExecutor(n_jobs, initializer=_one_thread) as pool:
            for recipe, measured in zip(missing, pool.map(measure, missing, chunksize=8), strict=True):
                known[repr(recipe)] = measured
    finally:  # what was measured is kept, also where the bench is stopped
        if missing:
            _keep(file, known)
    return {recipe: known[repr(recipe)] for recipe in wanted}


def _keep(file: Path, known: dict) -> None:
    part = file.with_suffix(f".{os.getpid()}")
    part.write_bytes(pickle.dumps(known))
    part.replace(file)


def _one_thread() -> None:
    os.environ["OMP_NUM_THREADS"] = "1"

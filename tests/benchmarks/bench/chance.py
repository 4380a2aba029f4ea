"""False alarms by chance alone, counted on sweeps drawn from a statistical model: more readings than recordings could give."""

from collections import Counter
from dataclasses import replace

import numpy as np
from sounds.drawn_plucks import DrawnSweep, Recorder, Takes, draw_harp, draw_sweep, shorten, stray

from toneprobe.baseline import fresh_baseline
from toneprobe.condition.judgement import judge
from toneprobe.instrument import load_instrument
from toneprobe.session.sweep import read_sweep

CASES = {
    "usual takes": DrawnSweep(),
    "takes half as steady again": DrawnSweep(takes=Takes(0.33, 0.09, 0.18, 1.2, 4.5, 1.5)),
    "another microphone": DrawnSweep(recorder=Recorder(-3.0, 6.0)),
    "15 cents flat": DrawnSweep(cents=-15.0),
}
N_SWEEPS = 10


def chance_table() -> list[str]:
    """Per case and plucks a string: readings, called, alarms a sweep; and what a third of bad strings does to the others."""
    lines = [f"{'drawn sweeps of 47 healthy strings':<40}{'plucks':>7}{'readings':>10}{'called':>8}{'a sweep':>9}"]
    for name, how in CASES.items():
        for n in (1, 2, 3) if name == "usual takes" else (2,):
            verdicts = sum((_verdicts(seed, replace(how, n_each=n)) for seed in range(N_SWEEPS)), Counter())
            lines.append(_line(name, n, verdicts))
    beside = sum((_verdicts(seed, DrawnSweep(), n_bad=16) for seed in range(N_SWEEPS)), Counter())
    return [*lines, _line("beside a third of bad strings", 2, beside)]


def _line(name: str, n: int, verdicts: Counter) -> str:
    called = verdicts["dead"] + verdicts["false"]
    return f"{name:<40}{n:>7}{verdicts.total():>10}{called:>8}{called / N_SWEEPS:>9.2f}"


def _verdicts(seed: int, how: DrawnSweep, n_bad: int = 0) -> Counter:
    """Verdicts on the healthy strings."""
    instrument, rng = load_instrument("pedal-47"), np.random.default_rng(seed)
    strings = draw_harp(instrument, seed)
    fresh = fresh_baseline([draw_sweep(strings, DrawnSweep(n_each=3), 1000 + seed)])
    bad = set(rng.choice(list(strings), n_bad, replace=False).tolist())
    later = {name: stray(shorten(s, 0.5), 5.0, rng) if name in bad else s for name, s in strings.items()}
    judgement = judge(read_sweep(draw_sweep(later, how, 2000 + seed)), fresh, instrument=instrument)
    return Counter(c.verdict for c in judgement.conditions if c.string not in bad)

"""Healthy harps swept twice: how many strings are called anything else: python tests/benchmarks/healthy_sweeps.py [SEED ...]

The string model's 47-string harp (each seed another set of strings on the one soundboard), two plucks a string, fresh and later, each sweep
heard whole with every string ringing into the next, at the demo's pace and at twice its time; the later player differs a little in strength
and place, and tunes anew.
"""

import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from toneprobe.audio import recording_from_samples
from toneprobe.baseline import fresh_baseline
from toneprobe.condition.judgement import judge
from toneprobe.hearing import hear
from toneprobe.instrument import Instrument, load_instrument
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.session.sweep import read_sweep
from toneprobe.synth.faults import detune
from toneprobe.synth.recorder import Recorder
from toneprobe.synth.string_model import string_models
from toneprobe.synth.sweep import Player, register_gap_s, render_sweep

SEEDS = (7, 8, 9, 10, 11, 12)
TUNING_CENTS = 1.5
PLAYERS = (Player(n_each=2, strength=0.5, place=0.36), Player(n_each=2, strength=0.65, place=0.33))  # fresh, later
VERDICTS = ("sound", "unsure", "watch", "dead", "false", "unheard")


def swept(harp: Instrument, seed: int, later: bool, slower: float) -> tuple[PluckMeasurement, ...]:
    rng = np.random.default_rng([seed, later])
    models = {name: detune(model, rng.normal(0.0, TUNING_CENTS)) for name, model in string_models(harp, seed=seed).items()}
    usual = PLAYERS[later]
    player = Player(n_each=usual.n_each, strength=usual.strength, place=usual.place, gap_s=lambda spec: slower * register_gap_s(spec))
    sweep = render_sweep(harp, models, player=player, recorder=Recorder(), seed=100 * seed + later)
    return hear(recording_from_samples(sweep.samples, sweep.rate_hz), harp).plucks


def verdicts(case: tuple[int, float]) -> Counter:
    seed, slower = case
    harp = load_instrument("pedal-47", tuning="flats")
    fresh, later = (swept(harp, seed, later, slower) for later in (False, True))
    judged = judge(read_sweep(later), fresh_baseline([fresh]), instrument=harp)
    return Counter(condition.verdict for condition in judged.conditions)


def main(seeds: list[int]) -> None:
    cases = [(seed, slower) for slower in (0.75, 1.5) for seed in seeds]
    print(f"{'harp':<8}{'pace':>6}" + "".join(f"{word:>9}" for word in VERDICTS))
    with ProcessPoolExecutor(2) as pool:
        for (seed, slower), counted in zip(cases, pool.map(verdicts, cases), strict=True):
            print(f"{seed:<8}{slower:>6}" + "".join(f"{counted[word]:>9}" for word in VERDICTS), flush=True)


if __name__ == "__main__":
    main([int(seed) for seed in sys.argv[1:]] or list(SEEDS))

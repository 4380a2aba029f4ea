"""How many beats are taken for the answer of another string: python tests/benchmarks/answering.py [SEED ...]

Sweeps of the string model's 47-string harp, each seed another set of strings on the one soundboard, with sympathy from none to ten times
the usual: what is said to answer where none is, is chance, for two polarisations may lie where another string has a partial. Beside it the
takes of a real lever harp, whose truth is not known; these need the recordings of real plucks beside the project.
"""

import sys
from collections.abc import Sequence

from sounds import real_sweeps as real

from toneprobe.audio import Recording, recording_from_samples
from toneprobe.hearing import hear
from toneprobe.instrument import Instrument, load_instrument
from toneprobe.synth.recorder import Recorder
from toneprobe.synth.string_model import string_models
from toneprobe.synth.sweep import Player, render_sweep

SYMPATHIES = (0.0, 1.0, 3.0, 10.0)
SEEDS = (7, 8, 9)


def counted(recording: Recording, instrument: Instrument) -> tuple[int, int]:
    """Beats in partials, and those that another string answers for."""
    beats = [one for pluck in hear(recording, instrument).plucks for one in pluck.partials if one.beat_hz is not None]
    return len(beats), sum(one.answered_by is not None for one in beats)


def of_model(sympathy: float, seeds: Sequence[int]) -> tuple[int, int]:
    harp, rows = load_instrument("pedal-47"), []
    for seed in seeds:
        sweep = render_sweep(harp, string_models(harp, seed=seed), player=Player(sympathy=sympathy), recorder=Recorder(), seed=seed)
        rows.append(counted(recording_from_samples(sweep.samples, sweep.rate_hz), harp))
    return sum(row[0] for row in rows), sum(row[1] for row in rows)


def of_lever_harp(hand: str, take: int) -> tuple[int, int]:
    files = real.lever(hand, take)
    sweep = real.sweep_of(files, real.downwards(files), gap_s=lambda _: 6.0, seed=2)
    return counted(recording_from_samples(sweep.samples, real.RATE_HZ), real.lever_harp())


def main() -> None:
    seeds = [int(seed) for seed in sys.argv[1:]] or SEEDS
    print(f"{'sweeps':<28}{'beats':>8}{'answered':>10}")
    for sympathy in SYMPATHIES:
        print("{:<28}{:>8}{:>10}".format(f"model, sympathy x {sympathy:g}", *of_model(sympathy, seeds)), flush=True)
    if real.available():
        for hand in ("soft", "firm"):
            for take in (1, 2):
                print("{:<28}{:>8}{:>10}".format(f"lever harp, {hand}, take {take}", *of_lever_harp(hand, take)), flush=True)


if __name__ == "__main__":
    main()

"""The string model's sweeps of 47 strings against what the model truly is: python tests/benchmarks/model_sweeps.py [SEED ...]

For each seed (another set of strings on the one soundboard, played anew) at the demo's pace, about 2.5 minutes, and with every string left
to ring twice as long, the 5 minutes that a monthly sweep takes at least: the share of strings within 0.5 cents, 10 % of B, 8 % of decay
time as it sounded and 8 % of the string's own, free of beats. Dry room, the usual noise. A figure that is missing is not within.
"""

import sys

import numpy as np
from sounds.model_truth import sounded_t60_s, strings_t60_s

from toneprobe.audio import recording_from_samples
from toneprobe.hearing import hear
from toneprobe.instrument import load_instrument
from toneprobe.synth.recorder import Recorder
from toneprobe.synth.string_model import string_models
from toneprobe.synth.sweep import Player, register_gap_s, render_sweep

COLUMNS = ("0.5 cents", "10 % of B", "8 %, sounded", "8 %, string's")


def shares(seed: int, slower: float) -> list[float]:
    """Of the 47 strings, within each of COLUMNS."""
    harp = load_instrument("pedal-47", tuning="flats")
    models = string_models(harp, seed=seed)
    player = Player(lead_s=1.0, gap_s=lambda spec: slower * register_gap_s(spec))
    sweep = render_sweep(harp, models, player=player, recorder=Recorder(room_rt60_s=0.0), seed=seed)
    played, within = {pluck.string: pluck for pluck in sweep.plucks}, []
    for pluck in hear(recording_from_samples(sweep.samples, sweep.rate_hz), harp).plucks:
        model = models[pluck.string]
        pairs = ((pluck.pitch_hz, model.f0_hz * np.sqrt(1 + model.b), 2 ** (0.5 / 1200)), (pluck.inharmonicity, model.b, 1.1),
                 (pluck.t60_s, sounded_t60_s(model, played[pluck.string]), 1.08), (pluck.t60_s, strings_t60_s(model), 1.08))
        within.append([figure.known and abs(np.log(figure.value / truth)) <= np.log(most) for figure, truth, most in pairs])
    return list(np.sum(within, axis=0) / len(harp.strings))


def main(seeds: list[int]) -> None:
    for slower in (1.0, 2.0):
        print(f"{'pace x' + format(slower, '.0f'):10}" + "".join(f"{name:>15}" for name in COLUMNS))
        rows = [shares(seed, slower) for seed in seeds]
        for seed, row in [*zip(seeds, rows, strict=True), ("all", np.mean(rows, axis=0))]:
            print(f"seed {seed!s:5}" + "".join(f"{100 * one:14.0f}%" for one in row), flush=True)


if __name__ == "__main__":
    main([int(one) for one in sys.argv[1:]] or list(range(1, 7)))

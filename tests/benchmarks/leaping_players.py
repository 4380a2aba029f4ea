"""Are plucks named where the player does not run along the harp: python tests/benchmarks/leaping_players.py [--quick]

Octave pairs (a string, then its octave), two hands in turn from the middle outwards, fifths, any order: the diatonic harp made of real
plucks (`diatonic_harp`), damped and not, 1.2 to 3 s apart, its strings within 5 or 30 cents of their notes, and the string model's harps.
Counted are plucks named rightly and named as another string, without what learns the player's leaps (`leaps`) and with it; along the harp,
both must be the same. A player who mixes runs and leaps is not among them. --quick: without the model. Takes two minutes, quick one.
"""

import argparse
from collections.abc import Sequence
from unittest import mock

import numpy as np
from sounds import diatonic_harp as diatonic
from sounds.real_sweeps import RATE_HZ, RealSweep

from toneprobe.audio import recording_from_samples
from toneprobe.identify import solve
from toneprobe.identify.whole_sweep import identify
from toneprobe.instrument import Instrument, load_instrument
from toneprobe.segment import find_spans
from toneprobe.synth import faults
from toneprobe.synth.string_model import string_models
from toneprobe.synth.sweep import Player, SweepRender, render_sweep

NEAR_S = 0.12
MODEL_GAP_S, MODEL_SEED = 1.5, 31
REAL = (  # who plays, and how: s apart, damped, cents off, seed
    ("octave pairs", ((2.0, True, 5.0, 11), (3.0, True, 30.0, 12), (1.2, False, 5.0, 13), (1.6, False, 30.0, 14))),
    ("octave pairs, upwards", ((2.5, True, 5.0, 15), (1.2, False, 30.0, 16))),
    ("hands in turn", ((2.5, True, 6.0, 17), (1.5, False, 6.0, 18), (2.5, False, 6.0, 19))),
    ("fifths", ((1.5, False, 6.0, 20),)),
    ("at random", ((1.5, False, 6.0, 21),)),
    ("along the harp", ((1.5, False, 6.0, 22),)),
)
MODEL = (("pedal-47", "flats", "octave pairs", 0.0), ("pedal-47", "flats", "hands in turn", 0.0), ("lever-34", "Eb", "octave pairs", 45.0))


def octaves(strings: Sequence[str], step: int = 7) -> list[str]:
    """Each string, the lower of a pair, before the one `step` strings above it; strings downwards."""
    return [name for low, high in zip(strings[step:], strings[:-step], strict=True) for name in (low, high)]


def outwards(strings: Sequence[str]) -> list[str]:
    """From the middle on, one hand downwards and one upwards, in turn while both have strings."""
    middle = len(strings) // 2
    down, up = list(strings[middle:]), list(strings[:middle])[::-1]
    return [name for k in range(len(down)) for name in (down[k : k + 1] + up[k : k + 1])]


def order_of(player: str, strings: Sequence[str], seed: int) -> list[str]:
    if player == "octave pairs, upwards":
        pairs = octaves(strings)
        return [name for k in range(len(pairs) - 2, -1, -2) for name in pairs[k : k + 2]]
    if player == "at random":
        return [str(name) for name in np.random.default_rng(seed).permutation(list(strings))]
    orders = {"octave pairs": octaves, "fifths": lambda names: octaves(names, 4), "hands in turn": outwards, "along the harp": list}
    return orders[player](strings)


def named(samples: np.ndarray, rate_hz: int, truth: Sequence[tuple[str, float]], harp: Instrument) -> np.ndarray:
    """Right and wrong without `leaps`, and with it."""
    recording, counts = recording_from_samples(samples, rate_hz), []
    spans = find_spans(recording)
    for learn in (lambda *_: None, solve.learn_leaps):
        with mock.patch.object(solve, "learn_leaps", learn):
            found = identify(recording, spans, harp).named
        near = [(name, [one.string.name for one in found if abs(one.span.onset_s - onset_s) < NEAR_S][:1]) for name, onset_s in truth]
        counts += [sum(heard == [name] for name, heard in near), sum(bool(heard) and heard != [name] for name, heard in near)]
    return np.array(counts)


def row(name: str, n_plucks: int, counts: np.ndarray) -> str:
    before, wrong_before, now, wrong = counts
    return f"| {name} | {n_plucks} | {before} → {now} | {wrong_before} → {wrong} |"


def real_sweep(player: str, gap_s: float, damped: bool, off_cents: float, seed: int) -> RealSweep:
    order = order_of(player, [spec.name for spec in diatonic.harp().strings], seed)
    return diatonic.sweep(order, gap_s=gap_s, damped=damped, seed=seed, off_cents=off_cents)


def model_sweep(preset: str, tuning: str, player: str, off_cents: float) -> tuple[SweepRender, Instrument]:
    harp, rng = load_instrument(preset, tuning=tuning), np.random.default_rng(MODEL_SEED)
    models = {name: faults.detune(model, float(rng.uniform(-off_cents, off_cents))) if off_cents else model
              for name, model in string_models(harp, seed=MODEL_SEED).items()}
    order = order_of(player, [spec.name for spec in harp.strings], MODEL_SEED)
    return render_sweep(harp, models, player=Player(order=tuple(order), gap_s=lambda _: MODEL_GAP_S), seed=MODEL_SEED), harp


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true")
    is_quick = parser.parse_args().quick
    print("| player | plucks | named rightly | named wrongly |\n|---|---:|---:|---:|")
    for player, hows in REAL:
        sweeps = [real_sweep(player, *how) for how in hows]
        counts = sum(named(one.samples, RATE_HZ, one.truth, diatonic.harp()) for one in sweeps)
        print(row(f"real, {player}", sum(len(one.truth) for one in sweeps), counts), flush=True)
    for preset, tuning, player, off_cents in () if is_quick else MODEL:
        sweep, harp = model_sweep(preset, tuning, player, off_cents)
        name = f"model, {preset}, {player}" + (f", up to {off_cents:g} cents off" if off_cents else "")
        print(row(name, len(sweep.truth), named(sweep.samples, sweep.rate_hz, sweep.truth, harp)), flush=True)


if __name__ == "__main__":
    main()

"""Whole sweeps of model harps in another tuning than the one given: python tests/benchmarks/told_tunings.py

Fourteen harps: pedals up, in the middle, down, single pedals moved from there; lever harps in five keys. Each is swept down, damped, and
up, two plucks a string and never damped, and named as if told three tunings. Wrong: another string, or its string at another note.
"""

from toneprobe.audio import recording_from_samples
from toneprobe.identify.whole_sweep import identify
from toneprobe.instrument import load_instrument, respelled
from toneprobe.segment import find_spans
from toneprobe.synth.string_model import string_models
from toneprobe.synth.sweep import Player, render_sweep

PEDAL = [("flats", {}), ("naturals", {}), ("sharps", {}), ("flats", {"E": ""}), ("flats", {"D": ""}), ("flats", {"B": ""}),
         ("naturals", {"F": "#"}), ("naturals", {"B": "b", "E": "b"}), ("naturals", {"B": "b", "E": "b", "A": "b"})]
LEVER = [(key, {}) for key in ("Eb", "C", "G", "F", "Ab")]
HARPS = [("pedal-47", *one, ("flats", "naturals", "sharps")) for one in PEDAL] + [("lever-34", *one, ("Eb", "C", "G")) for one in LEVER]
PLAYERS = {"down": Player(), "up, undamped": Player(direction="up", n_each=2, damped=False)}
NEAR_S = 0.15


def main() -> None:
    for seed, (preset, tuning, moved, asked) in enumerate(HARPS, start=1):
        harp = respelled(load_instrument(preset, tuning=tuning), moved, set_by_hand=False)
        notes, models = {string.name: string.note for string in harp.strings}, string_models(harp, seed=seed)
        for way, player in PLAYERS.items():
            sweep = render_sweep(harp, models, player=player, seed=seed)
            recording = recording_from_samples(sweep.samples, sweep.rate_hz)
            spans = find_spans(recording)
            for told in asked:
                found = identify(recording, spans, load_instrument(preset, tuning=told))
                heard = [[one.string for one in found.named if abs(one.span.onset_s - onset_s) < NEAR_S] for _, onset_s in sweep.truth]
                wrong = sum(bool(near) and (near[0].name, near[0].note) != (name, notes[name])
                            for near, (name, _) in zip(heard, sweep.truth, strict=True))
                missed, invented = sum(not near for near in heard), len(found.named) - sum(bool(near) for near in heard)
                changed = ", ".join(letter + to for letter, to in moved.items())
                print(f"{preset} in {tuning:8} {changed:10} told {told:8} {way:13} {len(heard):3} plucks: {wrong} wrong, {missed} missed, "
                      f"{invented} invented", flush=True)


if __name__ == "__main__":
    main()

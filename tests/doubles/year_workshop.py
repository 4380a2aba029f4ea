"""Recordings of a six-string harp, joined from single strings of the string model, so that a year of sweeps is cheap to play."""

import zlib
from collections import Counter
from dataclasses import replace

import numpy as np
import soundfile

from toneprobe.instrument import Instrument, load_instrument
from toneprobe.synth.faults import age, detune
from toneprobe.synth.recorder import Recorder
from toneprobe.synth.string_model import string_model, string_models
from toneprobe.synth.sweep import Player, render_sweep

NAMES = ("3E", "3D", "3C", "3B", "3A", "3G")
NOTES = ("E5", "D5", "C5", "B4", "A4", "G4")
PLAYER = Player(gap_s=lambda spec: 1.3, lead_s=0.3)
RECORDER = Recorder(noise_db=None, gain_db=6.0)
NOISE_DB = -75.0
LEAD_S = 1.0
RENDERED = {}  # the plucks of all workshops


class Workshop:
    """Plays the harp into files. The same thing played for the first time has the same noise in every workshop, and is heard once by all.

    What is on a position is a name of a kind: "first", "second", …, "worn" (rings a fifth as long), "dulled to 0.8" (rings so much of it).
    """

    def __init__(self, folder, *, names=NAMES, notes=NOTES, material="nylon"):
        self.folder, self.names = folder, names
        self.harp_file = folder / "plover.toml"
        rows = "".join(f'[[strings]]\nname = "{name}"\nnote = "{note}"\nmaterial = "{material}"\n'
                       for name, note in zip(names, notes, strict=True))
        self.harp_file.write_text(f'name = "plover"\na4_hz = 440.0\n{rows}', encoding="utf-8")
        self.harp: Instrument = load_instrument(self.harp_file)
        self.healthy = string_models(self.harp, seed=5)
        self.played = Counter()

    def sweep(self, on):
        """Two plucks of every string; `on` by position."""
        return self._write([(name, on.get(name, "first"), 2, 0.0) for name in self.names])

    def check(self, kind, cents, *, string="3D", neighbours=("3E", "3C")):
        """One pluck of a string that is so many cents off its note, and of its neighbours, which are in tune."""
        return self.retuned(kind, (cents,), string=string, neighbours=neighbours)

    def retuned(self, kind, all_cents, *, string="3D", neighbours=("3E", "3C")):
        """The same, with a pluck of the string at each of several pitches, one after the other, as while its pin is turned."""
        order = [name for name in self.names if name == string or name in neighbours]
        parts = {string: [(string, kind, 1, cents) for cents in all_cents]}
        return self._write([part for name in order for part in parts.get(name) or [(name, "first", 1, 0.0)]])

    def _model(self, name, kind):
        spec = next(spec for spec in self.harp.strings if spec.name == name)
        if kind == "first":
            return self.healthy[name]
        if kind == "worn":
            return age(self.healthy[name], 0.2)
        if kind.startswith("dulled to "):
            return age(self.healthy[name], float(kind.split()[-1]))
        return string_model(spec, seed=sum(map(ord, kind)))

    def _plucks(self, name, kind, n_each, cents):
        """The same plucks sound again and again over a year: each is rendered once."""
        asked = self.harp, name, kind, n_each, cents
        if asked not in RENDERED:
            models, player = {**self.healthy, name: detune(self._model(name, kind), cents)}, replace(PLAYER, order=(name,), n_each=n_each)
            RENDERED[asked] = render_sweep(self.harp, models, player=player, recorder=RECORDER, seed=n_each).samples
        return RENDERED[asked]

    def _write(self, parts):
        what = zlib.crc32(repr(parts).encode())
        self.played[what] += 1
        rng, rate_hz = np.random.default_rng([what, self.played[what]]), RECORDER.rate_hz
        sound = np.concatenate([np.zeros(int(LEAD_S * rate_hz)), *(self._plucks(*part) for part in parts), np.zeros(rate_hz)])
        path = self.folder / f"{self.played.total():02}.flac"
        soundfile.write(path, sound + 10.0 ** (NOISE_DB / 20.0) * rng.standard_normal(len(sound)), rate_hz, subtype="PCM_24")
        return path

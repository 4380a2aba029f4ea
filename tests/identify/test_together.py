"""Two strings plucked at once: refused, neither measured; strings that sound alone are never taken for two."""

from __future__ import annotations

import numpy as np
import pytest
from sounds import real_sweeps as real
from sounds.formula_plucks import render
from sounds.formula_sweeps import pluck_of, sweep_of

from toneprobe.audio import recording_from_samples
from toneprobe.identify.named import Identification
from toneprobe.identify.whole_sweep import identify
from toneprobe.instrument import Instrument, load_instrument
from toneprobe.segment import find_spans
from toneprobe.synth.recorder import Recorder
from toneprobe.synth.string_model import string_models
from toneprobe.synth.sweep import Player, render_sweep

RATE_HZ = 22050
HARP = load_instrument("pedal-47", tuning="naturals")
OCTAVE = ("3E", "3D", "3C", "3B", "3A", "3G", "3F", "4E", "4D", "4C")


def heard(samples: np.ndarray, harp: Instrument = HARP, rate_hz: int = RATE_HZ) -> Identification:
    recording = recording_from_samples(samples, rate_hz)
    return identify(recording, find_spans(recording), harp)


def with_another(sweep, name: str, place: int, *, gain: float = 1.0, late_s: float = 0.0) -> np.ndarray:
    """The sweep with one more string plucked together with that at `place`."""
    spec = next(string for string in HARP.strings if string.name == name)
    samples = sweep.samples.copy()
    start = round((sweep.truth[place][1] + late_s) * RATE_HZ)
    other = gain * render(pluck_of(spec, seed=99), rate_hz=RATE_HZ, length_s=0.9, pre_s=0.0, snr_db=None)
    other[-3000:] *= np.linspace(1.0, 0.0, 3000)
    samples[start : start + len(other)] += other
    return samples


@pytest.mark.parametrize("other, gain, late_s", [("3G", 1.0, 0.0), ("4E", 1.0, 0.0), ("3E", 1.0, 0.0), ("3G", 0.5, 0.0),
                                                 ("3C", 1.0, 0.03), ("4B", 0.5, 0.03)])
def test_two_at_once_are_refused_by_name(other, gain, late_s):
    """2 semitones below 3A, 3 above, 5 below, 7 above, 10 below."""
    sweep = sweep_of(HARP, OCTAVE)
    found = heard(with_another(sweep, other, OCTAVE.index("3A"), gain=gain, late_s=late_s))
    reasons = [one.reason for one in found.rejected if one.span.onset_s == pytest.approx(sweep.truth[4][1], abs=0.04)]
    assert len(reasons) == 1 and "sound at once" in reasons[0]
    assert "3A" in reasons[0] or other in reasons[0]
    assert [one.span.onset_s for one in found.named] == pytest.approx([at for name, at in sweep.truth if name != "3A"], abs=0.01)
    assert "3A" in {string.name for string in found.unheard}


@pytest.mark.parametrize("damped", [True, False])
def test_strings_that_ring_on_are_not_plucked_with_it(damped):
    sweep = sweep_of(HARP, OCTAVE, damped=damped, t60_s=8.0)
    assert heard(sweep.samples).rejected == ()


def test_a_false_string_is_not_two():
    """Partials 20 cents rms astray."""
    astray = tuple(np.random.default_rng(1).normal(0.0, 20.0, 20))
    sweep = sweep_of(HARP, OCTAVE, astray_cents=astray)
    assert not [one for one in heard(sweep.samples).rejected if "at once" in one.reason]


def test_a_beating_string_is_not_two():
    sweep = sweep_of(HARP, OCTAVE, split_hz=4.0, split_ratio=0.8)
    assert heard(sweep.samples).rejected == ()


def test_an_octave_cannot_be_told():
    sweep = sweep_of(HARP, OCTAVE)
    found = heard(with_another(sweep, "2A", OCTAVE.index("3A"), gain=0.7))
    assert [one.string.name for one in found.named] == list(OCTAVE)


@pytest.mark.skipif(not real.available(), reason="the recordings of real plucks are not beside the project")
def test_real_pairs_are_refused_and_real_plucks_are_not():
    files = real.lever("firm", 1)
    notes = real.downwards(files)
    alone, others = (real.sweep_of(files, part, gap_s=lambda note: 2.0) for part in (notes[:-1], notes[1:]))
    n = min(len(alone.samples), len(others.samples))
    single, pairs = (heard(samples, real.lever_harp(), real.RATE_HZ) for samples in (alone.samples, alone.samples[:n] + others.samples[:n]))
    assert not [one for one in single.rejected if "at once" in one.reason] and len(single.named) == len(notes) - 1
    refused = [one for one in pairs.rejected if "at once" in one.reason]
    assert len(refused) >= 0.8 * (len(notes) - 1)
    assert len(pairs.named) <= 0.2 * (len(notes) - 1)


def test_the_thump_of_the_body_is_no_string():
    """A dry, close recording of the string model: the board's resonances are knocked at each pluck, most heard under the top strings."""
    harp = load_instrument("pedal-47")
    names = tuple(spec.name for spec in harp.strings[:6])
    player = Player(order=names, gap_s=lambda spec: 1.0, lead_s=0.5)
    sweep = render_sweep(harp, string_models(harp, seed=1), player=player, recorder=Recorder(room_rt60_s=0.0), seed=1)
    found = heard(sweep.samples, harp, sweep.rate_hz)
    assert [one.string.name for one in found.named] == list(names)

"""Two strings plucked at once: refused, neither measured; strings that sound alone are never taken for two.

First in sweeps that are heard, then by lines put where stiff strings have them (Fletcher 1964), sum tones where Conklin (1999) found them.
"""

import numpy as np
import pytest
from sounds import real_sweeps as real
from sounds.formula_plucks import render
from sounds.formula_sweeps import pluck_of, sweep_of

from toneprobe.audio import recording_from_samples
from toneprobe.identify.likeness import NewLines
from toneprobe.identify.named import Identification
from toneprobe.identify.together import second_string
from toneprobe.identify.whole_sweep import identify
from toneprobe.instrument import Instrument, StringSpec, load_instrument, string_expected_b
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


@pytest.mark.parametrize("strings", [{"damped": True, "t60_s": 8.0}, {"damped": False, "t60_s": 8.0},
                                     {"split_hz": 4.0, "split_ratio": 0.8}])
def test_strings_that_ring_on_are_not_plucked_with_it_and_a_beating_string_is_not_two(strings):
    sweep = sweep_of(HARP, OCTAVE, **strings)
    assert heard(sweep.samples).rejected == ()


def test_a_false_string_is_not_two():
    """Partials 20 cents rms astray."""
    astray = tuple(np.random.default_rng(1).normal(0.0, 20.0, 20))
    sweep = sweep_of(HARP, OCTAVE, astray_cents=astray)
    assert not [one for one in heard(sweep.samples).rejected if "at once" in one.reason]


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


NOTES = {"4C": ("C4", 261.626), "3G": ("G4", 391.995), "3B": ("B4", 493.883), "3C": ("C5", 523.251)}
FOUR = tuple(StringSpec(name, note, hz, "gut") for name, (note, hz) in NOTES.items())
NAMED = FOUR[0]


def partials_hz(spec, n=12):
    k, b = np.arange(1, n + 1), string_expected_b(spec)[0]
    return spec.expected_hz * k * np.sqrt((1.0 + b * k**2) / (1.0 + b))


def lines_at(*groups):
    """Groups of (Hz, dB), laid together; lines nearer than 8 Hz to a louder one are one with it."""
    rows = sorted(((hz, db) for group, db in groups for hz in group), key=lambda row: -row[1])
    kept = []
    for hz, db in rows:
        if all(abs(hz - other) > 8.0 for other, _ in kept):
            kept.append((hz, db))
    hz, db = np.array(sorted(kept)).T
    return NewLines(hz, db, 4.0, 1.0, np.zeros(10000, bool), 1.0)


def other_in(*groups, harp=FOUR):
    other = second_string(lines_at(*groups), NAMED, NAMED.expected_hz, harp)
    return other.name if other else None


OWN = (partials_hz(NAMED), 30.0)


def test_a_string_that_sounds_alone_explains_its_lines():
    assert other_in(OWN) is None


@pytest.mark.parametrize("other", ["3G", "3B"])
@pytest.mark.parametrize("db", [30.0, 18.0])
def test_another_string_is_known_by_the_lines_that_are_left(other, db):
    spec = next(one for one in FOUR if one.name == other)
    assert other_in(OWN, (partials_hz(spec), db)) == other
    assert other_in(OWN, (partials_hz(spec), db), harp=(NAMED,)) is None  # no string of this instrument


def test_where_nothing_was_brought_no_string_was():
    none = NewLines(np.zeros(0), np.zeros(0), 4.0, 0.0, np.zeros(10000, bool), 1.0)
    assert second_string(none, NAMED, NAMED.expected_hz, FOUR) is None


def test_an_octave_shares_its_lines():
    assert other_in(OWN, (partials_hz(FOUR[3]), 30.0)) is None


def test_an_octave_somewhat_out_of_tune_is_still_covered():
    """70 cents sharp its lines lie beside the others, and are those of no fourth or fifth."""
    assert other_in(OWN, (partials_hz(FOUR[3]) * 2.0 ** (70.0 / 1200.0), 30.0), harp=(NAMED, FOUR[3])) is None


@pytest.mark.parametrize("cents", [30.0, -30.0])
def test_a_false_strings_partials_are_its_own(cents):
    """Every third one 30 cents off, as no even string has them."""
    stray = OWN[0] * 2.0 ** (np.where(np.arange(12) % 3 == 2, cents, 0.0) / 1200.0)
    assert other_in((stray, 30.0)) is None


def test_sum_tones_of_its_partials_are_no_second_string():
    """Of a stiff treble string too, whose high partials they lie far below."""
    hz = OWN[0]
    assert other_in(OWN, (np.unique(np.add.outer(hz, hz)[np.triu_indices(12)]), 28.0)) is None
    harp = load_instrument("pedal-47", tuning="naturals").strings
    for named in (one for one in harp if one.name in ("2C", "3C")):
        stiff, b = np.arange(1, 11), 2.0 * string_expected_b(named)[0]
        hz = named.expected_hz * stiff * np.sqrt((1.0 + b * stiff**2) / (1.0 + b))
        lines = lines_at((hz, 30.0), (np.unique(np.add.outer(hz, hz)[np.triu_indices(10)]), 28.0))
        assert second_string(lines, named, named.expected_hz, harp) is None


def test_lines_that_are_those_of_no_string_are_no_second_string():
    """A rail that rings: a free bar's modes, as 9, 25, 49, 81 and 121 (Euler and Bernoulli, from memory)."""
    assert other_in(OWN, (51.0 * np.array([9.0, 25.0, 49.0, 81.0, 121.0]) / 0.97, 30.0)) is None


def test_three_lines_left_are_a_few_resonances_of_the_body():
    third = partials_hz(FOUR[1])
    alone = [hz for hz in third if np.abs(OWN[0] - hz).min() > 30.0]
    assert other_in(OWN, (alone[:3], 30.0)) is None and other_in(OWN, (alone[:4], 30.0)) == "3G"


def test_faint_lines_left_are_no_second_string():
    """Four of 3 dB beside twelve of 30 are 3 % of all that was brought; single real plucks leave up to 3.5 % so (measured)."""
    alone = [hz for hz in partials_hz(FOUR[1]) if np.abs(OWN[0] - hz).min() > 30.0]
    assert other_in(OWN, (alone[:4], 3.0)) is None

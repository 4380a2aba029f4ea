"""A whole sweep of the string model, 47 strings in flats, against what the model truly is.

Dry room, usual noise, plucks and sympathetic neighbours. What is true: pitch f0·√(1 + B) and B as the model has them, without the small
scatter of single partials that it also has; decay time as in `model_truth`. More seeds and another pace: tests/benchmarks/model_sweeps.py.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pytest
from sounds.model_truth import sounded_t60_s, strings_t60_s

from toneprobe.audio import recording_from_samples
from toneprobe.hearing import Heard, hear
from toneprobe.instrument import load_instrument
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.synth.decay_time import true_t60_s
from toneprobe.synth.recorder import Recorder
from toneprobe.synth.string_model import StringModel, string_models
from toneprobe.synth.sweep import Player, SweepRender, render_sweep
from toneprobe.synth.truth import true_partials


@dataclass(frozen=True)
class Case:
    models: Mapping[str, StringModel]
    sweep: SweepRender
    heard: Heard

    def __iter__(self):
        """Measured plucks with their string's model."""
        return ((pluck, self.models[pluck.string]) for pluck in self.heard.plucks)


@pytest.fixture(scope="module")
def case():
    harp = load_instrument("pedal-47", tuning="flats")
    models = string_models(harp, seed=1)
    sweep = render_sweep(harp, models, player=Player(lead_s=1.0), recorder=Recorder(room_rt60_s=0.0), seed=1)
    return Case(models, sweep, hear(recording_from_samples(sweep.samples, sweep.rate_hz), harp))


def share_within(errors, allowed: float) -> float:
    """A figure that is missing is not within."""
    return float(np.mean([error is not None and abs(error) <= allowed for error in errors]))


def test_all_47_are_named_and_none_invented(case):
    assert [pluck.string for pluck in case.heard.plucks] == [name for name, _ in case.sweep.truth]
    assert len(case.heard.plucks) == 47 and case.heard.identification.unheard == ()
    late_s = np.array([pluck.onset_s for pluck in case.heard.plucks]) - np.array([onset_s for _, onset_s in case.sweep.truth])
    assert np.abs(late_s).max() < 0.010


def test_pitch(case):
    errors = [1200 * np.log2(pluck.pitch_hz.value / (model.f0_hz * np.sqrt(1 + model.b))) for pluck, model in case]
    assert share_within(errors, 0.5) >= 0.9  # cents
    assert np.abs(errors).max() < 1.5


def test_inharmonicity(case):
    errors = [pluck.inharmonicity.value and np.log(pluck.inharmonicity.value / model.b) for pluck, model in case]
    assert share_within(errors, np.log(1.1)) >= 0.9


def test_decay_time(case):
    played = {pluck.string: pluck for pluck in case.sweep.plucks}
    errors = [pluck.t60_s.value and np.log(pluck.t60_s.value / sounded_t60_s(model, played[pluck.string])) for pluck, model in case]
    assert share_within(errors, np.log(1.08)) >= 0.85  # 81 to 96 % of six such harps' strings (model_sweeps.py); the rest beat slowly
    assert abs(np.median(errors)) < 0.03


def test_decay_time_is_the_strings(case):
    """What slow beats of the two polarisations make of one pluck is in this too."""
    errors = [pluck.t60_s.value and np.log(pluck.t60_s.value / strings_t60_s(model)) for pluck, model in case]
    assert share_within(errors, np.log(1.12)) >= 0.9
    assert abs(np.median(errors)) < 0.03


def test_decay_time_runs_as_the_models_own(case):
    """Another definition, from the same physics: over the harp both run alike."""
    ratios = np.log([pluck.t60_s.value / true_t60_s(model) for pluck, model in case])
    assert np.corrcoef(np.log([pluck.t60_s.value for pluck, _ in case]), np.log([true_t60_s(model) for _, model in case]))[0, 1] > 0.97
    assert -0.6 < np.median(ratios) < 0.1


def test_partials_decay_as_they_truly_do(case):
    """Each on its own differs where its two polarisations beat; all together they do not."""
    errors = []
    for pluck, model in case:
        partials = true_partials(model, 8)
        errors += [np.log(one.t60_s / partials.t60_s[one.n - 1]) for one in pluck.partials
                   if one.n <= 8 and one.t60_s is not None and one.level_db > -30.0]
    assert abs(np.median(errors)) < 0.06
    assert share_within(errors, 0.25) > 0.85


def test_healthy_strings_are_true(case):
    """The model's partials stray by 0.15 to 0.4 cents."""
    found = [pluck.trueness_cents.value for pluck, _ in case if pluck.trueness_cents.known]
    assert len(found) >= 40 and np.median(found) < 1.0


def test_no_glide_is_made_up(case):
    glides: list[PluckMeasurement] = [pluck for pluck, _ in case]
    assert np.median([pluck.glide_cents.value for pluck in glides]) < 6.0

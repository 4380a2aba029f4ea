"""What all strings share, told with the right sign and size: on sweeps whose shared movement is put in here."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from toneprobe.condition.common_cause import CommonCause, has_level, is_shared_loss
from toneprobe.condition.common_words import common_warnings
from toneprobe.condition.sweep_noise import SweepNoise
from toneprobe.instrument import StringSpec
from toneprobe.measure.figure import Figure
from toneprobe.session.reading import SweepReading
from toneprobe.session.sweep import pitch_level

UNKNOWN = Figure(None, None, "not asked here")
NOTHING = CommonCause()


@pytest.mark.parametrize(("cents", "a4_hz", "said"), [
    (-39.2, 440.0, "39 cents flat of A = 440 Hz (about A = 430.1 Hz)"),  # 440·2^(−39.2/1200) (derived here)
    (7.85, 440.0, "8 cents sharp of A = 440 Hz (about A = 442.0 Hz)"),  # 1200·log2(442/440) = 7.85
    (-19.6, 442.0, "20 cents flat of A = 442 Hz (about A = 437.0 Hz)"),  # 1200·log2(437/442) = −19.7
])
def test_a_harp_that_lies_flat_is_said_to_lie_at_a_lower_a(cents, a4_hz, said):
    cause = replace(NOTHING, pitch_level=Figure(cents, 0.3))
    told, = common_warnings(cause, noise=SweepNoise(3.0, UNKNOWN), a4_hz=a4_hz)
    assert said in told


@pytest.mark.parametrize(("cents", "is_said"), [
    ([0.0] * 4 + [-100.0] * 3 + [-1200.0], False), ([1.0] * 20 + [-101.0] * 20, False),  # the middles, −50, lie where no string does
    ([-50.0] * 7 + [-150.0], True), ([-30.0, -45.0, -60.0, -80.0, 0.0], True)])  # two of five within 25 of the middle one
def test_a_level_between_two_groups_of_strings_is_not_said_to_be_the_harps(cents, is_said):
    readings = {str(k): SimpleNamespace(figures={"cents_off": Figure(one, 0.5)}) for k, one in enumerate(cents)}
    sweep = SweepReading(readings, pitch_level_cents=pitch_level(readings.values()))
    assert sweep.pitch_level_cents.known
    cause = replace(NOTHING, pitch_level=sweep.pitch_level_cents, has_level=has_level(sweep))
    assert len(common_warnings(cause, noise=SweepNoise(3.0, UNKNOWN), a4_hz=440.0)) == is_said


@pytest.mark.parametrize(("log_decay", "se", "said"), [
    (0.29, 0.05, "25 % shorter"), (-0.29, 0.05, "34 % longer"),  # 1 − e^−0.29 and e^0.29 − 1
    (0.29, 0.15, None), (-0.29, 0.15, None),  # not two errors: chance
    (0.05, 0.01, None), (-0.05, 0.01, None),  # sure and small
])
def test_what_is_said_of_the_common_ring_and_what_is_put_down_to_it_rest_on_one_limit(log_decay, se, said):
    shared = Figure(log_decay, se)
    told = [text for text in common_warnings(replace(NOTHING, decay=shared), noise=SweepNoise(3.0, UNKNOWN), a4_hz=440.0)
            if text.startswith("Most strings ring")]
    assert [said in text for text in told] == [True] * (said is not None)
    assert is_shared_loss(shared) == (said is not None and log_decay > 0.0)


def test_what_each_material_moved_is_told_as_it_is_and_not_against_the_rest(judged, harp):
    """All strings fell since the fresh sweep, those of nylon by 3 cents and the others by 15: none rose."""
    nylon = {spec.name for spec in harp.strings if spec.material == "nylon"}
    judgement = judged(lambda name, s: replace(s, cents=-3.0 if name in nylon else -15.0))
    moved = judgement.common.material_cents
    assert set(moved) >= {spec.material for spec in harp.strings} - {"nylon"}
    assert all(cents == pytest.approx(-15.0, abs=1.5) for material, cents in moved.items() if material != "nylon")
    assert not any("cents up" in text for text in judgement.warnings)


@pytest.mark.parametrize(("material", "level"), [("nylon", -25.0), ("wire", 3.0), ("gut", -4.0), (None, -4.0)])
def test_a_string_belongs_at_its_materials_level_where_the_materials_lie_apart_and_else_at_the_harps(material, level):
    cause = replace(NOTHING, pitch_level=Figure(-4.0, 0.3), level_of_material={"nylon": Figure(-25.0, 1.0), "wire": Figure(3.0, 1.0)})
    assert cause.level_for(StringSpec("3A", "A4", 440.0, material)).value == level


def test_no_ring_is_said_to_be_lost_whole():
    """1 − e^−7 is 99.9 %: as "100 %" no string would be left."""
    told, = common_warnings(replace(NOTHING, room_doubt={"0G": {"all": 7.0}}), noise=SweepNoise(3.0, UNKNOWN), a4_hz=440.0)
    assert "99 %" in told and "100 %" not in told

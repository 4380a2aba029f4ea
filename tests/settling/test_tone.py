"""A fresh baseline waits until pitch and tone have come to rest."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from sounds.checked_strings import LogString, play
from sounds.heard_pitch import heard

from toneprobe.measure.figure import Figure
from toneprobe.session import Reading
from toneprobe.settling import advise_baseline, judge_settling, judge_tone

PUT_ON = date(2024, 2, 1)


def sweep(day, centroid_hz, t60_s, se_share=0.04):
    figures = {"centroid_partials_hz": Figure(centroid_hz, se_share * centroid_hz), "t60_s": Figure(t60_s, se_share * t60_s)}
    return PUT_ON + timedelta(days=day), Reading("6C", "Cb2", 3, 40.0, figures, ())


def test_a_new_wire_that_grows_duller_is_still_moving():
    """From 900 Hz on day 2 to 700 Hz on day 8: a slope of ln(700/900)/ln(8/2) = −0.181, which takes 100·(e^(−0.181·ln(38/8)) − 1) = −25 %
    more within a month: derived here."""
    state = judge_tone([sweep(2, 900.0, 9.0), sweep(8, 700.0, 9.0)], fitted_on=PUT_ON, material="wire")
    assert state.steady is False
    assert state.moving == ("brightness still moves: -25 % to be expected over the next 30 days",)


def test_steady_figures_release_it():
    sweeps = [sweep(7, 702.0, 9.1), sweep(14, 700.0, 9.0), sweep(21, 698.0, 9.05)]
    assert judge_tone(sweeps[::-1], fitted_on=PUT_ON, material="wire").steady is True


def test_a_change_within_the_doubt_is_no_movement():
    state = judge_tone([sweep(7, 700.0, 9.0, 0.2), sweep(14, 600.0, 8.0, 0.2)], fitted_on=PUT_ON, material="gut")
    assert state.steady is True and state.moving == ()


@pytest.mark.parametrize(("se_share", "steady"), [(0.05, False), (0.06, False), (0.085, True)])
def test_what_moves_by_three_errors_still_moves(se_share, steady):
    """ln(700/900) = −0.25, and two readings with 6 % each differ by √2·0.06 = 0.085 by chance: 3 errors, with 8.5 % each 2 (derived here);
    2.5 come about once in 80 by chance (of a normal)."""
    assert judge_tone([sweep(2, 900.0, 9.0, se_share), sweep(8, 700.0, 9.0, se_share)], fitted_on=PUT_ON, material="gut").steady is steady


@pytest.mark.parametrize(("centroid_hz", "steady"), [(700.0, True), (655.0, True), (640.0, False)])
def test_what_a_month_will_change_by_less_than_a_tenth_is_at_rest(centroid_hz, steady):
    """In equal steps of the logarithm of age: from day 10 to 20 by the factor x, so from day 20 to 50 by x^(ln 2.5/ln 2) = x^1.32: 655/700
    makes −8 %, 640/700 −11 % (derived here). A tenth is a third of what a listener notices (WORTH)."""
    assert judge_tone([sweep(10, 700.0, 9.0, 0.005), sweep(20, centroid_hz, 9.0, 0.005)], fitted_on=PUT_ON, material="gut").steady is steady


def test_how_it_moved_while_new_is_not_held_against_it():
    """A wire that lost half its brightness in its first five days, and of which four sweeps since then found the same."""
    early = [sweep(day, hz, 9.0) for day, hz in ((1, 1400.0), (2, 1100.0), (3, 950.0), (5, 750.0))]
    late = [sweep(day, 700.0, 9.0) for day in (8, 10, 12, 16)]
    assert judge_tone(early, fitted_on=PUT_ON, material="wire").steady is False
    assert judge_tone(early + late, fitted_on=PUT_ON, material="wire").steady is True


def test_a_wire_must_have_shown_that_it_rests():
    once = [sweep(3, 700.0, 9.0)]
    assert judge_tone(once, fitted_on=PUT_ON, material="wire").steady is None
    assert judge_tone(once, fitted_on=PUT_ON, material=None).steady is None
    assert judge_tone(once, fitted_on=PUT_ON, material="gut").steady is True
    assert judge_tone([], fitted_on=PUT_ON, material="wire").lacks == "sweep it on two days at least: a new wire starts too bright"
    lacks = judge_tone(once, fitted_on=PUT_ON, material="wire").lacks  # the third day from 1 February on
    assert lacks == "so far only a sweep of 4 February 2024 heard it, so sweep it on another day too: a new wire starts too bright"
    early = judge_tone([sweep(2, 700.0, 9.0, 0.1), sweep(3, 700.0, 9.0, 0.1)], fitted_on=PUT_ON, material="wire")
    assert early.steady is None and "sweep it again" in early.reason


def test_unmeasured_figures_are_no_evidence():
    blank = {key: Figure(None, reason="too short") for key in ("centroid_partials_hz", "t60_s")}
    sweeps = [(day, replace(reading, figures=blank)) for day, reading in (sweep(7, 1.0, 1.0), sweep(14, 1.0, 1.0))]
    assert judge_tone(sweeps, fitted_on=PUT_ON, material="wire").steady is None


@pytest.fixture
def settled():
    own, _ = play(LogString(2.0), np.random.default_rng(0))
    checks = [type(r)(r.string, r.note, r.at, heard(0.0, 0.3)) for r in own[:12]]
    return judge_settling(checks, fitted_on=None, neighbours={f"n{k}": checks for k in range(4)})


def test_baseline_needs_pitch_and_tone_and_no_stand_in(settled):
    resting, moving = judge_tone([], fitted_on=None, material="gut"), judge_tone(
        [sweep(2, 900.0, 9.0), sweep(8, 700.0, 9.0)], fitted_on=PUT_ON, material="wire")
    assert settled.state == "settled"
    assert advise_baseline(settled, resting, is_stand_in=False).ready
    assert not advise_baseline(settled, resting, is_stand_in=True).ready
    held = advise_baseline(settled, moving, is_stand_in=False)
    assert not held.ready and "brightness still moves" in held.reasons[0]
    young = judge_settling([], fitted_on=PUT_ON)
    assert not advise_baseline(young, resting, is_stand_in=False).ready


@pytest.mark.parametrize("material, said", [("wire", "a new wire starts"), ("wound nylon", "a new wound string starts"),
                                            (None, "not noted, and a new wire starts")])
def test_only_a_wire_is_called_one(material, said):
    """Wound nylon is no wire (the trade's words), though its winding starts as bright."""
    assert said in judge_tone([sweep(2, 900.0, 9.0)], fitted_on=PUT_ON, material=material).reason


def test_of_a_string_on_since_before_the_log_newness_has_worn_off():
    moving = [sweep(2, 900.0, 9.0), sweep(8, 700.0, 9.0)]
    assert judge_tone(moving, fitted_on=PUT_ON, material="wire").steady is False
    assert judge_tone(moving, fitted_on=None, material="wire").steady is True


@pytest.mark.parametrize(("days", "steady"), [((0,), None), ((0, 1), None), ((0, 8), False)])
def test_the_day_it_went_on_and_the_next_are_one_age(days, steady):
    """A wire is a day old at the least: the logarithm of none is not to be had, and two readings of one age tell of no movement."""
    state = judge_tone([sweep(day, 700.0 if day else 900.0, 9.0) for day in days], fitted_on=PUT_ON, material="wire")
    assert state.steady is steady and bool(state.moving) == (steady is False)


@pytest.mark.parametrize("figure", [Figure(None, None, "the noise hides it"), Figure(900.0), Figure(0.0, 1.0), None])
def test_a_figure_that_is_not_known_with_its_error_tells_of_no_movement(figure):
    (first, reading), later = sweep(2, 900.0, 9.0), sweep(8, 700.0, 9.0)
    figures = {key: figure for key in reading.figures if figure is not None}
    state = judge_tone([(first, replace(reading, figures=figures)), later], fitted_on=PUT_ON, material="wire")
    assert state.steady is None and state.reason.startswith("its brightness and ring were not measured on two days yet")


def test_what_has_come_to_rest_may_become_a_baseline_and_says_so():
    settled = replace(judge_settling([], fitted_on=None), state="settled")
    tone = judge_tone([sweep(7, 702.0, 9.1), sweep(14, 700.0, 9.0)], fitted_on=PUT_ON, material="gut")
    advice = advise_baseline(settled, tone, is_stand_in=False)
    assert advice.ready and advice.reasons == ("pitch and tone have come to rest",)
    assert not advise_baseline(settled, tone, is_stand_in=True).ready
    unknown = judge_tone([], fitted_on=PUT_ON, material="wire")
    assert advise_baseline(settled, unknown, is_stand_in=False).reasons == (unknown.reason,) and unknown.steady is None

"""What the scores promise, put to thousands of drawn changes: worse never scores better, and what is unknown never counts."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from toneprobe import limits
from toneprobe.baseline.beats_change import BeatsChange
from toneprobe.baseline.change import Change
from toneprobe.baseline.decay_change import DecayChange, decay_change
from toneprobe.baseline.pairing import Pairs
from toneprobe.baseline.pitch_fall import PitchFall
from toneprobe.baseline.ripple_change import RippleChange
from toneprobe.baseline.scatter import USUAL_SCATTER
from toneprobe.baseline.series_change import SeriesChange, series_change
from toneprobe.baseline.sinking import Sinking
from toneprobe.baseline.wave_change import WaveChange
from toneprobe.condition.context import Capture, compare_captures
from toneprobe.condition.dead_score import dead_case
from toneprobe.condition.evidence import Evidence, at_most, joint_strength, score, sureness_asked
from toneprobe.condition.false_score import chi2_sigmas, false_case, stretch_by_tension
from toneprobe.condition.next_steps import TECHNICIAN, slipping_step, unsteady_step
from toneprobe.condition.sweep_noise import QUIET_CHI2, QUIET_SHARE, SweepNoise, noise_caution, noise_for, sweep_noise
from toneprobe.measure.figure import Figure

UNKNOWN = Figure(None, None, "not measured")
NOISE = SweepNoise(3.0, UNKNOWN, decay_scale=1.3, astray_scale=1.2)
sizes = st.floats(-1.0, 3.0)
errors = st.floats(0.02, 0.6)
maybe = st.one_of(st.just(UNKNOWN), st.builds(Figure, sizes, errors))
steps = st.floats(0.0, 2.0)
A_QUARTER = 0.28768207  # ln(4/3): a quarter of the ring lost


def change(decay=UNKNOWN, low=UNKNOWN, high=UNKNOWN, brightness=UNKNOWN, ripple=UNKNOWN, pattern=(), stretch=UNKNOWN, astray=UNKNOWN,
           sure=(), hand=0.0, n_now=2):
    freedom = max(0.0, len(pattern) - 3.0) if astray.known else 0.0
    series = SeriesChange(Figure(0.0, 1.0), stretch, astray, freedom, tuple(pattern), unmistakable=sure,
                          contradictions=(0.0,) * len(pattern))
    decays = DecayChange(decay, low, high)
    return Change("3A", n_now, 3, decays, brightness, series, RippleChange(ripple), stretch, hand, 440.0, 60.0)


@pytest.mark.parametrize(("n_strings", "asked", "share"), [(47, 3.1413, 1 / 20), (22, 2.7325, 1 / 15)])
def test_a_halved_ring_that_is_known_just_finely_enough_is_seldom_called_sound(n_strings, asked, share):
    """Errors drawn from Student's t with 12 degrees of freedom, as they are taken to be; sound is what lost less than a quarter. asked: the
    errors that 0.2 of so many strings exceed by chance (scipy.stats.t.isf(0.2 / n, 12))."""
    assert sureness_asked(n_strings) == pytest.approx(asked, abs=1e-4)
    noise = replace(NOISE, sureness_asked=asked, decay_scale=1.0)
    se = 0.999 * np.log(2.0) / asked
    seen = np.log(2.0) + se * np.random.default_rng(5).standard_t(12.0, 20000)
    cases = [dead_case(change(decay=Figure(float(one), se)), noise) for one in seen]
    assert all(case.could_tell for case in cases)
    assert np.mean([case.evidence[0].size < 1.0 for case in cases]) == pytest.approx(share, rel=0.15)


@pytest.mark.parametrize(("n_strings", "asked"), [(1, 2.6810), (5, 2.6810), (20, 2.6810), (21, 2.7074)])
def test_of_a_few_strings_so_much_is_asked_that_of_a_hundred_readings_one_is_wrong(n_strings, asked):
    """scipy.stats.t.isf(min(0.2 / n, 0.01), 12): the goal of all readings, fewer than 1 in 100, holds of a string plucked alone too.
    Of five alone it would be 1.91 errors. As of ten strings, 2.3, one healthy reading in forty was called of real takes, five at a time."""
    assert sureness_asked(n_strings) == pytest.approx(asked, abs=1e-4)


@settings(max_examples=300, deadline=None)
@given(st.builds(Figure, sizes, errors), maybe, maybe, maybe, st.sampled_from(["decay", "low", "high", "brightness"]), steps)
def test_less_ring_or_less_brightness_never_scores_better(decay, low, high, brightness, which, worse_by):
    figures = {"decay": decay, "low": low, "high": high, "brightness": brightness}
    before = dead_case(change(**figures), NOISE)
    if not figures[which].known:
        return
    figures[which] = replace(figures[which], value=figures[which].value + worse_by)
    assert score(dead_case(change(**figures), NOISE).strength) >= score(before.strength)


@pytest.mark.parametrize("part", ["all", "low"])
def test_a_ring_that_one_partial_alone_tells_in_a_room_is_watched_and_never_dead(part):
    of = change(decay=Figure(1.0, 0.1) if part == "all" else Figure(0.3, 0.2), low=Figure(1.0, 0.1))
    alone = replace(of, decay=replace(of.decay, told_by_one=frozenset({part, "low"})))
    assert dead_case(of, NOISE).strength >= limits.DECIDED
    assert limits.WATCHED <= dead_case(alone, NOISE).strength < limits.DECIDED


def test_a_lost_ring_that_the_whole_ring_contradicts_is_neither_dead_nor_watched():
    """As large as before, so that it stays in doubt; at no height of what the partials say is it condemned."""
    said = Figure(1.5, 0.1)
    of = change(decay=said, low=said, high=said)
    assert dead_case(of, NOISE).strength >= limits.DECIDED
    doubted = dead_case(replace(of, crushed=True, decay=replace(of.decay, contradicted=True)), NOISE)
    assert doubted.strength < limits.WATCHED and doubted.evidence[0].size >= limits.DECIDED


@pytest.mark.parametrize("held", ["codec", "no ring", "between notches", "another instrument", "one pluck"])
def test_what_has_a_limit_to_what_it_can_say_stays_as_large_and_as_sure_as_it_is(held):
    """A large change that is in doubt makes a string unsure (design). With its size held it was called sound: 5 cents astray at 0.68
    of the sureness asked were sound in a compressed recording, and unsure in one without loss."""
    of = change(pattern=[(n, 4.0 * (-1.0) ** n, 2.0) for n in range(1, 11)], astray=Figure(3.5, 1.5), ripple=Figure(3.0, 1.9))
    bare = false_case(of, NOISE)
    once = replace(of, ripple=replace(of.ripple, is_of_one_pluck=True))
    case = {"codec": lambda: false_case(replace(of, crushed=True), NOISE), "no ring": lambda: false_case(of, NOISE, hardly_rings=True),
            "between notches": lambda: bare.at_most(limits.BETWEEN_NOTCHES_SAY),
            "another instrument": lambda: bare.at_most(limits.OTHER_INSTRUMENT_SAY),
            "one pluck": lambda: false_case(once, NOISE)}[held]()
    assert {(e.kind, e.size, e.sureness) for e in case.evidence} == {(e.kind, e.size, e.sureness) for e in bare.evidence}
    assert any(e.size >= limits.DECIDED for e in case.evidence) and case.strength < limits.WATCHED


def test_where_half_the_ring_is_gone_partials_astray_and_another_stiffness_together_name_no_false_string():
    """Neighbours' answers at the places of its partials make both: (2 · 0.85⁴)^¼ would be 1.01, a score of 50."""
    of = change(pattern=[(n, 30.0 * (-1.0) ** n, 2.0) for n in range(1, 11)], astray=Figure(30.0, 1.0), stretch=Figure(2.0, 0.05))
    assert limits.WATCHED <= false_case(of, NOISE, hardly_rings=True).strength < limits.DECIDED < false_case(of, NOISE).strength


@given(st.floats(0.0, 5.0), st.floats(0.0, 5.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_a_piece_has_no_more_strength_than_it_may_say_and_never_more_than_before(size, sureness, most, other):
    piece = Evidence("beat_db", size, sureness, 1.0, 0.5)
    held = at_most(at_most(piece, most), other)
    assert held.strength == min(piece.strength, most, other) and at_most(None, most) is None


@pytest.mark.parametrize(("beside_cents", "most"), [(0.0, math.inf), (1.0, math.inf), (12.0, limits.DECIDED)])
def test_partials_astray_that_lines_beside_a_single_pluck_explain_are_watched_and_never_false(beside_cents, most):
    """Of one real G#6, plucked firmly once, partials 4 to 6 were taken 11 to 15 cents off among lines as loud, and it was false."""
    off = np.array([0.0, 1.0, 0.0, -11.0, 12.0, 14.0, -8.0, 9.0, 0.0, 1.0])
    series = series_of(off, per_pluck=1.5, cents_beside_var=np.where(np.abs(off) > 5.0, beside_cents**2, 0.0))
    strength = false_case(replace(change(ripple=Figure(0.0, 0.4)), series=series, stiffness=Figure(0.0)), NOISE).strength
    assert strength >= (limits.WATCHED if most == limits.DECIDED else limits.DECIDED) and strength < most
    assert (series.doubted is None) == (beside_cents == 0.0)


@pytest.mark.parametrize("se", [None, 0.0])
def test_a_change_of_which_no_error_is_known_is_no_evidence(se):
    """Not known is not none, by which every change would be beyond doubt."""
    assert NOISE.weigh("decay", Figure(1.5, se)) is None
    assert dead_case(change(decay=Figure(1.5, se)), NOISE).could_tell is False
    assert stretch_by_tension(replace(change(), pitch_cents=Figure(-42.0, None))).known is False


def of_partials(log_decays, *, n_plucks=2):
    """Dead score of a string whose partials, 3 dB apart in level and well measured, lost so much each, natural logs."""
    k = len(log_decays)
    n, nothing = np.arange(1.0, k + 1.0), np.zeros(k)
    same = dict.fromkeys(Pairs.__dataclass_fields__, nothing)
    known = {"n": n, "freq_hz": 200.0 * n, "per_pluck": np.full(k, 2.0 / n_plucks), "log_decay": np.array(log_decays),
             "log_decay_var": np.full(k, 1e-4), "fresh_level_db": -3.0 * (n - 1.0), "fresh_decay": 2.0 * n**0.6, "heard_s": 3.0 * n**-0.6,
             "fall_factor": np.ones(k)}
    pairs = Pairs(**{**same, **known})
    decay = decay_change(pairs, USUAL_SCATTER, n_now=n_plucks, n_fresh=n_plucks)
    return score(dead_case(replace(change(), decay=decay), NOISE).strength)


@pytest.mark.parametrize("n_plucks", [1, 2, 3])
@pytest.mark.parametrize("lost, more", [
    ([0.3] * 4, [0.0, 0.0, 0.5, 0.9]),
    ([0.4] * 5, [0.0, 0.0, 0.0, 0.6, 1.1]),
    ([0.3] * 6, [0.0, 0.0, 0.0, 0.9, 0.0, 0.0]),
])
def test_partials_that_lost_more_than_the_rest_never_make_a_string_score_better(lost, more, n_plucks):
    """Of scattered losses the mean is known the less surely: a string with half its partials far worse scored below one without."""
    assert of_partials(np.add(lost, more), n_plucks=n_plucks) >= of_partials(lost, n_plucks=n_plucks)


def test_a_string_whose_partials_all_die_faster_hardly_ever_scores_better():
    """800 strings by chance, their partials worse by unequal amounts. A few fall yet: a partial far above the rest has less say there than
    one that came near them. One in 18 fell by more than a point when only the mean itself was asked (measured), one in 1000 now."""
    rng, fallen = np.random.default_rng(7), []
    for _ in range(800):
        lost = rng.normal(rng.choice([0.0, 0.3, 0.6]), 0.2, int(rng.integers(4, 13)))
        fallen.append(of_partials(lost) - of_partials(lost + rng.uniform(0.0, 0.6, len(lost))))
    assert np.mean(np.array(fallen) > 1.0) < 1 / 250


@settings(max_examples=300, deadline=None)
@given(st.lists(st.floats(-12.0, 12.0), min_size=6, max_size=12), st.floats(0.0, 8.0), st.integers(0, 5), steps, maybe,
       st.sampled_from([(), (1, 2, 3)]))
def test_a_larger_rms_and_a_surer_pattern_never_score_better(cents, astray, which, worse_by, ripple, sure):
    def at(rows, rms):
        pattern = [(i + 1, c, 0.8) for i, c in enumerate(rows)]
        return false_case(change(pattern=pattern, astray=Figure(rms, 0.3), ripple=ripple, sure=sure), NOISE)

    worse = [c * (1.0 + worse_by) if i == which else c for i, c in enumerate(cents)]
    assert at(worse, astray + worse_by).strength >= at(cents, astray).strength


def series_of(cents, *, per_pluck=1.0, **known):
    """Of a string whose partials lie so many cents from where they lay, two plucks a side if nothing else is said."""
    k = len(cents)
    n, nothing = np.arange(1.0, k + 1.0), np.zeros(k)
    same = dict.fromkeys(Pairs.__dataclass_fields__, nothing)
    known |= {"n": n, "freq_hz": 200.0 * n * np.sqrt(1.0 + 1e-4 * n * n), "per_pluck": np.full(k, per_pluck),
              "cents": np.array(cents, float), "cents_freedom": np.full(k, 2.0), "fresh_level_db": -2.0 * (n - 1.0),
              "fresh_decay": 2.0 * n**0.6, "heard_s": 3.0 * n**-0.6}
    return series_change(Pairs(**{**same, **known}), Figure(1e-4, 2e-6), {}, hand=0.0, room_s=None)


def astray_of(cents):
    """False score of such a string, and what lies off the fit."""
    series = series_of(cents)
    case = false_case(replace(change(ripple=Figure(0.0, 0.4)), series=series, stiffness=series.stretch), replace(NOISE, astray_scale=1.0))
    return score(case.strength) or 0.0, np.array([rest for _, rest, _ in series.pattern])


def test_partials_farther_astray_hardly_ever_make_a_string_score_better():
    """700 strings by chance, as they are measured and judged: all partials up to three times as far from the series, or one up to 10 cents
    farther. Not never: of a partial moved far the fit goes along, and one taken for a mistaken one has no say (measured: of one moved
    1 string in 90 falls by more than 5 points, of all 1 in 500)."""
    rng, fallen = np.random.default_rng(8), {"all": [], "one": []}
    for _ in range(700):
        k = int(rng.integers(6, 13))
        cents = rng.normal(0.0, rng.choice([0.5, 2.0, 5.0]), k)
        before, off = astray_of(cents)
        one = np.eye(k)[rng.integers(k)] * np.sign(off) * rng.uniform(0.2, 10.0)
        for which, more in (("all", off * rng.uniform(0.1, 2.0)), ("one", one)):
            fallen[which].append(before - astray_of(cents + more)[0])
    shares = {which: float(np.mean(np.array(points) > 5.0)) for which, points in fallen.items()}
    assert shares["all"] < 1 / 250 and shares["one"] < 1 / 40


def test_another_stiffness_is_believed_sooner_where_several_plucks_by_like_hands_tell():
    told = {"stretch": Figure(0.4, 0.15), "pattern": [(n, 0.0, 0.8) for n in range(1, 9)]}
    agreed, other_hand, one_pluck = (false_case(change(**told, **how), NOISE).strength for how in ({}, {"hand": 1.2}, {"n_now": 1}))
    assert agreed > 1.0 > other_hand == one_pluck


@pytest.mark.parametrize(("n_now", "n_fresh", "stretch", "is_false"), [
    (1, 3, -1.83, False), (3, 1, 1.83, False), (1, 3, 1.83, True), (3, 1, -1.83, True), (2, 2, -1.83, True)])
def test_one_pluck_that_tells_of_less_stiffness_makes_no_string_false(n_now, n_fresh, stretch, is_false):
    """Sum tones lie at exact multiples of f1, as partials of B = 0 do (Conklin 1999, from memory): where they are taken for the partials, B
    is too low, never too high. A real D#6, plucked firmly once, was 0.15 times as stiff as when fresh so."""
    told = change(stretch=Figure(stretch, 0.3), pattern=[(n, 0.0, 0.8) for n in range(1, 12)])
    case = false_case(replace(told, n_now=n_now, n_fresh=n_fresh), NOISE)
    assert case.strength >= limits.WATCHED and (case.strength >= limits.DECIDED) == is_false


@pytest.mark.parametrize("stretch", [0.25, 0.4, 0.6])
def test_another_stiffness_that_is_believed_lies_beyond_what_is_told_as_its_doubt(stretch):
    """ "1.54 times as stiff (± 0.59)" was a verdict: of a factor r known to an error s of its log two errors are 2·s·r (derived here)."""
    told = {"stretch": Figure(stretch, stretch / 2.0), "pattern": [(n, 0.0, 0.8) for n in range(1, 9)]}
    case = next(one for one in false_case(change(**told), NOISE).evidence if one.kind == "stretch")
    assert case.sureness > 1.0
    assert np.exp(stretch) - 1.0 > 2.0 * case.se * np.exp(stretch)


def stiffness_case(log_b, cents, se=0.02):
    """The evidence of stiffness of a string whose B is e^log_b times the fresh one, `cents` from where it lay; None where there is none."""
    told = change(stretch=Figure(log_b, se), pattern=[(n, 0.0, 0.8) for n in range(1, 9)])
    evidence = false_case(replace(told, pitch_cents=Figure(cents, 0.3)), NOISE).evidence
    return next((one for one in evidence if one.kind == "stretch"), None)


@pytest.mark.parametrize(("cents", "log_b"), [(-42.0, 0.04852), (-100.0, 0.11552), (50.0, -0.05776)])
def test_what_its_tension_makes_of_the_stiffness_of_one_string_says_nothing(cents, log_b):
    """B = π³Ed⁴/(64TL²) (Fletcher 1964), T ∝ f²: −42 cents are 2^(−42/600) = 0.9526 of T and 1.0497 of B, ln 0.04852; −100 are 0.8909 and
    1.1225, +50 are 1.0595 and 0.9439 (derived here)."""
    assert stiffness_case(log_b, cents).change == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize("cents", [-42.0, 100.0, -135.0])
def test_a_lever_that_grips_elsewhere_is_no_other_string(cents):
    """It moves L alone and f ∝ 1/L, so B ∝ f²: at −135 cents 0.8556, ln −0.156, where tension alone had made it as much more."""
    assert stiffness_case(2.0 * cents * np.log(2.0) / 1200.0, cents).strength < limits.WATCHED


@pytest.mark.parametrize("cents", [-30.0, -34.0, -36.0, -42.0, -60.0, 42.0])
def test_another_gauge_is_told_wherever_its_pitch_lies(cents):
    """A string 1.25 times as thick has 1.5625 times the B at one pitch (T ∝ d², so B ∝ d²), and what its tension makes of that."""
    log_b = 2.0 * np.log(1.25) - 2.0 * cents * np.log(2.0) / 1200.0
    assert stiffness_case(log_b, cents).strength >= limits.DECIDED


def test_the_farther_its_pitch_moved_the_less_sure_another_stiffness_is():
    """Beyond 140 cents neither a lever nor a pedal explains it, nor a slip beside (limits.FALLEN_CENTS, set), and nothing is compared."""
    def strength(cents):
        case = stiffness_case(0.446 - 2.0 * cents * np.log(2.0) / 1200.0, cents)
        return case.strength if case else None

    assert strength(-40.0) > strength(-80.0) > limits.DECIDED > strength(-135.0)
    assert strength(-141.0) is None and strength(141.0) is None


@settings(max_examples=200, deadline=None)
@given(sizes, errors, steps)
def test_a_deeper_ripple_never_scores_better(depth, se, worse_by):
    first, second = (false_case(change(ripple=Figure(d, se)), NOISE).strength or 0.0 for d in (depth, depth + worse_by))
    assert second >= first


@pytest.mark.parametrize("depth_db", [4.0, 40.0])
def test_what_wavers_in_one_pluck_only_is_watched_and_never_false(depth_db):
    """However deep: a footstep or that one pluck may do it (37.5 is watched, 50 false: design); two plucks that agree name the string."""
    true = change(ripple=Figure(depth_db, 0.3), astray=Figure(0.2, 0.3), pattern=[(n, 0.1, 0.8) for n in range(1, 7)])
    once, twice = (false_case(replace(true, ripple=replace(true.ripple, is_of_one_pluck=of_one)), NOISE) for of_one in (True, False))
    assert 37.5 <= score(once.strength) < 50.0 <= score(twice.strength)


@pytest.mark.parametrize("n, is_of_first, least, most", [(2, False, 0.0, 10.0), (2, True, 30.0, 37.4), (3, False, 30.0, 37.4),
                                                         (4, False, 37.5, 49.9), (8, True, 37.5, 49.9)])
def test_beats_at_one_rate_make_a_string_unsure_or_watched_and_never_false(n, is_of_first, least, most):
    """37.5 is watched, 50 false (design); size 1 with less strength is unsure."""
    beating = replace(change(astray=Figure(0.2, 0.3), pattern=[(k, 0.1, 0.8) for k in range(1, 7)]), beats=BeatsChange(n, 3.0, is_of_first))
    case = false_case(beating, NOISE)
    assert least <= score(case.strength) <= most
    assert any(one.size >= 1.0 for one in case.evidence) == (least > 0.0)


@pytest.mark.parametrize("walk_db", [4.0, 40.0])
def test_a_pitch_that_wanders_is_watched_and_never_false(walk_db):
    """However far: a pin, a disc or a lever does that, and goes to a technician (design, rule 8 and 10). From 50 on a string is false."""
    unsteady = replace(change(astray=Figure(0.2, 0.3), pattern=[(n, 0.1, 0.8) for n in range(1, 7)]),
                       ripple=RippleChange(UNKNOWN, pitch_walk_db=Figure(walk_db, 0.3)))
    case = false_case(unsteady, NOISE)
    assert 37.5 <= score(case.strength) < 50.0 and case.evidence[0].kind == "pitch_walk"
    assert unsteady_step().kind == TECHNICIAN


@pytest.mark.parametrize(("cents", "is_confirmed", "least", "most"), [
    (12.0, True, 50.0, 100.0), (7.0, True, 37.5, 49.9), (3.0, True, 0.0, 20.0), (12.0, False, 37.5, 49.9), (40.0, False, 37.5, 49.9)])
def test_a_pitch_that_goes_up_and_down_is_false_where_its_plucks_say_so_alike(cents, is_confirmed, least, most):
    """A wavering pitch that cannot be tuned makes a string false (common practice); 8 cents are noticed (limits), from 50 on a string is
    false, from 37.5 watched (design)."""
    true = change(astray=Figure(0.2, 0.3), pattern=[(n, 0.1, 0.8) for n in range(1, 7)])
    case = false_case(replace(true, wave=WaveChange(Figure(cents, 0.6), 3.0, is_confirmed)), NOISE)
    assert least <= score(case.strength) <= most
    assert case.evidence[0].kind == "pitch_wave"


def test_a_wave_of_all_strings_is_the_recorders():
    """A clock that runs unevenly moves the pitch of all strings by the same cents: what most show is no string's."""
    waving = replace(change(), wave=WaveChange(Figure(12.0, 0.6), 3.0, True))
    assert sweep_noise([waving] * 12).wave_centre_cents == pytest.approx(12.0)
    assert score(false_case(waving, replace(NOISE, wave_centre_cents=12.0)).strength) is None


@pytest.mark.parametrize(("se", "could_tell"), [(0.5, True), (1.9, True), (2.2, False), (4.0, False)])
def test_partials_eight_cents_astray_could_be_told_only_where_the_error_asked_lies_below(se, could_tell):
    """NOISE asks for 3.0 errors, enlarged by 1.2, and the rms for 1.1 times as many: 3.96 times 2.02 cents are the eight (derived here)."""
    pattern = [(n, 0.3, 2.0 * se) for n in range(1, 9)]
    assert false_case(change(pattern=pattern, astray=Figure(0.0, se)), NOISE).could_tell == could_tell


@pytest.mark.parametrize(("se", "could_tell"), [(0.17, True), (0.18, False), (0.2, False)])
def test_half_a_ring_could_be_told_only_where_the_error_of_this_sweep_lies_below(se, could_tell):
    """NOISE asks for 3.0 errors, enlarged by 1.3: 3.9 times 0.1777 are ln 2, a half (derived here)."""
    assert dead_case(change(decay=Figure(0.0, se)), NOISE).could_tell == could_tell


@pytest.mark.parametrize(("n_pairs", "is_named"), [(4, False), (5, False), (6, False), (12, True)])
def test_another_stiffness_is_told_from_many_partials_only(n_pairs, is_named):
    """B half as large again, ln 1.5 = 0.41: what a line over the squares of few numbers does where one partial of them is mistaken."""
    pattern = [(n, 0.0, 0.8) for n in range(1, n_pairs + 1)]
    case = false_case(change(stretch=Figure(0.41, 0.05), pattern=pattern), NOISE)
    assert ((case.strength or 0.0) >= limits.DECIDED) == is_named


@pytest.mark.parametrize(("ring", "verdict"), [(0.58, "dead"), (0.3, "false")])
def test_a_string_that_hardly_rings_is_dead_though_its_partials_are_astray(ring, verdict, judged, drawn, harp):
    """What sounds at the places of its partials may be its neighbours' answers. ring: share of the decay time that is gone."""
    name = harp.strings[12].name

    def change_of(one, string):
        return drawn.stray(drawn.shorten(string, 1.0 - ring), 12.0, np.random.default_rng(2)) if one == name else string

    found = next(one for one in judged(change_of, seed=4).conditions if one.string == name)
    assert found.verdict == verdict
    assert any(text.startswith("Rings ") for text in found.reasons) or ring < 0.5


@pytest.mark.parametrize("snr_db", [50.0, 2.0])
def test_no_step_of_a_ring_that_goes_leaves_a_false_string_unnamed(snr_db, judged, drawn, harp):
    """Its false score falls where the ring decides (RINGLESS_SAY), but not before the dead score names it: in noise, where half a ring is
    no sure loss, that is later. 50 names a string (the design). Six strings of a sweep are bad, each at another step."""
    bad, found = [spec.name for spec in harp.strings[3::4]], []
    for steps in ((1.0, 0.55, 0.46, 0.38, 0.3, 0.2), (0.7, 0.5, 0.42, 0.34, 0.25, 0.1)):
        left = dict(zip(bad, steps, strict=False))
        worn = judged(lambda name, string, left=left: drawn.stray(
            drawn.shorten(string, left[name]), 20.0, np.random.default_rng(2)) if name in left else string, seed=4, snr_db=snr_db)
        found += [(left[one.string], one) for one in worn.conditions if one.string in left]
    found = [one for _, one in sorted(found, key=lambda step: -step[0])]
    assert [one.verdict for one in found[:1] + found[-1:]] == ["false", "dead"] and len(found) == 12
    assert all(one.verdict in ("false", "dead") and max(one.false_score, one.dead_score) >= 50.0 for one in found)
    assert max(one.false_score for one in found if one.verdict == "dead") < 50.0  # there it is the ring alone that names it


def test_a_ring_lost_with_the_highs_is_told_beside_them():
    lost, kept = (dead_case(change(decay=Figure(all_of_it, 0.2), low=Figure(all_of_it, 0.2), high=Figure(1.6, 0.3)), NOISE)
                  for all_of_it in (0.87, 0.1))
    assert [one.kind for one in lost.evidence] == ["decay_high", "decay"] and [one.kind for one in kept.evidence] == ["decay_high"]


@pytest.mark.parametrize(("cents", "se", "least", "most"), [
    (12.0, 1.0, 37.5, 50.0),  # a knot that slips: watched, and another string would not mend it
    (60.0, 1.0, 37.5, 50.0),
    (5.5, 1.0, 0.0, 37.5),  # two takes of an untouched string differ by so much at the most (measured)
    (12.0, 6.0, 0.0, 37.5),  # beyond two errors only: of 47 strings two do that by chance
])
def test_a_pitch_that_falls_from_pluck_to_pluck_is_watched_and_never_false(cents, se, least, most):
    falls = replace(change(astray=Figure(0.2, 0.3), pattern=[(n, 0.1, 0.8) for n in range(1, 7)], ripple=Figure(0.0, 0.3)),
                    pitch_fall=PitchFall(Figure(cents, se), cents))
    assert least <= score(false_case(falls, NOISE).strength) < most
    assert slipping_step().kind == TECHNICIAN


@pytest.mark.parametrize(("log_ratio", "se", "now_cents", "fresh_cents", "least", "most"), [
    (1.0, 0.25, 20.0, 5.6, 37.5, 50.0),  # sinks by 25 cents in 0.6 s, as told through the glide: watched
    (3.0, 0.25, 90.0, 2.0, 37.5, 50.0),  # however much: another string would not mend a knot
    (0.8, 0.35, 13.3, 4.9, 0.0, 37.5),  # an untouched real string in two takes by one hand (measured)
    (1.2, 0.25, 1.8, 0.0, 0.0, 37.5),  # too few cents for anyone to hear
])
def test_a_string_that_sinks_while_it_rings_is_watched_and_never_false(log_ratio, se, now_cents, fresh_cents, least, most):
    sinks = replace(change(astray=Figure(0.2, 0.3), pattern=[(n, 0.1, 0.8) for n in range(1, 7)], ripple=Figure(0.0, 0.3)),
                    sinking=Sinking(Figure(log_ratio, se), now_cents, fresh_cents))
    assert least <= score(false_case(sinks, NOISE).strength) < most


def test_what_all_strings_fell_by_is_held_against_none():
    """A room that warms lets all strings down alike; of strings that scatter three times as far as told the errors are enlarged."""
    rng = np.random.default_rng(3)
    all_fell = [replace(change(), pitch_fall=PitchFall(Figure(9.0 + float(rng.normal(0.0, 3.0)), 1.0), 9.0)) for _ in range(400)]
    noise = sweep_noise(all_fell)
    assert noise.fall_centre_cents == pytest.approx(9.0, abs=1.5) and noise.fall_scale == pytest.approx(3.0, rel=0.3)
    watched = [false_case(one, noise).evidence[0].strength >= limits.WATCHED for one in all_fell]
    assert np.mean(watched) < 0.01


def test_a_string_of_too_few_partials_to_be_told_true_has_no_score_for_not_wavering():
    """Three partials, 24 cents astray or not, tell nothing (LEAST_FOR_ASTRAY); 0 would say "as fresh"; what wavers is told all the same."""
    still, wavers = (false_case(change(ripple=Figure(depth_db, 0.1)), NOISE) for depth_db in (0.1, 4.0))
    assert still.strength is None and score(still.strength) is None
    assert wavers.strength > 1.0
    known = false_case(change(ripple=Figure(0.1, 0.1), astray=Figure(0.2, 0.3), pattern=[(n, 0.1, 0.8) for n in range(1, 7)]), NOISE)
    assert known.strength is not None


@settings(max_examples=200, deadline=None)
@given(st.builds(Figure, sizes, errors), maybe, maybe)
def test_an_unknown_figure_is_neither_good_nor_bad(decay, high, brightness):
    """A figure that becomes known adds only what it says against the string; as unknown it adds nothing."""
    base = score(dead_case(change(decay=decay), NOISE).strength)
    assert score(dead_case(change(decay=decay, high=high, brightness=brightness), NOISE).strength) >= base
    harmless = Figure(-1.0, 0.1)
    assert score(dead_case(change(decay=decay, brightness=harmless), NOISE).strength) == pytest.approx(base)


def test_nothing_known_is_no_score():
    assert dead_case(change(), NOISE).strength is None and false_case(change(), NOISE).strength is None
    assert score(None) is None


def test_without_a_decay_brightness_alone_is_no_score():
    assert dead_case(change(brightness=Figure(2.0, 0.1)), NOISE).strength is None


@pytest.mark.parametrize("why", [{"keeps_slow_plane": True}, {"told_by_one": frozenset({"all", "low", "high"})}])
def test_a_ring_that_the_pull_or_the_room_may_have_shortened_is_watched_however_dull_the_string(why):
    """Brightness may support a verdict, never make one, and such a ring is watched at the most: nor may both together name a string."""
    lost = change(decay=Figure(1.0, 0.05), low=Figure(1.0, 0.05), high=Figure(1.0, 0.05), brightness=Figure(3.0, 0.05))
    case = dead_case(replace(lost, decay=replace(lost.decay, **why)), NOISE)
    assert limits.WATCHED <= case.strength < limits.DECIDED < dead_case(lost, NOISE).strength


def test_brightness_alone_is_watched_and_never_dead():
    """Brightness of guitar plucks scattered more than 46 days of ageing changed it (published, an informal trial)."""
    case = dead_case(change(decay=Figure(0.0, 0.05), brightness=Figure(3.0, 0.05)), NOISE)
    assert limits.WATCHED <= case.strength < limits.DECIDED


@pytest.mark.parametrize(("change_of", "se", "expected"), [
    (0.0, 0.05, 0.0),  # as fresh: the design's 0
    (A_QUARTER, 0.05, 50.0),  # as large as noticed, 5.8 errors where 3 are asked: the design's 50
    (2 * A_QUARTER, 0.05, 100.0),  # twice that: the design's 100
    (A_QUARTER, 0.2, 23.97),  # as large, but 1.44 errors where 3 are asked: 50·0.28768/0.6 (derived)
    (0.1, 0.001, 17.38),  # beyond doubt, but hardly audible: 50·0.1/0.28768 (derived)
])
def test_a_score_means_what_the_design_says(change_of, se, expected):
    """A listener misses a loss of up to a quarter of the ring (Tolonen & Järveläinen, J. AES 49 (2001)), and so ln(4/3) scores 50."""
    case = SweepNoise(3.0, UNKNOWN).weigh("decay", Figure(change_of, se))
    assert score(case.strength) == pytest.approx(expected, abs=0.01)


EVEN = [(n, 0.0, 0.2) for n in range(1, 13)]
# What is beyond doubt and just too small to name a string by, and what is just large enough; each size from outside the program.
JUST_NOTICED = {
    # Musicians hear 2 to 5 cents (from memory): 2 rms is at the lowest end; partials 2.5 to either side lie 5 apart, which all of them hear
    "astray": (lambda cents: false_case(change(pattern=[(n, cents * (-1) ** n, 0.2) for n, *_ in EVEN], astray=Figure(cents, 0.1)), NOISE),
               2.0, 2.5),
    # B ∝ d² at one pitch (Fletcher 1964): a gauge step of 10 % makes 2·ln 1.1 = 0.191 (derived). 140 cents, the most that is compared, make
    # 2·ln 2·140/1200 = 0.162 by the tension alone, of the string that was fitted (derived)
    "stretch": (lambda log_b: false_case(change(pattern=EVEN, stretch=Figure(log_b, 0.01)), NOISE), 0.1617, 0.1906),
    # A listener misses a loss of a quarter of the ring (Tolonen & Järveläinen, J. AES 49 (2001)), and more of the upper partials: they may
    # lose it twice, (3/4)² = 0.5625 being left. A decay that fell below a half is to be named (design, 8)
    "highs": (lambda lost: dead_case(change(decay=Figure(0.0, 0.02), high=Figure(lost, 0.05)), NOISE), -np.log(0.5625), -np.log(0.49)),
}


@pytest.mark.parametrize("kind", JUST_NOTICED)
def test_what_is_hardly_noticed_names_no_string_and_what_is_noticed_does(kind):
    case_of, too_small, large_enough = JUST_NOTICED[kind]
    assert 37.5 <= score(case_of(too_small).strength) < 50.0 <= score(case_of(large_enough).strength) < 60.0


def test_a_string_a_quarter_duller_is_watched_and_one_as_dull_as_a_like_pluck_may_be_is_not():
    """Two plucks of an untouched string differ by up to 22 % in 9 of 10 (measured on real takes), means of two by 1/√2 of that. A quarter
    is promised (verdicts.md of the benchmarks, Scores), so half of it in logs, √(3/4) being left, is half as strong: 25."""
    scores = [score(dead_case(change(decay=Figure(0.0, 0.02), brightness=Figure(-np.log(left), 0.01)), NOISE).strength)
              for left in (0.78**0.5**0.5, 0.75, 0.75**0.5)]
    assert scores[0] < 37.5 <= scores[1] < 50.0 and scores[2] == pytest.approx(25.0, abs=1.0)


def test_two_cases_support_each_other_a_little():
    one = Evidence("decay", 0.9, 2.0, 0.3, 0.05)
    assert joint_strength([one]) == pytest.approx(0.9)
    assert 0.9 < joint_strength([one, one]) < 1.1
    assert joint_strength([one, None]) == pytest.approx(0.9)
    assert joint_strength([None]) is None


def test_the_sureness_asked_bounds_the_false_alarms_of_a_sweep():
    from scipy.stats import t

    for n in (24, 47):
        expected = n * t.sf(sureness_asked(n), limits.ERROR_FREEDOM)  # outside reference: SciPy's Student tail
        assert expected == pytest.approx(limits.FALSE_ALARMS_PER_SWEEP, rel=1e-6)
    assert 47 * t.sf(2.0, limits.ERROR_FREEDOM) > 1.0  # two errors, judged string by string, would give more than one a sweep


def test_chi_square_in_sigmas_matches_scipys_tail():
    from scipy.stats import chi2, norm

    for freedom, value in ((4, 12.0), (8, 20.0), (10, 30.0)):
        assert chi2_sigmas(value, freedom) == pytest.approx(norm.isf(chi2.sf(value, freedom)), abs=0.06)  # outside reference: SciPy


def test_errors_half_as_large_as_they_should_be_are_doubled():
    """Derived: 68.3 % of normal values lie within one standard deviation; strings that scatter by two errors have errors half as large.
    Of those that ring longer than most the same share, and the partials that stray least tell it too."""
    drawn = np.random.default_rng(1)
    strings = [change(decay=Figure(2.0 * 0.05 * z, 0.05), brightness=Figure(2.0 * 0.1 * y, 0.1)) for z, y in drawn.normal(size=(600, 2))]
    noise = sweep_noise(strings)
    assert noise.brightness_scale == pytest.approx(2.0, rel=0.08) and noise.decay_scale == pytest.approx(2.0, rel=0.15)


def test_a_string_has_no_say_in_the_noise_by_which_it_is_judged():
    """One that rings far longer, strays far and wavers: all that would show noise, if it were another's."""
    def string(off):
        pattern = [(n, 0.3 * (-1) ** n + off, 0.8) for n in range(1, 9)]
        return change(decay=Figure(-off, 0.1), high=Figure(-off, 0.1), brightness=Figure(off, 0.1), ripple=Figure(0.3 - off, 0.5),
                      pattern=pattern, astray=Figure(0.0, 0.3), stretch=Figure(off, 0.1))

    others = [string(0.07 * (place - 4)) for place in range(9)]
    usual, odd = string(0.0), string(4.0)
    assert noise_for(odd, [*others, odd]) == noise_for(usual, [*others, usual])
    assert noise_for(others[0], [*others, odd]) != noise_for(others[0], [*others, usual])  # in the others' it has one


def test_beats_that_all_strings_share_are_not_held_against_one():
    """All beat by 1.2 dB more than when fresh: so does a healthy one, and another by 0.87 dB beyond, which is just heard (score 50)."""
    shared = replace(NOISE, beat_centre_db=1.2)
    healthy, wavers = (false_case(change(ripple=Figure(depth_db, 0.05)), shared).evidence[0] for depth_db in (1.2, 1.2 + 0.87))
    assert healthy.strength == pytest.approx(0.0) and score(wavers.strength) == pytest.approx(50.0)


def test_partials_and_stiffness_that_contradict_each_other_tell_of_no_other_string():
    """Stiffer by half by its paired partials, softer by half by the two values of B: one of them took partials wrong."""
    told = {"stretch": Figure(0.4, 0.05), "pattern": [(n, 0.0, 0.8) for n in range(1, 9)]}
    agreed = change(**told)
    assert false_case(agreed, NOISE).strength > 1.0
    assert false_case(replace(agreed, stiffness=Figure(-0.4)), NOISE).strength == 0.0
    assert false_case(replace(agreed, stiffness=Figure(0.0)), NOISE).strength == 0.0


@pytest.mark.parametrize("which", ["n_now", "n_fresh"])
def test_partials_astray_are_less_sure_where_a_single_pluck_tells(which):
    told = change(pattern=[(n, 6.0 * (-1) ** n, 0.8) for n in range(1, 11)], astray=Figure(6.0, 0.4))
    sure, once = (false_case(one, NOISE).evidence[0].sureness for one in (told, replace(told, **{which: 1})))
    assert 1.05 < sure / once < 1.3  # measured, see limits: about a seventh


def test_a_loss_of_the_highs_alone_must_be_surer_than_a_loss_of_all():
    """3.2 errors where 3 are asked are beyond doubt for the ring; sum tones, noise and moving gain bend the upper partials most."""
    plain = SweepNoise(3.0, UNKNOWN)
    lost, kept = Figure(1.6, 0.5), Figure(0.0, 0.5)
    assert dead_case(change(decay=lost), plain).strength > 1.0
    assert 0.75 < dead_case(change(decay=kept, high=lost), plain).strength < 1.0


def test_all_partials_together_say_little_more_of_the_ring_than_the_lowest():
    """The lowest, which carry the ring, lost a tenth of it, and all together nearly half: (0.1 + 0.12)/ln(4/3) = 0.76, watched, not dead
    (worked by hand; 0.12 is what limits allow the others to have lost beyond)."""
    sure = SweepNoise(3.0, UNKNOWN)
    case = dead_case(change(decay=Figure(0.6, 0.02), low=Figure(0.1, 0.02)), sure)
    assert case.strength == pytest.approx(0.22 / np.log(4.0 / 3.0), rel=1e-3)
    assert dead_case(change(decay=Figure(0.6, 0.02), low=Figure(0.3, 0.02)), sure).strength > limits.DECIDED


@pytest.mark.parametrize(("snr_db", "factor"), [(70.0, 1.0), (42.0, 1.0), (32.0, 1.5), (22.0, 2.0)])
def test_plucks_that_drown_twenty_decibels_deeper_are_judged_with_twice_the_error(snr_db, factor):
    """A twentieth more for each dB below 42 (set on real plucks in noise); what half of the strings show decides."""
    strings = [replace(change(), snr_db=one) for one in (snr_db, snr_db, snr_db, 90.0, 5.0)]
    assert noise_caution(strings) == pytest.approx(factor)


def test_an_aged_set_whose_strings_scatter_twice_as_much_as_their_errors_say_has_them_doubled():
    """All lost about 40 % of their ring, give or take two errors; none rings as when fresh, so that those below nothing tell nothing.
    Derived: half of normal values lie within 0.6745 standard deviations of their centre."""
    drawn = np.random.default_rng(6).normal(0.5, 2.0 * 0.05, 600)
    noise = sweep_noise([change(decay=Figure(float(value), 0.05)) for value in drawn])
    assert noise.decay_scale == pytest.approx(2.0, rel=0.1)
    calm = sweep_noise([change(decay=Figure(0.5 + 0.5 * (float(value) - 0.5), 0.05)) for value in drawn])
    assert calm.decay_scale == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("rate_hz", [16000.0, 44100.0])
def test_the_last_tenth_below_half_the_sampling_rate_is_not_compared(rate_hz):
    """A converter's own filter falls off there (from memory): 0.9·rate/2."""
    band = compare_captures((Capture(None, rate_hz),), (Capture(None, 96000.0),)).band
    assert band.high_hz == pytest.approx(0.9 * rate_hz / 2.0)


@pytest.mark.parametrize("n_strings", [8, 24, 47])
def test_what_most_strings_have_in_common_is_told_with_its_error(n_strings):
    """Drawn here: healthy strings that lost 0.1 and scatter by what their errors say. The centre is a mode, known less well than a mean."""
    drawn = np.random.default_rng(7)
    sweeps = [[change(decay=Figure(0.1 + 0.05 * z, 0.05)) for z in row] for row in drawn.normal(size=(400, n_strings))]
    told = [sweep_noise(strings).decay_centre for strings in sweeps]
    apart = np.array([figure.value for figure in told]) - 0.1
    said = np.array([figure.se for figure in told])
    assert np.sqrt(np.mean(apart**2)) == pytest.approx(np.mean(said), rel=0.2)
    assert np.mean(np.abs(apart) < 1.96 * said) >= 0.93


@pytest.mark.parametrize("times", [1.0, 1.5])
def test_the_strings_that_stray_least_tell_by_how_much_all_do(times):
    """Eleven partials a string, drawn so many times as far off as is said, and not fitted: that makes good for the farthest, left out."""
    rows = np.random.default_rng(2).normal(0.0, 0.8 * times, (400, 11))
    strings = [change(pattern=[(n + 1, float(c), 0.8) for n, c in enumerate(row)], astray=Figure(0.5, 0.2)) for row in rows]
    assert sweep_noise(strings).astray_scale == pytest.approx(times, rel=0.12)


@pytest.mark.parametrize(("n_partials", "quiet"), [(8, 0.43), (10, 0.49), (12, 0.54)])
def test_strings_that_stray_as_told_enlarge_nothing_and_those_twice_as_far_do(n_partials, quiet):
    """Derived here without the program: normal values less pitch and stretch, the farthest left out, the rest cut at six, over n − 3;
    35 % of strings stay below 0.43 to 0.54. That is less than what is allowed them, so it takes more to enlarge errors."""
    n = np.arange(1, n_partials + 1)
    design = np.stack([np.ones(n_partials), n**2], axis=1)
    rows = np.random.default_rng(3).normal(0.0, 1.0, (3000, n_partials))
    rows -= rows @ np.linalg.pinv(design).T @ design.T
    sums = [{times: np.minimum(np.sort((times * row) ** 2)[:-1], 6.0).sum() / (n_partials - 3) for times in (1.0, 2.0)} for row in rows]
    assert np.quantile([one[1.0] for one in sums], QUIET_SHARE) == pytest.approx(quiet, abs=0.06)  # by least squares a little more
    for times in (1.0, 2.0):
        strings = [change(pattern=list(zip(n, times * row, np.ones(n_partials), strict=True)), astray=Figure(0.5, 0.2)) for row in rows]
        expected = max(1.0, np.sqrt(np.quantile([one[times] for one in sums], QUIET_SHARE) / QUIET_CHI2))
        assert sweep_noise(strings).astray_scale == pytest.approx(expected, rel=0.03)
        assert (expected > 1.2) == (times == 2.0)

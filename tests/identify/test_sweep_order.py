"""The order in which a sweep runs along the harp, on events made by hand: each sounds at one pitch and is like every string near it."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from toneprobe.identify import sweep_order
from toneprobe.identify.evidence import Naming
from toneprobe.units import hz_of_note

NOTES = ("E5", "D5", "C5", "B4", "A4", "G4", "F4", "E4", "D4", "C4")
HARP_HZ = np.array([hz_of_note(note) for note in NOTES])
N = len(NOTES)
PLAIN = sweep_order.Gap(0.0, 2.0, np.zeros((N, N), bool), np.zeros(N))


def sound(string, cents=0.0, *, power_db=-30.0, harp_hz=HARP_HZ):
    """Of a string so many cents off its note, as any of the strings: like all within a semitone, as one that slipped like those below."""
    offset = 1200.0 * np.log2(harp_hz[string] / harp_hz) + cents
    return Naming(np.where(np.abs(offset) < 120.0, 0.8, 0.3), offset, offset < -120.0, 200.0, power_db)


def gap(namings, onsets_s=(0.0, 2.0), *, harp_hz=HARP_HZ, is_ordered=True, may_be_pluck=None, level_cents=0.0):
    """What lies before the last of them."""
    run = sweep_order.Run(onsets_s, harp_hz, np.zeros(len(namings)), np.ones(len(namings), bool) if may_be_pluck is None else may_be_pluck,
              is_ordered=is_ordered)
    return sweep_order.gaps_between(run, namings, level_cents)[-1]


# All ways in which three events may be named, one by one

@pytest.mark.parametrize("habits", [sweep_order.StepHabits(), sweep_order.StepHabits(0.6, 0.3, 0.1, 0.4, ((2, 0.5), (-1, 0.2)))])
@pytest.mark.parametrize("played", [(2, 1, 0), (0, 1, 2), (1, 1, None)])
def test_path_and_chances_are_those_of_all_ways_counted_one_by_one(habits, played):
    """derived: the likeliest of all sequences of states, and of every string the share of those in which it is named."""
    rng, n, n_events = np.random.default_rng(3), 3, 3
    of_strings = rng.normal(0.0, 1.0, (n_events, n)) + np.array([[3.0 * (string == one) for string in range(n)] for one in played])
    evidence = np.concatenate([of_strings, of_strings, np.full((n_events, 1), -np.inf)], axis=1)
    no_pluck = rng.normal(-1.0, 1.0, n_events)
    gaps = [sweep_order.Gap(0.0, np.inf, np.zeros((n, n), bool), np.zeros(n)),
            *(sweep_order.Gap(4.0 * place, 0.3, rng.random((n, n)) < 0.3, rng.normal(size=n)) for place in (1, 3))]
    steps, ways = list(sweep_order.Steps(n, gaps, habits)), []
    for states in product([None, *range(2 * n)], repeat=n_events):
        at, weight = 2 * n, 0.0
        for event, state in enumerate(states):
            weight += no_pluck[event] if state is None else steps[event][at, state] + evidence[event, state]
            at = at if state is None else state
        ways.append((weight, [None if state is None else state % n for state in states]))
    likeliest, total = max(ways, key=lambda way: way[0]), sum(np.exp(weight) for weight, _ in ways)
    path, weight = sweep_order.best_path(evidence, no_pluck, steps)
    assert path == likeliest[1] and weight == pytest.approx(likeliest[0])
    shares = [[sum(np.exp(weight) for weight, names in ways if names[event] == string) / total for string in range(n)]
              for event in range(n_events)]
    assert sweep_order.posterior(evidence, no_pluck, steps) == pytest.approx(np.array(shares))


# What a step weighs: what players do

USUAL = sweep_order.StepHabits()


def weight(ahead, gap=PLAIN, habits=USUAL, *, turned=False):
    """Of going so many strings on in the direction of a sweep down the harp."""
    start = 4
    return sweep_order.step_weights(sweep_order.usual_steps(N, habits), gap)[start, start + ahead + N * turned]


def test_the_next_string_is_likelier_than_a_skip_a_skip_than_a_swap_and_a_swap_than_a_way_back():
    assert weight(1) > weight(2) > weight(3) > weight(-1) == weight(-2) > weight(-3)
    assert weight(1) > weight(1, turned=True)
    from_top = sweep_order.usual_steps(47, USUAL)[0]
    assert from_top[20] < from_top[10] and from_top[46] == from_top[30]  # somebody may begin anew anywhere


def test_up_the_harp_it_is_as_down():
    all_of_it = sweep_order.usual_steps(N, USUAL)
    down, up = all_of_it[:N, :N], all_of_it[N:-1, N:-1]
    assert np.array_equal(up, down[::-1, ::-1]) and np.array_equal(all_of_it[-1, :-1], np.zeros(2 * N))  # the first may be any


def test_the_same_string_far_weaker_or_at_once_is_hardly_a_pluck_and_another_string_may_be():
    for doubtful in (replace(PLAIN, drop_db=30.0), replace(PLAIN, wait_s=0.05)):
        assert weight(0, doubtful) < weight(0) - 5.0 and weight(1, doubtful) == weight(1)
    for usual in (replace(PLAIN, drop_db=-30.0), replace(PLAIN, drop_db=6.0), replace(PLAIN, wait_s=0.5)):
        assert weight(0, usual) == weight(0)


def test_another_string_at_the_very_pitch_of_the_one_before_is_hardly_one():
    clash = replace(PLAIN, same_pitch=np.arange(N) == np.arange(N)[:, None] + 1)
    assert weight(1, clash) < weight(0) < weight(1) and weight(2, clash) == weight(2)  # it is the same string again


def test_a_leap_that_is_usual_with_a_player_is_likelier_than_another_and_none_goes_to_the_same_string():
    habits = sweep_order.StepHabits(leap=0.5, usual_leaps=((3, 0.6), (-4, 0.2)))
    assert weight(3, habits=habits) > weight(4, habits=habits) and weight(-4, habits=habits) > weight(-3, habits=habits)
    assert weight(3, habits=habits, turned=True) == pytest.approx(np.log(0.5 * (0.6 + 0.2 / N)), abs=0.05)  # derived
    assert weight(0, habits=habits) == pytest.approx(weight(0) + np.log(0.5))  # derived: what does not leap, half of all


# What lies between two events

def test_what_is_weaker_and_how_long_after_is_told_of_the_last_that_may_be_a_pluck():
    namings = [sound(3, power_db=-30.0), sound(3, power_db=-80.0), sound(3, power_db=-42.0)]
    told = gap(namings, (1.0, 1.5, 3.5), may_be_pluck=np.array([True, False, True]))
    assert (told.drop_db, told.wait_s) == (12.0, 2.5)


def test_two_strings_at_one_pitch_clash_unless_that_is_how_they_are_tuned():
    """A and G are a whole tone apart; F flat sounds as E does (theory of music)."""
    assert gap([sound(4), sound(5, 195.0)]).same_pitch[4, 5] and not gap([sound(4), sound(5)]).same_pitch[4, 5]
    assert gap([sound(5, 195.0), sound(4)]).same_pitch[5, 4] and not gap([sound(5), sound(4)]).same_pitch[5, 4]  # up the harp too
    flat_hz = np.where(np.arange(N) == 6, hz_of_note("E4"), HARP_HZ)
    assert not gap([sound(6, harp_hz=flat_hz), sound(7, harp_hz=flat_hz)], harp_hz=flat_hz).same_pitch[6, 7]


@pytest.mark.parametrize(("first", "then", "sign"), [
    (0.0, 10.0, 0), (0.0, 60.0, -1), (0.0, -60.0, -1), (60.0, 60.0, 1), (0.0, 200.0, -1)],
    ids=["as it was", "tuned between", "tuned down", "off its note as before", "farther than anybody tunes"])
def test_a_string_keeps_its_pitch_from_pluck_to_pluck(first, then, sign):
    again = gap([sound(4, first), sound(4, then)]).again[4]
    assert np.sign(again) == sign or abs(again) < 0.05 and sign == 0


def test_where_the_order_does_not_tell_a_string_may_have_been_tuned():
    assert gap([sound(4), sound(4, 60.0)], is_ordered=False).again[4] == 0.0
    assert gap([sound(4), sound(4, 200.0)], is_ordered=False).again[4] < 0.0  # but nobody tunes it so far


# What a first solution tells

@pytest.mark.parametrize(("path", "share"), [
    (list(range(40)), "following"), ([k // 4 for k in range(40)], "same"), (list(range(0, 80, 2)), "skip")])
def test_habits_are_learnt_from_what_a_player_did(path, share):
    learnt, usual = sweep_order.learn_habits([None, *path]), USUAL
    assert learnt.following + learnt.same + learnt.skip == pytest.approx(1.0)
    assert getattr(learnt, share) > max(getattr(usual, share) + 0.15, 0.6)
    assert sweep_order.learn_habits([*path[::-1], None]) == learnt  # up the harp


@pytest.mark.parametrize(("path", "tells"), [
    (range(8), True), (range(7), False), ([0, 1, 2, 4, 5, 7, 8, 11], True), ([0, 1, 2, 4, 5, 7, 8, 12], False), ([], False)],
    ids=["eight", "seven", "eight of twelve", "eight of thirteen", "none"])
def test_the_order_tells_where_two_thirds_of_eight_strings_and_more_were_heard(path, tells):
    assert sweep_order.order_tells([None, *path]) is tells


@pytest.mark.parametrize(("cents", "left_out", "is_doubted"), [
    (-150.0, 5, True), (-250.0, 5, True), (-150.0, None, False), (-15.0, 5, False), (60.0, None, False)],
    ids=["slipped to it", "slipped below it", "none is missing", "at one pitch", "tuned"])
def test_a_string_at_two_pitches_is_doubted_where_another_is_missing_that_may_have_slipped_to_it(cents, left_out, is_doubted):
    """Each string twice; the sixth's second pluck lies `cents` off: where the fifth from the top is left out, it may be that one's."""
    path = [string for string in range(N) for _ in range(2) if string != left_out]
    namings = [sound(string) for string in path]
    last = len(path) - 1 - path[::-1].index(6)
    namings[last] = sound(6, cents) if left_out is None or abs(cents) < 20.0 else sound(left_out, cents)
    doubt = sweep_order.at_two_pitches(namings, path, 0.0)
    expected = np.zeros_like(doubt)
    if is_doubted:
        expected[last, 6] = sweep_order.MOVED_COST
    assert doubt == pytest.approx(expected)


def test_of_a_few_strings_none_is_missing():
    """Seven, the sixth from the top left out: they may have been plucked by themselves."""
    path = [0, 1, 2, 3, 4, 6, 6]
    assert not sweep_order.at_two_pitches([*(sound(string) for string in path[:-1]), sound(5, -150.0)], path, 0.0).any()

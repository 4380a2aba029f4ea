"""A player who does not run along the harp, told by plucks that are clear by themselves: evidence made by hand, log weights."""

import numpy as np
import pytest

from toneprobe.identify.leaps import learn_leaps

N = 14
LOWER, UPPER = range(7, 14), range(7)
PAIRS = [string for pair in zip(LOWER, UPPER, strict=True) for string in pair]
ALONG = list(range(N))


def learnt(names, path, *, unclear=(), no_pluck=-12.0):
    """names: what was plucked, by far the likeliest but where `unclear`: there the next string is nearly as likely."""
    evidence = np.full((len(names), N), -10.0)
    evidence[np.arange(len(names)), names] = 0.0
    for event in unclear:
        evidence[event, (names[event] + 1) % N] = -1.0
    return learn_leaps(np.concatenate([evidence, evidence, np.full((len(names), 1), -np.inf)], axis=1),
                       np.full(len(names), no_pluck), path)


def test_octave_pairs_are_a_habit_with_their_steps():
    """Of pairs a run along the lower strings leaves the upper ones out (theory of music: an octave is seven strings)."""
    habits = learnt(PAIRS, [string if string in LOWER else None for string in PAIRS])
    assert habits.leap > 0.9
    assert dict(habits.usual_leaps) == pytest.approx({-7: 6 / 21, 8: 5 / 21})  # derived: 7 and 6 of 13 leaps, less one each, beside 8 steps
    # that are known of players in general


def test_octave_pairs_through_three_octaves_are_a_habit_though_a_run_comes_to_their_upper_strings_too():
    """As the lower ones of other pairs; one leap that comes again and again tells."""
    names = [string for lower in range(13, 6, -1) for string in (lower, lower - 7)] + [string for lower in range(6, -1, -1)
                                                                                      for string in (lower + 7, lower)]
    habits = learnt(names, [one if place % 2 == (place > 13) else None for place, one in enumerate(names)])
    assert habits is not None and dict(habits.usual_leaps)[-7] > 0.3


def test_two_hands_in_turn_from_the_middle_outwards_leap_though_never_twice_as_far():
    """A run along the harp leaves one hand out."""
    names = [string for pair in zip(reversed(UPPER), LOWER, strict=True) for string in pair]
    habits = learnt(names, [string if string in LOWER else None for string in names])
    assert habits.leap > 0.7 and not any(share for _, share in habits.usual_leaps)


def test_three_plucks_astray_of_forty_are_no_habit():
    """Less than a tenth; of octave pairs half contradict a run (theory of music)."""
    names = [string for string in ALONG[:12] for _ in range(3)]
    path = list(names)
    for at, string in ((5, 12), (15, 13), (25, 12)):
        names.insert(at, string)
        path.insert(at, None)
    assert learnt(names, path) is None


@pytest.mark.parametrize("astray", [{}, {5: 12}, {4: 11, 8: 12}])
def test_along_the_harp_nobody_leaps_though_a_pluck_or_two_is_out_of_place(astray):
    """Which the run along the harp leaves out, their strings too."""
    names = [string for string in ALONG if string not in astray.values()]
    path = list(names)
    for at, string in astray.items():
        names.insert(at, string)
        path.insert(at, None)
    assert learnt(names, path) is None


def test_tones_from_next_door_are_no_leaps():
    """Of strings that have their own plucks in the run, and from anywhere: no leap comes again."""
    names, path = list(ALONG), list(ALONG)
    for at, string in ((3, 11), (6, 1), (9, 13), (12, 2)):
        names.insert(at, string)
        path.insert(at, None)
    assert learnt(names, path) is None


def test_what_is_not_clear_by_itself_teaches_nothing():
    path = [string if string in LOWER else None for string in PAIRS]
    assert learnt(PAIRS, path, unclear=range(len(PAIRS))) is None  # a neighbour is nearly as likely
    assert learnt(PAIRS, path, no_pluck=-2.0) is None  # it may as well be no pluck


def test_an_instrument_of_one_string_has_no_leaps():
    assert learn_leaps(np.array([[0.0, 0.0, -np.inf]]), np.array([-9.0]), [0]) is None

"""Whose plucks they are in a pitch check. The pitches are made up; which string each pluck is was decided by hand."""

from dataclasses import fields, replace

import pytest

from toneprobe.instrument import find_string, load_instrument
from toneprobe.measure.figure import FIGURES, Figure, PluckMeasurement
from toneprobe.units import cents_between, shift_hz
from toneprobe.upkeep.check_plucks import before_and_after, trusted_plucks

HARP = load_instrument("pedal-47", tuning="naturals")
NEW = frozenset({"3D"})


def sweep(*heard):
    """Plucks as they would be named: the name, then cents off that name's note."""
    blank = {name: Figure(None, reason="not asked for") for name in FIGURES}
    plucks = []
    for place, (name, cents) in enumerate(heard):
        spec = find_string(HARP, name)
        pitch = {"pitch_hz": Figure(shift_hz(spec.expected_hz, cents), 0.01), "cents_off": Figure(cents, 0.1)}
        plucks.append(PluckMeasurement(name, spec.note, float(place), 1.0, 0.9, 40.0, **(blank | pitch), partials=(), flags=()))
    return plucks


def told(*heard, **options):
    """Name and cents from that name's note of every trusted pluck, and what is doubtful."""
    found = trusted_plucks(sweep(*heard), HARP, NEW, **options)
    cents = [round(cents_between(one.pitch_hz.value, find_string(HARP, one.string).expected_hz)) for one in found.plucks]
    return list(zip([one.string for one in found.plucks], cents, strict=True)), found.doubtful


def test_a_new_string_two_semitones_flat_is_the_one_that_is_named():
    """3D at 200 cents below D5 sounds as C5, which is 3C."""
    assert told(("3E", 0), ("3C", 1), ("3C", 0), named="3D") == ([("3E", 0), ("3D", -199), ("3C", 0)], ())
    assert told(("3C", 0), ("3C", 1), ("3E", 0), named="3D") == ([("3C", 0), ("3D", -199), ("3E", 0)], ())  # played upwards
    twice = told(("3E", 0), ("3E", 0), ("3C", 1), ("3C", 1), ("3C", 0), ("3C", 0), named="3D")
    assert twice[0][2:] == [("3D", -199), ("3D", -199), ("3C", 0), ("3C", 0)]


def test_it_is_told_by_a_pitch_that_no_string_in_tune_has():
    assert told(("3C", 50), ("3E", 0), ("3C", 0), named="3D") == ([("3D", -150), ("3E", 0), ("3C", 0)], ())
    assert told(("3E", 0), ("3B", 45), ("3C", 0), named="3D")[0] == [("3E", 0), ("3D", -255), ("3C", 0)]  # three semitones down is 3B


def test_it_is_told_by_lying_beside_the_plucks_of_the_string_below():
    """C, then 9 to 12 cents above it: no string moves so far by itself (two takes of one: 5.6 at the most), and one of two is named."""
    assert told(("3E", 0), ("3C", 10), ("3C", 0), named="3D")[0] == [("3E", 0), ("3D", -190), ("3C", 0)]
    assert told(("3C", 0), ("3C", 0), ("3C", 12), ("3C", 11), ("3B", 0), named="3D")[0] == [
        ("3C", 0), ("3C", 0), ("3D", -188), ("3D", -189), ("3B", 0)]
    assert "3D" not in dict(told(("3B", 0), ("3C", 12), ("3C", 11), named="3D")[0])  # none at the pitch of 3C
    assert "3D" not in dict(told(("3B", 0), ("3C", 0), ("3C", 6), named="3D")[0])


def test_plucked_three_times_at_a_pitch_of_no_string_it_is_one_run():
    """Three plucks each, as a check asks for: the three at 50 cents above C belong together, and to the string that the player names."""
    three = [*[("3E", 0)] * 3, *[("3C", 50)] * 3, *[("3B", 0)] * 3]
    assert told(*three, named="3D") == ([*[("3E", 0)] * 3, *[("3D", -150)] * 3, *[("3B", 0)] * 3], ())
    assert {one.sureness for one in trusted_plucks(sweep(*three), HARP, NEW, named="3D").plucks[3:6]} == {1.0}  # by the player's word


def test_beside_the_string_below_among_others():
    """Plucks of 3C part by 10 cents whatever else was plucked; 5 and 10 cents off they may be takes of one string (5.6 at the most)."""
    assert told(("2C", 0), ("3E", 0), ("3C", 10), ("3C", 0), named="3D")[0] == [("2C", 0), ("3E", 0), ("3D", -190), ("3C", 0)]
    assert "3D" not in dict(told(("3E", 0), ("3C", 5), ("3C", 10), ("3B", 0), named="3D")[0])


def test_a_harp_that_has_sunk_as_a_whole_has_no_string_astray():
    """All 40 cents flat, as after a cold night: none lies off the others, and a new string is sought by where it lies among them."""
    assert told(("3E", -40), ("3C", -40), ("3B", -40)) == ([("3E", -40), ("3C", -40), ("3B", -40)], ())
    assert told(("3E", -40), ("3C", 0), ("3B", -40), named="3D")[0] == [("3E", -40), ("3D", -200), ("3B", -40)]


def test_a_pluck_without_a_pitch_tells_of_no_string():
    blind, *others = sweep(("3E", 0), ("3D", -3), ("3C", 0))
    blind = replace(blind, pitch_hz=Figure(None, reason="not heard"), cents_off=Figure(None, reason="not heard"))
    assert trusted_plucks([blind, *others], HARP, NEW).plucks == tuple(others)


def test_an_old_string_that_is_named_is_taken_as_far_off_as_it_is():
    assert told(("3G", 0), ("3F", -60), ("3E", 0), named="3F") == ([("3G", 0), ("3F", -60), ("3E", 0)], ())
    assert told(("3G", 0), ("3F", -60), ("3E", 0))[1] == ("3F",)


def test_alone_it_may_be_anywhere_that_a_new_string_may_be():
    assert told(("3C", 0), named="3D") == ([("3D", -200)], ())
    assert told(("3B", 0), ("3B", 0), named="3D") == ([("3D", -300), ("3D", -300)], ())
    assert told(("3A", 0), named="3D")[0] == [("3A", 0)]  # five semitones: that was another string


@pytest.mark.parametrize("heard", [
    [("3E", 0), ("3C", 0)],  # a neighbour, as often as the others
    [("3C", 1), ("3C", 0)] + [("3B", 0)],  # nothing above it: which half?
    [("3E", 0), ("3C", 0), ("3C", 0), ("3C", 0)],  # neither once nor twice as often
    [("3E", 0), ("3C", 0), ("3C", 0), ("3E", 0)],  # up and down again
    [("2C", 0), ("2C", 0), ("3E", 0), ("3C", 0), ("3C", 0)],  # some once, some twice
    [("3E", 10), ("3E", 0), ("3C", 0)],  # two pitches of a higher string
    [("3E", 0), ("3C", 10), ("3C", 25), ("3C", 0)],  # three pitches
    [("3E", 0), ("3C", 50), ("3B", 45), ("3A", 0)],  # two that it may be
    [("2C", 0), ("2D", 0)],  # nothing near
])
def test_it_is_not_guessed_at(heard):
    assert "3D" not in dict(told(*heard, named="3D")[0])


def test_an_old_string_is_not_looked_for_far_from_its_note():
    old = {"named": "3F"}
    assert "3F" not in dict(told(("3G", 0), ("3E", 0), ("3E", 1), **old)[0])
    assert "3F" not in dict(told(("3G", 0), ("4D", 50), ("4D", 0), **old)[0])  # where a new one would be sought
    assert told(("4E", 0), **old)[0] == [("3F", -100)] and told(("4D", 0), **old)[0] == [("4D", 0)]


def test_a_neighbour_that_may_hold_two_strings_is_left_out():
    """With 3D new and not heard, the third pluck under 3C may be 3D's: neither mean nor middle of those speaks of 3C."""
    assert told(("3E", 0), ("3C", 9), ("3C", 0)) == ([("3E", 0)], ("3C",))
    assert told(("3E", 0), ("3D", -3), ("3C", 9), ("3C", 0))[1] == ()  # 3D was heard: then 3C was plucked twice
    assert told(("3E", 0), ("3C", 25), ("3C", 0))[1] == ("3C",)
    assert told(("3E", 0), ("3C", 0), ("3B", 35), ("3A", 0))[1] == ("3B",)  # old, and astray


@pytest.mark.parametrize("cents, n_before, n_after", [
    ((-9.0, 0.0), 1, 1), ((-9.0, -8.7, 0.1, 0.0), 2, 2), ((-40.0, -20.0, 5.0, 0.2, 0.0), 1, 2), ((-2.0, 0.0), 1, 1),
    ((0.0, 0.4), 0, 0), ((0.0,), 0, 0),
])
def test_plucks_before_and_after_tuning(cents, n_before, n_after):
    plucks = sweep(*(("3D", c) for c in cents))
    before, after = before_and_after(plucks)
    assert (tuple(before), tuple(after)) == (tuple(plucks[:n_before]), tuple(plucks[len(plucks) - n_after :]) if n_after else ())


def test_a_string_that_was_tuned_in_it_is_not_doubtful():
    heard, doubtful = told(("3D", -40), ("3D", -10), ("3D", 0), ("3C", 0), named="3D", moves=True)
    assert [cents for name, cents in heard if name == "3D"] == [-40, -10, 0] and doubtful == ()
    assert told(("3D", -40), ("3D", 0), ("3C", 0), named="3D")[1] == ("3D",)


def apart(*heard, young=NEW, **options):
    """The two pitches that a string has, by name, and the strings whose plucks are trusted."""
    found = trusted_plucks(sweep(*heard), HARP, young, **options)
    return {name: tuple(round(cents, 6) for cents in pair) for name, pair in found.tuned.items()}, {one.string for one in found.plucks}


def test_a_string_with_two_pitches_is_not_taken_at_their_mean():
    """20 and 0 cents flat: the mean of 10 is the pitch of nothing. Which string and how far apart were decided by hand."""
    assert apart(("3E", 0), ("3D", -20), ("3D", 0), ("3C", 0), named="3D") == ({"3D": (-20.0, 0.0)}, {"3E", "3C"})
    assert apart(("3D", -20), ("3D", -9), ("3D", 0), ("3D", 0), ("3C", 0), named="3D")[0] == {"3D": (-20.0, 0.0)}  # while it was turned
    assert apart(("3D", -45), ("3D", 0), ("3C", 0), named="3D")[0] == {"3D": (-45.0, 0.0)}
    assert apart(("3F", 8), ("3F", 0), ("3G", 0), named="3F")[0] == {"3F": (8.0, 0.0)}  # an old one that is named
    assert apart(("3D", -20), ("3D", 0), ("3C", 0), named="3D", moves=True) == ({}, {"3D", "3C"})
    assert apart(("3D", -12), ("3D", -9), ("3D", -10), named="3D") == ({}, {"3D"})  # one pitch, read three times
    assert apart(("3F", 0), ("3D", -3), ("3C", 9), ("3C", 0))[0] == {}  # an old neighbour that nobody named


def test_two_pitches_of_a_string_that_nobody_named():
    assert apart(("3E", 0), ("3D", -20), ("3D", 0), ("3C", 0)) == ({"3D": (-20.0, 0.0)}, {"3E", "3C"})
    two_new = {"young": frozenset({"3D", "3C"})}
    assert apart(("3E", 0), ("3D", 0), ("3C", -9), ("3C", 0), **two_new)[0] == {"3C": (-9.0, 0.0)}
    assert apart(("3E", 0), ("3C", -9), ("3C", 0), **two_new)[0] == {}  # one of the two may be 3D, two semitones flat


def test_a_string_just_tuned_may_give_way_while_it_is_plucked():
    """Some cents within a recording as left; a rise in it is the pin, and so is a fall of 20 and more."""
    assert apart(("3D", 0), ("3D", -4), ("3D", -7), ("3C", 0), named="3D", may_sink=True) == ({}, {"3D", "3C"})
    assert apart(("3D", -8), ("3D", 0), ("3C", 0), named="3D", may_sink=True)[0] == {"3D": (-8.0, 0.0)}
    assert apart(("3D", 0), ("3D", -30), ("3C", 0), named="3D", may_sink=True)[0] == {"3D": (0.0, -30.0)}


def test_what_may_be_its_pitch_before_tuning_is_not_taken_for_a_neighbour():
    """3C, then 3D: either the neighbour first, or 3D two semitones flat and then tuned. Nothing is made of it."""
    assert "3D" not in dict(told(("3C", 0), ("3D", -10), ("3D", 0), named="3D", moves=True)[0])
    assert "3D" not in dict(told(("3C", 0), ("3B", 45), ("3D", -10), ("3D", 0), named="3D", moves=True)[0])  # nor where another is astray
    far = told(("3C", 50), ("3D", 0), ("3E", 0), ("3B", 0), named="3D", moves=True)[0]  # no string in tune has that pitch
    assert far == [("3D", -150), ("3D", 0), ("3E", 0), ("3B", 0)]


def test_input_is_left_alone_and_nothing_gives_nothing():
    plucks = sweep(("3E", 0), ("3C", 1), ("3C", 0))
    before = [tuple(getattr(one, field.name) for field in fields(one)) for one in plucks]
    trusted_plucks(plucks, HARP, NEW, named="3D")
    assert [tuple(getattr(one, field.name) for field in fields(one)) for one in plucks] == before
    assert told(named="3D") == ([], ())

"""A string that stands between its note and that of one a semitone away, which a sweep of a few strings did not hear. In E flat major D and
E flat are a semitone apart, B flat and C two (music theory). Which strings were heard, and how far off they lie, was decided here."""

from dataclasses import replace

import pytest

from toneprobe.baseline import fresh_baseline
from toneprobe.condition.judgement import judge
from toneprobe.instrument import load_instrument
from toneprobe.session.sweep import read_sweep

LEVER = load_instrument("lever-22", tuning="Eb")


def conditions(drawn, heard, cents, *, born=None):
    """Of those strings, so many cents off; `born`: off when fresh already."""
    strings = drawn.draw_harp(LEVER, 1)
    strings = {name: replace(one, cents=(born or {}).get(name, 0.0)) for name, one in strings.items()}
    fresh = fresh_baseline([drawn.draw_sweep(strings, drawn.DrawnSweep(n_each=3), 101)])
    later = {name: replace(one, cents=one.cents + cents.get(name, 0.0)) for name, one in strings.items() if name in heard}
    sweep = read_sweep(drawn.draw_sweep(later, drawn.DrawnSweep(), 201))
    return {one.string: one for one in judge(sweep, fresh, instrument=LEVER).conditions}


@pytest.mark.parametrize("name, cents, other, way", [("3D", 40.0, "3E", "higher"), ("3E", -60.0, "3D", "lower")])
def test_it_is_asked_which_of_the_two_it_was(drawn, name, cents, other, way):
    one = conditions(drawn, (name, "3C", "2F"), {name: cents})[name]
    assert one.verdict == "unsure" and one.dead_score is None and "tune it" not in " ".join(one.reasons)
    assert f"{other}, a semitone {way}, was not heard: it may have been {other}" in one.reasons[0]
    assert one.next_step.startswith("Pluck both")


@pytest.mark.parametrize("heard, cents, born", [
    (("3D", "3E", "2F"), {"3D": 40.0}, {}),  # the other was heard
    (("3D", "3C", "2F"), {"3D": -40.0}, {}),  # no string is a semitone below D
    (("3B", "3A", "2F"), {"3B": 40.0}, {}),  # nor a semitone above B flat
    (("3D", "3C", "2F"), {"3D": 15.0}, {}),  # near its note
    (("3D", "3C", "2F"), {}, {"3D": 40.0}),  # as when fresh
    (tuple(one.name for one in LEVER.strings if one.name != "3E"), {"3D": 40.0}, {}),  # a whole sweep: its order told
])
def test_else_it_is_judged(drawn, heard, cents, born):
    found = conditions(drawn, heard, cents, born=born)
    assert not any("may have been" in reason for one in found.values() for reason in one.reasons)
    assert found[heard[0]].next_step != "Pluck both, one after the other, and add the recording to this sweep."


@pytest.mark.parametrize("n_extra, without, is_asked", [
    (1, ("3D",), True), (2, ("3D",), True),  # D with its lever up sounds as E flat
    (0, ("3D",), False),  # E flat has no more plucks than others have
    (2, (), False),  # D was heard
    (2, ("2F",), True),  # F slack by a whole tone sounds as E flat, and no lever makes it
    (1, ("2F",), False),  # but not twice as many: plucked again
    (2, ("3C",), False),  # not beside it
])
def test_more_plucks_than_others_beside_a_string_that_was_not_heard_may_be_two_strings(drawn, n_extra, without, is_asked):
    strings = drawn.draw_harp(LEVER, 1)
    fresh = fresh_baseline([drawn.draw_sweep(strings, drawn.DrawnSweep(n_each=3), 101)])
    later = {name: one for name, one in strings.items() if name not in without}
    plucks = drawn.draw_sweep(later, drawn.DrawnSweep(n_each=2), 201)
    more = [one for one in drawn.draw_sweep(later, drawn.DrawnSweep(n_each=2), 301) if one.string == "3E"]
    sweep = read_sweep([*plucks, *more[:n_extra]])
    found = {one.string: one for one in judge(sweep, fresh, instrument=LEVER).conditions}
    one = found["3E"]
    assert ("may have sounded as 3E" in " ".join(one.reasons)) == is_asked
    if is_asked:
        (other,) = without
        assert one.verdict == "unsure" and one.dead_score is None and "record the whole sweep again" in one.next_step
        assert one.reasons[0].startswith(f"It has {2 + n_extra} plucks where the others have 2, and {other} beside it was not heard")
        assert found[other].verdict == "unheard" and found[other].reasons[-1] == "It may have sounded as 3E."
        assert found[other].next_step == "Play it beside 3E, and do what is said of 3E."


def test_more_plucks_of_the_two_settle_nothing(drawn):
    """Twice as many it has whatever is plucked on top: what was given with the sweep holds the other's plucks still."""
    strings = drawn.draw_harp(LEVER, 1)
    fresh = fresh_baseline([drawn.draw_sweep(strings, drawn.DrawnSweep(n_each=3), 101)])
    later = {name: one for name, one in strings.items() if name != "2F"}
    plucks = [drawn.draw_sweep(later, drawn.DrawnSweep(n_each=2), seed) for seed in (201, 301, 401)]
    more = [one for several in plucks[1:] for one in several if one.string == "3E"]
    sweep = read_sweep([*plucks[0], *more])
    assert {one.string: one for one in judge(sweep, fresh, instrument=LEVER).conditions}["3E"].verdict == "unsure"

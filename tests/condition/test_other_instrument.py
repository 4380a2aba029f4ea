"""No string is called false where another instrument played, and others are judged as before."""

from dataclasses import replace

import numpy as np
import pytest

from toneprobe.condition import judgement
from toneprobe.condition.other_instrument import is_beside, warning
from toneprobe.measure.figure import FIGURES, Figure, PluckMeasurement
from toneprobe.session.sweep import read_sweep

UNKNOWN = Figure(None, None, "not drawn")


def pluck(string, cents):
    return PluckMeasurement(string, "A4", 1.0, 3.0, 0.99, 40.0, **dict.fromkeys(FIGURES, UNKNOWN) | {"cents_off": Figure(cents, 0.5)},
                            partials=(), flags=())


@pytest.mark.parametrize(("apart", "told"), [(100.0, ("3A", "3B", "3C")), (30.0, ())])
def test_strings_a_semitone_from_themselves_are_named(apart, told):
    """derived: a semitone is 100 cents (definition)."""
    plucks = [pluck(string, cents) for string in ("3A", "3B", "3C") for cents in (0.0, apart)]
    assert read_sweep([*plucks, pluck("3D", 0.0)]).at_two_pitches == told


def test_none_is_called_false_beside_another_instrument(judged, drawn, harp, monkeypatch):
    bad = {spec.name for spec in harp.strings[::3]}

    def found():
        return judged(lambda name, string: drawn.stray(string, 6.0, np.random.default_rng(5)) if name in bad else string)

    plain, strings = found(), tuple(spec.name for spec in harp.strings[:3])
    for n_strings in (2, 3):  # of which the third decides (other_instrument.LEAST_STRINGS)
        for told in (is_beside, warning):
            monkeypatch.setattr(judgement, told.__name__, lambda sweep, f=told, n=n_strings: f(replace(sweep, at_two_pitches=strings[:n])))
        beside = found()
        was, now = ([one.verdict for one in of.conditions] for of in (plain, beside))
        assert "false" in was
        assert now == ["unsure" if one == "false" and n_strings == 3 else one for one in was]
        assert any("Another instrument" in text for text in beside.warnings) is (n_strings == 3)
        assert n_strings < 3 or max(one.false_score or 0.0 for one in beside.conditions) < 37.5  # below what is watched (design)


def test_a_string_that_is_dead_beside_another_instrument_stays_dead(judged, drawn, harp, monkeypatch):
    """A tone from next door makes no ring shorter: false by its partials and a third shorter as well, it is dead by its ring."""
    name = harp.strings[12].name

    def bad(one, string):
        return drawn.stray(drawn.shorten(string, 0.62), 12.0, np.random.default_rng(2)) if one == name else string

    for told in (is_beside, warning):
        monkeypatch.setattr(judgement, told.__name__,
                            lambda sweep, f=told: f(replace(sweep, at_two_pitches=tuple(spec.name for spec in harp.strings[:3]))))
    found = next(one for one in judged(bad, seed=4).conditions if one.string == name)
    assert found.verdict == "dead" and found.false_score < 37.5

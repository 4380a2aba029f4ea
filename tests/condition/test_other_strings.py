"""A sweep of another harp: the stiffness of most strings is another, which wear never makes; so no string is called by it."""

from dataclasses import replace

import pytest


def stiffer(by, until):
    """Every string, or those before a place in the order of the harp, with another gauge: B goes with the fourth power of it (Fletcher)."""
    return lambda name, string: replace(string, b=string.b * by**4) if until is None or name in until else string


def test_another_harp_is_asked_about_and_no_string_called(judged):
    judgement = judged(stiffer(0.8, None))
    assert {one.verdict for one in judgement.conditions} == {"unsure"}
    assert {(one.dead_score, one.false_score) for one in judgement.conditions} == {(None, None)}
    assert "another harp" in judgement.warnings[0] and "withdraw" in judgement.warnings[0]


@pytest.mark.parametrize("n_wrong", [1, 6])
def test_a_few_strings_of_another_gauge_are_still_told_each(judged, harp, n_wrong):
    """Up to a quarter of the strings, here and there, are those strings' matter: most of them are named, and no other."""
    wrong = {spec.name for spec in harp.strings[3::3][:n_wrong]}
    verdicts = {one.string: one.verdict for one in judged(stiffer(0.8, wrong)).conditions}
    assert sum(verdicts[name] == "false" for name in wrong) > n_wrong // 2
    assert "false" not in {verdict for name, verdict in verdicts.items() if name not in wrong}

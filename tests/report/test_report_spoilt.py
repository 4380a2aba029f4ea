"""What is advised where a recording is at fault: which sweep, and that a few plucks more are no help."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from toneprobe.condition.context import FRESH, NOW
from toneprobe.report.spoilt import spoilt_remedy
from toneprobe.report.view import find_string_view, sweep_view

MARCH = {1: date(2026, 3, 7)}


@pytest.mark.parametrize(("sides", "said", "not_said"), [
    ((NOW,), ["record the whole sweep again", "'toneprobe withdraw 2'"], ["--fresh", "withdraw 1"]),
    ((FRESH,), ["sweep 1 of 7 March 2026", "'toneprobe withdraw 1'", "--fresh", "know to be new or good"], ["withdraw 2"]),
    ((NOW, FRESH), ["sweep 1 of 7 March 2026", "'toneprobe withdraw 1'", "'toneprobe withdraw 2'"], []),
])
def test_the_remedy_names_the_sweep_that_is_at_fault(sides, said, not_said):
    remedy = spoilt_remedy(sides, 2, MARCH)
    assert all(words in remedy for words in said) and not any(words in remedy for words in not_said)


def test_no_recording_at_fault_needs_none():
    assert spoilt_remedy((), 2, MARCH) == ""


def test_strings_that_a_recording_leaves_open_stand_apart_from_those_that_plucks_settle(facts):
    """Of three unsure strings two were fresh in the recording that is at fault."""
    remedy = spoilt_remedy((FRESH,), 2, MARCH)
    unsure = tuple(replace(one, verdict="unsure") if one.string in ("1D", "4A", "6D") else replace(one, verdict="sound")
                   for one in facts.conditions)
    view = sweep_view(replace(facts, conditions=unsure, spoilt={"1D": remedy, "6D": remedy, "0G": remedy}))
    assert [(group.names, group.remedy == remedy) for group in view.not_judged] == [("1D, 6D", True), ("4A", False)]
    assert find_string_view(view, "6D").next_step == remedy != find_string_view(view, "4A").next_step
    assert find_string_view(view, "0G").next_step != remedy  # it is fine all the same

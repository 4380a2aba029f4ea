"""What is advised where a recording is at fault: which sweep, and that a few plucks more are no help."""

import io
from dataclasses import replace
from datetime import date

import pytest
from rich.console import Console

from toneprobe.condition.context import FRESH, NOW
from toneprobe.condition.doubt_words import coarse_ring
from toneprobe.condition.next_steps import unsure_step
from toneprobe.measure.figure import Figure
from toneprobe.report.page import sweep_page
from toneprobe.report.spoilt import spoilt_remedy
from toneprobe.report.tables import print_report
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


def test_three_fresh_sweeps_are_listed_as_a_sentence_lists_three():
    remedy = spoilt_remedy((FRESH,), 9, {n: date(2026, 3, n) for n in (1, 2, 3)})
    assert "sweep 1 of 1 March 2026, 2 of 2 March 2026 and 3 of 3 March 2026, is at fault" in remedy
    assert "with 'toneprobe withdraw 1', 'toneprobe withdraw 2' and 'toneprobe withdraw 3', and record" in remedy


@pytest.mark.parametrize("sides", [(NOW,), (FRESH,), (NOW, FRESH)])
def test_no_string_is_cleared_that_could_not_be_judged(sides):
    """A string may be dead in a recording that rides its gain: what is known is that it cannot be told."""
    told = [spoilt_remedy(sides, 2, MARCH), unsure_step(spoilt_now=NOW in sides, spoilt_fresh=FRESH in sides).text]
    assert not any("not the string" in text for text in told)


def test_a_reason_with_many_doubts_is_told_once(facts):
    """Four strings that a single pluck leaves open, each by a ± of its own: from the least to the most. Of a fifth two plucks tell, and of
    a sixth something else of as many per cent: each is told by itself. By hand: ± is twice the error in per cent, of a ring as fresh."""
    doubts, other = {"1D": 52, "4A": 43, "5G": 57, "6D": 46}, {"2C": 41, "2D": 50}

    def unsure(one, doubt, n_plucks, reason=""):
        ring = Figure(0.0, doubt / 200.0)
        return replace(one, verdict="unsure", n_plucks=n_plucks, reasons=(reason or coarse_ring([ring], n_plucks),), changes={"ring": ring},
                       is_ring_coarse=not reason)

    told = {one.string: unsure(one, doubts[one.string], 1) for one in facts.conditions if one.string in doubts}
    group, = sweep_view(replace(facts, conditions=judged_as(facts, told))).not_judged
    shared = "From one pluck its ring is known only to ± 43 to 57 %, so a dead string might pass for a fine one."
    assert group.reasons == (("All of these", shared),)
    told |= {one.string: unsure(one, 41, 2) if one.string == "2C" else unsure(one, 50, 1, "Heard in one pluck with hum of ± 50 %.")
             for one in facts.conditions if one.string in other}
    group, = sweep_view(replace(facts, conditions=judged_as(facts, told))).not_judged
    assert group.reasons == (("1D, 4A and 2 more", shared), ("2D", "Heard in one pluck with hum of ± 50 %."),
                             ("2C", told["2C"].reasons[0]))


def judged_as(facts, told):
    """All others are fine."""
    return tuple(told.get(one.string) or replace(one, verdict="sound") for one in facts.conditions)


def test_a_reason_that_strings_share_is_told_once(facts):
    """Of five unsure strings four have one reason; then all of the harp has it."""
    shared, own = "This recording's gain moves by itself.", "Whether it wavers could not be told."
    names = ("1D", "4A", "5G", "6D")
    some = tuple(replace(one, verdict="unsure", reasons=(shared if one.string in names else own,)) if one.string in (*names, "2C")
                 else replace(one, verdict="sound") for one in facts.conditions)
    group, = sweep_view(replace(facts, conditions=some)).not_judged
    assert group.reasons == (("1D, 4A and 2 more", shared), ("2C", own))
    everything = tuple(replace(one, verdict="unsure", reasons=(shared,)) for one in facts.conditions)
    view = sweep_view(replace(facts, conditions=everything))
    assert view.not_judged[0].reasons == (("All strings", shared),)
    page = sweep_page(view)
    listed = page[page.index('id="attention"'):page.index('id="strings"')]
    assert listed.count("gain moves by itself") == 1
    told = terminal_text(view)
    assert told[told.index("Not sure: all strings"):].count("gain moves by itself") == 1


def terminal_text(view):
    console = Console(file=io.StringIO(), width=80)
    print_report(view, console)
    return " ".join(console.file.getvalue().split())


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

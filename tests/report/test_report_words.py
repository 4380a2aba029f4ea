"""Words that all outputs share."""

import re
from datetime import date

import pytest

from toneprobe.baseline.ripple_change import NOT_LOOKED_FOR, TOO_SHORT
from toneprobe.condition.doubt_words import is_within_doubt
from toneprobe.condition.next_steps import dead_other_step, dead_step, false_step
from toneprobe.days import day_text
from toneprobe.measure.figure import Figure
from toneprobe.measure.glide import IN_NOISE
from toneprobe.report.words import (
    first_sentence,
    had_time_step,
    headline,
    is_drowned,
    left_open,
    length_text,
    names_by_verdict,
    order_text,
    plain_reason,
    plain_text,
    sentence,
    signed,
    sureness_text,
    told_change,
    why_fine,
)

UNKNOWN = Figure(None, reason="not measured")


@pytest.mark.parametrize(("verdicts", "expected"), [
    (["dead"] * 2 + ["false"] + ["watch"] * 5 + ["sound"] * 39, "3 strings likely want changing, 5 to watch, 39 fine."),
    (["dead"] + ["sound"] * 46, "1 string likely wants changing, 46 fine."),
    (["sound"] * 47, "No string wants changing, 47 fine."),
    (["unrated"] * 46 + ["unheard"], "Measured and kept, but there is no fresh baseline to judge by."),
    (["unrated"] * 9 + ["unsure"], "No string could be judged."),
    (["sound"] + ["unheard"] * 46, "Only 1 of 47 strings heard: none of those wants changing, 1 fine."),
    (["dead"] + ["unsure"] * 22 + ["unheard"] * 24, "Only 23 of 47 strings heard: 1 string likely wants changing, 22 not judged."),
    (["dead"] + ["sound"] * 23 + ["unheard"] * 23,  # 24 of 47: not less than half
     "Of 24 strings judged, 1 likely wants changing, 23 fine; 23 could not be judged."),
    (["watch"] + ["sound"] * 11 + ["unsure"] * 12,
     "Of 12 strings judged, none wants changing, 1 to watch, 11 fine; 12 could not be judged."),
    (["sound"] * 12 + ["unheard"] * 12,  # half of the harp is no small part of it
     "Of 12 strings judged, none wants changing, 12 fine; 12 could not be judged."),
    (["sound"] * 43 + ["unsure"] * 3 + ["unheard"], "No string wants changing, 43 fine, 4 not judged."),  # 4 of 47: less than a tenth
    (["sound"] * 42 + ["unsure"] * 5, "Of 42 strings judged, none wants changing, 42 fine; 5 could not be judged."),  # more than a tenth
    (["sound"] * 9 + ["fresh"] * 38, "No string wants changing, 9 fine, 38 recorded fresh."),  # its baseline: nothing is left open
    (["sound"] * 31 + ["fresh"] * 2 + ["unsure"], "No string wants changing, 31 fine, 2 recorded fresh, 1 not judged."),
    (["dead"] * 2 + ["false"] + ["sound"] * 25 + ["fresh"] + ["unsure"] * 5,
     "Of 28 strings judged, 3 likely want changing, 25 fine; 1 recorded fresh, 5 could not be judged."),
    (["unsure"] + ["unheard"] * 10, "Only 1 of 11 strings heard: no string could be judged."),
    (["unheard"] * 11, "No string could be judged."),
])
def test_headline_counts_strings(verdicts, expected):
    assert headline(verdicts) == expected


@pytest.mark.parametrize(("states", "noisy", "expected"), [
    (["unsure"] * 40 + ["unheard"] * 7, True, "Too noisy to judge from: record it again, nearer or where it is quieter."),
    (["unsure"] * 24 + ["sound"] * 22 + ["dead"], True, "Too noisy to judge most strings: 1 string likely wants changing, 22 fine."),
    (["unsure"] * 23 + ["sound"] * 24, True,  # most were judged all the same
     "Of 24 strings judged, none wants changing, 24 fine; 23 could not be judged."),
    (["unsure"] * 23 + ["sound"] * 23 + ["unheard"], True,  # half of those heard are not most of them
     "Of 23 strings judged, none wants changing, 23 fine; 24 could not be judged."),
    (["unsure"] * 40 + ["unheard"] * 7, False, "No string could be judged.")])  # the fault is not known to be the recording's
def test_a_sweep_drowned_in_noise_says_so_first(states, noisy, expected):
    assert headline(states, is_drowned=is_drowned(states, is_noisy=noisy)) == expected


def test_headline_of_a_fresh_sweep_counts_what_was_recorded():
    assert headline(["unrated"] * 46 + ["unheard"], is_fresh=True) == "Fresh baseline of 46 strings recorded."


def test_only_strings_whose_baseline_it_is_are_counted_as_recorded():
    assert headline(["fresh"] * 3 + ["unrated"] * 44, is_fresh=True) == "Fresh baseline of 3 strings recorded."
    assert headline(["fresh"] * 3 + ["unheard"] * 44, is_fresh=True) == "Only 3 of 47 strings heard: fresh baseline of 3 strings recorded."


def test_a_fresh_sweep_that_can_judge_nothing_is_no_success():
    said = headline(["fresh"] * 24, is_fresh=True, why_unfit="this recording's gain moves by itself")
    assert said == "Not usable as a fresh baseline, because this recording's gain moves by itself."
    said = headline(["fresh"] * 2 + ["sound"] * 22, is_fresh=True, why_unfit="this recording's gain moves by itself")
    assert said == "No string wants changing, 22 fine, 2 not usable as fresh."


@pytest.mark.parametrize("rest", [["sound"] * 40, ["sound"] * 30 + ["unsure"] * 10, ["dead"] * 5 + ["watch"] * 5 + ["sound"] * 30])
def test_the_headline_s_numbers_add_up_to_the_harp(rest):
    states = rest + ["fresh"] * 4 + ["unheard"] * 3
    counts = [int(number) for number in re.findall(r"\d+", re.sub(r"^Of \d+ strings judged", "", headline(states)))]
    assert sum(counts) == len(states)


def test_the_strings_behind_the_headline_are_named():
    assert names_by_verdict([("5G", "dead"), ("2C", "false"), ("6D", "dead"), ("1A", "watch")]) == "False: 2C. Dead: 5G, 6D. Watch: 1A."
    assert names_by_verdict([("5G", "sound")]) == ""


def test_the_first_sentence_stands_for_a_reason():
    assert first_sentence("rings 59 % shorter than fresh: 2.4 s, was 4.7 s. Surely 55 to 63 %.") == (
        "Rings 59 % shorter than fresh: 2.4 s, was 4.7 s.")
    assert first_sentence("not heard") == "Not heard."


def test_what_was_not_judged_is_said():
    assert left_open(["sound", "unsure", "settling", "unheard", "unheard"]) == "1 still settling, 1 not sure, 2 not heard."
    assert left_open(["sound", "dead"]) == ""


@pytest.mark.parametrize(("change", "expected"), [
    (Figure(0.59, 0.06), "−41 % ± 12"),
    (Figure(1.30, 0.02), "+30 % ± 4"),
    (Figure(0.98, 0.03), "as fresh"),  # within two errors of 1, and a quarter would have been seen
    (Figure(0.80, 0.15), "−20 % ± 30"),  # within the doubt, but the doubt is too large to call it fresh
    (Figure(0.5), "−50 %"),
    (UNKNOWN, "–"),
])
def test_a_change_is_said_with_its_doubt(change, expected):
    assert told_change("sound", change) == expected


def test_a_string_that_is_not_judged_is_never_called_fresh():
    small = Figure(0.98, 0.03)
    assert [told_change(verdict, small) for verdict in ("sound", "watch", "unsure", "settling")] == ["as fresh"] * 2 + ["−2 % ± 6"] * 2


@pytest.mark.parametrize(("ring", "brightness", "expected"), [
    (Figure(0.98, 0.02), UNKNOWN, ""),  # shown as fresh: nothing to explain
    (Figure(0.90, 0.12), Figure(1.0, 0.02), "Within what plucks differ by."),
    (Figure(0.99, 0.25), Figure(1.0, 0.02), "Known coarsely: half the ring gone would most likely have shown."),
    (Figure(1.0, 0.02), Figure(1.43, 0.18), "No wear: longer or brighter."),
    (Figure(0.78, 0.08), Figure(1.43, 0.18), "Too small a change to count."),
])
def test_a_fine_string_s_row_says_why_its_change_is_none(ring, brightness, expected):
    assert why_fine(ring, brightness) == expected


def test_the_order_is_said():
    assert order_text(["dead", "watch", "dead"]) == "dead first, then watch; in each the clearest first, of equals the most changed"
    assert order_text(["watch", "dead", "false"]) == ("false first, then dead, then watch; in each the clearest first, "
                                                      "of equals the most changed")
    assert order_text(["dead"]) == ""  # one kind explains itself


def test_the_measurement_s_own_terms_stay_out():
    for reason in ("no beat: one mode and something else beside it", "no beat: two slopes, no full beat", "too short to hear a glide",
                   IN_NOISE, "only 3 partials could be followed, too few for the inharmonicity", TOO_SHORT.reason, NOT_LOOKED_FOR.reason):
        assert not re.search("mode|slope|glide|inharmonicity|beat|ripple", plain_reason(reason))
    assert plain_reason(TOO_SHORT.reason) == "too few partials ring long enough to tell whether they waver"
    assert plain_reason("the pluck is too short for its brightness") == "the pluck is too short for its brightness"


def test_sureness_is_calm_and_names_the_plucks():
    """Score 50 names a string, 100 is twice that; a single pluck may be a slip of the hand."""
    assert [sureness_text("dead", score, 2) for score in (51.0, 75.0, 100.0)] == [
        "likely, from 2 plucks", "sure, from 2 plucks", "very sure, from 2 plucks"]
    assert [sureness_text("dead", score, 3) for score in (69.9, 70.0, 89.9, 90.0)] == [  # 1.4 and 1.8 times what names a string: at 50
        "likely, from 3 plucks", "sure, from 3 plucks", "sure, from 3 plucks", "very sure, from 3 plucks"]
    assert sureness_text("dead", 100.0, 3, dead_step(3).kind) == "very sure, from 3 plucks"
    assert sureness_text("dead", 100.0, 2, dead_other_step().kind) == "likely, from 2 plucks; which string is on is still in question"
    assert sureness_text("false", 100.0, 1) == "likely, from one pluck only"
    assert sureness_text("sound", 3.0, 3) == "as far as 3 plucks can tell"
    assert sureness_text("sound", 3.0, 3, is_wavering_open=True) == "as far as 3 plucks can tell, but for a wavering"
    assert sureness_text("watch", 40.0, 1) == "a suspicion, from one pluck only"
    assert sureness_text("unheard", None, 0) == ""


def test_no_more_is_claimed_than_the_step_beside_it_leaves():
    """It asks for a check, or for the room first, or has an earlier sweep behind it."""
    once, again = false_step("beat_db"), false_step("beat_db", said_before=True)
    assert sureness_text("false", 100.0, 2, once.kind) == "very sure for this one sweep, from 2 plucks"
    assert sureness_text("false", 55.0, 2, once.kind) == "likely, from 2 plucks"
    assert sureness_text("false", 100.0, 2, again.kind) == "very sure, from 2 plucks"
    otherwise = false_step("beat_db", otherwise="dead on 10 January 2026")  # no sweep before called it false
    assert sureness_text("false", 100.0, 2, otherwise.kind) == "very sure for this one sweep, from 2 plucks"
    assert sureness_text("dead", 100.0, 3, dead_step(3, set_aged=True).kind) == "likely, from 3 plucks; the room is still in question"


@pytest.mark.parametrize(("days", "words"), [
    (1.0, "1 day"), (59.0, "59 days"), (60.0, "2 months"), (729.0, "24 months"), (730.0, "2.0 years"), (913.0, "2.5 years")])
def test_a_length_is_told_in_days_to_two_months_and_in_months_to_two_years(days, words):
    """A month is 30.4 days, a year 365.25."""
    assert length_text(days) == words


def test_small_words():
    assert day_text(date(2025, 5, 3)) == "3 May 2025"
    assert (signed(1.25, 1), signed(-3.0), signed(-0.04, 1)) == ("+1.2", "−3", "0.0")
    assert (sentence("rings shorter"), sentence("Done."), sentence(" why? ")) == ("Rings shorter.", "Done.", "Why?")
    assert plain_text("C♭4 −41 % ± 6 – “x”") == "Cb4 -41 % +/- 6 - ?x?"


@pytest.mark.parametrize(("change", "is_within"), [(Figure(0.61, 0.165), False), (Figure(1.45, 0.255), True), (Figure(0.8, 0.1), True)])
def test_what_lies_within_its_doubt_is_what_the_printed_figures_say(change, is_within):
    """−39 % ± 33, +45 % ± 51 and −20 % ± 20."""
    assert is_within_doubt(change) == is_within


def test_strings_called_by_numbers_are_not_counted():
    """The house rule for names that are numbers (`phrases.as_strings`)."""
    assert had_time_step(["2", "5"], date(2024, 9, 20), "").startswith("Strings 2 and 5 should have settled by 20 September 2024, ")

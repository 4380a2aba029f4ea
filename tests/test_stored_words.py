"""Sentences that are read again: a book keeps them as text, and a later version still takes facts from them.

The wordings of release 0.1.0, frozen here word for word. Where a new wording takes the place of one of these, the old one must be
understood beside it (as FORMER_CAUTION is): never change a literal here, add the new one. What a step of the schema read out of the words
once, for a book to keep it, is tested with that step (tests/book).
"""

from dataclasses import replace

import pytest
from made_up_report import condition_of, facts_of

from toneprobe.measure.figure import Figure
from toneprobe.measure.other_lines import BODY, HUM, NOT_KNOWN, SUM_TONE, VOICE
from toneprobe.report.series import _f0_and_b
from toneprobe.report.view import find_string_view, sweep_view
from toneprobe.report.words import plain_reason

WHY = "books of release 0.1.0 hold this sentence: understand it beside the new one"
CAUTIONS = (
    "One string at a time, and bring each up before the next. Never let the whole harp down. Wear eye protection whenever a string is "
    "changed, most of all a wire. Let the old string down before you cut it, keep hold of the ends, and cut the new ends close: wire ends "
    "hurt fingers and eyes. The same note, material and gauge as before, never tuned above its note: no more tension than the harp was "
    "designed for. Cracks, pins that slip or turn back, rods, discs and the soundboard: leave them alone and call a harp technician. No "
    "measurement can tell when a string will break. What comes off, and when, is your decision.",
    "Wear eye protection, slacken it before you cut it, mind its ends, one string at a time, same material and gauge, never above its "
    "pitch. When in doubt, ask a harp technician.")


def shown(step, verdict="unsure"):
    """The string 3C of a stored sweep with that step, as a page shows it."""
    facts = facts_of()
    spec = next(one for one in facts.instrument.strings if one.name == "3C")
    stored = replace(condition_of(spec, verdict), next_step=step)
    return find_string_view(sweep_view(replace(facts, conditions=(stored,))), "3C")


@pytest.mark.parametrize("caution", CAUTIONS)
def test_the_cautions_that_end_a_step(caution):
    assert shown(f"Change it. {caution}", "dead").next_step == "Change it.", WHY


def test_a_string_without_a_beat():
    """The reason of a figure, and in older sweeps a flag of the pluck."""
    assert plain_reason("no beat: one mode") == plain_reason("no beat: 4A answers") == "no single partial wavers by itself", WHY


def test_a_stiffness_too_small_to_be_told_from_none():
    """With a B of 0 its partials lie where they are heard (Fletcher 1964), so a page can still draw how far they strayed."""
    stored = Figure(None, reason="the inharmonicity is too small to be told from none by the 8 partials that could be followed")
    assert _f0_and_b({"pitch_hz": Figure(440.0, 0.1), "inharmonicity": stored}) == (440.0, 0.0), WHY
    assert _f0_and_b({"pitch_hz": Figure(440.0, 0.1), "inharmonicity": Figure(None, reason="only 2 partials could be followed")}) is None


def test_what_a_line_is_taken_for():
    """Programs read these in the JSON, and a voice may turn out to be a string's answer."""
    assert (HUM, BODY, NOT_KNOWN) == ("hum", "body", "not known"), WHY
    assert "second voice of partial 3".startswith(VOICE) and "sum tone of partials 2 and 5".startswith(SUM_TONE), WHY

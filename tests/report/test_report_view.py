"""One sweep, ready to be shown."""

from __future__ import annotations

from dataclasses import replace

import pytest

from toneprobe.condition import Condition
from toneprobe.condition.next_steps import CAUTION
from toneprobe.errors import UsageError
from toneprobe.instrument import load_instrument
from toneprobe.measure.figure import Figure
from toneprobe.report.view import Evidence, find_string_view, sweep_view


def test_only_the_facts_are_needed(facts):
    view = sweep_view(facts)
    assert len(view.strings) == 47
    assert all(one.now == () and one.history == () and one.clip_now is None for one in view.strings)


def test_worst_first(view):
    """Two dead ones at 93 from the top down, a false one at 78, then those to watch."""
    assert [one.name for one in view.attention] == ["5G", "6D", "2C", "1B", "3E", "4G", "5F", "6A"]


def test_octaves_count_from_the_top(view):
    """Octaves run from E down to F, the first and last not whole (common practice)."""
    whole = [(f"Octave {n}", f"{n}E to {n}F", 7) for n in range(1, 7)]
    found = [(octave.title, octave.span, len(octave.strings)) for octave in view.octaves]
    assert found == [("Octave 0", "0G to 0F", 2), *whole, ("Octave 7", "7E to 7C", 3)]


def test_names_stand_beside_their_notes(view):
    assert find_string_view(view, "4c").title == "4C (C♭4)"
    assert find_string_view(view, "0G").title == "0G (G♭7)"


def test_a_string_without_a_condition_is_unheard(facts):
    view = sweep_view(replace(facts, conditions=facts.conditions[1:]))
    assert view.strings[0].verdict == "unheard"
    assert len(view.strings) == 47


def test_a_string_that_the_instrument_lacks_is_still_shown(facts):
    stray = Condition("9X", "C9", "dead", 99.0, 0.0, 1, ("was there before",), "", {}, {})
    view = sweep_view(replace(facts, conditions=(*facts.conditions, stray)))
    assert view.attention[0].name == "9X"
    assert view.octaves[-1].title == "Other strings"


def test_cautions_stand_where_a_string_should_come_off(facts, view):
    text = " ".join(view.cautions)
    for word in ("eye protection", "ends", "One string at a time", "no more tension", "technician"):
        assert word in text
    calm = tuple(replace(one, verdict="watch" if one.verdict in ("dead", "false") else one.verdict) for one in facts.conditions)
    assert sweep_view(replace(facts, conditions=calm)).cautions == ()


def test_the_common_caution_is_not_said_with_each_string(facts):
    conditions = tuple(replace(one, next_step=f"Change it. {CAUTION}") for one in facts.conditions)
    assert sweep_view(replace(facts, conditions=conditions)).strings[5].next_step == "Change it."


def test_the_caller_s_own_ratio_is_taken(facts):
    view = sweep_view(facts, {"4C": Evidence(ring=Figure(0.25, 0.01))})
    assert find_string_view(view, "4C").ring.value == 0.25
    assert find_string_view(view, "4D").ring.reason == "no fresh baseline"


def test_figures_that_could_not_be_had_say_why(view):
    rows = {row.key: row for row in find_string_view(view, "4C").rows}
    assert rows["glide_cents"].now == "–"
    assert rows["glide_cents"].why == "too quiet in the first tenth of a second"
    assert (rows["t60_s"].label, rows["t60_s"].why) == ("Ring (s)", "")
    assert rows["inharmonicity"].now == "3.00 ± 0.12"  # in ten-thousandths: B 3e-4 ± 1.2e-5


def test_subline_counts_plucks(view):
    assert view.subline == "46 of 47 strings heard, 92 plucks · A 440 Hz, tuned in flats"


def test_unknown_string_is_refused(view):
    with pytest.raises(UsageError, match="no string '9C'"):
        find_string_view(view, "9C")


def test_lever_harps_have_their_octaves_too(facts):
    view = sweep_view(replace(facts, instrument=load_instrument("lever-34"), conditions=()))
    assert view.octaves[0].span == "1A to 1F"
    assert view.headline == "No string could be judged."

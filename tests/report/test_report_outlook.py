"""Where a string is heading, and its past: of the string that is on, from its own sweeps, wherever a player looks."""

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest
from made_up_report import fitting_of
from rich.console import Console
from small_picture import small_picture

from toneprobe.book.entries import StoredCondition
from toneprobe.measure.figure import Figure
from toneprobe.report.life import life_view
from toneprobe.report.outlook import outlook
from toneprobe.report.page import life_page, sweep_page
from toneprobe.report.picture_words import history_words
from toneprobe.report.series import history
from toneprobe.report.tables import print_report
from toneprobe.report.view import Background, find_string_view, sweep_view

FIRST = date(2024, 9, 3)
STRING = "4C"
SAID = "If it goes on as steadily as over 8 sweeps since September 2024, a quarter of its ring will be gone between"


def stored(facts, lost, *, fitting_id=1, first=FIRST, astray=()):
    """A sweep a month, `lost` the natural log of fresh over present ring."""
    condition = next(one for one in facts.conditions if one.string == STRING)
    told = [{"ring": Figure(value, 0.02), "decay": Figure(value, 0.02)} for value in lost] or [{} for _ in astray]
    told = [changes | ({"astray_cents": Figure(astray[i], 0.1)} if astray else {}) for i, changes in enumerate(told)]
    return [StoredCondition(i, first + timedelta(days=30 * i), fitting_id, replace(condition, changes=changes))
            for i, changes in enumerate(told)]


@pytest.fixture(scope="module")
def fading(facts):
    """0.02 a month and 0.16 after eight: DECAY_NOTICED, ln(4/3) = 0.288, is reached 6.4 months after 1 April 2025 (derived here)."""
    return stored(facts, [0.021, 0.038, 0.062, 0.079, 0.101, 0.118, 0.142, 0.159])


def test_the_month_in_which_a_quarter_is_gone_lies_between_those_named(facts, fading):
    said = outlook(history(fading), today=facts.date)
    assert said.startswith(SAID)
    reached = fading[-1].date + timedelta(days=(math.log(4.0 / 3.0) - 0.16) / 0.02 * 30)
    months = [date(2025, number, 1) for number in range(1, 13)
              if f"{date(2025, number, 1):%B}" in said.removeprefix(SAID)]
    assert len(months) == 2 and months[0] <= reached <= months[1] + timedelta(days=30)


def test_a_new_string_has_no_past(facts, fading):
    """A string that was put on since starts anew: two sweeps of it say nothing, though the position has ten."""
    new = stored(facts, [0.0, 0.02], fitting_id=2, first=date(2025, 4, 20))
    assert outlook(history([*fading, *new]), today=date(2025, 7, 1)) == ""


def test_an_old_report_does_not_know_what_came_later(facts, fading):
    assert outlook(history(fading), today=fading[2].date) == ""


def test_partials_that_drift_apart_are_told_where_the_ring_holds(facts):
    drifting = stored(facts, (), astray=[0.3, 0.5, 0.6, 0.8, 1.0, 1.1, 1.3, 1.5])
    assert "its partials will be as far out of place as is heard" in outlook(history(drifting), today=facts.date)
    assert outlook((), today=facts.date) == ""


@pytest.mark.parametrize("verdict", ["sound", "watch"])
def test_it_stands_where_a_player_looks(facts, fading, verdict):
    changed = replace(facts, conditions=tuple(replace(one, verdict=verdict) if one.string == STRING else one for one in facts.conditions))
    view = sweep_view(changed, {STRING: Background(history=fading)})
    assert find_string_view(view, STRING).outlook.startswith(SAID)
    assert [one.name for one in view.on_the_way] == ([STRING] if verdict == "sound" else [])
    console = Console(width=80, record=True, no_color=True)
    print_report(view, console)
    printed = " ".join(console.export_text().split())
    assert SAID in printed
    assert ("Fine, but on the way: 4C (C♭4)" in printed) == (verdict == "sound")
    assert sweep_page(view).count("a quarter of its ring will be gone") == 2  # in the list that needs attention, and at the string
    assert "a quarter of its ring will be gone" in life_page(life_view(view, STRING))


def test_the_picture_of_a_new_string_is_not_that_of_the_old_one(facts, fading):
    """Nothing is drawn of the string that came off, and the words say since when the one on it is there."""
    spec = find_string_view(sweep_view(facts), STRING).spec
    old, new = fitting_of(spec, number=1), fitting_of(spec, number=2, fitted_on=date(2025, 4, 20))
    log = (replace(old, removed_on=date(2025, 4, 20)), new)
    changed = find_string_view(sweep_view(facts, {STRING: Background(history=fading, fittings=log)}), STRING)
    assert small_picture(changed, "history") is None
    assert history_words(changed) == "No sweep of the string that is on since 20 April 2025 can be compared with a baseline yet."
    worn = find_string_view(sweep_view(facts, {STRING: Background(history=fading, fittings=(old,))}), STRING)
    assert small_picture(worn, "history") is not None and history_words(worn).startswith("8 sweeps compared with fresh: ")

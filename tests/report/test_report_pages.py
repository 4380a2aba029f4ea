"""The other pages: two sweeps, one string's life, a season, the technician; and all of them in a folder."""

import errno
import io
import math
import re
from contextlib import nullcontext
from dataclasses import replace
from datetime import date, datetime
from functools import partial

import pytest
from drawn_once import drawn_anew
from made_up_report import fitting_of
from rich.console import Console

from toneprobe.audio import Remark
from toneprobe.audio.remark import SINGLE_SOUNDS
from toneprobe.book.entries import StoredCondition
from toneprobe.condition.next_steps import fallen_step, fell_step
from toneprobe.events import Event
from toneprobe.fittings import known_on
from toneprobe.measure.figure import Figure
from toneprobe.planning import Situation, make_plan
from toneprobe.report.compare import comparison_view
from toneprobe.report.fitting_words import changed_words, fitting_line
from toneprobe.report.life import life_view
from toneprobe.report.page import cents_change_text, comparison_page, life_page, number_or_dash, season_page, sweep_page, technician_page
from toneprobe.report.season import season_view, year_up_to
from toneprobe.report.shelf import Shelf, sounds_where_needed, write_pages
from toneprobe.report.tables import print_report
from toneprobe.report.technician import Concern, materials_sentence, pitch_sentence, slip_concerns, technician_view
from toneprobe.report.view import Background, find_string_view, sweep_view
from toneprobe.report.words import since_day, want_changing
from toneprobe.settling import PitchReading, SettledRecord, judge_settling
from toneprobe.workers import one_by_one

# A string of the made-up harp that is dead now lost 48 % · share² of its ring in 24 months of 30 days, and was called to watch below 85 %,
# dead below 60 %: after 14 months and after 22 (derived here, days counted back from 3 May 2025). `stored` keeps the last figures alone.
DEAD_WORDS = "To watch since 7 July 2024 (ring −48 %), dead since 4 March 2025 (ring −48 %)."
RESTRUNG, LATER = date(2025, 5, 20), date(2025, 7, 1)


@pytest.fixture(scope="module")
def log(view):
    """By string, what was on: 5G was restrung after the first sweep."""
    fittings = {one.name: one.fittings for one in view.strings}
    old = fittings["5G"][-1]
    fittings["5G"] = (fittings["5G"][0], replace(old, removed_on=RESTRUNG, why_removed="dead"), replace(old, id=9, fitted_on=RESTRUNG))
    return fittings


@pytest.fixture(scope="module")
def after(facts, view, log):
    """Two months on: 5G is new and sound, 6D as it was, 4A has gone dead."""
    fresh = {one.string: one for one in facts.conditions}
    was = fresh["5G"]
    fresh["5G"] = replace(was, verdict="sound", reasons=(), next_step="", figures=was.fresh)
    fresh["4A"] = replace(fresh["4A"], verdict="dead", dead_score=81.0)
    changed = replace(facts, date=LATER, conditions=tuple(fresh.values()))
    return sweep_view(changed, {one.name: Background(history=stored(view, one.name), fittings=log[one.name]) for one in view.strings})


def test_comparison_counts_and_measures(view, after):
    """The step is that of the partials compared, given beside the two sweeps: the figures of each sweep alone make it 1 / 0.52."""
    steps = {"5G": replace(find_string_view(after, "5G").condition, changes={"ring": Figure(-0.5, 0.05), "brightness": Figure(0.0, 0.5)}),
             "4A": replace(find_string_view(after, "4A").condition, verdict="unsure", changes={"ring": Figure(0.02, 0.03)})}
    compared = comparison_view(view, after, steps)
    assert compared.headline == ("1 string that wanted changing no longer does, 2 strings still likely want changing, "
                                 "1 string likely wants changing that did not before.")
    five = next(one for one in compared.strings if one.name == "5G")
    assert five.words == "dead, now fine"
    assert five.new_fitting.startswith("Since 20 May 2025: wire")
    assert five.ring.value == pytest.approx(math.exp(0.5))  # a change is a log of before over after
    assert not five.brightness.known  # known within a factor of 7: no measurement
    page = comparison_page(compared)
    told = "Since 3 May 2025, against the string before it: ring +65\N{NO-BREAK SPACE}% ±\N{NO-BREAK SPACE}16, brightness –."
    assert told in page  # e^0.5 = 1.649, times 0.1
    assert "where a new string went on between the two, they compare it with the string before it" in page
    assert "−2\N{NO-BREAK SPACE}% ±\N{NO-BREAK SPACE}6" in page  # of an unsure one never "no change"
    assert not next(one for one in compared.strings if one.name == "6D").ring.known  # it was not compared
    assert [one.name for one in compared.moved] == ["4A", "5G"]
    assert "Dead, now fine." in comparison_page(compared)


@pytest.mark.parametrize(("name", "was", "now", "headline"), [
    ("4A", "unheard", "dead", "1 string likely wants changing that the earlier sweep did not judge."),
    ("4A", "unsure", "dead", "1 string likely wants changing that the earlier sweep did not judge."),
    ("4A", "sound", "dead", "1 string likely wants changing that did not before."),
    ("4A", "dead", "unheard", "1 string that wanted changing was not judged again."),
    ("5G", "dead", "unrated", "1 string that wanted changing was changed."),  # between the two; the new one has no baseline yet
])
def test_a_string_that_one_sweep_did_not_judge_is_neither_better_nor_worse(facts, log, name, was, now, headline):
    """An earlier sweep may have called it dead for months. Derived here."""
    sides = [sweep_view(replace(facts, date=day, conditions=tuple(
        replace(one, verdict=verdict if one.string == name else "sound") for one in facts.conditions)),
        {"5G": Background(fittings=log["5G"])}) for day, verdict in ((facts.date, was), (LATER, now))]
    assert comparison_view(*sides).headline == headline


def test_of_a_few_strings_plucked_again_a_comparison_lists_only_what_is_different(facts):
    """Only 4A, 5G, 2C and 7C were heard first; all strings later. 5G has died since, 4A, false in both, has gone further; 6D, unheard then,
    is dead now; 2C was worth watching; 1B was not judged in either. What is new comes first, false before dead. Derived here."""
    first = {"4A": "false", "5G": "sound", "2C": "watch", "7C": "sound"}
    later = {"4A": "false", "5G": "dead", "6D": "dead", "1B": "unsure", "7C": "unheard"}
    sides = [sweep_view(replace(facts, date=day, conditions=tuple(replace(one, verdict=verdicts.get(one.string, usual))
                                                                  for one in facts.conditions)))
             for day, verdicts, usual in ((facts.date, first, "unheard"), (LATER, later, "sound"))]
    step = replace(facts.conditions[0], verdict="false", reasons=("It is uneven: 3.1 cents since it was fresh. Plucks alone: 1.",))
    compared = comparison_view(*sides, {"4A": step})
    assert [(one.name, one.told) for one in compared.moved] == [
        ("5G", "fine, now dead"), ("6D", "not heard, now dead"), ("4A", "false in both sweeps"), ("2C", "to watch, now fine")]
    assert compared.moved[2].words_between == "It is uneven: 3.1 cents since 3 May 2025."
    n_rest = len(facts.instrument.strings) - 5  # 4A, 5G, 6D, 2C and 1B are no such; 7C was heard first alone
    assert compared.in_short == (f"Fine in one sweep, not heard in the other: {n_rest} strings.",)


def test_a_comparison_names_every_string_that_its_headline_counts(facts, view, after):
    """2C and 6D wanted changing before and still do: 6D has clearly lost more ring since, 2C has not. 1B and 0G, which only one of the
    sweeps heard well enough, changed nothing."""
    heard = {"1B": ("sound", "unsure"), "0G": ("unsure", "sound")}
    sides = []
    for nth, told in enumerate((view, after)):
        conditions = [replace(one.condition, verdict=heard.get(one.name, (one.verdict, one.verdict))[nth]) for one in told.strings]
        log = {one.name: Background(fittings=one.fittings) for one in told.strings}
        sides.append(sweep_view(replace(facts, date=told.date, conditions=tuple(conditions)), log))
    lost = replace(find_string_view(after, "6D").condition, verdict="dead", changes={"ring": Figure(0.7, 0.05)})
    held = replace(find_string_view(after, "2C").condition, verdict="sound", changes={"ring": Figure(0.0, 0.05)})
    compared = comparison_view(*sides, {"6D": lost, "2C": held})
    assert "2 strings still likely want changing" in compared.headline
    assert {one.name: one.told for one in compared.moved} == {"4A": "fine, now dead", "6D": "dead in both sweeps", "5G": "dead, now fine"}
    assert compared.in_short == ("Still false, and no clear change seen since 3 May 2025: 2C.",
                                 "Fine in one sweep, heard too poorly in the other to say: 1B now not sure, 0G now fine.")
    page = comparison_page(compared)
    different = page[page.index('id="moved"'):page.index("Before you change")].replace("\N{NO-BREAK SPACE}", " ")
    assert "−50 % ± 5" in different  # e^-0.7 is 0.50, times 0.1
    assert all(line in different for line in compared.in_short)


def test_what_is_worst_comes_first_in_a_comparison(facts, view, after):
    """False before dead, then the new string, then the one without a verdict, then the two of which nothing was known: by hand."""
    fresh = sweep_view(replace(facts, conditions=tuple(replace(one, verdict="unrated") for one in facts.conditions),
                               first_baselines=frozenset(one.string for one in facts.conditions if one.string not in ("0G", "1F"))))
    now = {"4A": "dead", "7C": "false", "3C": "unsure"}
    conditions = tuple(replace(one, verdict=now.get(one.string, "sound")) for one in facts.conditions)
    log = find_string_view(after, "5G").fittings
    later = sweep_view(replace(facts, date=LATER, conditions=conditions), {"5G": Background(fittings=log)})
    compared = comparison_view(fresh, later)
    assert [one.name for one in compared.moved] == ["7C", "4A", "5G", "3C", "0G", "1F"]
    told = "41 strings recorded fresh in the earlier sweep are fine in the later."
    assert told in compared.in_short and told in comparison_page(compared)


def test_a_comparison_says_what_made_a_string_false_or_watched(facts, view):
    """Neither its ring nor its brightness tells it."""
    reason = "Its partials (overtones) have drifted apart by 5.9 cents since it was fresh."
    conditions = tuple(replace(one, verdict="false", reasons=(reason,)) if one.string == "7C" else one for one in facts.conditions)
    page = comparison_page(comparison_view(view, sweep_view(replace(facts, date=LATER, conditions=conditions))))
    told = "Since fresh: its partials (overtones) have drifted apart by 5.9\N{NO-BREAK SPACE}cents since it was fresh."
    assert told in page[: page.index("Every string")]
    assert "where a new string went on" not in page  # none did


def test_what_two_sweeps_tell_of_strings_without_a_baseline_is_told_with_its_reason(facts):
    """The earlier sweep is no fresh baseline: what a reason says of fresh is that sweep's day, 3 May 2025. A watched string too, for no
    verdict of its own ever names it. What is false comes first; 1F was not heard to change, and a new string is another string."""
    blank = tuple(replace(one, verdict="unrated", reasons=(), fresh={}, changes={}) for one in facts.conditions)
    of = {one.string: one for one in blank}
    wavers = "It wavers: several of its partials swell and fade together, 3.8 dB deeper than fresh. Plucks alone: about 1.8 dB."
    steps = {"0F": replace(of["0F"], verdict="watch", reasons=("Sounds 40 % duller than fresh (± 15).",)),
             "4G": replace(of["4G"], verdict="false", reasons=(wavers, "It has another reason.")),
             "1F": replace(of["1F"], verdict="sound", reasons=("Rings as when fresh (± 4 %).",)),
             "5G": replace(of["5G"], verdict="dead", reasons=("Rings 50 % shorter than fresh (± 6).",))}
    new = fitting_of(facts.instrument.strings[0], fitted_on=RESTRUNG)
    sides = [sweep_view(replace(facts, conditions=blank, **more), {"5G": Background(fittings=fittings)})
             for more, fittings in (({}, ()), ({"date": LATER}, (new,)))]
    compared = comparison_view(*sides, steps)
    told = {"4G": "It wavers: several of its partials swell and fade together, 3.8 dB deeper than on 3 May 2025.",
            "0F": "Sounds 40 % duller than on 3 May 2025 (± 15)."}
    assert {one.name: one.words_between for one in compared.moved} == {"5G": "", **told}
    assert [one.name for one in compared.moved] == ["5G", "4G", "0F"]
    between = "0F and 4G have no verdict: what is said of them is the change between these two sweeps, not since fresh."
    assert compared.in_short == (between,)
    page = comparison_page(compared).replace("\N{NO-BREAK SPACE}", " ")
    assert all(text in page[page.index('id="moved"'):page.index("Every string")] for text in (*told.values(), between))


def test_a_verdict_of_its_own_tells_its_own_reason(facts, view):
    """7C is false against fresh, which its line says; 4C, fine against fresh, is listed for its step alone, and that is told."""
    step = replace(facts.conditions[0], verdict="false", reasons=("It is uneven: 3.1 cents since it was fresh.",))
    conditions = tuple(replace(one, verdict="false", reasons=("It wavers.",)) if one.string == "7C" else one for one in facts.conditions)
    compared = comparison_view(view, sweep_view(replace(facts, date=LATER, conditions=conditions)), {"7C": step, "4C": step})
    assert {one.name: one.words_between for one in compared.moved} == {"7C": "", "4C": "It is uneven: 3.1 cents since 3 May 2025."}


def test_a_string_that_is_fine_again_is_not_called_at_fault_for_moving_back(facts, view):
    """5G was dead and 2C false in the earlier sweep. What each changed by on its way back is no fault of today's: derived here."""
    step = replace(facts.conditions[0], verdict="false", reasons=("It is uneven: 5.1 cents since it was fresh.",))
    conditions = tuple(replace(one, verdict="sound") for one in facts.conditions)
    compared = comparison_view(view, sweep_view(replace(facts, date=LATER, conditions=conditions)), {"5G": step, "2C": step, "4C": step})
    told = {one.name: (one.words, one.words_between) for one in compared.moved}
    assert [told[name] for name in ("5G", "2C")] == [("dead, now fine", ""), ("false, now fine", "")]
    assert told["4C"] == ("", "It is uneven: 5.1 cents since 3 May 2025.")  # fine in both


@pytest.mark.parametrize(("reason", "told"), [
    ("Its partials have drifted apart by 2 cents since it was fresh.", "Its partials have drifted apart by 2 cents since 3 May 2025."),
    ("Its pitch sinks by 9 cents, against 2 when fresh.", "Its pitch sinks by 9 cents, against 2 on 3 May 2025."),
    ("It wanders, which it did not when fresh.", "It wanders, which it did not on 3 May 2025."),
    ("Rings 40 % shorter than fresh (± 9).", "Rings 40 % shorter than on 3 May 2025 (± 9)."),
])
def test_a_reason_is_told_of_another_day_than_fresh(reason, told):
    """The turns of phrase of `condition.evidence_words`, changed by hand."""
    assert since_day(reason, date(2025, 5, 3)) == told


def test_a_difference_of_two_pitches_carries_its_doubt():
    """Twice the standard error of a difference: 2 · √(0.3² + 0.4²) = 1.0."""
    difference = Figure(-2.06, math.hypot(0.3, 0.4))
    assert [cents_change_text(one) for one in (difference, Figure(0.02), Figure(None))] == ["−2.1 ± 1.0", "0.0", "–"]


def test_cautions_stand_on_every_page_that_advises_a_change(facts, view, after, log):
    """And on none that does not."""
    calm = replace(facts, conditions=tuple(replace(one, verdict="sound") for one in facts.conditions))
    quiet = sweep_view(calm, {"4C": Background(history=stored(view, "4C"), fittings=log["4C"])})
    span = (date(2025, 1, 1), LATER)
    for name, page in (("5G", [comparison_page(comparison_view(view, view)), life_page(life_view(view, "5G"))]),
                       ("4C", [comparison_page(comparison_view(quiet, quiet)), life_page(life_view(quiet, "4C"))])):
        page.append(season_page(season_view(facts.harp, facts.instrument, stored(view, name), span=span)))
        assert ["Before you change a string" in text for text in page] == [name == "5G"] * 3


def test_a_string_changed_since_both_sweeps_wants_changing_no_more(view, log):
    """5G, dead in both sweeps, came off on 20 May, after the later: told apart, and not counted. Counts derived here."""
    due = [one.name for one in view.attention if one.verdict in ("dead", "false")]
    sides, fittings = (replace(view, date=date(2025, 4, 3)), view), [fitting for of in log.values() for fitting in of]
    assert "5G" in due and comparison_view(*sides).headline.startswith(f"{len(due)} strings still")
    compared = comparison_view(*sides, log=fittings)
    assert compared.headline == f"{len(due) - 1} strings still likely want changing, 1 string that wanted changing has come off since."
    assert "Came off after the later sweep: 5G on 20 May 2025." in compared.in_short
    assert not any("5G" in line for line in compared.in_short if line.startswith("Still")) and not any(
        one.name == "5G" for one in compared.moved)
    assert comparison_page(compared).count("<small>has come off</small>") == 1


def test_a_life_has_its_chapters_newest_first(after):
    life = life_view(after, "5G", today=LATER)
    assert [chapter.line.partition(":")[0] for chapter in life.chapters] == [
        "Since 20 May 2025", "20 April 2023 to 20 May 2025", "2 February 2019 to 20 April 2023"]
    assert [chapter.age for chapter in life.chapters] == [
        "on for 42 days", "was on for 2.1 years", "was on for 4.2 years"]  # 42, 761 and 1538 days: derived here
    assert [len(chapter.points) for chapter in life.chapters] == [0, 25, 0]
    assert life.headline == "5G is fine; 3 strings on record, 25 sweeps."
    assert "No sweep heard this string." in life_page(life)


def test_a_life_says_in_words_that_a_string_is_watched(after):
    def watched(one, verdict):
        history = (replace(one.history[-1], verdict="watch"),)
        return replace(one, condition=replace(one.condition, verdict=verdict), state=verdict, history=history)

    for verdict, words in (("watch", "6D is on the watch list; "), ("unheard", "6D was on the watch list on")):
        strings = tuple(watched(one, verdict) if one.name == "6D" else one for one in after.strings)
        assert life_view(replace(after, strings=strings), "6D").headline.startswith(words)


def test_no_number_of_a_page_is_less_than_nothing_by_none():
    assert [number_or_dash(value, 1) for value in (-0.04, -0.06, None)] == ["0.0", "−0.1", "–"]


def test_a_season_counts_what_was_changed(facts, view, log):
    conditions = [condition for name in ("5G", "6D", "4C") for condition in stored(view, name)]
    season = season_view(facts.harp, facts.instrument, conditions, fittings=[one for fittings in log.values() for one in fittings],
                         span=(date(2025, 1, 1), LATER))
    assert season.headline.startswith("5 sweeps, ")  # one every 30 days, back from 3 May: 3 January to 3 May
    fifth = next(one for one in season.octaves if one.title == "Octave 5")
    assert (fifth.n_strings, fifth.n_changed, fifth.n_want_changing, fifth.named) == (7, 1, None, "5G")  # none of what is on was swept
    words = next(one for one in season.eventful if one.name == "5G").words
    assert words == "Dead in 3 sweeps from 4 March 2025 on. Came off on 20 May 2025 (dead). New string on 20 May 2025."
    assert next(one for one in season.eventful if one.name == "6D").words == DEAD_WORDS
    assert season.headline == "5 sweeps, 1 new string; 1 string likely wants changing now, 45 without a verdict."
    assert "changed: 5G" in season_page(season)


def test_a_season_says_whom_it_counts_by_an_earlier_sweep(facts):
    """3C and 4C were fine in the sweep before, and the last could not say: they count as fine. 5C was not sure in both, and does not."""
    def told(sweep_id, day, **said):
        return [StoredCondition(sweep_id, day, 1, replace(one, verdict=said.get(one.string, "sound"))) for one in facts.conditions]
    conditions = told(1, date(2025, 5, 3), **{"5C": "unsure"}) + told(2, LATER, **{"3C": "unsure", "4C": "unheard", "5C": "unsure"})
    season = season_view(facts.harp, facts.instrument, conditions, span=(date(2025, 5, 3), LATER))
    assert season.by_earlier == "Counted as an earlier sweep judged them, because the last one could not: 3C and 4C."
    assert season.by_earlier in season_page(season) and sum(one.n_judged for one in season.octaves) == len(facts.instrument.strings) - 1
    assert season_view(facts.harp, facts.instrument, told(1, LATER), span=(LATER, LATER)).by_earlier == ""


def test_an_octave_is_counted_by_what_was_judged_in_it(facts):
    """Of the two strings of octave 0 only 0F was judged, of octave 7 none, and all others are fine: by hand."""
    said = {"0G": "unsure", "0F": "dead", "7E": "unrated", "7D": "unrated", "7C": "unrated"}
    conditions = [StoredCondition(1, LATER, 1, replace(one, verdict=said.get(one.string, "sound"))) for one in facts.conditions]
    octaves = season_view(facts.harp, facts.instrument, conditions, span=(LATER, LATER)).octaves
    assert [(one.n_judged, one.n_want_changing, one.n_watch) for one in octaves] == [(1, 1, 0), *[(7, 0, 0)] * 6, (0, None, None)]


def test_a_season_tells_changes_as_they_came_and_calls_a_stand_in_one(facts, view):
    """It broke on 25 May, a stand-in was on for three weeks, then the right string."""
    old, new = find_string_view(view, "5G").fittings[-1], date(2025, 6, 15)
    broke = replace(old, removed_on=date(2025, 5, 25), why_removed="broke")
    log = (broke, replace(old, id=8, fitted_on=date(2025, 5, 25), removed_on=new, why_removed="stand-in", is_stand_in=True),
           replace(old, id=9, fitted_on=new))
    season = season_view("A", facts.instrument, stored(view, "5G"), fittings=log, span=(date(2025, 5, 20), LATER))
    assert season.eventful[0].words == ("Dead in 3 sweeps from 4 March 2025 on. Came off on 25 May 2025 (broke). "
                                        "A stand-in on 25 May 2025. The stand-in came off on 15 June 2025. New string on 15 June 2025.")


@pytest.mark.parametrize(("verdicts", "words"), [
    (("sound", "watch", "dead", "dead"), "Dead in 2 sweeps from 1 March 2025 on. "), (("dead", "sound"), ""), ((), ""),
    (("dead", "unheard", "dead", "unsure"), "Dead in 2 sweeps from 1 January 2025 on. "),
    (("sound", "false"), "False on 1 February 2025. "),
])
def test_a_season_tells_how_long_a_string_was_found_so_before_it_came_off(facts, view, verdicts, words):
    """Counted by hand: the last sweeps of one verdict, those that say nothing left out."""
    known, old = next(one for one in facts.conditions if one.string == "5G"), find_string_view(view, "5G").fittings[-1]
    points = [StoredCondition(month, date(2025, month, 1), old.id, replace(known, verdict=verdict))
              for month, verdict in enumerate(verdicts, 1)]
    log = (replace(old, removed_on=date(2025, 5, 25), why_removed="planned"), replace(old, id=9, fitted_on=date(2025, 5, 25)))
    season = season_view("A", facts.instrument, points, fittings=log, span=(date(2025, 2, 15), date(2025, 6, 30)))
    assert season.eventful[0].words == f"{words}Came off on 25 May 2025 (planned). New string on 25 May 2025."


def told_of(facts, *verdicts, ring=(), cents=()):
    """What a season from the middle of February says of 5G, which had these verdicts on the first days of the months from January on."""
    known = next(one for one in facts.conditions if one.string == "5G")
    points = []
    for month, verdict in enumerate(verdicts, 1):
        changes = {key: Figure(values[month - 1], 0.01) for key, values in (("ring", ring), ("astray_cents", cents)) if values}
        points.append(StoredCondition(month, date(2025, month, 1), None, replace(known, verdict=verdict, changes=changes)))
    return season_view("A", facts.instrument, points, span=(date(2025, 2, 15), date(2025, 6, 30))).eventful


@pytest.mark.parametrize(("verdicts", "words"), [
    (("false", "false", "false"), "False since 1 January 2025 (partials 2.0 cents apart), now 4.0 cents."),  # called so before the season
    (("sound", "watch", "unsure"), "To watch since 1 February 2025 (ring −10 %). Heard since, but not well enough to say."),
    (("sound", "watch", "sound"), "To watch on 1 February 2025, fine since 1 March 2025."),
    (("watch", "watch", "sound"), "To watch in 2 sweeps from 1 January 2025 on, fine since 1 March 2025."),
    (("dead", "dead", "dead", "watch", "watch", "sound"),
     "Dead in 3 sweeps from 1 January 2025 on, to watch in 2 sweeps from 1 April 2025 on, fine since 1 June 2025."),
    (("watch", "dead", "watch", "sound"), "Dead on 1 February 2025, to watch on 1 March 2025, fine since 1 April 2025."),
    (("dead", "sound", "dead", "sound", "watch", "sound"),
     "Dead on 1 March 2025, fine on 1 April 2025. To watch on 1 May 2025, fine since 1 June 2025."),
    (("sound", "dead", "sound", "dead", "dead", "unheard"),
     "Dead on 1 February 2025, fine on 1 March 2025. Dead since 1 April 2025 (ring −26 %). Not heard since."),
    (("dead", "sound", "dead"), "Dead since 1 March 2025 (ring −18 %)."),
    (("watch", "sound", "sound"), None)])  # over before the season began
def test_a_season_tells_each_call_from_its_first_day(facts, verdicts, words):
    """e^-0.1 is 0.90, e^-0.2 is 0.82, e^-0.3 is 0.74; of a string to watch or dead its ring is told, of a false one how far its partials
    lie apart. A call that was over before the season's first day is not told: another sweep had said so."""
    told = told_of(facts, *verdicts, ring=(0.0, 0.1, 0.2, 0.3, 0.3, 0.0), cents=(2.0, 3.0, 4.0, 0.0, 0.0, 0.0))
    assert [one.words for one in told] == ([words] if words else [])


def test_a_season_sets_what_a_string_is_now_beside_its_last_call(facts):
    """To watch with a tenth of its ring gone, dead since March with 18 %, e^-0.2, and no more now: nothing is new since the last call."""
    told, = told_of(facts, "sound", "watch", "dead", "dead", ring=(0.0, 0.1, 0.2, 0.2))
    assert told.words == "To watch since 1 February 2025 (ring −10 %), dead since 1 March 2025 (ring −18 %)."


def test_a_season_that_is_over_is_told_as_it_was_at_its_end(facts, view):
    """Of the months until March: 5G was dead then, 3C fine, 3E not heard after January; in May each was found to be something else."""
    verdicts = {"5G": ("watch", "dead", "dead", "sound"), "3C": ("watch", "sound", "sound", "dead"),
                "3E": ("dead", "unheard", "unheard", "sound")}
    known = {one.string: replace(one, changes={"ring": Figure(0.4, 0.01)}) for one in facts.conditions}
    points = [StoredCondition(month, date(2025, month, 1), None, replace(known[name], verdict=verdict))
              for name, told in verdicts.items() for month, verdict in zip((1, 2, 3, 5), told, strict=True)]
    tell = partial(season_view, "A", facts.instrument)
    over = tell(points, span=(date(2025, 1, 1), date(2025, 3, 31)))
    assert over.headline == "3 sweeps, 0 new strings; 2 strings likely wanted changing at its end, 44 without a verdict."
    assert {one.name: one.words for one in over.eventful} == {
        "5G": "To watch from 1 January 2025 on (ring −33 %), dead from 1 February 2025 on (ring −33 %).",  # e^-0.4 is 0.67
        "3C": "To watch on 1 January 2025, fine from 1 February 2025 on.",
        "3E": "Dead from 1 January 2025 on (ring −33 %). Not heard again in this season."}
    page = season_page(over)
    assert "Likely wanted changing" in page and " now" not in page[page.index("<h1>"):page.index("Octave by octave")]
    still = tell([one for one in points if one.date.month < 5], span=(date(2025, 1, 1), date(2025, 3, 31)), today=LATER)
    assert "2 strings likely want changing now" in still.headline and "Dead since 1 January 2025" in " ".join(
        one.words for one in still.eventful)


def test_season_and_plan_count_the_same_strings_without_a_verdict(facts, view):
    """Of 47 strings 5G and 6D were heard, 4C carries a stand-in, 4D came off: 43 of which nothing is known, counted by hand."""
    def on(number, name, **fields):
        return replace(find_string_view(view, "5G").fittings[-1], id=number, string=name, removed_on=None, is_stand_in=False, **fields)

    names = [spec.name for spec in facts.instrument.strings]
    known = {one.name: replace(one.condition, verdict="sound") for one in view.strings if one.name in ("5G", "6D")}
    fittings = [on(number, name) for number, name in enumerate(names)]
    fittings[names.index("4C")] = replace(fittings[names.index("4C")], is_stand_in=True)
    fittings[names.index("4D")] = replace(fittings[names.index("4D")], removed_on=RESTRUNG)
    stored_now = [StoredCondition(1, view.date, names.index(name), one) for name, one in known.items()]
    season = season_view(facts.harp, facts.instrument, stored_now, fittings=fittings, span=(view.date, LATER))
    plan = make_plan(Situation(facts.instrument, LATER, LATER, tuple(fittings), known))
    assert len(plan.unjudged) == 43 and season.headline.endswith(
        "none of 2 strings judged wants changing now, 43 without a verdict, 1 with a stand-in, 1 without a string.")


def test_a_string_changed_after_the_last_sweep_wants_nothing_now(facts, view, log, tmp_path):
    """5G, dead on 3 May, was changed on 20 May: on 1 July the dead one is off, whatever the sweeps say; as of 3 May it was on."""
    span, fittings = (date(2025, 1, 1), view.date), [one for fittings in log.values() for one in fittings]
    tell = partial(season_view, facts.harp, facts.instrument, stored(view, "5G") + stored(view, "4C"), fittings=fittings, span=span)
    assert "none of 1 string judged wants changing now" in tell(today=LATER).headline  # 4C; of 45 others no sweep of the season tells
    assert tell(today=LATER).eventful[0].words == "New string since, on 20 May 2025."
    assert "1 string likely wants changing now" in tell().headline
    write_pages(Shelf((view,), stored(view, "5G"), fittings, today=LATER), tmp_path)
    page = glued_off((tmp_path / "string-5G.html").read_text(encoding="utf-8"))
    assert "5G got a new string on 20 May 2025, not swept yet; the one before was dead; 3 strings on record" in page
    for name in ("index.html", f"sweep-{view.date}.html", f"sweep-{view.date}.txt"):
        assert "Changed since this sweep: 5G on 20 May 2025." in (tmp_path / name).read_text(encoding="utf-8"), name
    now = page[page.index('id="now"'):page.index('id="lives"')]
    assert "The string before it, on 3 May 2025" in now and "<b>Next:</b>" not in now and "Before you change" not in page
    assert changed_words(fittings, since=view.date, heard=()) == "Changed since this sweep: 5G on 20 May 2025."
    assert changed_words(fittings, since=LATER, heard=()) == ""
    for since in ("", changed_words(fittings, since=view.date, heard=())):
        console = Console(file=io.StringIO(), width=100)
        print_report(view, console, since=since)
        lines = console.file.getvalue().splitlines()
        named = next(k for k, line in enumerate(lines) if "Dead: 5G" in line)  # which it was in that sweep
        assert ("Changed since this sweep: 5G on 20 May 2025." in lines[named + 1:named + 4]) is bool(since)


def test_pages_say_where_nothing_could_be_judged(facts, view):
    """No string of 47 has a fresh baseline: none is said to be in order."""
    blank = tuple(replace(one, verdict="unrated", fresh={}, changes={}) for one in facts.conditions)
    season = season_view(facts.harp, facts.instrument, [StoredCondition(1, LATER, 1, one) for one in blank], span=(LATER, LATER))
    assert season.headline == "1 sweep, 0 new strings; no string could be judged."
    assert season.not_judged[0].startswith("47 without a fresh baseline: all strings. Record each when it is new and settled")
    assert {(one.n_want_changing, one.n_watch) for one in season.octaves} == {(None, None)}
    page = season_page(season)
    assert "every string was fine" not in page and "47 without a fresh baseline" in page
    top = re.sub(r"<[^>]+>", " ", page[page.index("<tr class=\"row\"><th scope=\"row\">Octave\N{NO-BREAK SPACE}0"):].partition("</tr>")[0])
    assert top.split()[2:] == ["0", "of", "2", "0", "–", "–"]  # 0G and 0F: none judged, none changed
    none, calm = (replace(facts, conditions=conditions) for conditions in (
        blank, tuple(replace(one, verdict="sound") for one in facts.conditions)))
    first, second, fine = sweep_view(none), sweep_view(replace(none, date=LATER)), sweep_view(calm)
    assert comparison_view(first, second).headline.startswith("No string could be judged in either sweep")
    assert comparison_view(fine, second).headline == "No string could be judged in the later sweep; in the other none wants changing."
    assert comparison_view(fine, sweep_view(replace(calm, date=LATER))).headline == "No string wants changing in either sweep."
    part = sweep_view(replace(calm, date=LATER, conditions=(*blank[:3], *calm.conditions[3:])))
    assert comparison_view(fine, part).headline == "No string wants changing in either sweep; 3 without a verdict in the later one."


def silent_after(view, facts, name, verdict):
    """The string's verdicts over the months, then a sweep in July that says nothing of it; and the view of that sweep."""
    known = stored(view, name)
    later = StoredCondition(99, LATER, known[-1].fitting_id, replace(known[-1].condition, verdict=verdict, n_plucks=0, reasons=()))
    conditions = tuple(later.condition if one.string == name else one for one in facts.conditions)
    one = find_string_view(view, name)
    told = sweep_view(replace(facts, date=LATER, conditions=conditions),
                      {name: Background(history=[*known, later], fittings=one.fittings)})
    return [*known, later], told


@pytest.mark.parametrize("verdict, words", [("unheard", "Not heard since."), ("unsure", "Heard since, but not well enough to say.")])
def test_a_sweep_that_says_nothing_of_a_string_leaves_its_verdict(facts, view, verdict, words):
    """5G was dead on 3 May; a short sweep in July did not hear it, or not well enough: it still wants changing."""
    conditions, latest = silent_after(view, facts, "5G", verdict)
    season = season_view(facts.harp, facts.instrument, conditions, span=(date(2025, 1, 1), LATER))
    assert "1 string likely wants changing now" in season.headline
    assert season.eventful[0].words == f"{DEAD_WORDS} {words}"
    assert [one.n_want_changing for one in season.octaves if one.n_judged] == [1]
    life = life_view(latest, "5G")
    assert life.headline.startswith(f"5G was dead on 3 May 2025, {words[0].lower()}{words[1:-1]};")
    page = life_page(life)
    assert "Before you change a string" in page and "still stands" in page
    assert f"Last heard on {'3 May' if verdict == 'unheard' else '1 July'} 2025" in page and page.count("Last heard on") == 1


@pytest.mark.parametrize("verdict, why", [("unheard", "not heard"), ("unsure", "heard but not judged")])
def test_a_sweep_that_says_nothing_of_a_dead_string_names_it_and_leads_to_its_life(facts, view, verdict, why, tmp_path):
    """5G was dead on 3 May, and nothing was done to it since; all other strings are well in July."""
    conditions, _ = silent_after(view, facts, "5G", verdict)
    calm = replace(facts, conditions=tuple(replace(one, verdict="sound") for one in facts.conditions))
    fittings = find_string_view(view, "5G").fittings
    _, latest = silent_after(view, calm, "5G", verdict)
    words = f"5G, {why}, was last judged dead on 3 May 2025."
    assert latest.standing == words and "no string wants changing" not in latest.headline.casefold()
    assert "none of the strings judged wants changing" in latest.headline.casefold()
    console = Console(file=io.StringIO(), width=80, color_system=None)
    print_report(latest, console)
    assert words in console.file.getvalue() and words in sweep_page(latest)
    write_pages(Shelf((latest,), conditions, fittings), tmp_path)
    index = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert words in index and 'href="string-5G.html"' in index and (tmp_path / "string-5G.html").exists()
    off = replace(find_string_view(latest, "5G"), fittings=tuple(replace(one, removed_on=LATER) for one in fittings))
    assert off.still_stands is None  # what was judged is gone
    assert sweep_view(calm).standing == ""


def stored(view, name):
    """The string's verdicts over the months, as a book gives them."""
    one = find_string_view(view, name)
    return [StoredCondition(number, point.date, point.fitting_id, replace(one.condition, verdict=point.verdict))
            for number, point in enumerate(one.history)]


def test_the_technician_reads_strings_without_a_baseline_in_one_line(facts):
    """One that has settled and two that have not want other steps of the player; the technician takes none of them."""
    conditions = tuple(replace(one, verdict="unrated" if one.string in ("1E", "3C", "5F") else "sound") for one in facts.conditions)
    told = technician_view(sweep_view(replace(facts, conditions=conditions, settled={"3C": SettledRecord(1, "3C", LATER, LATER, None)})))
    assert told.not_judged == ("without a fresh baseline: 1E, 3C, 5F",)
    assert technician_page(told).count("Without a fresh baseline") == 1


def test_where_it_broke_and_what_to_look_at_belong_together(view):
    """Twice at the knot, then twice at the bridge pin: the place that is named is the one that is explained."""
    places = ("knot", "bridge pin", "knot", "bridge pin")
    old = replace(find_string_view(view, "3C").fittings[0], why_removed="broke")
    log = tuple(replace(old, id=n, removed_on=date(2024, 1, n + 1), broke_at=place) for n, place in enumerate(places))
    strings = tuple(replace(one, fittings=log) if one.name == "3C" else one for one in view.strings)
    told = technician_view(replace(view, strings=strings))
    assert "Broke 2 times at the knot: look for the hole in the soundboard and its grommet." in [one.what for one in told.concerns]
    assert life_view(replace(view, strings=strings), "3C").breaks == "broke 2 times at the knot"


def test_the_technician_sees_what_is_not_the_string(view):
    twice = find_string_view(view, "3C")
    broken = replace(twice, fittings=tuple(replace(one, removed_on=date(2024, 1, n + 1), why_removed="broke", broke_at="bridge pin")
                                           for n, one in enumerate(twice.fittings)))
    strings = tuple(broken if one.name == "3C" else one for one in view.strings)
    buzz = Concern("4F", "Buzzes with its pedal down only", "noted by the player")
    told = technician_view(replace(view, strings=strings), concerns=[buzz])
    assert [(one.strings, one.what) for one in told.concerns] == [
        ("4F", "Buzzes with its pedal down only"), ("3C", "Broke 2 times at the bridge pin: look for a rough or grooved bridge pin.")]
    assert told.headline == "2 matters that are not the strings’ own fault."
    assert told.materials == "nylon 0G to 1F, gut 2E to 5A, wire 5G to 7C"  # common practice
    assert told.pitch == ("In this sweep 46 strings stood between +1.8 and +1.8 cents off their notes, "
                          "half of them above +1.8 cents and half below.")
    assert "Buzzes with its pedal down only." in technician_page(told)


@pytest.mark.parametrize(("names", "told"), [
    (("0G", "0F", "1E"), "nylon 0G, gut 0F to 1E"), (("1", "2", "3"), "nylon string 1, gut strings 2 to 3")])
def test_a_single_string_of_a_material_reaches_to_no_other(view, names, told):
    strings = [replace(one, name=name, fittings=(), spec=replace(one.spec, material=material))
               for one, name, material in zip(view.strings, names, ("nylon", "gut", "gut"), strict=False)]
    assert materials_sentence(strings) == told


def test_the_technician_misses_nothing_that_came_off_in_the_last_year(view):
    """Of fifteen changes of a week and one of two years before all fifteen are told, those alike in one line, and that one more came off
    before. Counts by hand: on one of the seven days one of three broke."""
    one = find_string_view(view, "3C")
    days = [date(2025, 3, 1 + n % 7) for n in range(15)] + [date(2023, 3, 1)]
    log = tuple(replace(one.fittings[0], id=n, removed_on=day, why_removed="broke" if n == 14 else "planned", broke_at=None)
                for n, day in enumerate(days))
    told = technician_view(replace(view, strings=tuple(replace(o, fittings=log if o is one else ()) for o in view.strings)))
    page = technician_page(told)
    section = page[page.index("Came off, newest first"):]
    assert (section.count("3C"), section.count("<li><b>")) == (15, 8) and "broke" in section
    assert "… and 1 more before that, in the string log." in section


def test_the_technician_sees_what_is_on_that_does_not_belong_there(view):
    """Nylon where gut belongs has another tension, and a thicker string of the same pulls harder: 0.9 against 0.8 mm is more than a gauge
    step of 5 %. A stand-in is on for a while only, and what a new string put right is no matter any more."""
    on = find_string_view(view, "3C").fittings[0]
    nylon = replace(on, material="nylon", fitted_on=date(2025, 4, 16), removed_on=None, is_stand_in=False)
    thick = replace(nylon, material="gut", gauge_mm=0.9, fitted_on=None)

    def told(**fittings):
        spec = {name: replace(one.spec, gauge_mm=0.8) for name in fittings if (one := find_string_view(view, name))}
        strings = tuple(replace(one, fittings=fittings[one.name], spec=spec[one.name]) if one.name in fittings else one
                        for one in view.strings)
        return technician_view(replace(view, strings=strings))

    other = told(**{"3C": (nylon,), "3D": (thick,), "3E": (replace(nylon, is_stand_in=True),)})
    assert [(one.strings, one.what, one.why) for one in other.concerns] == [
        ("3D", "A string of 0.9 mm is on where 0.8 mm belongs: it pulls harder. May it stay?", "from the string log"),
        ("3C", "Nylon has been on since 16 April 2025 where gut belongs: another string, with another tension. May it stay?",
         "from the string log")]
    assert other.materials == "nylon 0G to 1F, gut 2E to 5A, wire 5G to 7C; but now nylon on 3C"
    assert "but now nylon on 3C." in technician_page(other)
    right = replace(nylon, material="gut", fitted_on=date(2025, 5, 2))
    assert told(**{"3C": (replace(nylon, removed_on=date(2025, 5, 2)), right)}).concerns == ()


def test_the_technician_sees_what_came_off_after_the_sweep(view):
    """The sweep is of 3 May 2025; 3C broke in it not, but on 20 May, a third time at its knot. Other strings keep their log."""
    log = [fitting for one in view.strings for fitting in one.fittings if one.name != "3C"]
    own = find_string_view(view, "3C").fittings[0]
    days = (date(2020, 1, 5), date(2023, 2, 7), date(2025, 5, 20))
    log += [replace(own, id=900 + n, removed_on=day, why_removed="broke", broke_at="knot") for n, day in enumerate(days)]
    told = technician_view(view, log=log, today=date(2025, 5, 25))
    assert told.removed[0].string == "3C" and told.removed[0].removed_on == date(2025, 5, 20)
    assert told.log_until == ("The string log is as of 25 May 2025, the sounds are of the sweep of 3 May 2025. "
                              "Came off since that sweep: 3C.")
    assert "Broke 3 times at the knot" in " ".join(one.what for one in told.concerns)
    assert "Came off since that sweep" in technician_page(told)
    assert technician_view(view).log_until == "" and technician_view(view, log=log, today=view.date).log_until == ""


def test_a_string_changed_since_is_marked_and_counted_no_more_for_the_technician(view, log):
    """5G, dead on 3 May, was changed on 20 May: seen on 25 May one fewer wants changing, and its row says so. Counts derived here."""
    due = [one.name for one in view.attention if one.verdict in ("dead", "false")]
    assert "5G" in due
    fittings = [fitting for of in log.values() for fitting in of]
    told = technician_view(view, log=fittings, today=date(2025, 5, 25))
    assert told.off_since == {"5G": date(2025, 5, 20)} and "Came off since that sweep: 5G." in told.log_until
    assert told.found.startswith(f"Of those that are on still: {want_changing(len(due) - 1)}")
    page = glued_off(technician_page(told))
    row = next(line for line in page.splitlines() if "<b>5G</b>" in line and "dead" in line)
    assert "Came off on 20 May 2025." in row and page.count("Came off on 20 May 2025.") == 1
    counted = page[page.index("Of those that are on still"):page.index("Came off since, and not counted here")]
    assert [name for name in re.findall("<b>(.*?)</b>", counted) if name in due] == [name for name in due if name != "5G"]
    before = technician_view(view, log=known_on(fittings, view.date), today=view.date)  # it was on then
    assert before.found.startswith(view.headline) and not before.off_since


def test_the_technician_is_told_what_was_done_to_the_harp_and_nothing_of_single_sounds(view):
    """Newest first, the climate not among it; and of the recording what it could not carry, not the seconds of what was no pluck."""
    events = [Event(date(2024, 5, 20), "regulated", "before the tour"), Event(date(2025, 4, 1), "moved", "Cardiff"),
              Event(date(2025, 4, 2), "climate", humidity_pct=40.0), Event(date(2025, 5, 4), "regulated")]
    noted = "Since the last sweep: 2 May 2025: moved. Left out, because of rain: the fair."  # the player's own words
    told_of = (Remark("Left out, because too faint, or out of the sweep's order: the sounds at 22.3 s and 23.6 s.", SINGLE_SOUNDS),
               Remark("It is clipped."), Remark(noted))
    told = technician_view(replace(view, warnings=told_of), events=events)
    assert told.done == ("1 April 2025: moved, Cardiff.", "20 May 2024: regulated, before the tour.")  # the sweep is of 3 May
    assert technician_view(view, events=events, today=date(2025, 5, 5)).done[0] == "4 May 2025: regulated."
    assert technician_view(view).done == ("No regulation is noted.",)
    page = glued_off(technician_page(told))
    assert "20 May 2024: regulated, before the tour." in page and "It is clipped." in page and noted in page and "22.3 s" not in page


def glued_off(page):
    return page.replace("\N{NO-BREAK SPACE}", " ")


def test_half_of_an_even_number_of_strings_stand_above_their_middle(view):
    """−10, 0, +4 and +20 cents: the median is +2 (definition)."""
    cents = dict(zip(("3C", "3B", "3A", "3G"), (-10.0, 0.0, 4.0, 20.0), strict=True))
    strings = tuple(replace(one, condition=replace(one.condition, figures={"cents_off": Figure(cents[one.name], 0.1)}))
                    for one in view.strings if one.name in cents)
    assert pitch_sentence(strings).startswith("In this sweep 4 strings stood between −10.0 and +20.0 cents off their notes")
    assert pitch_sentence(strings).endswith("half of them above +2.0 cents and half below.")
    assert pitch_sentence(strings[:1]).startswith("In this sweep one string was heard, ")
    assert pitch_sentence(strings[:2]).endswith("cents off their notes.")


@pytest.mark.parametrize("slipped", [fallen_step(rung_out=False), fell_step()], ids=["watched", "sound"])
def test_a_step_that_names_the_technician_is_passed_on(facts, slipped):
    conditions = tuple(replace(one, next_step=slipped.text, step_kind=slipped.kind) if one.string == "4C" else one
                       for one in facts.conditions)
    told = technician_view(sweep_view(replace(facts, conditions=conditions)))
    (concern,) = told.concerns
    assert concern.strings == "4C" and concern.what.endswith(f"The player was told: {slipped.text}")
    assert concern.why == "called fine in this sweep"
    plain = technician_page(technician_view(sweep_view(facts)))
    assert "<b>5G</b>" in plain and "Rings 48 % shorter than fresh".replace(" %", "\N{NO-BREAK SPACE}%") in plain  # what is to be changed
    assert "<p>Not sure: 7D.</p>" in plain and "<p>Not heard: 0G.</p>" in plain  # and of which nobody can say
    assert technician_view(sweep_view(facts)).headline.startswith("No fault of the harp itself")
    cautions_of_then = "Change the string. When in doubt, ask a harp technician, in words of an older program."
    conditions = tuple(replace(one, next_step=cautions_of_then) for one in facts.conditions)
    assert technician_view(sweep_view(replace(facts, conditions=conditions))).headline.startswith("No fault of the harp itself")


def test_a_line_of_the_log(view):
    old = find_string_view(view, "5G").fittings[0]
    assert fitting_line(old) == "2 February 2019 to 20 April 2023: wire, Reed & Daughters, lot 17; broke at the tuning pin."
    unknown = replace(old, fitted_on=None, removed_on=None, material=None, supplier=None, batch=None, why_removed=None, broke_at=None,
                      is_stand_in=True, gauge_mm=1.02)
    replaced = replace(unknown, removed_on=date(2023, 4, 20), why_removed="stand-in")
    assert fitting_line(replaced) == "On before the book was begun, until 20 April 2023: 1.02 mm; a stand-in."  # which is why it came off
    assert fitting_line(unknown) == "On since before the book was begun: 1.02 mm; a stand-in."


def test_all_pages_in_a_folder(view, after, tmp_path):
    shelf = Shelf((view, after), stored(view, "5G"))
    done = []
    names = [path.name for path in write_pages(shelf, tmp_path / "one", progress=lambda *now: done.append(now))]
    assert done == [(1, 2), (2, 2)]
    assert names[:4] == ["index.html", "sweep-2025-07-01.html", "sweep-2025-05-03.html", "compare.html"]
    assert {"string-6D.html", "season.html", "technician.html", "sweep-2025-05-03.png", "sweep-2025-05-03.txt",
            "sweep-2025-05-03.csv"} <= set(names)
    index = (tmp_path / "one" / "index.html").read_text(encoding="utf-8")
    assert set(re.findall(r'<li><a href="([^"]+)"', index)) == {name for name in names if name.endswith(".html")} - {"index.html"}
    wanted = ("<h2>The latest sweep", "sweep-2025-07-01", "<h2>Strings that need", 'href="string-', "<h2>Over the", "compare.html",
              "season.html", "technician.html", "<h2>Earlier sweeps", "sweep-2025-05-03")
    places = [index.index(part) for part in wanted]
    assert places == sorted(places)  # what she wants next before what was
    with drawn_anew():
        write_pages(shelf, tmp_path / "two")
    assert all((tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes() for name in names)


@pytest.mark.parametrize(("few", "processes"), [(1, 3), (2, 1)])
def test_the_pages_of_many_sweeps_are_shared_out_to_the_cores(view, after, tmp_path, monkeypatch, few, processes):
    """No process is started here; each writes what belongs to its sweeps, the latest first."""
    asked = []

    def shared(thing, *, processes):
        asked.append(processes)
        return nullcontext(one_by_one(thing))

    for name, value in (("FEW_SWEEPS", few), ("shared_out", shared), ("usable_cores", lambda: 3)):
        monkeypatch.setattr(f"toneprobe.report.shelf.{name}", value)
    index, *others = [path.name for path in write_pages(Shelf((view, after), stored(view, "5G")), tmp_path)]
    assert asked == [processes] and (index, others[0], others[-1]) == ("index.html", "sweep-2025-07-01.html", "sweep-2025-07-01.csv")


def test_pages_of_a_folder_lead_to_each_other(view, after, tmp_path):
    """Each back to the first; a sweep, the season and two sweeps compared to the life of a string that has one; the first shows the harp
    and names what needs attention."""
    names = [path.name for path in write_pages(Shelf((view, after), stored(view, "5G") + stored(view, "6D")), tmp_path)]
    pages = {name: (tmp_path / name).read_text(encoding="utf-8") for name in names if name.endswith(".html")}
    assert {name for name, text in pages.items() if 'href="index.html"' not in text} == {"index.html"}
    links = {link for text in pages.values() for link in re.findall(r'href="([^"#:]+)"', text)}
    assert links <= set(pages)
    assert 'href="string-6D.html"' in pages["sweep-2025-07-01.html"] and 'href="string-6D.html"' in pages["season.html"]
    assert 'href="string-4A.html"' in pages["compare.html"] and 'href="string-5G.html"' not in pages["compare.html"]  # fine: it has no page
    assert after.named in pages["index.html"] and 'class="harp-picture"' in pages["index.html"]
    assert 'href="index.html"' not in sweep_page(after)  # a page sent alone leads nowhere


def test_two_sweeps_of_one_day_keep_their_pages_apart(view, after, tmp_path):
    first, second = (replace(after, headline=f"The {word} of that day.") for word in ("first", "second"))
    names = [path.name for path in write_pages(Shelf((view, first, second)), tmp_path)]
    assert len(names) == len(set(names)) == len(list(tmp_path.iterdir()))
    for stem, word in (("sweep-2025-07-01", "first"), ("sweep-2025-07-01-2", "second")):
        assert f"The {word} of that day." in (tmp_path / f"{stem}.html").read_text(encoding="utf-8")
        assert {f"{stem}.{ending}" for ending in ("html", "png", "txt", "csv")} <= set(names)
    assert "Sweep of 1 July 2025, number 2 of that day" in (tmp_path / "index.html").read_text(encoding="utf-8")


def test_strings_whose_names_look_the_same_as_files_keep_their_pages_apart(view, tmp_path):
    strange = {"5G": "5*G", "6D": "5+g"}
    strings = tuple(replace(one, name=strange.get(one.name, one.name)) for one in view.strings)
    instrument = replace(view.instrument, strings=tuple(replace(one.spec, name=one.name) for one in strings))
    renamed = replace(view, strings=strings, instrument=instrument,
                      attention=tuple(one for one in strings if one.name in strange.values()))
    names = [path.name for path in write_pages(Shelf((renamed,)), tmp_path)]
    assert sum(name.startswith("string-") for name in names) == 2 and len(names) == len(set(names))


def test_a_steady_fall_goes_to_the_technician(view):
    """Six monthly checks in which 3C falls 6 cents a month: more than any stretch of a string from before the book."""
    days = [datetime(2025, month, 3, 12) for month in range(1, 7)]

    def checks(string, note, hz, cents_a_month):
        pitches = [hz * 2 ** (month * cents_a_month / 1200) for month in range(len(days))]
        return [PitchReading(string, note, day, Figure(pitch, hz * 2e-4)) for day, pitch in zip(days, pitches, strict=True)]

    neighbours = {"3D": checks("3D", "D5", 587.3, 0.0), "3E": checks("3E", "E5", 659.3, 0.0)}
    falling, holding = (judge_settling(checks("3C", "C5", 523.3, rate), fitted_on=None, neighbours=neighbours) for rate in (-6.0, 0.0))
    (concern,) = slip_concerns({"3C": falling, "3A": holding})
    assert concern.strings == "3C" and "a pin or a knot, not stretch" in concern.what
    assert concern.why.startswith("from 6 pitch checks, the last on 3 June 2025; between the last checks it fell by 0.2")
    page = technician_page(technician_view(view, concerns=[concern]))
    assert "Falls steadily and does not slow down: a pin or a knot, not stretch." in page


def test_sounds_stay_where_they_are_needed(sounding_view):
    kept = [one.name for one in sounds_where_needed(sounding_view).strings if one.clip_now]
    assert sorted(kept) == sorted(one.name for one in sounding_view.attention)


@pytest.mark.parametrize(("last", "first"), [(date(2026, 5, 3), date(2025, 5, 4)), (date(2024, 2, 29), date(2023, 3, 1)),
                                             (date(2025, 2, 28), date(2024, 2, 29))])
def test_a_year_up_to_a_day_begins_the_day_after_that_day_a_year_before(last, first):
    """Counted on a calendar; 2024 is a leap year."""
    assert year_up_to(last) == (first, last)


@pytest.mark.parametrize("is_new", [True, False])
def test_a_folder_whose_first_page_cannot_be_written_is_as_it_was(view, tmp_path, monkeypatch, is_new):
    folder = tmp_path / "pages"
    if not is_new:
        folder.mkdir()

    def full(*arguments):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("toneprobe.report.shelf.sweep_page", lambda *arguments, **more: "text")
    monkeypatch.setattr("os.replace", full)
    with pytest.raises(OSError, match="No space left"):
        write_pages(Shelf((view,)), folder)
    assert folder.exists() == (not is_new) and list(tmp_path.rglob("*.*")) == []

"""A string whose baseline the sweep is has no verdict and no fault: every screen calls it fresh. And what a screen advises must work."""

from dataclasses import replace
from datetime import date

import pytest
from made_up_report import TODAY, evidence_of, fitting_of

from toneprobe.book.entries import StoredCondition
from toneprobe.report.compare import comparison_view
from toneprobe.report.figures import MIDDLE, NARROW, season_picture
from toneprobe.report.glossary import REMEDIES
from toneprobe.report.life import life_view
from toneprobe.report.page import comparison_page, life_page, season_page
from toneprobe.report.season import season_view
from toneprobe.report.view import sweep_view
from toneprobe.settling import SettledRecord

APRIL = date(2025, 4, 3)


def unrated(condition):
    return replace(condition, verdict="unrated", dead_score=None, false_score=None, reasons=("This sweep is its fresh baseline.",),
                   fresh={}, changes={})


@pytest.fixture
def restrung(facts):
    """6D, dead in April, was changed; the sweep of today is its baseline. 5G is unrated, and today's sweep is no baseline of it."""
    conditions = tuple(unrated(one) if one.string in ("6D", "5G") else one for one in facts.conditions)
    (spec, other) = (next(one for one in facts.instrument.strings if one.name == name) for name in ("6D", "5G"))
    old = next(one for one in facts.conditions if one.string == "6D")
    history = (StoredCondition(1, APRIL, 1, old), StoredCondition(2, TODAY, 2, unrated(old), is_fresh=True))
    log = (fitting_of(spec, removed_on=date(2025, 4, 20)), fitting_of(spec, 2, date(2025, 4, 20)))
    known = {"6D": replace(evidence_of(spec, with_clips=False), history=history, fittings=log),
             "5G": replace(evidence_of(other, with_clips=False), history=(StoredCondition(2, TODAY, 1, unrated(old)),))}
    return sweep_view(replace(facts, conditions=conditions, first_baselines=frozenset({"6D"}), is_fresh=True), known), history


def test_what_had_settled_is_not_told_to_settle_first(facts):
    """3G and 3A, settled by their checks in September, and 4C, of which nothing is known, have no baseline in a sweep of May after. That
    3A had settled by the 20th was first said two days later, when the next check showed it: on the 20th itself it was not known."""
    conditions = tuple(unrated(one) if one.string in ("3G", "3A", "4C") else one for one in facts.conditions)
    days = {name: SettledRecord(day, name, date(2024, 9, day), date(2024, 9, day + 2), None) for name, day in (("3G", 18), ("3A", 20))}
    view = sweep_view(replace(facts, conditions=conditions, settled=days))
    settled, other = (group for group in view.not_judged if group.state == "unrated")
    assert (settled.names, other.names, other.remedy) == ("3A, 3G", "4C", REMEDIES["unrated"])
    assert settled.remedy == ("3A and 3G had settled by 20 September 2024, as your pitch checks up to 22 September 2024 show: give this "
                              "sweep's recordings to 'toneprobe sweep' again with '--fresh-for 3A,3G', and they get their "
                              "fresh baseline.")
    one = next(one for one in view.strings if one.name == "3G")
    assert one.next_step.startswith("3G had settled by 18 September 2024") and "with '--fresh-for 3G'" in one.next_step
    waits = sweep_view(replace(facts, conditions=conditions, settled=days, lacking={"3A": "its brightness moves by -12 %: sweep it again"}))
    assert [group.remedy for group in waits.not_judged if group.names == "3A"] == [
        "3A had settled by 20 September 2024, as your pitch checks up to 22 September 2024 show, but gets no fresh baseline yet. Its "
        "brightness moves by −12 %: sweep it again."]
    fresh = sweep_view(replace(facts, conditions=conditions, settled=days, first_baselines=frozenset(days)))
    assert [group.names for group in fresh.not_judged if group.state == "unrated"] == ["4C"]


def test_what_has_had_its_time_is_not_told_to_be_new_and_settled(facts):
    """3A and 3G were put on months ago and never checked: they have had their time, since these days."""
    conditions = tuple(unrated(one) if one.string in ("3G", "3A", "4C") else one for one in facts.conditions)
    days = {"3G": date(2024, 9, 18), "3A": date(2024, 9, 20)}
    waiting, other = (group for group in sweep_view(replace(facts, conditions=conditions, had_time=days)).not_judged
                      if group.state == "unrated")
    assert (waiting.names, other.names, other.remedy) == ("3A, 3G", "4C", REMEDIES["unrated"])
    assert waiting.remedy.startswith("3A and 3G should have settled by 20 September 2024, though no check shows that they "
                                     "have. If they have held their pitch")
    assert "with '--fresh-for 3A,3G'" in waiting.remedy and "check them once more" in waiting.remedy
    wire = sweep_view(replace(facts, conditions=conditions, had_time=days, lacking={"3A": "sweep it on two days at least"}))
    told, = (one.next_step for one in wire.strings if one.name == "3A")
    assert told == ("3A should have settled by 20 September 2024, but gets no fresh baseline yet. Sweep it on two days at "
                    "least.")


def test_a_fresh_sweep_of_one_evening_asks_for_nothing_that_has_its_baseline(facts):
    """A harp of four, fresh in three evenings: after the second one string is left, after the third none. What is in a later sweep's page
    of the first evening holds for all that is known since."""
    four = ("3E", "3D", "3C", "3B")
    small = replace(facts.instrument, strings=tuple(spec for spec in facts.instrument.strings if spec.name in four))
    heard = tuple(unrated(one) for one in facts.conditions if one.string == "3C")

    def groups(**elsewhere):
        return sweep_view(replace(facts, instrument=small, conditions=heard, first_baselines=frozenset({"3C"}), is_fresh=True,
                                  fresh_elsewhere=elsewhere)).not_judged

    due, = groups()
    assert (due.names, due.remedy) == ("3E, 3D, 3B", REMEDIES["unheard"])
    first, second = date(2025, 5, 1), date(2025, 5, 2)
    due, done = groups(**{"3E": first, "3D": second})
    assert (due.names, due.remedy) == ("3B", REMEDIES["unheard"])
    assert (done.names, done.remedy) == (
        "3E, 3D", "They have their fresh baselines already, of 1 May 2025 and 2 May 2025: there is nothing to record.")
    done, = groups(**{"3E": first, "3D": second, "3B": second})
    assert done.remedy.endswith("there is nothing to record. All 4 strings have one now.")


def test_a_life_calls_it_fresh(restrung):
    view, _ = restrung
    life = life_view(view, "6D")
    assert life.headline == "6D is fresh: the sweep of 3 May 2025 is its baseline; 2 strings on record, 2 sweeps."
    text = life_page(life)
    lives = text[text.index('id="lives"'):]
    assert " fresh</span>" in lives and "dead" in lives and "unrated</span>" not in text
    assert life_view(view, "5G").headline.startswith("5G has no fresh baseline;")
    assert "unrated</span>" in life_page(life_view(view, "5G"))


def test_a_string_put_on_since_is_told_beside_it(restrung, facts):
    view, _ = restrung
    spec = next(one for one in facts.instrument.strings if one.name == "6D")
    log = (fitting_of(spec, 3, date(2025, 5, 20)),)
    life = life_view(view, "6D", today=date(2025, 5, 27), log=log)
    assert "not swept yet; the one before was fresh;" in life.headline and life.chapters[0].age == "on for 7 days"
    set_back = life_view(view, "6D", today=date(2025, 5, 10), log=log)  # nothing is on for −10 days
    assert set_back.chapters[0].age == "still to come by this computer's clock"


def test_two_sweeps_compared_call_it_fresh(view, restrung):
    compared = comparison_view(replace(view, date=APRIL), restrung[0])
    one = next(one for one in compared.strings if one.name == "6D")
    assert one.words == "dead, now fresh"
    assert next(one for one in compared.strings if one.name == "5G").words == "dead, now without a fresh baseline"
    # 6D, dead in April, is new and settled; nothing is known of 5G, dead in April too; 2C is false in both
    assert compared.headline == ("1 string that wanted changing no longer does, 1 string that wanted changing was not judged again, "
                                 "1 string still likely wants changing.")
    assert "Dead, now fresh." in comparison_page(compared)


def test_a_season_calls_it_fresh(facts, restrung):
    _, history = restrung
    season = season_view(facts.harp, facts.instrument, history, span=(date(2025, 1, 1), TODAY))
    assert next(one for one in season.strings if one.name == "6D").verdicts == ((APRIL, "dead"), (TODAY, "fresh"))
    figure = season_picture(season, MIDDLE.width)
    key = {text.get_text() for axes in figure.axes[1:] for text in axes.texts}
    assert key == {"dead", "fresh"} and "fresh" in season_page(season)
    at = [(line.get_label(), *line.get_xdata()) for line in figure.axes[0].lines if len(line.get_xdata()) == 1]
    assert at == [("dead", APRIL.toordinal()), ("unrated", TODAY.toordinal()), ("sound", TODAY.toordinal())]  # a dot in a circle


def test_remedies_name_what_works():
    """`sweep` takes the place of a sweep whose recordings are among those given, and takes as fresh what --fresh-for names."""
    assert all("'toneprobe sweep' together with those of this sweep" in REMEDIES[state] for state in ("unsure", "left out", "unheard"))
    assert "'toneprobe sweep' with --fresh-for" in REMEDIES["unrated"]


@pytest.mark.parametrize(("layout", "shown"), [(MIDDLE, ["1 Jan", "1 Mar", "1 Dec"]), (NARROW, ["1 Mar", "1 Dec"])])
def test_a_season_is_labelled_with_the_days_of_its_sweeps(facts, layout, shown):
    """Of five days the last always, and before it those with room: a label of five letters, 7.2 units each, and 8 between two are 44 units,
    which are 29 days of the wide picture's 387 and 83 of the narrow one's (counted by hand)."""
    known = next(one for one in facts.conditions if one.string == "5G")
    days = [date(2024, 1, 1), date(2024, 2, 5), date(2024, 2, 9), date(2024, 3, 1), date(2024, 12, 1)]
    season = season_view("A", facts.instrument, [StoredCondition(n, day, None, known) for n, day in enumerate(days)],
                         span=(date(2024, 1, 1), date(2024, 12, 31)))
    words = {text.get_text(): text.get_position()[0] for text in season_picture(season, layout.width).axes[0].texts}
    assert [word for word in words if word in ("1 Jan", "5 Feb", "9 Feb", "1 Mar", "1 Dec")] == shown
    assert words["1 Dec"] == date(2024, 12, 1).toordinal()

"""From the book to the plan: what its sweeps said of a string, one after the other. All values are made up."""

from dataclasses import replace
from datetime import date

import pytest
from stored_sweep import store_sweep

from toneprobe.audio import Quality
from toneprobe.book import read
from toneprobe.book.corrections import correct_fitting
from toneprobe.book.entries import NewSweep, RecordingEntry
from toneprobe.book.read import verdicts_said
from toneprobe.book.stringing import replace_fitting
from toneprobe.condition import Condition
from toneprobe.condition.judged_before import Said, days_by_verdict
from toneprobe.condition.next_steps import fell_step
from toneprobe.fittings import NewFitting, Removal
from toneprobe.instrument import load_instrument
from toneprobe.measure.figure import Figure
from toneprobe.planning import make_plan
from toneprobe.upkeep.engagement import situation_of

HARP = load_instrument("pedal-47")
QUALITY = Quality(-3.0, 0.0, -71.5, None, None, 40.0, None, False, ())
TODAY, CONCERT = date(2024, 6, 10), date(2024, 8, 1)


def heard(book, harp, day, word, n_plucks=2, string="3C", **said):
    """A sweep of that day which says that of the string, from so many plucks. said: fields of the condition."""
    recording = RecordingEntry(f"{day:%m%d}" * 16, f"{day}.wav", 60.0, 44100, 1, "wav/PCM_16", 960044, QUALITY)
    judged = Condition(string, "C5", word, 50.0, 0.0, n_plucks, ("Rings half as long as fresh.",), "", {}, {})
    judged = replace(judged, **said)
    return store_sweep(book, NewSweep(harp.id, day, HARP, (recording,), (), (judged,)))


def month(number):
    return date(2024, number, 1)


@pytest.mark.parametrize("words, is_unconfirmed", [
    (["false"], True),
    (["false", "false"], False),
    (["false", "watch", "false"], False),  # the check was the sweep of the second time, whatever the one between said
    (["false", "sound", "unsure", "false"], False),
    (["dead", "watch", "false"], False),  # another fault, but two recordings condemn the string
    (["false", "sound", "dead"], False),
    (["watch", "watch", "dead"], True),
])
def test_a_string_that_any_sweep_before_condemned_too_is_checked(book, harp, words, is_unconfirmed):
    for k, word in enumerate(words, 1):
        heard(book, harp, month(k), word)
    situation = situation_of(book, harp, today=TODAY, on=CONCERT)
    assert situation.unconfirmed == (frozenset({"3C"}) if is_unconfirmed else frozenset())
    assert any(task.kind == "check" for task in make_plan(situation).tasks) is is_unconfirmed


def test_what_was_said_of_the_string_before_it_counts_for_nothing(book, harp):
    heard(book, harp, month(1), "false")
    new = replace_fitting(book, harp.id, NewFitting("3C", month(2), "gut"), Removal(month(2), "false"))
    for number, word in ((3, "watch"), (4, "unsure"), (5, "sound")):
        heard(book, harp, month(number), word)
    assert verdicts_said(book, harp.id, until=month(3))[new.id] == (Said("watch", "C5", month(3)),)
    said = days_by_verdict(verdicts_said(book, harp.id, until=month(5))[new.id])
    assert said == {"watch": (month(3),), "sound": (month(5),)}  # what says nothing is left out
    heard(book, harp, month(6), "dead")
    assert situation_of(book, harp, today=TODAY, on=CONCERT).unconfirmed == {"3C"}


def test_a_finding_that_later_sweeps_could_not_confirm_keeps_its_day(book, harp):
    for number, word in ((1, "dead"), (2, "unsure"), (3, "unsure")):
        heard(book, harp, month(number), word)
    change, = (task for task in make_plan(situation_of(book, harp, today=TODAY, on=CONCERT)).tasks if task.kind == "change")
    assert change.reason.startswith("dead as of 1 January 2024, heard since but not judged: rings half as long as fresh; ")


@pytest.mark.parametrize(("cents", "is_due"), [(-79.0, True), (-2.0, False), (None, True)])
def test_a_string_that_fell_alone_is_to_be_tuned_until_a_sweep_hears_it_among_the_others(book, harp, cents, is_due):
    """The later sweep could not judge its sound; of the pitch it may tell all the same. cents: against the others then."""
    step = fell_step()
    heard(book, harp, month(4), "sound", next_step=step.text, step_kind=step.kind)
    heard(book, harp, month(5), "unsure", changes={"pitch_against_others_cents": Figure(cents, 1.0 if cents else None, "not heard")})
    tasks = [task for task in make_plan(situation_of(book, harp, today=TODAY, on=CONCERT)).tasks if task.kind == "consider"]
    assert [task.strings for task in tasks] == ([("3C",)] if is_due else [])


@pytest.mark.parametrize(("cents", "is_due"), [(-43.0, True), (-2.0, False)])
def test_a_string_that_fell_alone_is_to_be_tuned_after_a_few_were_plucked_again(book, harp, cents, is_due):
    """Which strings fell alone can't be told from a few, so the later sweeps call it sound and say no more of it; their figures tell."""
    step = fell_step()
    heard(book, harp, month(4), "sound", next_step=step.text, step_kind=step.kind)
    for number in (5, 6):
        heard(book, harp, month(number), "sound", changes={"pitch_against_others_cents": Figure(cents, 1.0)})
    tasks = [task for task in make_plan(situation_of(book, harp, today=TODAY, on=CONCERT)).tasks if task.kind == "consider"]
    assert [(task.strings, task.instead) for task in tasks] == ([(("3C",), step.text)] if is_due else [])


def test_a_string_that_was_heard_before_its_log_begins_was_swept(book, harp):
    """3C was heard on 1 May; the log has it put on on 20 June, and nothing before. On 10 June, of that sweep it is known that it has no
    baseline, not that it was never swept."""
    heard(book, harp, month(5), "unrated")
    own, = read.fitting_log(book, harp.id, "3C")
    correct_fitting(book, own.id, {"fitted_on": date(2024, 6, 20)}, today=date(2024, 6, 30))
    situation = situation_of(book, harp, today=TODAY, on=CONCERT)
    assert situation.conditions["3C"].verdict == "unrated" and situation.heard_on["3C"] == month(5)
    note = next(note for note in make_plan(situation).notes if note.startswith("no verdict on"))
    assert "3C without a fresh baseline" in note and "46 not swept yet" in note

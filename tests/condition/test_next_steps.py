"""What is to be done, in full and in short."""

from datetime import date

import pytest

from toneprobe.condition.next_steps import (
    BETWEEN_NOTCHES_STEP,
    CAUTION,
    CHECK_FIRST,
    CHECK_LOG,
    ELSEWHERE,
    FIRST_ROOM,
    KINDS,
    MAYBE_ROOM,
    OTHER_STRING_STEP,
    SINKING_STEP,
    TECHNICIAN,
    WATCH_STEP,
    Build,
    Step,
    dead_other_step,
    dead_step,
    fallen_step,
    false_step,
    fell_step,
    other_set_step,
    otherwise_condemned,
    short_step,
    slipping_step,
    two_strings_step,
    unsteady_step,
    unsure_step,
)
from toneprobe.phrases import HARP, NO_HARP
from toneprobe.practice import LAST_WEEK_DAYS, PLAN_AHEAD_DAYS


@pytest.mark.parametrize(("step", "short"), [
    (dead_step(2), "Check once more: pluck again, three times, with the neighbours damped. If it stays so, change the string two to "
                   "three weeks before a concert, gut and nylon a week before at the latest."),
    (dead_step(3), "Change the string two to three weeks before a concert, gut and nylon a week before at the latest."),
    (dead_step(3, set_aged=True), "First make sure that it is not the room; then change the string two to three weeks before a concert, "
                                  "gut and nylon a week before at the latest."),
    (false_step("beat_db"), "Check once more: pluck again, three times, with the neighbours damped. If it stays so, change the string two "
                            "to three weeks before a concert, gut and nylon a week before at the latest."),
    (false_step("pitch_wave"), "Look first whether its tuning pin, or its disc or lever, gives way. Check once more: pluck again, three "
                               "times, with the neighbours damped. If it stays so, change the string two to three weeks before a concert, "
                               "gut and nylon a week before at the latest."),
    (false_step("beat_db", said_before=True), "An earlier sweep said so too: change the string two to three weeks before a concert, gut "
                                              "and nylon a week before at the latest."),
    (fallen_step(True), "Do not pull it up to pitch; slacken it and change it."),
    # as it stands in books that were written before
    (Step("Check once more before you spend money: pluck again, three times, with the neighbours damped, for a neighbour that answers is "
          "no fault. If it stays so, change the string: no tuning helps a false one. "),
     "Check once more: pluck again, three times, with the neighbours damped. If it stays so, change the string."),
])
def test_in_short_the_action_and_its_day_are_kept(step, short):
    assert short_step(step.text.removesuffix(CAUTION)) == short


@pytest.mark.parametrize("step", [dead_step(2), dead_step(3), dead_step(3, said_before=True), false_step("astray_cents"),
                                  false_step("beat_db", said_before=True), false_step("beat_db", otherwise="dead on 1 May 2026")])
def test_every_string_that_wants_changing_has_a_day(step):
    """Two to three weeks before a concert, so that the new one has settled, gut and nylon a week before as the last sensible day (common
    practice): the plan for a date goes by the same."""
    assert "change the string two to three weeks before a concert, gut and nylon a week before at the latest" in step.text.casefold()
    assert (PLAN_AHEAD_DAYS, LAST_WEEK_DAYS) == ((21, 14), 7)


@pytest.mark.parametrize("step", [dead_step(2), dead_other_step(), false_step("beat_db"), WATCH_STEP, OTHER_STRING_STEP, unsure_step()])
def test_as_many_plucks_are_asked_for_everywhere(step):
    """Three a string, as of a fresh baseline: page, table and plan must not differ."""
    assert "three times" in step.text and "twice" not in step.text


def test_what_condemned_a_string_before_is_named_with_its_days():
    may = [date(2026, 5, day) for day in (4, 1, 3, 2)]
    assert otherwise_condemned("false", {"dead": may[:2], "watch": may}) == "dead on 1 May 2026 and 4 May 2026"
    assert otherwise_condemned("false", {"dead": may}) == "dead on 2 May 2026, 3 May 2026 and 4 May 2026"  # the last three
    assert otherwise_condemned("dead", {"dead": may, "sound": may}) == ""  # the same fault is told in other words


def test_what_is_short_already_stays():
    assert short_step(WATCH_STEP.text) == WATCH_STEP.text


@pytest.mark.parametrize("step", [
    dead_step(1), dead_step(2), dead_step(3), dead_step(2, set_aged=True), dead_step(2, said_before=True), dead_step(2, otherwise="false"),
    false_step("beat_db"), false_step("stretch"), false_step("beat_db", said_before=True), false_step("beat_db", otherwise="dead"),
    false_step("pitch_wave"), false_step("pitch_wave", said_before=True), false_step("pitch_wave", otherwise="dead"),
    fallen_step(True), fallen_step(False), fallen_step(False, may_thud=True), WATCH_STEP, unsteady_step(), SINKING_STEP,
    slipping_step(), BETWEEN_NOTCHES_STEP, OTHER_STRING_STEP, dead_other_step(), unsure_step(), unsure_step(room_step=ELSEWHERE),
    unsure_step(room_step=FIRST_ROOM), unsure_step(crushed_now=True), unsure_step(spoilt_now=True), unsure_step(spoilt_fresh=True)])
def test_the_kind_of_a_step_is_what_its_words_say(step):
    """As a player reads them: more plucks first, the room first, a technician for this very string (derived here from the words)."""
    said = step.text.removesuffix(CAUTION).casefold()
    assert step.kind in KINDS
    assert (step.kind == CHECK_FIRST) == ("check once more" in said)
    assert (step.kind == MAYBE_ROOM) == ("make sure that it is not the room" in said)
    assert (step.kind == TECHNICIAN) == ("technician" in said)
    assert (step.kind == CHECK_LOG) == ("in the log" in said)


def test_a_string_that_fell_before_is_not_only_tuned_and_waited_for_once_more():
    assert "If it falls again, or fell before, look at its knot and its tuning pin" in fell_step().text


def steps_of(build):
    return (dead_step(2, build=build), dead_step(3, set_aged=True, build=build), false_step("beat_db", build=build),
            false_step("stretch", build=build), false_step("pitch_wave", build=build),
            false_step("beat_db", said_before=True, build=build), dead_other_step(build),
            false_step("beat_db", otherwise="dead", build=build), fell_step(build), unsteady_step(build), slipping_step(build),
            two_strings_step(build), other_set_step(build.what), *(fallen_step(rung_out, may_thud=may_thud, build=build)
                                                                   for rung_out in (True, False) for may_thud in (True, False)))


@pytest.mark.parametrize(("build", "foreign"), [(Build(NO_HARP, mechanism=False), ("harp", "lever", "pedal", "disc", "rods")),
                                                (Build(HARP, mechanism=False), ("lever", "pedal", " disc "))])
def test_no_step_asks_for_what_the_string_has_not(build, foreign):
    """Levers, discs and pedals are of harps, and not of every string of a harp (common practice): a guitar, a wire harp, 7C."""
    said = {step: step.text.removesuffix(build.caution) if build.what == HARP else step.text for step in steps_of(build)}
    assert not [text for text in said.values() if any(word in text.casefold() for word in foreign)]
    of_a_harp = " ".join(step.text for step in steps_of(Build())).casefold()
    assert all(word in of_a_harp for word in foreign)

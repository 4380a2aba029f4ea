"""What is said of moves that were left out, and of strings that nobody has checked."""

from __future__ import annotations

from datetime import date

from toneprobe.measure.figure import Figure
from toneprobe.settling import Settling, Tolerance, judge_settling
from toneprobe.settling.verdict import Grounds
from toneprobe.settling.words import reasons_of


def test_a_day_with_two_moves_is_named_once():
    none = Figure(None, reason="none")
    found = Settling("3D", "settling", date(2026, 6, 12), 4, 0, 2, none, none, Tolerance(), None, None, none,
                     jumped_on=(date(2026, 6, 11), date(2026, 6, 11), date(2026, 6, 12)))
    assert "left out of the reckoning: the moves before 11 June 2026, 12 June 2026" in reasons_of(found, Grounds(False, 2, False))


def test_of_a_string_that_was_never_checked_nothing_is_said_of_checks():
    found = judge_settling((), fitted_on=None)
    assert found.reasons == ("its pitch has not been checked yet, so nobody knows whether it moves",)
    assert found.next_step.startswith("check it twice, a day apart:")

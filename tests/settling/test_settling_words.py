"""What is said of moves that were left out."""

from __future__ import annotations

from datetime import date

from toneprobe.measure.figure import Figure
from toneprobe.settling import Settling, Tolerance
from toneprobe.settling.verdict import Grounds
from toneprobe.settling.words import reasons_of


def test_a_day_with_two_moves_is_named_once():
    none = Figure(None, reason="none")
    found = Settling("3D", "settling", date(2026, 6, 12), 4, 0, 2, none, none, Tolerance(), None, None, none,
                     jumped_on=(date(2026, 6, 11), date(2026, 6, 11), date(2026, 6, 12)))
    assert "left out of the reckoning: the moves before 11 June 2026, 12 June 2026" in reasons_of(found, Grounds(False, 2, False))

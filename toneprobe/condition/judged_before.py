"""Strings called false, dead or to be watched in one pedal or lever position before they got a baseline in another.

Against that younger baseline they can only be as they were when it was made: what they had lost by then does not show.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from itertools import takewhile

from toneprobe.condition.next_steps import JUDGED_BEFORE_STEP
from toneprobe.condition.verdict import CONDEMNING, Condition
from toneprobe.days import day_text
from toneprobe.units import note_text

CALLS = (*CONDEMNING, "watch")


@dataclass(frozen=True)
class Said:
    """What one sweep said of a string."""

    verdict: str
    note: str  # in which pedal or lever position
    day: date

    @property
    def words(self) -> str:
        """ "judged dead on 1 April 2026 at E♭5"."""
        called = "worth watching" if self.verdict == "watch" else self.verdict
        return f"judged {called} on {day_text(self.day)} at {note_text(self.note)}"


def days_by_verdict(said: Iterable[Said]) -> dict[str, tuple[date, ...]]:
    days: dict[str, tuple[date, ...]] = {}
    for one in said:
        days[one.verdict] = (*days.get(one.verdict, ()), one.day)
    return days


def call_that_stands(said: Iterable[Said], *, note: str, began: date) -> Said | None:
    """The last call of a string in another position than `note`, where it was called so when its baseline in this one `began`, and was
    never judged otherwise there since. said: of this very string, oldest first."""
    by_note: dict[str, list[Said]] = {}
    for one in said:
        by_note.setdefault(one.note, []).insert(0, one)
    calls = [list(takewhile(lambda one: one.verdict in CALLS, found)) for other, found in by_note.items() if other != note]
    standing = [found[0] for found in calls if found and found[-1].day <= began]
    return max(standing, key=lambda one: one.day, default=None)


def judged_before_condition(condition: Condition, call: Said) -> Condition:
    """Of a string that is as it was when its baseline in this position was made, or of which this sweep is that baseline."""
    reason = (f"It was last {call.words}, set to another note than now, before it got its baseline at this one: what it had lost by then "
              "is not heard here, so that verdict stands.")
    return replace(condition, verdict="unsure", dead_score=None, false_score=None, reasons=(reason,), next_step=JUDGED_BEFORE_STEP.text,
                   step_kind=JUDGED_BEFORE_STEP.kind, is_wavering_open=False, is_ring_coarse=False)

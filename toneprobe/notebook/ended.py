"""A string that is on by the log and came off by the notebook: one that has grown since the log took it tells of the change.

It is the log's own where both say that it went on that day. A row of another first day is another string, and is refused as long as the
log has its own on: a day typed wrong would end the wrong one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from toneprobe.fittings import Fitting
from toneprobe.notebook.differences import WORDS, difference
from toneprobe.notebook.rows import LogRow

WITH_THE_END = ("why_removed", "broke_at", "note")  # what is first known when a string comes off, or written down then


def with_first_day(row: LogRow, log: Iterable[Fitting]) -> LogRow:
    """A string that came off on a day, with its first day from the log, where the log had a string on until then or has it on still:
    what comes off on a day is what was on. A row of a change says nothing of when that went on.
    """
    if row.fitted_on is not None or row.removed_on is None:
        return row
    was_on = [one for one in log
              if one.fitted_on is not None and one.fitted_on < row.removed_on and one.removed_on in (None, row.removed_on)]
    last = max(was_on, key=lambda one: one.fitted_on, default=None)
    return row if last is None else replace(row, fitted_on=last.fitted_on, is_supposed=last.is_supposed)


def as_ended(row: LogRow, log: Iterable[Fitting]) -> LogRow:
    """The row marked as the string that the log has on, where it went on that day and has come off; else as it is."""
    if row.completes is not None or row.fitted_on is None or row.removed_on in (None, row.fitted_on):
        return row
    own = next((one for one in log if one.fitted_on == row.fitted_on and one.removed_on is None), None)
    return row if own is None else replace(row, ends=own.id)


def says_otherwise(row: LogRow, log: Iterable[Fitting]) -> str:
    """Of a row that is marked so, what it says otherwise than that string's entry. What the entry is silent about may be filled in."""
    own = next((one for one in log if one.id == row.ends), None)
    if own is None:
        return ""
    new = [field for field in WORDS if field in WITH_THE_END or getattr(own, field) in (None, "")]
    return difference(replace(row, **{field: "" if field == "note" else None for field in new}), own)

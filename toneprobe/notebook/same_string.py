"""Which string of the log a row tells of, where the row knows a first or last day that the log does not.

- The log has it without a first day, on until it came off: it is the row that came off on that very day. Where all that the notebook tells
  of ended earlier, it is what went on next.
- The log only supposes its first day, that on which the one before came off: it is the row that went on that day or later, where both came
  off on one day or the log has it on still. The one before was on until then.
- The log has it on still, and the notebook has grown since: it is the row that went on the same day. A row of another first day is another
  string, and is refused as long as the log has its own on: a day typed wrong would end the wrong one.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

from toneprobe.fittings import Fitting
from toneprobe.notebook.differences import WORDS, difference
from toneprobe.notebook.rows import LogRow

WITH_THE_END = ("why_removed", "broke_at", "note")  # what is first known when a string comes off, or written down then


def with_first_day(row: LogRow, log: Iterable[Fitting]) -> LogRow:
    """A string with its last day alone gets the first day of what the log had on until then or still has on: what comes off on a day is
    what was on. A row of a change says nothing of when that went on."""
    if row.fitted_on is not None or row.removed_on is None:
        return row
    was_on = [one for one in log
              if one.fitted_on is not None and one.fitted_on < row.removed_on and one.removed_on in (None, row.removed_on)]
    last = max(was_on, key=lambda one: one.fitted_on, default=None)
    return row if last is None else replace(row, fitted_on=last.fitted_on, is_supposed=last.is_supposed)


def completing_undated(row: LogRow, undated: Fitting | None) -> LogRow:
    """The row marked as the log's own string without a first day, with the log's reason, where it came off on that string's last day."""
    if undated is None or row.fitted_on is None or row.removed_on != undated.removed_on:
        return row
    place = undated.broke_at if row.why_removed in (None, undated.why_removed) else None
    return replace(row, completes=undated.id, why_removed=row.why_removed or undated.why_removed, broke_at=row.broke_at or place)


def completing_supposed(row: LogRow, log: Iterable[Fitting], kept: Collection[LogRow]) -> LogRow:
    """The row marked as the log's own string of supposed first day, where it tells the true one and none of the rows `kept` before did."""
    if row.fitted_on is None or row.is_supposed:
        return row
    taken = {one.completes for one in kept}
    entry = next((one for one in log if one.is_supposed and one.id not in taken and one.removed_on in (None, row.removed_on)
                  and one.fitted_on <= row.fitted_on), None)
    return row if entry is None else replace(row, completes=entry.id)


def ending_open(row: LogRow, log: Iterable[Fitting]) -> LogRow:
    """The row marked as the string that the log has on, where it went on that day and has come off."""
    if row.completes is not None or row.fitted_on is None or row.removed_on in (None, row.fitted_on):
        return row
    entry = next((one for one in log if one.fitted_on == row.fitted_on and one.removed_on is None), None)
    return row if entry is None else replace(row, ends=entry.id)


def contradiction(row: LogRow, log: Iterable[Fitting]) -> str:
    """What a marked row says otherwise than that string's entry, "" for nothing. What the entry leaves open may be filled in; a string
    without a first day that came off for another reason is an older one."""
    entry = next((one for one in log if one.id in (row.ends, row.completes)), None)
    if entry is None:
        return ""
    if row.ends is not None:
        new = [field for field in WORDS if field in WITH_THE_END or getattr(entry, field) in (None, "")]
        return difference(replace(row, **{field: "" if field == "note" else None for field in new}), entry)
    for said, known in ((row.why_removed, entry.why_removed), (row.broke_at, entry.broke_at)):
        if entry.fitted_on is None and known is not None and said != known:
            return (f"says {said}, but by the log the string that came off on {entry.removed_on} came off for another reason, {known}: "
                    "if this is an older one, say when it came off")
    return ""


def undated_after(earlier: Sequence[LogRow], undated: Fitting) -> LogRow:
    """The log's own string without a first day as a row, put on when the last of the earlier ones came off."""
    last = max(earlier, key=lambda row: row.removed_on)
    return LogRow(last.line, undated.string, last.removed_on, undated.removed_on, undated.material, why_removed=undated.why_removed,
                  broke_at=undated.broke_at, is_stand_in=undated.is_stand_in, is_supposed=True, completes=undated.id)

"""A string of the log without a first day, on since before the log began until it came off: a notebook may tell when it went on.

What came off on that very day is that string. Where all that the notebook tells of ended earlier, it is what went on next.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from toneprobe.fittings import Fitting
from toneprobe.notebook.rows import LogRow


def undated_of(log: Iterable[Fitting]) -> Fitting | None:
    """One position's string that came off and has no first day."""
    return next((one for one in log if one.fitted_on is None and one.removed_on is not None), None)


def as_undated(row: LogRow, own: Fitting | None) -> LogRow:
    """The row marked as the log's own string, with the log's reason, where it came off on that string's last day; else as it is."""
    if own is None or row.fitted_on is None or row.removed_on != own.removed_on:
        return row
    return replace(row, completes=own.id, why_removed=row.why_removed or own.why_removed, broke_at=row.broke_at or _place(row, own))


def contradiction(row: LogRow, own: Fitting | None) -> str:
    """Why a row that is marked so is another string all the same, else ""."""
    if own is None or row.completes != own.id:
        return ""
    for said, known in ((row.why_removed, own.why_removed), (row.broke_at, own.broke_at)):
        if known is not None and said != known:
            return (f"says {said}, but by the log the string that came off on {own.removed_on} came off for another reason, {known}: "
                    "if this is an older one, say when it came off")
    return ""


def leaves_room(row: LogRow, own: Fitting) -> bool:
    """Whether the log's own string may have been on beside this row, as that string or after it."""
    return row.completes == own.id or (row.removed_on is not None and row.removed_on <= own.removed_on)


def next_on(earlier: Sequence[LogRow], own: Fitting) -> LogRow:
    """The log's own string as a row, put on when the last of the earlier ones came off."""
    last = max(earlier, key=lambda row: row.removed_on)
    return LogRow(last.line, own.string, last.removed_on, own.removed_on, own.material, why_removed=own.why_removed, broke_at=own.broke_at,
                  is_stand_in=own.is_stand_in, is_supposed=True, completes=own.id)


def _place(row: LogRow, own: Fitting) -> str | None:
    return own.broke_at if row.why_removed in (None, own.why_removed) else None

"""A string of the log that is but supposed to have gone on when the one before came off: a notebook may tell the day.

It is the log's own where both came off on one day, or the log still has its own on, and it went on that day or later: the one before was
on until then.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace

from toneprobe.fittings import Fitting
from toneprobe.notebook.rows import LogRow


def as_dated(row: LogRow, log: Iterable[Fitting], kept: Collection[LogRow]) -> LogRow:
    """The row marked as the log's own string of supposed first day, where it tells the true one; else as it is. `kept`: the rows before,
    of which one may be that string."""
    if row.fitted_on is None or row.is_supposed:
        return row
    taken = {one.completes for one in kept}
    own = next((one for one in log if one.is_supposed and one.id not in taken and one.removed_on in (None, row.removed_on)
                and one.fitted_on <= row.fitted_on), None)
    return row if own is None else replace(row, completes=own.id)

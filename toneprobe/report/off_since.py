"""Strings that a sweep heard and that have come off since: what it says of them holds for no string of the harp any more."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date

from toneprobe.fittings import Fitting
from toneprobe.report.string_view import StringView


def with_log(strings: Sequence[StringView], log: Iterable[Fitting]) -> tuple[StringView, ...]:
    """The strings with this log, which goes on after their sweep."""
    of: dict[str, list[Fitting]] = {}
    for fitting in log:
        of.setdefault(fitting.string, []).append(fitting)
    return tuple(replace(one, fittings=tuple(of.get(one.name, ()))) for one in strings)


def off_days(strings: Iterable[StringView], day: date) -> dict[str, date]:
    """By name, the day on which the string that the sweep of `day` heard has come off; on that day itself only where the sweep is known to
    have heard it."""
    off = {}
    for one in strings:
        heard = next((point.fitting_id for point in reversed(one.history) if point.date == day), None)
        ends = [fitting.removed_on for fitting in one.fittings if fitting.removed_on and (fitting.fitted_on or day) <= day
                and (fitting.removed_on > day or (fitting.removed_on == day and fitting.id == heard))]
        if ends:
            off[one.name] = min(ends)
    return off

"""Rows of one position in order of time: what came off when the next went on, and rows that contradict each other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from toneprobe.errors import UsageError
from toneprobe.fittings import Fitted, check_fitting, is_placeholder
from toneprobe.notebook.differences import difference
from toneprobe.notebook.ended import as_ended, says_otherwise, with_first_day
from toneprobe.notebook.rows import LogRow, TypedRow
from toneprobe.notebook.undated import as_undated, contradiction, leaves_room, next_on, undated_of

SAME = ("string", "fitted_on", "removed_on")
SAID = ("material", "gauge_mm", "supplier", "batch")  # of a string that is on, of unknown first day


@dataclass(frozen=True)
class Chained:
    kept: tuple[LogRow, ...]
    refused: tuple[tuple[int, str], ...]  # line, reason
    remarks: tuple[str, ...]
    known: tuple[LogRow, ...] = ()  # what the log has already


def from_strings(rows: Sequence[TypedRow]) -> tuple[LogRow, ...]:
    """Rows that each tell of one string: the reason is its own."""
    return tuple(replace(typed.row, note=_joined(typed.row.note, typed.why_note)) for typed in rows)


def from_changes(rows: Sequence[TypedRow]) -> tuple[LogRow, ...]:
    """Rows that each tell of a change, as strings with first and last day: the reason is that of the string that came off.

    The first change of a position also ends the string that was on before the notebook began.
    """
    strings: list[LogRow] = []
    for position in dict.fromkeys(typed.row.string for typed in rows):
        changes = sorted((typed for typed in rows if typed.row.string == position), key=lambda t: (t.row.fitted_on or date.min, t.row.line))
        changes = [_stand_in(change, before) for change, before in zip(changes, [None, *changes], strict=False)]
        strings.append(_ended_by(LogRow(changes[0].row.line, position, None), changes[0]))
        strings += [_ended_by(change.row, then) for change, then in zip(changes, [*changes[1:], None], strict=True)]
    return tuple(strings)


def _ended_by(row: LogRow, then: TypedRow | None) -> LogRow:
    """A string that came off with the next change, for that change's reason."""
    if then is None:
        return replace(row, why_removed=None, broke_at=None)
    note = _joined(row.note, then.why_note)
    return replace(row, removed_on=then.row.fitted_on, why_removed=then.row.why_removed, broke_at=then.row.broke_at, note=note)


def _joined(*parts: str) -> str:
    return "; ".join(part for part in parts if part)


def without_repeats(rows: Sequence[TypedRow]) -> tuple[list[TypedRow], list[tuple[int, str]]]:
    """The rows, and those that say again what an earlier one said: line, reason. Strings of a single day may be several."""
    seen: dict[TypedRow, int] = {}
    kept, repeats = [], []
    for typed in rows:
        line = typed.row.line
        if is_of_one_day(typed.row):
            kept.append(typed)
            continue
        first = seen.setdefault(replace(typed, row=replace(typed.row, line=0)), line)
        if first == line:
            kept.append(typed)
        else:
            repeats.append((line, f"repeats line {first}"))
    return kept, repeats


def is_of_one_day(row: Fitted) -> bool:
    """Put on and taken off on one day: of such strings a position may have had several, told in equal words."""
    return row.fitted_on is not None and row.fitted_on == row.removed_on


def chain_rows(rows: Sequence[LogRow], known: Iterable[Fitted], *, today: date, heard_on: Mapping[str, date] | None) -> Chained:
    """Each position's rows checked against the calendar, each other, and what the log has already.

    The log's own string of unknown first day gets one where the rows tell it (see `undated`), and one that is on comes off where the rows
    have grown (see `ended`). What a sweep heard before a string's first day (`heard_on`) was another, which is offered too.
    """
    log = tuple(known)
    found = [_chained([row for row in rows if row.string == position], [one for one in log if one.string == position], today,
                      (heard_on or {}).get(position))
             for position in dict.fromkeys(row.string for row in rows)]
    return Chained(*(tuple(item for one in found for item in getattr(one, part)) for part in ("kept", "refused", "remarks", "known")))


def _chained(rows: Sequence[LogRow], known: Sequence[Fitted], today: date, heard_on: date | None) -> Chained:
    """The same for one position."""
    log = [one for one in known if not is_placeholder(one)]
    left, in_log = list(known), []
    own = undated_of(log)
    kept: list[LogRow] = []
    refused: list[tuple[int, str]] = []
    remarks: list[str] = []
    astray = None  # the row that ends with the log's undated string and is another all the same
    for typed in sorted(rows, key=_when):
        row = as_undated(_closed(with_first_day(typed, log), rows, log), own)
        twins = [one for one in left if _says(one, row)]
        if twins:
            twin = next((one for one in twins if not difference(row, one)), twins[0])
            if otherwise := difference(row, twin):
                refused.append((row.line, otherwise))
            else:
                in_log.append(typed)
            if is_of_one_day(row):
                left.remove(twin)  # the log may have several, and the file more
            continue
        row = as_ended(row, log)
        reason = says_otherwise(row, log) or _objection(row, kept, log, own, today)
        if reason:
            refused.append((row.line, reason))
            astray = row if row.completes is not None else astray
        else:
            kept.append(row)
        if row.ends is not None and not reason:
            remarks.append(f"line {row.line}: this is no. {row.ends} of the log, on {row.string} since {row.fitted_on}: it came off on "
                           f"{row.removed_on}")
        elif row.completes is None and row.removed_on != typed.removed_on:
            remarks.append(f"line {row.line}: {row.string} is taken to have come off on {row.removed_on}, when the next went on")
        elif row.completes is not None and not reason:
            remarks.append(f"line {row.line}: this is no. {row.completes} of the log, on {row.string} from before the log to "
                           f"{row.removed_on}: it gets {row.fitted_on} as its first day")
    for told, remark in _told_by_sweeps(kept, known, heard_on):
        kept.append(told)
        remarks.append(remark)
    if own is None or any(row.completes is not None for row in kept):
        return Chained(tuple(kept), tuple(refused), tuple(remarks), tuple(in_log))
    before = [row for row in kept if row.removed_on is not None and row.removed_on <= own.removed_on]
    if before and astray is not None:
        kept = [row for row in kept if row not in before]
        refused += [(row.line, f"can only be taken when line {astray.line} can: until then it is open what was on next") for row in before]
    elif before:
        last = next_on(before, own)
        kept.append(last)
        remarks.append(f"line {last.line}: no. {last.completes} of the log, on {last.string} from before the log to {last.removed_on}, is "
                       f"taken to date from {last.fitted_on}, when this one came off")
    return Chained(tuple(kept), tuple(refused), tuple(remarks), tuple(in_log))


def _told_by_sweeps(kept: Sequence[LogRow], known: Sequence[Fitted], heard_on: date | None) -> list[tuple[LogRow, str]]:
    """What is to be said beside the rows because a sweep heard the string, each with a remark: that the log's own, on since nobody knows
    when, went on after the last that came off since; and that what a sweep heard before the first was another."""
    own = next((one for one in known if is_placeholder(one)), None)
    dated = [one for one in (*kept, *known) if not is_placeholder(one)]
    if heard_on is None or not kept or not dated or any(map(is_placeholder, kept)):
        return []
    string, material, gauge_mm = kept[0].string, own and own.material, own and getattr(own, "gauge_mm", None)
    last, first = max(one.removed_on or date.max for one in dated), min(one.fitted_on or date.min for one in dated)
    found, lines = [], [row.line for row in kept if row.removed_on is None]
    if own is not None and heard_on < last < date.max:
        lines = [max(kept, key=lambda row: row.removed_on).line]
        found.append((LogRow(lines[0], string, last, None, material, gauge_mm),
                      f"line {lines[0]}: no. {own.id} of the log, on {string} from before the log, is taken to date from {last}, when the "
                      "one before it came off"))
    if lines and heard_on < first:
        found.append((LogRow(min(lines), string, None, first, material, gauge_mm),
                      f"line {min(lines)}: {string} was heard in a sweep before {first}, so another string was on until then, to which "
                      "that sweep belongs"))
    return found


def _says(one: Fitted, row: LogRow) -> bool:
    """Whether an entry is that of the row; where neither has a day it must say all that the row does."""
    if (one.fitted_on, one.removed_on) != (row.fitted_on, row.removed_on):
        return False
    if not is_placeholder(row):
        return True
    is_said = all(getattr(row, field) in (None, getattr(one, field, None)) for field in SAID)
    return is_said and row.note in (getattr(one, "note", "") or "") and row.is_stand_in <= one.is_stand_in


def _stand_in(change: TypedRow, before: TypedRow | None) -> TypedRow:
    """A change noted as "stand-in" puts one on, unless one was on: then it is the reason why that came off."""
    row = change.row
    was_on = before is not None and (before.row.is_stand_in or before.row.why_removed == "stand-in")
    if row.why_removed != "stand-in" or was_on:
        return change
    return replace(change, row=replace(row, why_removed=None, is_stand_in=True))


def _when(row: LogRow) -> tuple[date, date, int]:
    if is_placeholder(row):
        return date.max, date.max, row.line  # what is dated goes first
    return row.fitted_on or date.min, row.removed_on or date.max, row.line


def _closed(row: LogRow, rows: Sequence[LogRow], log: Sequence[Fitted]) -> LogRow:
    """A string without a last day came off when the notebook's or the log's next one went on, or when the log's undated one came off."""
    if row.removed_on is not None or row.fitted_on is None:
        return row
    days = [one.fitted_on for one in (*rows, *log)] + [one.removed_on for one in log if one.fitted_on is None]
    return replace(row, removed_on=min((day for day in days if day is not None and day > row.fitted_on), default=None))


def _objection(row: LogRow, rows: Sequence[LogRow], log: Sequence[Fitted], own: Fitted | None, today: date) -> str:
    twin = next((one for one in rows if all(getattr(one, f) == getattr(row, f) for f in SAME)), None)
    if twin is not None and not is_of_one_day(row):
        return f"tells of the same string as line {twin.line}"
    ended = {one.ends for one in (row, *rows)}
    others = [one for one in log if one.id not in ended and (one is not own or not leaves_room(row, one))]
    try:
        check_fitting(row, today=today, others=[*rows, *others])
    except UsageError as error:
        reason = str(error).removeprefix(f"{row.string}: ")
        return (f"has no first day, so it would have been on since before the log, but {reason}. Write a whole day, the likeliest "
                "where nobody knows it") if is_placeholder(row) else reason
    return contradiction(row, own)

"""Rows of one position in order of time: what came off when the next went on, and rows that contradict each other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from toneprobe.errors import UsageError
from toneprobe.fittings import Fitting, check_fitting, is_placeholder
from toneprobe.notebook.differences import difference
from toneprobe.notebook.ended import as_ended, says_otherwise, with_first_day
from toneprobe.notebook.rows import LogRow, TypedRow
from toneprobe.notebook.supposed import as_dated
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


def is_of_one_day(row: Fitting) -> bool:
    """Put on and taken off on one day: of such strings a position may have had several, told in equal words."""
    return row.fitted_on is not None and row.fitted_on == row.removed_on


@dataclass(frozen=True)
class Position:
    """What the log has of one position."""

    known: tuple[Fitting, ...]
    today: date

    @property
    def log(self) -> list[Fitting]:
        """The strings of which it knows a day."""
        return [one for one in self.known if not is_placeholder(one)]

    @property
    def undated(self) -> Fitting | None:
        """The one that came off and has no first day (see `undated`)."""
        return undated_of(self.log)


@dataclass
class _Account:
    """What has become of the rows of one position so far; its fields become those of `Chained`."""

    left: list[Fitting]  # of the log, less what a row of a single day was found to be: it may have several, and the file more
    kept: list[LogRow] = field(default_factory=list)
    refused: list[tuple[int, str]] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    known: list[LogRow] = field(default_factory=list)
    astray: LogRow | None = None  # the row that ends with the log's undated string and is another all the same


def chain_rows(rows: Sequence[LogRow], known: Iterable[Fitting], *, today: date, heard_on: Mapping[str, date] | None) -> Chained:
    """Each position's rows checked against the calendar, each other, and what the log has already.

    The log's own string of unknown first day gets one where the rows tell it (see `undated`), and one that is on comes off where the rows
    have grown (see `ended`). What a sweep heard before a string's first day (`heard_on`) was another, which is offered too.
    """
    log = tuple(known)
    found = [_chained([row for row in rows if row.string == string], Position(tuple(one for one in log if one.string == string), today),
                      (heard_on or {}).get(string))
             for string in dict.fromkeys(row.string for row in rows)]
    return Chained(*(tuple(item for one in found for item in getattr(one, part)) for part in ("kept", "refused", "remarks", "known")))


def _chained(rows: Sequence[LogRow], position: Position, heard_on: date | None) -> _Account:
    """The same for one position: row after row in order of time, then what follows from all of them."""
    so_far = _Account(list(position.known))
    for typed in sorted(rows, key=_when):
        row = as_undated(_closed(with_first_day(typed, position.log), rows, position.log), position.undated)
        dated = as_dated(row, position.log, so_far.kept)
        if dated != row or not _is_in_log(row, typed, so_far):
            _offer(as_ended(dated, position.log), typed, position, so_far)
    for told, remark in _told_by_sweeps(so_far.kept, position.known, heard_on):
        so_far.kept.append(told)
        so_far.remarks.append(remark)
    _date_undated(position.undated, so_far)
    return so_far


def _is_in_log(row: LogRow, typed: LogRow, so_far: _Account) -> bool:
    """Whether the log has that string already; it is then known, or refused for what it says otherwise."""
    twins = [one for one in so_far.left if _says(one, row)]
    if not twins:
        return False
    twin = next((one for one in twins if not difference(row, one)), twins[0])
    if otherwise := difference(row, twin):
        so_far.refused.append((row.line, otherwise))
    else:
        so_far.known.append(typed)
    if is_of_one_day(row):
        so_far.left.remove(twin)
    return True


def _offer(row: LogRow, typed: LogRow, position: Position, so_far: _Account) -> None:
    """Keep a row that is new to the log, or refuse it; and tell how it was understood where it was not typed so."""
    reason = says_otherwise(row, position.log) or _objection(row, so_far.kept, position)
    if reason:
        so_far.refused.append((row.line, reason))
        so_far.astray = row if position.undated and row.completes == position.undated.id else so_far.astray
    else:
        so_far.kept.append(row)
    if row.completes is None and row.ends is None and row.removed_on != typed.removed_on:
        so_far.remarks.append(f"line {row.line}: {row.string} is taken to have come off on {row.removed_on}, when the next went on")
    elif not reason and row.ends is not None:
        so_far.remarks.append(f"line {row.line}: this is no. {row.ends} of the log, on {row.string} since {row.fitted_on}: it came off on "
                              f"{row.removed_on}")
    elif not reason and row.completes is not None:
        own = next(one for one in position.log if one.id == row.completes)
        since = f"since {own.fitted_on}, as was supposed" if own.is_supposed else f"from before the log to {row.removed_on}"
        so_far.remarks.append(f"line {row.line}: this is no. {own.id} of the log, on {row.string} {since}: it gets {row.fitted_on} as its "
                              "first day")


def _date_undated(own: Fitting | None, so_far: _Account) -> None:
    """Where the rows tell only of strings that came off before the log's undated one did, that went on when the last of them came off.

    As long as the row of a string that came off with it is refused, it is open what was on next, and none of them can be taken.
    """
    if own is None or any(row.completes == own.id for row in so_far.kept):
        return
    before = [row for row in so_far.kept if row.removed_on is not None and row.removed_on <= own.removed_on]
    if before and so_far.astray is not None:
        so_far.kept = [row for row in so_far.kept if row not in before]
        so_far.refused += [(row.line, f"can only be taken when line {so_far.astray.line} can: until then it is open what was on next")
                           for row in before]
    elif before:
        last = next_on(before, own)
        so_far.kept.append(last)
        so_far.remarks.append(f"line {last.line}: no. {last.completes} of the log, on {last.string} from before the log to "
                              f"{last.removed_on}, is taken to date from {last.fitted_on}, when this one came off")


def _told_by_sweeps(kept: Sequence[LogRow], known: Sequence[Fitting], heard_on: date | None) -> list[tuple[LogRow, str]]:
    """What is to be said beside the rows because a sweep heard the string, each with a remark: that the log's own, on since nobody knows
    when, went on after the last that came off since; and that what a sweep heard before the first was another."""
    own = next((one for one in known if is_placeholder(one)), None)
    dated = [one for one in (*kept, *known) if not is_placeholder(one)]
    if heard_on is None or not kept or not dated or any(map(is_placeholder, kept)):
        return []
    string, material, gauge_mm = kept[0].string, own and own.material, own and own.gauge_mm
    last, first = max(one.removed_on or date.max for one in dated), min(one.fitted_on or date.min for one in dated)
    found, lines = [], [row.line for row in kept if row.removed_on is None]
    if own is not None and heard_on < last < date.max:
        lines = [max(kept, key=lambda row: row.removed_on).line]
        found.append((LogRow(lines[0], string, last, None, material, gauge_mm, is_supposed=True),
                      f"line {lines[0]}: no. {own.id} of the log, on {string} from before the log, is taken to date from {last}, when the "
                      "one before it came off"))
    if lines and heard_on < first:
        found.append((LogRow(min(lines), string, None, first, material, gauge_mm),
                      f"line {min(lines)}: {string} was heard in a sweep before {first}, so another string was on until then, to which "
                      "that sweep belongs"))
    return found


def _says(one: Fitting, row: LogRow) -> bool:
    """Whether an entry is that of the row; where neither has a day it must say all that the row does."""
    if (one.fitted_on, one.removed_on) != (row.fitted_on, row.removed_on):
        return False
    if not is_placeholder(row):
        return True
    is_said = all(getattr(row, field) in (None, getattr(one, field)) for field in SAID)
    return is_said and row.note in one.note and row.is_stand_in <= one.is_stand_in


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


def _closed(row: LogRow, rows: Sequence[LogRow], log: Sequence[Fitting]) -> LogRow:
    """A string without a last day came off when the notebook's or the log's next one went on, or when the log's undated one came off."""
    if row.removed_on is not None or row.fitted_on is None:
        return row
    days = [one.fitted_on for one in (*rows, *log)] + [one.removed_on for one in log if one.fitted_on is None]
    return replace(row, removed_on=min((day for day in days if day is not None and day > row.fitted_on), default=None))


def _objection(row: LogRow, kept: Sequence[LogRow], position: Position) -> str:
    """Why a row cannot be beside those that are kept and the log's own, else ""."""
    twin = next((one for one in kept if all(getattr(one, f) == getattr(row, f) for f in SAME)), None)
    if twin is not None and not is_of_one_day(row):
        return f"tells of the same string as line {twin.line}"
    own, told = position.undated, {number for one in (row, *kept) for number in (one.ends, one.completes)}
    others = [one for one in position.log if one.id not in told and (one is not own or not leaves_room(row, one))]
    try:
        check_fitting(row, today=position.today, others=[*kept, *others])
    except UsageError as error:
        reason = str(error).removeprefix(f"{row.string}: ")
        return (f"has no first day, so it would have been on since before the log, but {reason}. Write a whole day, the likeliest "
                "where nobody knows it") if is_placeholder(row) else reason
    return contradiction(row, own)

"""Rows of one position in order of time: what came off when the next went on, and rows that contradict each other."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from toneprobe.errors import UsageError
from toneprobe.fittings import Fitting, check_fitting, is_placeholder
from toneprobe.notebook.differences import difference
from toneprobe.notebook.rows import LogRow, TypedRow
from toneprobe.notebook.same_string import (
    completing_supposed,
    completing_undated,
    contradiction,
    ending_open,
    undated_after,
    with_first_day,
)

STRING_AND_DAYS = ("string", "fitted_on", "removed_on")
PLACEHOLDER_FIELDS = ("material", "gauge_mm", "supplier", "batch")  # of a string that is on since an unknown day


def from_strings(rows: Sequence[TypedRow]) -> tuple[LogRow, ...]:
    """Rows of one string each, whose reason is its own."""
    return tuple(replace(typed.row, note=_joined(typed.row.note, typed.why_note)) for typed in rows)


def from_changes(rows: Sequence[TypedRow]) -> tuple[LogRow, ...]:
    """Rows that each tell of a change, as strings with first and last day: the reason is that of the string that came off. The first
    change of a position also ends the string that was on before the notebook began."""
    strings: list[LogRow] = []
    for position in dict.fromkeys(typed.row.string for typed in rows):
        changes = sorted((typed for typed in rows if typed.row.string == position), key=lambda t: (t.row.fitted_on or date.min, t.row.line))
        changes = [_as_stand_in(change, before) for change, before in zip(changes, [None, *changes], strict=False)]
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
        first = line if is_of_one_day(typed.row) else seen.setdefault(replace(typed, row=replace(typed.row, line=0)), line)
        if first == line:
            kept.append(typed)
        else:
            repeats.append((line, f"repeats line {first}"))
    return kept, repeats


def is_of_one_day(row: Fitting) -> bool:
    """Put on and taken off on one day: a position may have had several such strings, in equal words."""
    return row.fitted_on is not None and row.fitted_on == row.removed_on


class Position:
    """The rows of one position beside the log's own strings, and what has become of them so far."""

    def __init__(self, known: Iterable[Fitting], rows: Sequence[LogRow], today: date) -> None:
        self.known, self.rows, self.today = tuple(known), rows, today
        self.log = [one for one in self.known if not is_placeholder(one)]  # with a known day
        self.undated = next((one for one in self.log if one.fitted_on is None), None)  # came off, without a first day
        self.unclaimed = list(self.known)  # entries that no row of a single day was found to be: there may be several such rows and entries
        self.kept: list[LogRow] = []
        self.refused: list[tuple[int, str]] = []
        self.remarks: list[str] = []
        self.in_log: list[LogRow] = []
        self.refused_completion: LogRow | None = None  # a refused row that came off with the log's undated string

    def chain(self, heard_on: date | None, *, is_whole: bool) -> None:
        """Row after row in order of time, then what follows from all of them."""
        for original in sorted(self.rows, key=_in_time):
            row = completing_undated(self._closed(with_first_day(original, self.log)), self.undated)
            dated = completing_supposed(row, self.log, self.kept)
            if dated != row or not self._is_in_log(row, original):
                self._offer(ending_open(dated, self.log), original)
        if is_whole and heard_on is None:
            self._empty()
        for told, remark in _told_besides(self.kept, self.known, heard_on):
            self.kept.append(told)
            self.remarks.append(remark)
        if self.undated is not None and not any(row.completes == self.undated.id for row in self.kept):
            self._date_undated(self.undated)

    def _empty(self) -> None:
        """Where nothing is on by the rows, and no sweep heard it, the log's own string of unknown first day is the last that came off."""
        placeholder = next((one for one in self.known if is_placeholder(one)), None)
        if placeholder is None or self.log or not self.kept or any(row.removed_on is None for row in self.rows):
            return
        last = max(self.kept, key=lambda row: row.removed_on)
        self.kept[self.kept.index(last)] = replace(last, completes=placeholder.id)
        self.remarks.append(f"line {last.line}: no string has been on {last.string} since {last.removed_on}")

    def _closed(self, row: LogRow) -> LogRow:
        """A string without a last day came off when the notebook's or the log's next one went on, or the log's undated one came off."""
        if row.removed_on is not None or row.fitted_on is None:
            return row
        days = [one.fitted_on for one in (*self.rows, *self.log)] + [self.undated.removed_on if self.undated else None]
        return replace(row, removed_on=min((day for day in days if day is not None and day > row.fitted_on), default=None))

    def _is_in_log(self, row: LogRow, original: LogRow) -> bool:
        """Whether the log has that string already; it is then known, or refused for what it says otherwise."""
        twins = [one for one in self.unclaimed if _is_entry_of(one, row)]
        if not twins:
            return False
        twin = next((one for one in twins if not difference(row, one)), twins[0])
        if otherwise := difference(row, twin):
            self.refused.append((row.line, otherwise))
        else:
            self.in_log.append(original)
        if is_of_one_day(row):
            self.unclaimed.remove(twin)
        return True

    def _offer(self, row: LogRow, original: LogRow) -> None:
        """Keep a row that is new to the log, or refuse it; with a remark where it is understood otherwise than typed."""
        reason = self._objection(row)
        if reason:
            self.refused.append((row.line, reason))
            if self.undated and row.completes == self.undated.id:
                self.refused_completion = row
        else:
            self.kept.append(row)
        this_is = f"line {row.line}: this is no. {row.ends or row.completes} of the log, on {row.string}"
        if row.completes is None and row.ends is None and row.removed_on != original.removed_on:
            self.remarks.append(f"line {row.line}: {row.string} is taken to have come off on {row.removed_on}, when the next went on")
        elif not reason and row.ends is not None:
            self.remarks.append(f"{this_is} since {row.fitted_on}: it came off on {row.removed_on}")
        elif not reason and row.completes is not None:
            entry = next(one for one in self.log if one.id == row.completes)
            since = f"since {entry.fitted_on}, as was supposed" if entry.is_supposed else f"from before the log to {row.removed_on}"
            self.remarks.append(f"{this_is} {since}: it gets {row.fitted_on} as its first day")

    def _objection(self, row: LogRow) -> str:
        """Why a row contradicts those that are kept or the log, else ""."""
        otherwise = contradiction(row, self.log)
        if otherwise and row.ends is not None:
            return otherwise
        twin = next((one for one in self.kept if all(getattr(one, f) == getattr(row, f) for f in STRING_AND_DAYS)), None)
        if twin is not None and not is_of_one_day(row):
            return f"tells of the same string as line {twin.line}"
        claimed = {number for one in (row, *self.kept) for number in (one.ends, one.completes)}
        others = [one for one in self.log if one.id not in claimed and not (
            one is self.undated and row.removed_on is not None and row.removed_on <= one.removed_on)]  # it may have been on after the row
        try:
            check_fitting(row, today=self.today, others=[*self.kept, *others])
        except UsageError as error:
            reason = str(error).removeprefix(f"{row.string}: ")
            return (f"has no first day, so it would have been on since before the log, but {reason}. Write a whole day, the likeliest "
                    "where nobody knows it") if is_placeholder(row) else reason
        return otherwise

    def _date_undated(self, undated: Fitting) -> None:
        """Where the rows tell only of strings that came off before the log's undated one did, it went on when the last of them came off.
        While the row of a string that came off with it is refused, it is open what was on next, and none of them can be taken."""
        before = [row for row in self.kept if row.removed_on is not None and row.removed_on <= undated.removed_on]
        if before and self.refused_completion is not None:
            self.kept = [row for row in self.kept if row not in before]
            reason = f"can only be taken when line {self.refused_completion.line} can: until then it is open what was on next"
            self.refused += [(row.line, reason) for row in before]
        elif before:
            last = undated_after(before, undated)
            self.kept.append(last)
            self.remarks.append(f"line {last.line}: no. {last.completes} of the log, on {last.string} from before the log to "
                                f"{last.removed_on}, is taken to date from {last.fitted_on}, when this one came off")


def chain_rows(rows: Sequence[LogRow], known: Iterable[Fitting], *, today: date, heard_on: Mapping[str, date] | None,
               is_whole: bool = False) -> list[Position]:
    """Each position's rows checked against the calendar, each other, and the log, whose strings may get their first or last day from a
    row (see `same_string`). What a sweep heard before a string's first day (`heard_on`) was another, which is offered too. `is_whole`: a
    string that is on has a row."""
    log = tuple(known)
    strings = dict.fromkeys(row.string for row in rows)
    found = [Position([one for one in log if one.string == string], [row for row in rows if row.string == string], today)
             for string in strings]
    for string, position in zip(strings, found, strict=True):
        position.chain((heard_on or {}).get(string), is_whole=is_whole)
    return found


def _told_besides(kept: Sequence[LogRow], known: Sequence[Fitting], heard_on: date | None) -> list[tuple[LogRow, str]]:
    """Rows that follow from what is told, each with a remark: the log's own string of unknown first day went on after the last that came
    off; and what a sweep heard before the first was another."""
    completed = {row.completes for row in kept}
    placeholder = next((one for one in known if is_placeholder(one) and one.id not in completed), None)
    dated = [one for one in (*kept, *(one for one in known if one.id not in completed)) if not is_placeholder(one)]
    if not kept or not dated or any(map(is_placeholder, kept)):
        return []
    like = placeholder or next((one for one in known if one.id in completed), None)
    string, material, gauge_mm = kept[0].string, like and like.material, like and like.gauge_mm
    last, first = max(one.removed_on or date.max for one in dated), min(one.fitted_on or date.min for one in dated)
    found, lines = [], [row.line for row in kept if row.removed_on is None]
    if placeholder is not None and last < date.max:
        lines = [max(kept, key=lambda row: row.removed_on).line]
        found.append((LogRow(lines[0], string, last, None, material, gauge_mm, is_supposed=True),
                      f"line {lines[0]}: no. {placeholder.id} of the log, on {string} from before the log, is taken to date from {last}, "
                      "when the one before it came off"))
    lines = lines or [row.line for row in kept if row.fitted_on == first]
    if heard_on is not None and lines and heard_on < first:
        found.append((LogRow(min(lines), string, None, first, material, gauge_mm),
                      f"line {min(lines)}: {string} was heard in a sweep before {first}, so another string was on until then, to which "
                      "that sweep belongs"))
    return found


def _is_entry_of(one: Fitting, row: LogRow) -> bool:
    """Whether an entry is that of the row; where neither has a day it must say all that the row does."""
    if (one.fitted_on, one.removed_on) != (row.fitted_on, row.removed_on):
        return False
    if not is_placeholder(row):
        return True
    is_said = all(getattr(row, field) in (None, getattr(one, field)) for field in PLACEHOLDER_FIELDS)
    return is_said and row.note in one.note and row.is_stand_in <= one.is_stand_in


def _as_stand_in(change: TypedRow, before: TypedRow | None) -> TypedRow:
    """A change noted as "stand-in" puts one on, unless one was on: then it is the reason why that came off."""
    row = change.row
    was_on = before is not None and (before.row.is_stand_in or before.row.why_removed == "stand-in")
    if row.why_removed != "stand-in" or was_on:
        return change
    return replace(change, row=replace(row, why_removed=None, is_stand_in=True))


def _in_time(row: LogRow) -> tuple[date, date, int]:
    """By which rows are sorted: what is dated first."""
    if is_placeholder(row):
        return date.max, date.max, row.line
    return row.fitted_on or date.min, row.removed_on or date.max, row.line


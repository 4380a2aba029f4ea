"""From the checked fields of instrument files to the rows of single strings, before any tuning is laid over them.

A row says what is known of one string: its staff step (letter and octave, 28 = C4), the note where a file gives one, and its build.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from toneprobe.errors import InstrumentError, UsageError
from toneprobe.instrument.file import nearest
from toneprobe.units import is_named_by_place, is_string_name, note_of_step, note_of_string, parse_string_name, step_of_note, string_of_note

Rows = dict[str, "Row"]  # by folded name

_OTHER_RANGE = re.compile(r"(\S+?)\s*(?:[-–—:…]|\bto\b)\s*(\S+)")  # as players may spell "2C..4E"


@dataclass(frozen=True)
class Row:
    name: str
    step: int
    note: str | None = None  # as tuned, where a file says so; None: the tuning decides
    material: str | None = None
    length_mm: float | None = None
    gauge_mm: float | None = None
    mechanism: bool | None = None  # None: as its kind of instrument has


def lay_rows(fields: Mapping, rows: Mapping[str, Row] | None = None) -> Rows:
    """The rows that one file's fields make out of the rows so far (a preset's, or none). InstrumentError where they contradict them."""
    rows = _with_span(dict(rows or {}), fields.get("highest"), fields.get("lowest"))
    rows = _with_single_strings(rows, fields.get("strings", ()))
    if not rows:
        raise InstrumentError("lists no strings: give [[strings]], or highest and lowest, or a preset")
    rows = _with_materials(rows, fields.get("materials", {}))
    for table, field in (("lengths_mm", "length_mm"), ("gauges_mm", "gauge_mm")):
        for name, value in fields.get(table, {}).items():
            key = _key_of(rows, name)
            rows[key] = replace(rows[key], **{field: float(value)})
    if "hand_set" in fields:
        keys = {_key_of(rows, name) for name in fields["hand_set"]}
        rows = {key: replace(row, mechanism=key not in keys) for key, row in rows.items()}
    for single in fields.get("strings", ()):
        key = _found(rows, single["name"])
        step = step_of_note(single["note"]) if "note" in single else rows[key].step
        rows = rows | {key: replace(rows[key], **{**single, "name": rows[key].name, "step": step})}
    return rows


def refuse_other_readings(rows: Mapping[str, Row]) -> None:
    """InstrumentError where the file gives a string with a harp's name a note of another letter or octave: 3C is C5, with any
    accidental. For harps alone: on another instrument a string may be called anything."""
    for row in rows.values():
        if row.note is None or not is_string_name(row.name):
            continue
        named = note_of_string(row.name)
        if step_of_note(named) != row.step:
            raise InstrumentError(f"string {row.name!r} can mean {named}, as harp strings are named, or {row.note}, as its note says: "
                                  f"change one of them (flat or sharp, {row.name} keeps letter and octave of {named})")


def _with_span(rows: Rows, highest: str | None, lowest: str | None) -> Rows:
    """All strings from `highest` to `lowest`: strings outside are dropped, missing ones added; unchanged where neither is given."""
    if highest is None and lowest is None:
        return rows
    if not rows and (highest is None or lowest is None):
        raise InstrumentError("highest and lowest are needed together")
    steps = [row.step for row in rows.values()]
    top = _step_of_string(highest) if highest is not None else max(steps)
    bottom = _step_of_string(lowest) if lowest is not None else min(steps)
    if bottom > top:
        raise InstrumentError(f"lowest {lowest or ''} lies above highest {highest or ''}")
    kept = {key: row for key, row in rows.items() if bottom <= row.step <= top}
    present = {row.step for row in kept.values()}
    named = {step: string_of_note(note_of_step(step)) for step in range(top, bottom - 1, -1) if step not in present}
    return kept | {name.casefold(): Row(name, step) for step, name in named.items()}


def _with_materials(rows: Rows, ranges_of: Mapping[str, str | Sequence[str]]) -> Rows:
    """Each string with the material of its range, or its own where it is named alone; two ranges of one string, or the same name twice,
    are refused."""
    by_range: dict[str, str] = {}
    alone: dict[str, str] = {}
    for material, ranges in ranges_of.items():
        for text in [ranges] if isinstance(ranges, str) else ranges:
            found = by_range if ".." in text else alone
            for key in _keys_in(rows, text):
                if found.setdefault(key, material) != material:
                    raise InstrumentError(f"materials: string {rows[key].name!r} is both {found[key]} and {material}: say one")
    return rows | {key: replace(rows[key], material=material) for key, material in (by_range | alone).items()}


def _with_single_strings(rows: Rows, singles: Sequence[Mapping]) -> Rows:
    """A new row for each listed string that is not there yet; two entries for one string are refused."""
    seen: dict[str, str] = {}
    for single in singles:
        key = _found(rows, single["name"])
        if key is None:
            row = _new_row(single)
            key = row.name.casefold()
            rows = rows | {key: row}
        if key in seen:
            raise InstrumentError(f"two strings are named {single['name']!r}" if seen[key] == single["name"] else
                                  f"{seen[key]!r} and {single['name']!r} are one name, capitals or not: call one of them otherwise")
        seen[key] = single["name"]
    return rows


def _new_row(single: Mapping) -> Row:
    if "note" in single:
        return Row(single["name"], step_of_note(single["note"]), single["note"])
    try:
        name = parse_string_name(single["name"])
    except UsageError as error:
        raise InstrumentError(f"string {single['name']!r} has no note ({error})") from None
    return Row(name, step_of_note(note_of_string(name)))


def _keys_in(rows: Rows, text: str) -> list[str]:
    """The key of a single name, or those of a range, "2E..5A", ends included, either end first. Between names of the owner's own it goes
    by the file's order: a ukulele's strings 1 to 4 are no run of notes."""
    if ".." not in text:
        return [_key_of(rows, text)]
    ends = text.split("..")
    if len(ends) > 2:
        raise InstrumentError(f"{text[:40]!r} is no range of strings: write 2E..5A")
    named = [_found(rows, end) for end in ends]
    if all(key is not None and not _is_named_by_place(rows[key]) for key in named):
        order = list(rows)
        first, last = sorted(map(order.index, named))
        return order[first:last + 1]
    ends = [_step_in(rows, end) for end in ends]
    keys = [key for key, row in rows.items() if min(ends) <= row.step <= max(ends)]
    if not keys:
        raise InstrumentError(f"{text[:40]!r} names no string of this instrument")
    return keys


def _step_in(rows: Rows, name: str) -> int:
    """An end of a range need not be on the harp, where its strings have harps' names."""
    key = _found(rows, name)
    if key is None and any(map(_is_named_by_place, rows.values())):
        return _step_of_string(name)
    return rows[key or _key_of(rows, name)].step


def _step_of_string(name: str) -> int:
    return step_of_note(note_of_string(parse_string_name(name)))


def _key_of(rows: Rows, name: str) -> str:
    key = _found(rows, name)
    if key is None:
        raise InstrumentError(_not_there(rows, name.strip()))
    return key


def _not_there(rows: Rows, name: str) -> str:
    """That no string is called so, and what may be meant: a range spelt otherwise, a note, two readings of it, or one spelt nearly so."""
    ends = _OTHER_RANGE.fullmatch(name)
    if ends and all(_found(rows, end) or is_string_name(end) for end in ends.groups()):
        return f"{name[:40]!r} is no string: a range is written {ends[1]}..{ends[2]}"
    noted = next((row.name for row in rows.values() if row.note and row.note.casefold() == name.casefold()), None)
    if noted:
        return f"{name[:40]!r} is a note: write the string, {noted}"
    if any(map(_is_named_by_place, rows.values())) and not is_string_name(name):
        try:
            parse_string_name(name)
        except UsageError as error:
            return str(error)
    near = nearest(name, [row.name for row in rows.values()])
    return f"there is no string {name[:40]!r}" + (f", nearest: {near}" if near else "")


def _found(rows: Rows, name: str) -> str | None:
    """The key of a string by its own name, else by the guarded harp name; None where neither is there."""
    key = name.strip().casefold()
    if key in rows:
        return key
    try:
        key = parse_string_name(name).casefold()
    except UsageError:
        return None
    return key if key in rows and _is_named_by_place(rows[key]) else None


def _is_named_by_place(row: Row) -> bool:
    return is_named_by_place(row.name, row.step)

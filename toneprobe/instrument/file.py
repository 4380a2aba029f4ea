"""Instrument files: TOML in, checked fields out, or one line that says what is wrong and where.

An owner's file and a preset have the same fields, all optional but `name`. The README's two examples have all but these:

    [lengths_mm]           # by string, as [gauges_mm] has gauges
    "4C" = 570.6
    [[strings]]
    name = "7C"
    mechanism = false      # without disc or lever
"""

import difflib
import re
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path

from toneprobe.errors import InstrumentError, UsageError, printable
from toneprobe.instrument.tunings import KINDS
from toneprobe.plain_file import read_octets
from toneprobe.units import split_note

A4_RANGE_HZ = (380.0, 480.0)  # from low historical pitch (392, 415) to above any pitch in use
LENGTH_RANGE_MM = (20.0, 3000.0)
GAUGE_RANGE_MM = (0.05, 10.0)
MAX_STRINGS = 200
MAX_FILE_BYTES = 1_000_000

_STRING_NAME = re.compile(r"\w[\w #♯♭+_.'()-]{0,15}")  # becomes part of file names and of commands

Check = Callable[[object, str], object]


def read_fields(path: Path) -> dict:
    """The checked fields of an instrument file, as a dict of the names above. InstrumentError, one line, where it cannot serve."""
    try:
        fields = tomllib.loads(_read_text(path))
    except tomllib.TOMLDecodeError as error:
        raise InstrumentError(f"not valid TOML: {printable(str(error))}") from None
    except ValueError:  # Python's own limit on digits, in words for programmers
        raise InstrumentError("not valid TOML: a number has thousands of digits") from None
    except RecursionError:
        raise InstrumentError("not valid TOML: brackets nested too deep") from None
    _check_table(fields, _TOP_FIELDS, "")
    if "name" not in fields:
        raise InstrumentError('has no name: add a line such as name = "my harp"')
    return fields


def in_range(value: object, bounds: tuple[float, float], what: str) -> float:
    """`value` as a float where it is a number within `bounds`, else InstrumentError."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InstrumentError(f"{what} must be a number, not {_kind_of(value)}")
    if not bounds[0] <= value <= bounds[1]:  # true of nan too
        raise InstrumentError(f"{what} = {value!s:.24} lies outside {bounds[0]:g} to {bounds[1]:g}")
    return float(value)


def nearest(word: str, known: list[str]) -> str:
    """The known words most like `word`, for a hint; "" where none is near."""
    by_folded = {k.casefold(): k for k in known}
    found = difflib.get_close_matches(word.casefold()[:64], list(by_folded), n=3, cutoff=0.5)
    return ", ".join(by_folded[f] for f in found)


def _read_text(path: Path) -> str:
    try:
        octets = read_octets(path, most=MAX_FILE_BYTES)
        if octets is None:
            raise InstrumentError(f"is larger than {MAX_FILE_BYTES // 1000} kB: not an instrument file")
        return octets.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except FileNotFoundError:
        raise InstrumentError("not found") from None
    except UnicodeDecodeError:
        raise InstrumentError("is not UTF-8 text: not an instrument file") from None
    except (OSError, ValueError) as error:
        raise InstrumentError(f"cannot be read: {printable(getattr(error, 'strerror', None) or str(error))}") from None


def _check_table(table: object, known: Mapping[str, Check], where: str) -> None:
    if not isinstance(table, dict):
        raise InstrumentError(f"{where.strip(': ')} must be a table, not {_kind_of(table)}")
    for field, value in table.items():
        if field not in known:
            near = nearest(field, list(known))
            raise InstrumentError(f"{where}unknown field {printable(field)!r}" + (f", nearest: {near}" if near else ""))
        known[field](value, f"{where}{field}")


def _text(value: object, what: str) -> str:
    if not isinstance(value, str):
        raise InstrumentError(f"{what} must be text in quotes, not {_kind_of(value)}")
    if not value.strip() or len(value) > 80 or not value.isprintable():
        raise InstrumentError(f"{what} must be 1 to 80 printable characters")
    return value


def _string_name(value: object, what: str) -> str:
    if not _STRING_NAME.fullmatch(_text(value, what)):
        raise InstrumentError(f"{what} = {printable(str(value))!r}: write at most 16 of letters, digits, spaces, #+_.'()-, no sign first")
    return str(value)


def _note(value: object, what: str) -> None:
    try:
        split_note(_text(value, what))
    except UsageError as error:
        raise InstrumentError(f"{what} = {error}") from None


def _kind(value: object, what: str) -> None:
    if _text(value, what) not in KINDS:
        raise InstrumentError(f"{what} must be one of {', '.join(KINDS)}, or left out where no string has lever or disc")


def _flag(value: object, what: str) -> None:
    if not isinstance(value, bool):
        raise InstrumentError(f"{what} must be true or false, not {_kind_of(value)}")


def _number_within(bounds: tuple[float, float]) -> Check:
    return lambda value, what: in_range(value, bounds, what)


def _list_of(check: Check) -> Check:
    def check_list(value: object, what: str) -> None:
        if not isinstance(value, list):
            raise InstrumentError(f"{what} must be a list, not {_kind_of(value)}")
        if len(value) > MAX_STRINGS:
            raise InstrumentError(f"{what} lists {len(value)}, more than {MAX_STRINGS}")
        for item in value:
            check(item, what)
    return check_list


def _table_of(check: Check) -> Check:
    def check_table(value: object, what: str) -> None:
        if not isinstance(value, dict):
            raise InstrumentError(f"{what} must be a table, not {_kind_of(value)}")
        for key, item in value.items():
            check(item, f"{what}.{printable(_text(key, what))}")
    return check_table


def _ranges(value: object, what: str) -> None:
    (_list_of(_text) if isinstance(value, list) else _text)(value, what)


def _strings(value: object, what: str) -> None:
    """Each error says in which entry it stands: its number, and its name where it has one."""
    if isinstance(value, dict):
        raise InstrumentError(f"write [[{what}]] with two brackets on either side, once over each string, not [{what}]")
    _list_of(lambda item, _: None)(value, what)
    if not value:
        raise InstrumentError(f"{what} is empty")
    for number, row in enumerate(value, 1):
        name = row.get("name") if isinstance(row, dict) else None
        _check_table(row, _STRING_FIELDS, f"{what}: number {number}{f', {printable(name, most=16)!r}' if isinstance(name, str) else ''}: ")
        if "name" not in row:
            raise InstrumentError(f"{what}: number {number} has no name")


def _kind_of(value: object) -> str:
    kinds = {bool: "true or false", str: "text", int: "a number", float: "a number", list: "a list", dict: "a table"}
    return kinds.get(type(value), type(value).__name__)


_STRING_FIELDS: dict[str, Check] = {
    "name": _string_name, "note": _note, "material": _text, "mechanism": _flag,
    "length_mm": _number_within(LENGTH_RANGE_MM), "gauge_mm": _number_within(GAUGE_RANGE_MM),
}
_TOP_FIELDS: dict[str, Check] = {
    "name": _text, "preset": _text, "kind": _kind, "tuning": _text, "a4_hz": _number_within(A4_RANGE_HZ),
    "highest": _text, "lowest": _text, "hand_set": _list_of(_text), "materials": _table_of(_ranges),
    "lengths_mm": _table_of(_number_within(LENGTH_RANGE_MM)), "gauges_mm": _table_of(_number_within(GAUGE_RANGE_MM)),
    "strings": _strings,
}

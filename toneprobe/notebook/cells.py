"""Single cells: which string, what material, how thick, why it came off and where it broke."""

import math
import re

from toneprobe.errors import UsageError
from toneprobe.instrument import Instrument, find_string
from toneprobe.instrument.file import GAUGE_RANGE_MM
from toneprobe.notebook.columns import INCH_MM, UNITS_MM
from toneprobe.notebook.rows import RowError
from toneprobe.spreadsheet import from_text
from toneprobe.typed import LONGEST_NAME, seen
from toneprobe.units import is_string_name

WHY_WORDS = (  # the first whose words occur decides
    ("stand-in", ("stand-in", "stand in", "temporary", "substitute")), ("broke", ("broke", "snap", "burst", "popped")),
    ("dead", ("dead", "dull", "no ring", "lost its tone", "worn")), ("false", ("false", "untrue", "would not tune", "wavers")),
    ("planned", ("plan", "routine", "schedul", "set change", "whole set", "precaution", "old age")),
)
BROKE_AT_WORDS = (
    ("knot", ("knot",)), ("playing area", ("playing", "middle", "where plucked")), ("disc or lever", ("disc", "disk", "lever", "fork")),
    ("bridge pin", ("bridge",)), ("tuning pin", ("tuning pin", "tuning-pin", "at the top pin")),
)
YES, NO = ("yes", "y", "x", "1", "true", "✓"), ("no", "n", "0", "false", "", "-")

_WRITTEN_OUT = re.compile(r"(?:octave ?)?0?(\d)(?:st|nd|rd|th)?[ .-]*(?:octave )?([a-g])", re.IGNORECASE)
_WITH_GAUGE = re.compile(r"(.*[^\W\d_])[ ,;:]+([ø⌀]? ?(?:\d*[.,]\d+ ?(?:mm|cm|in|inch|inches|\"|″)?|\d+ ?mm)\.?)", re.IGNORECASE)
_GAUGE = re.compile(r"[ø⌀]? ?(\d*[.,]?\d+) ?(mm|cm|in|inch|inches|\"|″)?\.?", re.IGNORECASE)


def clean(cell: str) -> str:
    """A cell without surrounding space, what no screen shows, and the apostrophe that makes a spreadsheet keep it as text."""
    return from_text(seen(" ".join(cell.split())))


def read_string(instrument: Instrument, cell: str) -> str:
    """The name of the position. RowError for an unknown one, and for a note-first name that means another string elsewhere."""
    text = clean(cell)
    if not text:
        raise RowError("names no string")
    try:
        return find_string(instrument, text).name
    except UsageError as error:
        match = _WRITTEN_OUT.fullmatch(text)
        short = f"{match[1]}{match[2].upper()}" if match else text
        if short == text:
            raise RowError(str(error)) from None
    return read_string(instrument, short)


def is_of_another_harp(instrument: Instrument, cell: str) -> bool:
    """Whether a cell names a string that some harps have and this one does not."""
    try:
        read_string(instrument, cell)
    except RowError:
        return is_string_name(clean(cell))
    return False


def read_gauge(cell: str, unit_mm: float | None) -> tuple[float | None, str]:
    """Diameter in mm, and what is left as a remark where the cell holds no number. RowError where no string is so thick."""
    text = clean(cell)
    match = _GAUGE.fullmatch(text)
    if not text or match is None:
        return None, text
    unit = (match[2] or "").casefold()
    factor = UNITS_MM.get(unit, INCH_MM) if unit else unit_mm or 1.0
    gauge_mm = float(match[1].replace(",", ".")) * factor
    if not math.isfinite(gauge_mm) or not GAUGE_RANGE_MM[0] <= gauge_mm <= GAUGE_RANGE_MM[1]:
        hint = "; if it is in inches, say so in the heading" if not unit and unit_mm is None and gauge_mm < GAUGE_RANGE_MM[0] else ""
        raise RowError(f"a gauge of {text} lies outside {GAUGE_RANGE_MM[0]:g} to {GAUGE_RANGE_MM[1]:g} mm{hint}")
    return round(gauge_mm, 4), ""


def read_material(cell: str) -> tuple[str | None, float | None]:
    """The material, and the diameter in mm where it stands behind it, as in "nylon 1,1"; what can be none stays with it."""
    text = read_text(cell)
    match = _WITH_GAUGE.fullmatch(text or "")
    if match is None:
        return text.casefold() if text else None, None
    try:
        gauge_mm, _ = read_gauge(match[2], None)
    except RowError:
        return text.casefold(), None
    return match[1].casefold(), gauge_mm


def read_why(cell: str, place: str) -> tuple[str | None, str | None, str]:
    """Why it came off, where it broke, and what is left as a remark. RowError where it broke somewhere but came off for another reason."""
    text, where = clean(cell), clean(place)
    why = _category(WHY_WORDS, text)
    broke_at = _category(BROKE_AT_WORDS, where) or (_category(BROKE_AT_WORDS, text) if why == "broke" else None)
    left = [f"why: {text}"] if text and (why is None or not _says_no_more(text, why, broke_at)) else []
    left += [f"where: {where}"] if where and _category(BROKE_AT_WORDS, where) is None else []
    if broke_at and why is None and not text:
        why = "broke"
    if broke_at and why != "broke":
        raise RowError(f"it broke at the {broke_at}, but came off because: {text[:40]}")
    return why, broke_at, "; ".join(left)


def read_yes(cell: str, heading: str) -> bool:
    text = clean(cell).casefold()
    if text not in (*YES, *NO):
        raise RowError(f"{text[:20]!r} under {heading} is neither yes nor no")
    return text in YES


def read_text(cell: str) -> str | None:
    text = clean(cell)
    if len(text) > LONGEST_NAME:
        raise RowError(f"a cell of {len(text)} characters is too long")
    return text or None


def _category(words: tuple[tuple[str, tuple[str, ...]], ...], text: str) -> str | None:
    """The log's word for what the text says, by the first that has one of its marks in it; None where none has."""
    folded = text.casefold()
    return next((name for name, marks in words if any(mark in folded for mark in marks)), None)


def _says_no_more(text: str, why: str, broke_at: str | None) -> bool:
    """Whether nothing is lost when the text is replaced by why it came off and where it broke."""
    place = f"at the {broke_at}".split() if broke_at else []
    return {why, "broken", "snapped", *place}.issuperset(text.casefold().strip(" .!").split())

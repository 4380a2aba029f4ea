"""Dates in the ways in which people write them: 2024-05-01, 1.5.2024, 1/5/24, 1 May 2024, May 1, 2024, 1-May-24, Wed 1st May 2024.

Whether 1/5 is the first of May or the fifth of January is decided once for the whole file, by a date that can only be read one way; where
none decides, or they contradict each other, dates that can be two days are refused with both readings. A weekday beside a date that falls
on another one is refused: only its writer knows which is wrong. Years of two digits mean the latest that does not lie ahead. A date typed
on the command line is read in the same way, as a file of its own.
"""

import re
from collections.abc import Iterable
from datetime import date, timedelta

from toneprobe.days import MONTHS, WEEKDAYS, day_text
from toneprobe.notebook.rows import RowError

EARLIEST_YEAR = 1950  # no string in use is older
TYPED_AHEAD = timedelta(days=3652)  # so far ahead a year of two digits may lie that is typed on the command line (set here: ten years)
HOW = "write it as 2026-05-03 for 3 May 2026"  # fixed: today's date would read as the one to type
NOTHING = ("", "-", "--", "–", "?", "n/a", "na", "none", "unknown", "not known", "still on", "on", "present", "in use")
FULL_MONTHS = tuple(month.casefold() for month in MONTHS)
SHORT_MONTHS = tuple(month[:3] for month in FULL_MONTHS)

_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[ T]\d{1,2}:\d{2}.*)?")
_COMPACT = re.compile(r"((?:19|20)\d{2})(\d{2})(\d{2})")
_DOTS = re.compile(r"(\d{1,2})\. ?(\d{1,2})\. ?(\d{2}|\d{4})(?:,? \d{1,2}:\d{2}.*)?")
_SLASHES = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-](\d{2}|\d{4})(?: \d{1,2}:\d{2}.*)?")
_DAY_MONTH = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[ .-]*(?:of )?([^\W\d_]+)[ .,'-]*(\d{2}|\d{4})")
_MONTH_DAY = re.compile(r"([^\W\d_]+)[ .-]*(\d{1,2})(?:st|nd|rd|th)?[ .,'-]+(\d{2}|\d{4})")
_NO_DAY = re.compile(r"[^\W\d_]+[ .,'-]*\d{4}|\d{1,2}[/.-]\d{4}|\d{4}[/.-]\d{1,2}|\d{4}")
_NO_YEAR = re.compile(r"(?:\d{1,2})(?:st|nd|rd|th)?[ .-]*(?:of )?([^\W\d_]+)\.?|([^\W\d_]+)[ .-]*\d{1,2}(?:st|nd|rd|th)?|"
                      r"\d{1,2}\. ?\d{1,2}\.|\d{1,2}/\d{1,2}")
_SERIAL = re.compile(r"[2-6]\d{4}(?:\.\d+)?")
_WEEKDAY = re.compile(r"^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*[ .,]+")


class TwoReadingsError(RowError):
    """A date that can be two days."""


def find_day_first(cells: Iterable[str]) -> bool | None:
    """Whether 1/5/2024 is the first of May in this file; None where no date decides, RowError where dates contradict each other."""
    pairs = [(int(m[1]), int(m[2])) for cell in cells if (m := _SLASHES.fullmatch(_plain(cell)))]
    day_first, month_first = any(a > 12 >= b for a, b in pairs), any(b > 12 >= a for a, b in pairs)
    if day_first and month_first:
        raise RowError("some dates have the day first and some the month: each is read as the one day that it can be, and one that can "
                       "be two is refused")
    return day_first if day_first or month_first else None


def read_date(cell: str, *, today: date, day_first: bool | None) -> date | None:
    """The date in a cell; None for an empty one. RowError, one line, where it cannot be read or cannot be."""
    text = _plain(cell)
    if text in NOTHING:
        return None
    try:
        day = _parse(text, cell.strip(), today, day_first)
    except TwoReadingsError as error:
        raise RowError(f"{error}, or say which comes first with --day-first or --month-first") from None
    _refuse_other_weekday(day, cell)
    if day > today:
        raise RowError(f"{day} lies ahead")
    if day.year < EARLIEST_YEAR:
        raise RowError(f"{day} is too long ago for a string")
    return day


def names_no_day(cell: str) -> bool:
    """Whether it is a month or a year alone: "March 2025", "03/2025", "2023"."""
    return _NO_DAY.fullmatch(_plain(cell)) is not None


def read_typed_day(text: str, *, today: date) -> date:
    """The day that somebody typed alone, past or to come. RowError, one line, where it is none or can be two."""
    shown = text.strip()
    try:
        day = date.fromisoformat(shown)
    except ValueError:
        day = _parse(_plain(text), shown, today + TYPED_AHEAD, find_day_first([text]))
    _refuse_other_weekday(day, text)
    if day.year < EARLIEST_YEAR:
        raise RowError(f"{day} is too long ago: look at the year")
    return day


def _plain(cell: str) -> str:
    return _WEEKDAY.sub("", " ".join(cell.casefold().split()))


def _refuse_other_weekday(day: date, cell: str) -> None:
    """RowError where the cell names a weekday that the day does not fall on."""
    found = _WEEKDAY.match(" ".join(cell.casefold().split()))
    falls_on = WEEKDAYS[day.weekday()]
    if found and not falls_on.casefold().startswith(found[0][:3]):
        raise RowError(f"{cell.strip()[:40]}: {day_text(day)} is a {falls_on}. Which of the two is wrong? Write {day}, or the day meant")


def _parse(text: str, shown: str, latest: date, day_first: bool | None) -> date:
    """`latest`: the last day that a year of two digits may mean."""
    if match := _ISO.fullmatch(text) or _COMPACT.fullmatch(text):
        return _built(match[1], match[2], match[3], shown, latest)
    if match := _DOTS.fullmatch(text):
        return _built(match[3], match[2], match[1], shown, latest)
    if match := _SLASHES.fullmatch(text):
        return _slashes(match, shown, latest, day_first)
    if match := _DAY_MONTH.fullmatch(text):
        return _built(match[3], _month(match[2], shown), match[1], shown, latest)
    if match := _MONTH_DAY.fullmatch(text):
        return _built(match[3], _month(match[1], shown), match[2], shown, latest)
    if _SERIAL.fullmatch(text):
        raise RowError(f"{shown} looks like a spreadsheet's day number: format the column as a date and save again")
    if _NO_DAY.fullmatch(text):
        raise RowError(f"{shown} has no day: write the whole date, such as 2026-05-03 for 3 May 2026")
    if (match := _NO_YEAR.fullmatch(text)) and (not match.lastindex or _is_month(match[match.lastindex])):
        raise RowError(f"{shown} has no year: write the whole date, such as 2026-05-03 for 3 May 2026")
    raise RowError(f"{shown[:40]!r} is not a date: {HOW}")


def _slashes(match: re.Match, shown: str, latest: date, day_first: bool | None) -> date:
    a, b, year = match[1], match[2], match[3]
    by_day, by_month = (_day_or_none(year, *pair, latest) for pair in ((b, a), (a, b)))
    told = by_day if day_first else by_month
    if day_first is not None and told is not None:
        return told
    readings = [day for day in dict.fromkeys((by_day, by_month)) if day is not None]
    if not readings:
        raise RowError(f"{shown} is no day of the calendar")
    if day_first is not None:
        raise RowError(f"{shown} can only be {day_text(readings[0])}, but is to be read with the {'day' if day_first else 'month'} first: "
                       f"write {readings[0]}")
    if len(readings) == 1:
        return readings[0]
    raise TwoReadingsError(f"{shown} can be {' or '.join(map(day_text, readings))}: write {' or '.join(map(str, readings))}")


def _is_month(word: str) -> bool:
    return word in FULL_MONTHS or word[:3] in SHORT_MONTHS and (len(word) == 3 or word == "sept")


def _month(word: str, shown: str) -> int:
    if not _is_month(word):
        raise RowError(f"{shown[:40]!r} names no month: {HOW}")
    return SHORT_MONTHS.index(word[:3]) + 1


def _built(year: str, month: str | int, day: str, shown: str, latest: date) -> date:
    found = _day_or_none(year, month, day, latest)
    if found is None:
        raise RowError(f"{shown} is no day of the calendar")
    return found


def _day_or_none(year: str, month: str | int, day: str, latest: date) -> date | None:
    try:
        if len(year) == 4:
            return date(int(year), int(month), int(day))
        this = date(2000 + int(year), int(month), int(day))
        return this if this <= latest else this.replace(year=this.year - 100)
    except ValueError:
        return None

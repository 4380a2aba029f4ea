"""What a typed notebook becomes: rows that are offered to the log, and rows that are refused with their line and the reason."""

from dataclasses import dataclass
from datetime import date

from toneprobe.errors import ToneprobeError


class NotebookError(ToneprobeError):
    """A file that cannot be read as a notebook at all."""


@dataclass(frozen=True)
class LogRow:
    """One string on one position, by the notebook. Nothing of it is stored until the owner has agreed."""

    line: int  # of the file, 1 is the first
    string: str
    fitted_on: date | None  # None: before the notebook began
    removed_on: date | None = None  # None: still on
    material: str | None = None
    gauge_mm: float | None = None
    supplier: str | None = None
    batch: str | None = None
    why_removed: str | None = None
    broke_at: str | None = None
    is_stand_in: bool = False
    note: str = ""
    completes: int | None = None  # number of the log's own entry, without a known first day until now, that this string is
    is_supposed: bool = False  # `fitted_on` was not written down, but the one before came off then
    ends: int | None = None  # number of the log's own entry, without a last day until now, that this string is


@dataclass(frozen=True)
class TypedRow:
    """A row as read, before it is known which string its reason speaks of."""

    row: LogRow
    why_note: str = ""  # of why and where, what found no word of its own
    day_note: str = ""  # what stands for the first day and names none, such as "spring 2024"
    gauge_note: str = ""  # what stands under gauge and is no number of millimetres or inches


@dataclass(frozen=True)
class Refusal:
    line: int
    text: str  # the row as typed, cells joined by " | "
    reason: str


@dataclass(frozen=True)
class Notebook:
    offered: tuple[LogRow, ...]  # by string from the top of the harp, then by date
    refused: tuple[Refusal, ...]  # by line
    remarks: tuple[str, ...]  # how the file was understood
    known: tuple[int, ...] = ()  # lines that the log has already
    tells_of: str = "string"  # or "change": what one of its rows is about

    @property
    def n_told(self) -> int:
        """How many of these are offered: one change ends a string and begins another."""
        return len({row.line for row in self.offered if row.ends is None}) if self.tells_of == "change" else len(self.offered)

    @property
    def refused_alike(self) -> tuple[tuple[tuple[int, ...], Refusal], ...]:
        """The refusals, those of one text and one reason together: their lines, and the first."""
        lines: dict[tuple[str, str], list[Refusal]] = {}
        for one in self.refused:
            lines.setdefault((one.text, one.reason), []).append(one)
        return tuple((tuple(one.line for one in alike), alike[0]) for alike in lines.values())


class RowError(ValueError):
    """Why one row is refused."""

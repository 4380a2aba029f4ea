"""Which column holds what, by its heading, in any order and by the names that people use."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from toneprobe.notebook.rows import NotebookError
from toneprobe.practice import material_family

DELIMITERS = ",;\t|"
N_LINES_FOR_HEADING = 10  # a title or a date may stand above
INCH_MM = 25.4
UNITS_MM = {"mm": 1.0, "cm": 10.0, "in": INCH_MM, "inch": INCH_MM, "inches": INCH_MM}

NAMES = {
    "string": ("string", "string name", "string no", "position", "which string", "harp string"),
    "octave": ("octave", "oct"),
    "letter": ("letter", "pitch letter"),
    "fitted_on": ("fitted", "fitted on", "date fitted", "put on", "on", "date on", "installed", "date installed", "start", "from", "new on",
                  "strung"),
    "date": ("date", "day", "when", "changed", "changed on", "date changed", "replaced", "replaced on", "date of change"),
    "removed_on": ("removed", "removed on", "date removed", "taken off", "off", "date off", "came off", "failed", "date failed", "end",
                   "until", "to", "broke on"),
    "material": ("material", "type", "kind", "made of"),
    "gauge": ("gauge", "diameter", "thickness", "size"),
    "supplier": ("supplier", "shop", "vendor", "maker", "bought from", "bought at", "source"),
    "batch": ("batch", "lot", "batch no", "lot no", "batch number"),
    "why": ("why", "reason", "cause", "why removed", "why off", "what happened", "how", "because", "off because",
            "came off because", "old one off because", "why it came off", "why changed", "reason for change"),
    "broke_at": ("where", "broke at", "where it broke", "where broken", "broken at", "place"),
    "stand_in": ("stand in", "temporary", "temp", "substitute", "is stand in"),
    "supposed": ("day supposed", "supposed", "is supposed"),
    "note": ("notes", "remark", "remarks", "comment", "comments", "memo"),
}
DATES = ("fitted_on", "removed_on", "date")
WHAT = "what"  # the material, or a story
EITHER = "note"  # alone it may be the string, beside a string column it is a remark
_FIELD_OF = {name: field for field, names in NAMES.items() for name in names}


@dataclass(frozen=True)
class Columns:
    """Where each field stands, and what the other columns are called."""

    index: dict[str, int]
    others: dict[str, int]  # heading as typed → column
    gauge_unit_mm: float | None  # what one of the gauge column's units is in mm; None: not said
    n_columns: int

    @property
    def is_by_string(self) -> bool:
        """Whether each row is of one string from first to last day, not of a change."""
        return "fitted_on" in self.index or "removed_on" in self.index

    @property
    def has_string(self) -> bool:
        return "string" in self.index or {"octave", "letter"} <= self.index.keys()

    def cell(self, cells: Sequence[str], field: str) -> str:
        """What a row has under a field, "" where it has none."""
        k = self.index.get(field)
        return cells[k] if k is not None and k < len(cells) else ""

    def string_cell(self, cells: Sequence[str]) -> str:
        return self.cell(cells, "string") or f"{self.cell(cells, 'octave').strip()}{self.cell(cells, 'letter').strip()}"

    def other(self, word: str) -> str | None:
        """The heading of another column that is called so."""
        return next((name for name in self.others if _plain(name) == word), None)

    def with_other(self, heading: str, field: str) -> Columns:
        """With another column as that of a field."""
        others = {name: k for name, k in self.others.items() if name != heading}
        return replace(self, index=self.index | {field: self.others[heading]}, others=others)


def find_delimiter(lines: Sequence[str]) -> str:
    """The mark that makes most known columns of a heading."""
    def n_known(mark: str) -> int:
        rows = csv.reader(lines[:N_LINES_FOR_HEADING], delimiter=mark)
        try:
            return max((sum(_field(cell) is not None for cell in row) for row in rows), default=0)
        except csv.Error:  # a cell without end where this is not the mark
            return 0
    return max(DELIMITERS, key=n_known)


def read_heading(cells: Sequence[str]) -> Columns | None:
    """The columns of a heading row; None where it is none. NotebookError where two columns mean one thing."""
    index: dict[str, int] = {}
    others: dict[str, int] = {}
    for k, cell in enumerate(cells):
        field = _field(cell)
        if field in index:
            first = index[field]
            raise NotebookError(f"two columns mean the same: number {first + 1}, {cells[first].strip()!r}, and number {k + 1}, "
                                f"{cell.strip()!r}")
        if field is not None:
            index[field] = k
        elif cell.strip():
            others[cell.strip()] = k
    gauge_words = re.findall(r"[a-z]+", cells[index["gauge"]].casefold()) if "gauge" in index else []
    unit_mm = next((mm for word, mm in UNITS_MM.items() if word in gauge_words), None)
    columns = Columns(index, others, unit_mm, len(cells))
    note = columns.other(EITHER)
    if note is not None and not (columns.has_string and "note" in index):
        columns = columns.with_other(note, "note" if columns.has_string else "string")
    index = columns.index
    if not columns.has_string or not index.keys() & DATES:
        return None
    if "date" in index and "fitted_on" in index:
        place = index.pop("date")
        columns.others[cells[place].strip()] = place
    elif "date" in index and "removed_on" in index:
        index["fitted_on"] = index.pop("date")
    return columns


def with_what(columns: Columns, body: Iterable[Sequence[str]]) -> Columns:
    """A column headed "what" is that of the material where it holds nothing else, as in the table that offers rows to the log."""
    heading = columns.other(WHAT)
    if heading is None or "material" in columns.index:
        return columns
    k = columns.others[heading]
    cells = [row[k] for row in body if k < len(row) and row[k].strip()]
    is_material = cells and all(material_family(cell) is not None for cell in cells)
    return columns.with_other(heading, "material") if is_material else columns


def why_no_heading(rows: Sequence[tuple[int, Sequence[str]]]) -> str:
    """What the numbered rows lack of a heading: of the one with most known columns, which it does not know."""
    number, cells = max(rows, key=lambda row: sum(_field(cell) is not None for cell in row[1]))
    fields = {_field(cell) for cell in cells} - {None}
    if not fields:
        return "the first line must name the columns, such as string, fitted, removed, material, why"
    string, day = "a column for the string", "a column for a day, such as fitted, removed, date"
    has_string = "string" in fields or {"octave", "letter"} <= fields or EITHER in map(_plain, cells)
    needed = [word for word, is_there in ((string, has_string), (day, fields & {*DATES})) if not is_there]
    unknown = ", ".join(repr(cell.strip()) for cell in cells if cell.strip() and _field(cell) is None)
    return f"line {number} lacks {' and '.join(needed)}" + (f". What is {unknown}?" if unknown else "")


def _field(cell: str) -> str | None:
    """What a heading means; "date" or "day" may go with another word, as in "date put on"."""
    words = _plain(cell).split()
    undated = _FIELD_OF.get(" ".join(word for word in words if word not in ("date", "day")))
    return (_FIELD_OF.get(" ".join(words)) or _FIELD_OF.get(" ".join(word for word in words if word not in UNITS_MM))
            or (undated if undated in DATES else None))


def _plain(cell: str) -> str:
    """A heading without case, brackets and marks: "Gauge (mm)" gives "gauge"."""
    text = re.sub(r"\(.*?\)|\[.*?\]", " ", cell.casefold())
    return " ".join(re.sub(r"[^a-z ]+", " ", text).split())


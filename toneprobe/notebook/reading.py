"""Read a paper log that was typed into a spreadsheet and saved as CSV."""

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import partial
from typing import TypeVar

from toneprobe.fittings import Fitting
from toneprobe.fittings.corrections import NO_REMOVAL_DAY
from toneprobe.instrument import Instrument
from toneprobe.notebook.cells import clean, is_of_another_harp, read_gauge, read_material, read_string, read_text, read_why, read_yes
from toneprobe.notebook.chain import chain_rows, from_changes, from_strings, without_repeats
from toneprobe.notebook.columns import DATES, N_LINES_FOR_HEADING, Columns, find_delimiter, read_heading, why_no_heading, with_what
from toneprobe.notebook.dates import find_day_first, names_no_day, read_date
from toneprobe.notebook.doubts import doubts_about
from toneprobe.notebook.exported import Line, as_log
from toneprobe.notebook.rows import LogRow, Notebook, NotebookError, Refusal, RowError, TypedRow
from toneprobe.phrases import count_of, listed

MOST_CHARACTERS = 5_000_000
LONGEST_ROW = 50_000  # letters: a long page of remarks has 5,000 (set here)
STRANGE_SHARE = 0.2  # of the rows, at least LEAST_STRANGE of them: no harp's own notebook names so many strings wrongly (set here)
LEAST_STRANGE = 3
FEW_STRANGE = 4  # are named

T = TypeVar("T")


def decode_notebook(raw: bytes) -> str:
    """The text of a CSV file as spreadsheets write it. NotebookError for what is no text."""
    if raw[:2] == b"PK" or raw[:4] == b"\xd0\xcf\x11\xe0":
        raise NotebookError("this is a spreadsheet file: save it as CSV first")
    encoding = "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
    if "\0" in text:
        raise NotebookError("this is no text file: save the notebook as CSV")
    return text


def read_notebook(
    text: str, instrument: Instrument, *, today: date, day_first: bool | None = None, known: Iterable[Fitting] = (),
    heard_on: Mapping[str, date] | None = None,
) -> Notebook:
    """What a notebook offers to the log, and what is refused, line by line. Nothing is stored.

    `day_first`: how 1/5/2024 is meant where the file does not show it; `known`: what the log has already; `heard_on`: by string the day
    of the first sweep that heard it. NotebookError where the file as a whole cannot be read.
    """
    lines = _lines(text)
    if not lines:
        raise NotebookError("the file is empty")
    columns, body, left_out = as_log(*_with_heading(lines))
    day_first, remarks = _day_order(columns, body, day_first)
    remarks = [*left_out, *remarks]
    rows, refused = _rows_of(body, columns, instrument, today=today, day_first=day_first)
    rows, repeats = without_repeats(rows)
    told = from_strings(rows) if columns.is_by_string else from_changes(rows)
    is_whole = "supposed" in columns.index  # as `log export` and the export's table have it
    positions = chain_rows(told, known, today=today, heard_on=heard_on, is_whole=is_whole)
    cells_of = dict(body)
    reasons = dict([*(one for position in positions for one in position.refused), *repeats])
    refused += [Refusal(line, _as_typed(cells_of[line]), _how_headed(reason, columns)) for line, reason in reasons.items()]
    place = {spec.name: k for k, spec in enumerate(instrument.strings)}
    offered = sorted((row for one in positions for row in one.kept), key=lambda row: (place[row.string], row.fitted_on or date.min))
    in_log = sorted({row.line for one in positions for row in one.in_log} - {one.line for one in (*refused, *offered)})
    remarks += [f"column {heading!r} is kept as a remark" for heading in columns.others]
    remarks += _of_another_harp([columns.string_cell(cells) for _, cells in body], instrument)
    lines_offered = {row.line for row in offered}
    remarks += doubts_about([one for one in rows if one.row.line in lines_offered], instrument)
    remarks += [remark for one in positions for remark in one.remarks]
    return Notebook(tuple(offered), tuple(sorted(refused, key=lambda r: r.line)), tuple(remarks),
                    tuple(in_log), "string" if columns.is_by_string else "change")


def _how_headed(reason: str, columns: Columns) -> str:
    """The reason why a row is refused, and what its columns should be called where they make it another string than is meant."""
    if reason != NO_REMOVAL_DAY or "removed_on" in columns.index:
        return reason
    return (f"{reason}: by these columns it tells of the string that went on that day. Where the one before came off so, call the column "
            "of the day Date")


def _of_another_harp(names: Sequence[str], instrument: Instrument) -> list[str]:
    """Whether many of the rows name a string that some harps have and this one does not."""
    strange = [name for name in names if is_of_another_harp(instrument, name)]
    if len(strange) < max(LEAST_STRANGE, STRANGE_SHARE * len(names)):
        return []
    which = listed(list(dict.fromkeys(map(clean, strange))), FEW_STRANGE)
    return [f"{len(strange)} of {count_of(len(names), 'row')} are of strings that this {instrument.word} does not have ({which}): is this "
            f"the notebook of another {instrument.word}?"]


def _as_typed(cells: Sequence[str]) -> str:
    return " | ".join(clean(cell) for cell in cells)


def _lines(text: str) -> list[Line]:
    """Every row that is not blank, with the line on which it begins."""
    if len(text) > MOST_CHARACTERS:
        raise NotebookError(f"longer than {MOST_CHARACTERS // 1_000_000} MB: not a notebook")
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    typed = text.split("\n")
    csv.field_size_limit(MOST_CHARACTERS)  # a cell of any length is a row's own fault, which is refused with its line
    mark = find_delimiter(typed)
    try:
        for _ in csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True):
            pass
    except csv.Error as error:
        if "end of data" in str(error):
            raise NotebookError("a quotation mark is opened and never closed") from None
    reader, begins, lines = csv.reader(io.StringIO(text, newline=""), delimiter=mark), 1, []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                lines.append((begins, cells))
            begins = reader.line_num + 1
    except csv.Error as error:
        raise NotebookError(f"cannot be read as CSV: {error}") from None
    return lines


def _with_heading(lines: Sequence[Line]) -> tuple[Columns, list[Line]]:
    for k, (_, cells) in enumerate(lines[:N_LINES_FOR_HEADING]):
        columns = read_heading(cells)
        if columns is not None:
            body = list(lines[k + 1 :])
            return with_what(columns, [row for _, row in body]), body
    raise NotebookError(f"no heading found: {why_no_heading(lines[:N_LINES_FOR_HEADING])}")


def _day_order(columns: Columns, body: Sequence[Line], day_first: bool | None) -> tuple[bool | None, list[str]]:
    if day_first is not None:
        return day_first, []
    try:
        found = find_day_first(columns.cell(cells, field) for _, cells in body for field in DATES)
    except RowError as error:
        return None, [str(error)]
    if found is None:
        return None, []
    return found, [f"dates such as 1/5/2024 are read with the {'day' if found else 'month'} first, as the file shows"]


def _rows_of(
    body: Sequence[Line], columns: Columns, instrument: Instrument, *, today: date, day_first: bool | None
) -> tuple[list[TypedRow], list[Refusal]]:
    """The rows that can be read, and the others. A row typed again and again is read once."""
    understood: dict[tuple[str, ...], TypedRow | str] = {}  # by cells
    rows, refused = [], []
    for number, cells in body:
        key = tuple(cells)
        if key not in understood:
            try:
                understood[key] = _row(number, cells, columns, instrument, today=today, day_first=day_first)
            except RowError as error:
                understood[key] = str(error)
        found = understood[key]
        if isinstance(found, str):
            refused.append(Refusal(number, _as_typed(cells), found))
        else:
            rows.append(replace(found, row=replace(found.row, line=number)))
    return rows, refused


def _row(number: int, cells: Sequence[str], columns: Columns, instrument: Instrument, *, today: date, day_first: bool | None) -> TypedRow:
    """One row as typed. RowError where it cannot be."""
    n_letters = sum(map(len, cells)) + len(cells) - 1
    if n_letters > LONGEST_ROW:
        raise RowError(f"has {n_letters} letters: no row of a typed log has as many")
    if any(cell.strip() for cell in cells[columns.n_columns :]):
        raise RowError(f"has {len(cells)} cells, the heading {columns.n_columns}: a cell with a comma needs quotation marks")
    wrong: list[str] = []
    cell = partial(columns.cell, cells)

    def tried(read: Callable[[], T], otherwise: T) -> T:
        """What is read, or `otherwise` where that is refused: all that is wrong in a row is told at once."""
        try:
            return read()
        except RowError as error:
            wrong.append(str(error))
            return otherwise

    string = tried(lambda: read_string(instrument, columns.string_cell(cells)), "")
    n_wrong, first = len(wrong), clean(cell("fitted_on"))
    day_note = first if columns.is_by_string and names_no_day(first) else ""  # stands for the first day, a month or a year alone
    days = {field: None if day_note and field == "fitted_on" else
            tried(lambda field=field: read_date(cell(field), today=today, day_first=day_first), None) for field in DATES}
    if "date" in columns.index and days["date"] is None and len(wrong) == n_wrong:
        wrong.append("has no date")
    why, broke_at, why_left = tried(lambda: read_why(cell("why"), cell("broke_at")), (None, None, ""))
    gauge_mm, gauge_left = tried(lambda: read_gauge(cell("gauge"), columns.gauge_unit_mm), (None, ""))
    material, gauge_mm = tried(lambda: _material(cell("material"), cell("gauge"), gauge_mm), (None, None))
    supplier, batch = (tried(lambda field=field: read_text(cell(field)), None) for field in ("supplier", "batch"))
    is_stand_in = tried(lambda: read_yes(cell("stand_in"), "stand-in"), False)
    is_supposed = tried(lambda: read_yes(cell("supposed"), "day supposed"), False)
    if wrong:
        raise RowError("; ".join(wrong))
    others = [(f"{heading}: ", clean(cells[k])) for heading, k in columns.others.items() if k < len(cells)]
    remarks = [("put on: ", day_note), ("", clean(cell("note"))), ("gauge: ", gauge_left), *others]  # nothing that was written is lost
    note = "; ".join(f"{what}{text}" for what, text in remarks if text)
    row = LogRow(number, string, days["date"] or days["fitted_on"], days["removed_on"], material, gauge_mm, supplier, batch, why, broke_at,
                 is_stand_in, note, is_supposed=is_supposed)
    return TypedRow(row, why_left, day_note, gauge_left)


def _material(cell: str, gauge_cell: str, gauge_mm: float | None) -> tuple[str | None, float | None]:
    """Material and gauge; a gauge behind the material counts where the gauge has no cell of its own, or one that says the same."""
    material, behind_mm = read_material(cell)
    if behind_mm is None or (gauge_mm is None and not clean(gauge_cell)) or gauge_mm == behind_mm:
        return material, gauge_mm if behind_mm is None else behind_mm
    return clean(cell).casefold(), gauge_mm

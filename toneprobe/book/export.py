"""Everything in a book as CSV and JSON, to be read without this program.

`book.json` is exact: {"schema": "toneprobe.book/1", "tables": {table: [row, …]}}, dates as ISO 8601, floats in full. Each table is also a
CSV file (UTF-8, comma, header): an empty field means "not known", nested values are JSON text, and text that a spreadsheet would take for a
formula has an apostrophe in front, which `spreadsheet.from_text` takes off. A damaged value stands in both as the text that was found.
"""

import csv
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any, TextIO

from sqlalchemy import Connection, Table

from toneprobe.book.connect import Book, reading
from toneprobe.book.convert import to_json
from toneprobe.book.damage import rows_as_they_lie
from toneprobe.book.faults import plain_faults
from toneprobe.book.leftovers import MARKER
from toneprobe.book.place import shown
from toneprobe.book.schema import tables
from toneprobe.errors import BookError
from toneprobe.spreadsheet import as_text

WORKSHOP = "toneprobe-export-"  # what the folder is called in which an export is made, before some drawn letters


def export_book(book: Book, folder: Path, *, with_clips: bool = False) -> tuple[Path, ...]:
    """Write the whole book into an absent or empty folder, whole or not at all; returns the paths of its tables and `book.json`."""
    folder = Path(folder).absolute()
    subject = f"the export {shown(folder)}"
    with plain_faults(subject):
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BookError(f"{shown(folder)} is there already: name a new or an empty folder")
        folder.parent.mkdir(parents=True, exist_ok=True)
        workshop = Path(tempfile.mkdtemp(prefix=WORKSHOP, dir=folder.parent))  # beside it, of a name that nothing has yet
        part = workshop / folder.name  # made as any folder is, while the workshop is closed to others
        try:
            (workshop / MARKER).touch()
            part.mkdir()
            with reading(book) as connection, plain_faults(subject, of=(OSError,)):  # what is wrong in the book is the book's fault
                names = _write_all(connection, part)
                if with_clips and book.plucks.is_dir():
                    shutil.copytree(book.plucks, part / book.plucks.name)
            if folder.exists():
                folder.rmdir()
            part.rename(folder)
        finally:
            shutil.rmtree(workshop, ignore_errors=True)
    return tuple(folder / name for name in names)


def unfinished_exports(folder: Path) -> tuple[Path, ...]:
    """Folders beside that one, marked as exports that were killed or still run. Only their owner knows which, so none is deleted."""
    return tuple(sorted(one for one in Path(folder).absolute().parent.glob(f"{WORKSHOP}*") if _is_marked(one)))


def _is_marked(workshop: Path) -> bool:
    """Another user's, in a folder that many share, is closed to this one."""
    try:
        return (workshop / MARKER).is_file()
    except OSError:
        return False


def _write_all(connection: Connection, folder: Path) -> list[str]:
    for table in tables.sorted_tables:
        with open(folder / f"{table.name}.csv", "w", encoding="utf-8", newline="") as file:
            _write_csv(connection, table, file)
    with open(folder / "book.json", "w", encoding="utf-8") as file:
        _write_json(connection, file)
    return [f"{table.name}.csv" for table in tables.sorted_tables] + ["book.json"]


def _write_csv(connection: Connection, table: Table, file: TextIO) -> None:
    writer = csv.writer(file)
    writer.writerow(table.columns.keys())
    for row in _rows(connection, table):
        writer.writerow(_cell(item) for item in row.values())


def _cell(item: object) -> object:
    if isinstance(item, (list, dict)):
        return to_json(item)
    return as_text(item) if isinstance(item, str) else item


def _write_json(connection: Connection, file: TextIO) -> None:
    """Row by row, so that a school's book need not fit into memory."""
    file.write('{"schema": "toneprobe.book/1", "tables": {')
    for place, table in enumerate(tables.sorted_tables):
        file.write(f"{',' if place else ''}\n{to_json(table.name)}: [")
        for number, row in enumerate(_rows(connection, table)):
            file.write((",\n" if number else "\n") + to_json(row))
        file.write("]")
    file.write("}}\n")


def _rows(connection: Connection, table: Table) -> Iterator[dict[str, Any]]:
    for row, _ in rows_as_they_lie(connection, table):
        yield readable(row)


def readable(row: Mapping[Any, Any]) -> dict[str, Any]:
    """A row as JSON can hold it: dates as ISO 8601."""
    return {key: item.isoformat() if isinstance(item, date) else item for key, item in row.items()}

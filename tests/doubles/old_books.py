"""Books as older schemas left them, from the SQL stored for each, in SQLite and on a server; and what a book's tables look like."""

import json
from pathlib import Path

from book_tables import tables_of
from sqlalchemy import Boolean, MetaData, create_engine, false, inspect, select, text

from toneprobe.book.connect import Book, reading

SCHEMAS = Path(__file__).parents[1] / "book" / "schemas"
STORED = sorted(SCHEMAS.glob("schema_*.sql"), key=lambda path: int(path.stem.removeprefix("schema_")))
OLDEST = STORED[0]


def restore(schema: Path, folder: Path) -> Path:
    """A book's folder with that schema's book in SQLite."""
    folder.mkdir()
    with tables_of(folder) as direct:
        direct.executescript(schema.read_text(encoding="utf-8"))
    return folder


def restore_on_server(schema: Path, folder: Path, url: str) -> Path:
    """The same tables and rows in an empty database of a server; each type, default and partial index as the server says it."""
    restore(schema, folder.with_name(folder.name + "-as-a-file"))
    old = create_engine(f"sqlite:///{folder.with_name(folder.name + '-as-a-file') / 'book.sqlite'}")
    found = MetaData()
    found.reflect(old)
    for table in found.tables.values():
        for column in table.columns:
            column.type = column.type.as_generic()
            if isinstance(column.type, Boolean) and column.server_default is not None:
                column.server_default.arg = false()
        for index in table.indexes:
            where = index.dialect_options["sqlite"].get("where")
            index.dialect_options["postgresql"]["where"] = where
    new = create_engine(url)
    with old.connect() as source, new.begin() as target:
        found.create_all(target)
        for table in found.sorted_tables:
            rows = [dict(row) for row in source.execute(select(table)).mappings()]
            if rows:
                target.execute(table.insert(), rows)
            if "id" in table.columns and table.name != "book":
                target.execute(text(f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), (SELECT max(id) FROM {table.name}))"))
    old.dispose()
    new.dispose()
    folder.mkdir()
    (folder / "book.toml").write_text(f"database = {json.dumps(url)}\n", encoding="utf-8")
    return folder


def shape(book: Book) -> dict[str, tuple]:
    """By table its columns with type and whether they may be empty, its foreign keys and its indexes."""
    with reading(book) as connection:
        seen = inspect(connection)
        return {
            table: (
                {column["name"]: (str(column["type"]), column["nullable"]) for column in seen.get_columns(table)},
                sorted((key["constrained_columns"], key["referred_table"]) for key in seen.get_foreign_keys(table)),
                sorted((index["column_names"], index["unique"]) for index in seen.get_indexes(table)),
            )
            for table in seen.get_table_names()
        }

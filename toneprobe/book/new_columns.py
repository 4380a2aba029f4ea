"""What the steps from schema to schema put into tables that are there: columns, and keys in the JSON of a stored verdict."""

from sqlalchemy import Column, Connection, MetaData, Table, text
from sqlalchemy.schema import CreateColumn

AS_TEXT = "CAST(condition AS TEXT)"  # a stored verdict, of whatever type a database takes JSON for
BEFORE = '"next_step": "'  # where a key is put in; within a string of JSON its quotes would be escaped, so it is found nowhere else


def add_columns(connection: Connection, table: str, *columns: Column) -> None:
    """Add empty columns, as in `Column("pitch_hz", Double)`, each of the type that SQLite or PostgreSQL has for it."""
    for column in Table(table, MetaData(), *columns).columns:
        said = CreateColumn(column).compile(dialect=connection.dialect)
        connection.exec_driver_sql(f"ALTER TABLE {table} ADD COLUMN {said}")


def add_key(connection: Connection, key: str, value: str, *, where: str, **bound: str) -> None:
    """Add `"key": value` to the verdicts that match and lack it. One whose JSON is damaged stays, and so does every other octet."""
    is_sqlite = connection.dialect.name == "sqlite"  # it keeps JSON as text, and would take CAST AS JSON for a number
    is_whole = "typeof(condition) = 'text' AND json_valid(condition)" if is_sqlite else "TRUE"  # a server checks what it stores
    replaced = f"REPLACE({AS_TEXT}, :before, :both)"
    assigned = replaced if is_sqlite else f"CAST({replaced} AS JSON)"
    update = text(f"UPDATE conditions SET condition = {assigned} WHERE {where} AND {is_whole} AND {AS_TEXT} NOT LIKE :named")
    connection.execute(update, {"before": BEFORE, "both": f'"{key}": {value}, {BEFORE}', "named": f'%"{key}"%'} | bound)

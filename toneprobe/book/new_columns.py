"""Columns put into a table that is there, for the steps from schema to schema: raw SQL would name a type as one database alone knows it."""

from __future__ import annotations

from sqlalchemy import Column, Connection, MetaData, Table
from sqlalchemy.schema import CreateColumn


def add_columns(connection: Connection, table: str, *columns: Column) -> None:
    """Empty columns behind those that the table has, of the type that SQLite or PostgreSQL means by each: `Column("pitch_hz", Double)`."""
    for column in Table(table, MetaData(), *columns).columns:
        said = CreateColumn(column).compile(dialect=connection.dialect)
        connection.exec_driver_sql(f"ALTER TABLE {table} ADD COLUMN {said}")

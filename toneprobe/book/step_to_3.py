"""From schema 2 to 3: an entry of the string log may be withdrawn."""

from __future__ import annotations

from sqlalchemy import Connection, text


def add_withdrawals(connection: Connection) -> None:
    """One new column, empty in every row."""
    connection.execute(text("ALTER TABLE fittings ADD COLUMN withdrawn_on DATE"))

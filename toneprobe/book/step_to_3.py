"""From schema 2 to 3: an entry of the string log may be withdrawn."""

from sqlalchemy import Column, Connection, Date

from toneprobe.book.new_columns import add_columns


def add_withdrawals(connection: Connection) -> None:
    add_columns(connection, "fittings", Column("withdrawn_on", Date))

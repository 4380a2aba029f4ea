"""From schema 5 to 6: where nothing was heard a pluck's `ring_s` and `snr_db` are empty, and no longer 0, in their columns too.

PostgreSQL can make a column nullable in place. SQLite cannot: the table is copied into a new one, which takes its name. No other table
refers to a pluck.
"""

import re

from sqlalchemy import Connection

EMPTIED = ("ring_s", "snr_db")
NEW = "plucks_of_schema_6"


def let_unknown_be_empty(connection: Connection) -> None:
    """What is damaged stays as it lies."""
    if connection.dialect.name == "sqlite":
        _copy_without_not_null(connection)
    else:
        for name in EMPTIED:
            connection.exec_driver_sql(f"ALTER TABLE plucks ALTER COLUMN {name} DROP NOT NULL")
    for name in EMPTIED:
        connection.exec_driver_sql(f"UPDATE plucks SET {name} = NULL WHERE {name} = 0")


def _copy_without_not_null(connection: Connection) -> None:
    made = "SELECT sql FROM sqlite_master WHERE tbl_name = 'plucks' AND sql IS NOT NULL AND type = '{}'"
    table = connection.exec_driver_sql(made.format("table")).scalar_one()
    indexes = connection.exec_driver_sql(made.format("index")).scalars().all()
    for name in EMPTIED:
        table = re.sub(rf"({name}\s+\w+)\s+NOT NULL", r"\1", table)
    connection.exec_driver_sql(re.sub(r'^(CREATE TABLE )"?plucks"?', rf"\1{NEW}", table))
    connection.exec_driver_sql(f"INSERT INTO {NEW} SELECT * FROM plucks")
    # Plucks are counted on from where the old table was, which may be far behind its last row.
    connection.exec_driver_sql(f"DELETE FROM sqlite_sequence WHERE name = '{NEW}'")
    connection.exec_driver_sql(f"INSERT INTO sqlite_sequence (name, seq) SELECT '{NEW}', seq FROM sqlite_sequence WHERE name = 'plucks'")
    connection.exec_driver_sql("DROP TABLE plucks")
    connection.exec_driver_sql(f"ALTER TABLE {NEW} RENAME TO plucks")
    for index in indexes:
        connection.exec_driver_sql(index)

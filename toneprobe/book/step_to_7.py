"""From schema 6 to 7: an entry of the string log says whether its first day is only supposed.

Until then the last correction of that day said so, by a word before the day. The corrections stay as they are.
"""

from sqlalchemy import Boolean, Column, Connection, false, text

from toneprobe.book.new_columns import add_columns

MARK = text("""
    UPDATE fittings SET is_supposed = :yes WHERE id IN (
        SELECT fitting_id FROM corrections AS said WHERE after LIKE :supposed AND id = (
            SELECT max(id) FROM corrections WHERE field = 'fitted_on' AND fitting_id = said.fitting_id))
""")


def add_supposed_days(connection: Connection) -> None:
    """One new column, filled from the corrections."""
    add_columns(connection, "fittings", Column("is_supposed", Boolean, nullable=False, server_default=false()))
    mark_supposed_days(connection)


def mark_supposed_days(connection: Connection) -> None:
    connection.execute(MARK, {"yes": True, "supposed": "supposed %"})  # frozen: a book keeps its words

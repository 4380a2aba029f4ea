"""From schema 1 to 2: the life of a string. Pitch checks, settled strings, spares, events, corrections, the owner's own figures."""

from sqlalchemy import Column, Connection, ForeignKey, MetaData, Table, UniqueConstraint, false
from sqlalchemy.types import JSON, Boolean, Date, DateTime, Double, Integer, String, Text

NEVER_REUSE = {"sqlite_autoincrement": True}


def add_string_life(connection: Connection) -> None:
    """Six new tables, empty; nothing of schema 1 is touched."""
    tables = MetaData()
    tables.reflect(connection, only=["harps", "fittings", "sweeps"])
    _pitch_tables(tables)
    _spares_table(tables)
    _notes_tables(tables)
    tables.create_all(connection)  # those that are there already are left alone


def _pitch_tables(tables: MetaData) -> None:
    Table(
        "pitch_readings", tables, Column("id", Integer, primary_key=True), _to("harps.id"), _to("fittings.id", nullable=True),
        _to("sweeps.id", nullable=True), Column("string", Text, nullable=False), Column("note", Text, nullable=False),
        Column("at", DateTime, nullable=False), Column("found_hz", Double), Column("found_hz_se", Double), Column("left_hz", Double),
        Column("left_hz_se", Double), Column("found_sha256", String(64)), Column("left_sha256", String(64)),
        UniqueConstraint("harp_id", "string", "at", name="one_check_at_a_time"), **NEVER_REUSE,
    )
    Table(
        "settled", tables, Column("id", Integer, primary_key=True),
        Column("fitting_id", Integer, ForeignKey("fittings.id"), nullable=False, unique=True), Column("string", Text, nullable=False),
        Column("settled_on", Date, nullable=False), Column("noted_on", Date, nullable=False), Column("creep_cents", Double),
        Column("baseline_next", Boolean, nullable=False, server_default=false()), **NEVER_REUSE,
    )


def _spares_table(tables: MetaData) -> None:
    Table(
        "spares", tables, Column("id", Integer, primary_key=True), _to("harps.id", nullable=True), Column("string", Text, nullable=False),
        Column("material", Text), Column("gauge_mm", Double), Column("place", Text, nullable=False), Column("bought_on", Date),
        Column("supplier", Text), Column("batch", Text), Column("lead_time_days", Integer), Column("price", Text), Column("used_on", Date),
        _to("fittings.id", nullable=True), _note(), **NEVER_REUSE,
    )


def _notes_tables(tables: MetaData) -> None:
    Table(
        "events", tables, Column("id", Integer, primary_key=True), _to("harps.id"), _to("sweeps.id", nullable=True),
        Column("date", Date, nullable=False), Column("kind", Text, nullable=False), _note(), Column("temperature_c", Double),
        Column("humidity_pct", Double), **NEVER_REUSE,
    )
    Table(
        "corrections", tables, Column("id", Integer, primary_key=True), _to("fittings.id"), Column("field", Text, nullable=False),
        Column("before", Text), Column("after", Text), Column("date", Date, nullable=False),
        Column("why", Text, nullable=False, server_default=""), **NEVER_REUSE,
    )
    Table(
        "owner_settings", tables, Column("harp_id", Integer, ForeignKey("harps.id"), primary_key=True, autoincrement=False),
        Column("log_began", Date), Column("tolerance", JSON, nullable=False), Column("habits", JSON, nullable=False),
    )


def _to(target: str, *, nullable: bool = False) -> Column:
    name = target.split(".")[0].removesuffix("s") + "_id"
    return Column(name, Integer, ForeignKey(target), nullable=nullable, index=True)


def _note() -> Column:
    return Column("note", Text, nullable=False, server_default="")

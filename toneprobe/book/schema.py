"""The tables of a book, as of schema version `SCHEMA`. Changing them takes a step in `steps.py` and a new number here.

Portable SQL only: it must mean the same to SQLite and PostgreSQL. Where a value is stored whole as JSON, that counts; the columns beside it
are for reading the book without the tool.
"""

from sqlalchemy import CheckConstraint, Column, ForeignKey, Index, MetaData, Table, UniqueConstraint, false
from sqlalchemy.schema import SchemaItem

from toneprobe.book.columns import JSON, BigInteger, Boolean, Date, DateTime, Double, Integer, String, Text
from toneprobe.measure.figure import FIGURES

SCHEMA = 7

tables = MetaData()


def _numbered(name: str, *columns: SchemaItem) -> Table:
    """A table whose rows have numbers, none of which is given twice: a copy of the book and the book must mean the same thing by one."""
    return Table(name, tables, Column("id", Integer, primary_key=True), *columns, sqlite_autoincrement=True)


def _to(target: str, *, nullable: bool = False, unique: bool = False) -> Column:
    name = target.split(".")[0].removesuffix("s") + "_id"
    return Column(name, Integer, ForeignKey(target), nullable=nullable, unique=unique, index=not unique)


book = Table(
    "book",
    tables,
    Column("id", Integer, CheckConstraint("id = 1"), primary_key=True, autoincrement=False),
    Column("schema_version", Integer, nullable=False),
    Column("program", String(40), nullable=False),
    Column("created_at", String(40), nullable=False),
)

harps = _numbered(
    "harps",
    Column("name", Text, nullable=False, unique=True),
    Column("preset", Text),
    Column("tuning", Text),
    Column("a4_hz", Double, nullable=False),
    Column("instrument", JSON, nullable=False),
    Column("created_at", String(40), nullable=False),
)

fittings = _numbered(
    "fittings",
    _to("harps.id"),
    Column("string", Text, nullable=False),
    Column("fitted_on", Date),
    Column("removed_on", Date),
    Column("material", Text),
    Column("gauge_mm", Double),
    Column("supplier", Text),
    Column("batch", Text),
    Column("why_removed", Text),
    Column("broke_at", Text),
    Column("is_stand_in", Boolean, nullable=False, server_default=false()),
    Column("note", Text, nullable=False, server_default=""),
    Column("withdrawn_on", Date),  # this change never happened: the row stays, and counts for nothing
    Column("is_supposed", Boolean, nullable=False, server_default=false()),  # `fitted_on` is only supposed
    CheckConstraint("removed_on >= fitted_on", name="off_after_on"),
)
is_on = fittings.c.removed_on.is_(None)  # one position carries one string at a time
Index("one_string_on", fittings.c.harp_id, fittings.c.string, unique=True, sqlite_where=is_on, postgresql_where=is_on)

recordings = _numbered(
    "recordings",
    Column("sha256", String(64), nullable=False, unique=True),
    Column("file_name", Text, nullable=False),
    Column("duration_s", Double, nullable=False),
    Column("rate_hz", Integer, nullable=False),
    Column("channels", Integer, nullable=False),
    Column("codec", Text, nullable=False),
    Column("n_bytes", BigInteger, nullable=False),
    Column("quality", JSON, nullable=False),
)

sweeps = _numbered(
    "sweeps",
    _to("harps.id"),
    Column("date", Date, nullable=False),
    Column("is_fresh", Boolean, nullable=False),
    Column("tuning", Text),
    Column("a4_hz", Double, nullable=False),
    Column("instrument", JSON, nullable=False),
    Column("warnings", JSON, nullable=False),
    Column("clip_folder", Text),
    Column("created_at", String(40), nullable=False),
    Column("program", String(40), nullable=False),
    Column("schema_version", Integer, nullable=False),
    Column("remarks", JSON, nullable=False, server_default="[]"),  # `warnings` are their sentences
)

# A recording is measured once for each harp, whoever stores it first.
sweep_recordings = Table(
    "sweep_recordings",
    tables,
    Column("sweep_id", Integer, ForeignKey("sweeps.id"), primary_key=True),
    Column("place", Integer, primary_key=True, autoincrement=False),
    _to("recordings.id"),
    Column("harp_id", Integer, ForeignKey("harps.id"), nullable=False),
    UniqueConstraint("harp_id", "recording_id", name="once_for_each_harp"),
)

unheard = Table(
    "unheard",
    tables,
    Column("sweep_id", Integer, ForeignKey("sweeps.id"), primary_key=True),
    Column("string", Text, primary_key=True),
    Column("place", Integer, nullable=False),
)


plucks = _numbered(
    "plucks",
    _to("sweeps.id"),
    _to("recordings.id"),
    _to("fittings.id", nullable=True),
    Column("place", Integer, nullable=False),
    Column("is_fresh", Boolean, nullable=False),
    Column("string", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("onset_s", Double, nullable=False),
    Column("ring_s", Double),
    Column("snr_db", Double),
    Column("sureness", Double, nullable=False),
    *(Column(name, Double) for figure in FIGURES for name in (figure, figure + "_se")),
    Column("measurement", JSON, nullable=False),
    Column("clip", Text),
    Column("clip_gain", Double, nullable=False),
)

conditions = Table(
    "conditions",
    tables,
    Column("sweep_id", Integer, ForeignKey("sweeps.id"), primary_key=True),
    Column("string", Text, primary_key=True),
    Column("place", Integer, nullable=False),
    _to("fittings.id", nullable=True),
    Column("note", Text, nullable=False),
    Column("verdict", String(20), nullable=False),
    Column("dead_score", Double),
    Column("false_score", Double),
    Column("n_plucks", Integer, nullable=False),
    Column("reasons", JSON, nullable=False),
    Column("next_step", Text, nullable=False),
    Column("condition", JSON, nullable=False),
    Column("program", String(40), nullable=False),
)

# Pitch as found and as left: the checks of strings that settle, and of their neighbours.
pitch_readings = _numbered(
    "pitch_readings",
    _to("harps.id"),
    _to("fittings.id", nullable=True),
    _to("sweeps.id", nullable=True),
    Column("string", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("at", DateTime, nullable=False),
    Column("found_hz", Double),
    Column("found_hz_se", Double),
    Column("left_hz", Double),
    Column("left_hz_se", Double),
    Column("found_sha256", String(64)),
    Column("left_sha256", String(64)),
    UniqueConstraint("harp_id", "string", "at", name="one_check_at_a_time"),
)

# That a fitting was found settled, and whether its owner wants the next sweep to be its fresh baseline.
settled = _numbered(
    "settled",
    _to("fittings.id", unique=True),
    Column("string", Text, nullable=False),
    Column("settled_on", Date, nullable=False),
    Column("noted_on", Date, nullable=False),
    Column("creep_cents", Double),
    Column("baseline_next", Boolean, nullable=False, server_default=false()),
)

spares = _numbered(
    "spares",
    _to("harps.id", nullable=True),
    Column("string", Text, nullable=False),
    Column("material", Text),
    Column("gauge_mm", Double),
    Column("place", Text, nullable=False),
    Column("bought_on", Date),
    Column("supplier", Text),
    Column("batch", Text),
    Column("lead_time_days", Integer),
    Column("price", Text),
    Column("used_on", Date),
    _to("fittings.id", nullable=True),
    Column("note", Text, nullable=False, server_default=""),
)

events = _numbered(
    "events",
    _to("harps.id"),
    _to("sweeps.id", nullable=True),
    Column("date", Date, nullable=False),
    Column("kind", Text, nullable=False),
    Column("note", Text, nullable=False, server_default=""),
    Column("temperature_c", Double),
    Column("humidity_pct", Double),
)

# The trace of what was put right in the string log.
corrections = _numbered(
    "corrections",
    _to("fittings.id"),
    Column("field", Text, nullable=False),
    Column("before", Text),
    Column("after", Text),
    Column("date", Date, nullable=False),
    Column("why", Text, nullable=False, server_default=""),
)

# The owner's own figures for one harp; what is not set is as usual.
owner_settings = Table(
    "owner_settings",
    tables,
    Column("harp_id", Integer, ForeignKey("harps.id"), primary_key=True, autoincrement=False),
    Column("log_began", Date),
    Column("tolerance", JSON, nullable=False),
    Column("habits", JSON, nullable=False),
)

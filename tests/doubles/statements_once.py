"""What SQLAlchemy makes of a statement it keeps as long as a book is open; here for all books in SQLite of a process that tests."""

from sqlalchemy import create_engine

from toneprobe.book.convert import to_json


def engines_of_one_kind():
    """In the place of `create_engine` in `toneprobe.book.connect`: all engines for SQLite write their statements out as one."""
    first = create_engine("sqlite://", json_serializer=to_json)
    first.connect().close()  # it knows the database now
    first.dispose()

    def create(*arguments, **options):
        engine = create_engine(*arguments, **options)
        if engine.dialect.name == "sqlite":
            engine.dialect, engine._compiled_cache = first.dialect, first._compiled_cache
        return engine

    return create

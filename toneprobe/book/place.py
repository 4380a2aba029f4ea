"""Where the book lies: the argument, else TONEPROBE_BOOK, else the user's data folder. Loads no database library."""

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from toneprobe.errors import BookError
from toneprobe.phrases import count_of

DATABASE_FILE = "book.sqlite"
SETTINGS_FILE = "book.toml"  # present only where the tables lie in another database: database = "postgresql://…"
PLUCKS = "plucks"


def book_folder(argument: str | Path | None = None, *, environ: Mapping[str, str] = os.environ) -> Path:
    """The absolute folder of the book, which need not exist yet. Empty settings count as not given."""
    named = str(argument or "") or environ.get("TONEPROBE_BOOK", "")
    if named:
        return _absolute(Path(named))
    from platformdirs import user_data_path

    return _absolute(user_data_path("toneprobe", appauthor=False) / "book")


def is_book(folder: Path) -> bool:
    """Whether the folder holds a book's database, or the settings that name one elsewhere."""
    return (folder / DATABASE_FILE).is_file() or (folder / SETTINGS_FILE).is_file()


def require_book(folder: Path) -> Path:
    """The folder itself; BookError where no book lies in it."""
    with _readable(folder):
        if not folder.exists():
            first = "" if folder == book_folder(environ={}) else "if it was moved, or its disk is not connected, put that right; else "
            raise BookError(f"no book at {shown(folder)}: {first}make one with 'toneprobe new NAME'")
        if not folder.is_dir():
            raise BookError(f"{shown(folder)} is a file; a book is a folder")
        if not is_book(folder):
            raise BookError(_damage(folder) or f"{shown(folder)} is not a book: it holds no {DATABASE_FILE}")
    return folder


def require_room(folder: Path) -> Path:
    """The folder itself, fit to become a book: absent, empty but for hidden files, or a book already."""
    with _readable(folder):
        if folder.exists() and not folder.is_dir():
            raise BookError(f"{shown(folder)} is a file; a book is a folder")
        if folder.is_dir() and not is_book(folder) and any(not entry.name.startswith(".") for entry in folder.iterdir()):
            raise BookError(_damage(folder) or f"{shown(folder)} holds other things and is no book: name an empty or a new folder")
    return folder


def sounds_without_tables(folder: Path) -> str | None:
    """What to say of a book whose tables are gone or empty while the sounds of its sweeps are there; None where there are none."""
    plucks = folder / PLUCKS
    with _readable(folder):
        n_sweeps = sum(one.is_dir() and any(one.iterdir()) for one in plucks.iterdir()) if plucks.is_dir() else 0
    if not n_sweeps:
        return None
    return (f"the book {shown(folder)} is damaged: it holds the sounds of {count_of(n_sweeps, 'sweep')}, but nothing that was written of "
            "them. Put back a copy of the book; a new book goes into another folder")


def _damage(folder: Path) -> str | None:
    """What to say of a folder that is no book any more; None where nothing shows that it ever was one."""
    if os.path.lexists(folder / DATABASE_FILE):
        return f"the book {shown(folder)} is damaged: what is called {DATABASE_FILE} in it is no file. Put back a copy of the book"
    return sounds_without_tables(folder)


def shown(folder: Path) -> str:
    """A path on one line, whatever its name holds."""
    return str(folder) if str(folder).isprintable() else repr(str(folder))


@contextmanager
def _readable(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise BookError(f"{shown(folder)} cannot be read: {error.strerror or error}") from error


def _absolute(folder: Path) -> Path:
    try:
        return folder.expanduser().absolute()
    except (RuntimeError, OSError) as error:
        raise BookError(f"{shown(folder)} names no folder: {error}") from error

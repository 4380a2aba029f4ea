"""Where the book lies: the argument, else TONEPROBE_BOOK, else the user's data folder. Loads no database library."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from toneprobe.errors import BookError

DATABASE_FILE = "book.sqlite"
SETTINGS_FILE = "book.toml"  # present only where the tables lie in another database: database = "postgresql://…"
PLUCKS = "plucks"
REPORTS = "reports"
COPIES = "copies"


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
    if not folder.exists():
        raise BookError(f"no book at {_shown(folder)}: make one with 'toneprobe new NAME'")
    if not folder.is_dir():
        raise BookError(f"{_shown(folder)} is a file; a book is a folder")
    if not is_book(folder):
        raise BookError(f"{_shown(folder)} is not a book: it holds no {DATABASE_FILE}")
    return folder


def require_room(folder: Path) -> Path:
    """The folder itself, fit to become a book: absent, empty but for hidden files, or a book already."""
    if folder.exists() and not folder.is_dir():
        raise BookError(f"{_shown(folder)} is a file; a book is a folder")
    try:
        taken = folder.is_dir() and not is_book(folder) and any(not entry.name.startswith(".") for entry in folder.iterdir())
    except OSError as error:
        raise BookError(f"{_shown(folder)} cannot be read: {error.strerror}") from error
    if taken:
        raise BookError(f"{_shown(folder)} holds other things and is no book: name an empty or a new folder")
    return folder


def _absolute(folder: Path) -> Path:
    try:
        return folder.expanduser().absolute()
    except (RuntimeError, OSError) as error:
        raise BookError(f"{_shown(folder)} names no folder: {error}") from error


def _shown(folder: Path) -> str:
    """A path on one line, whatever its name holds."""
    return repr(str(folder)) if not str(folder).isprintable() else str(folder)

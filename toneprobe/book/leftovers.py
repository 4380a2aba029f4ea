"""Clip folders of sweeps, and what a power failure left of them and of files that were being written beside them.

A folder under plucks/ begins with the marker `.unfinished`, is filled, and loses the marker only after its sweep is committed. So after a
failure a marked folder that a sweep refers to is whole, and one that none refers to is rubbish. Clips without a marker are never touched,
not even where an older copy of the database was put back. Other files have another name until they are whole (`disk.whole_file`).
"""

import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path

from sqlalchemy import select

from toneprobe.book.connect import Book, writing
from toneprobe.book.disk import PART, sync
from toneprobe.book.schema import sweeps
from toneprobe.errors import BookError

MARKER = ".unfinished"


@contextmanager
def clip_folder(book: Book, day: date) -> Iterator[Path]:
    """A new marked folder for one sweep's clips; gone again on any error. Use within `writing`, `finish` after it (`when_kept`)."""
    folder = book.plucks / f"{day.isoformat()}-{secrets.token_hex(4)}"
    folder.mkdir(parents=True)
    (folder / MARKER).touch()
    settle_folder(folder)
    try:
        yield folder
    except BaseException:
        remove(folder)
        raise


def settle_folder(folder: Path) -> None:
    """Wait until the folder's names, and its own name, are on the disk."""
    for path in (folder, folder.parent, folder.parent.parent):
        sync(path)


def finish(folder: Path) -> None:
    """Take the marker away (and the folder where no clip was kept); where that fails, the next opening does it."""
    with suppress(OSError):
        (folder / MARKER).unlink(missing_ok=True)
        if not any(folder.iterdir()):
            folder.rmdir()


def remove(folder: Path) -> None:
    """Delete a marked folder, the marker last."""
    with suppress(OSError):
        for path in folder.iterdir():
            if path.name != MARKER:
                path.unlink()
        shutil.rmtree(folder)


def clear_leftovers(book: Book) -> None:
    """Finish or remove what was left half done. Does nothing while another program writes, or where the folder is read-only."""
    if not _begun(book) and not _half_written(book):
        return
    with suppress(BookError), writing(book, patient=False) as connection:
        kept = set(connection.scalars(select(sweeps.c.clip_folder)))
        for folder in _begun(book):
            finish(folder) if folder.name in kept else remove(folder)
        for path in _half_written(book):
            with suppress(OSError):
                path.unlink()


def _begun(book: Book) -> list[Path]:
    """Folders with the marker, or with nothing in them yet."""
    try:
        folders = [folder for folder in book.plucks.iterdir() if folder.is_dir()]
        return [folder for folder in folders if (folder / MARKER).exists() or not any(folder.iterdir())]
    except OSError:
        return []


def _half_written(book: Book) -> list[Path]:
    """Files that were not whole yet, and what SQLite keeps beside such a one."""
    with suppress(OSError):
        return [path for folder in (book.copies, book.withdrawn) for path in folder.glob("*.part*")
                if path.suffix in (PART, f"{PART}-journal")]
    return []

"""Written and really on the disk: what a power failure must not undo."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

PART = ".part"  # the ending of a file that is not whole yet


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Yield a path to write to; what was written is on the disk under its own name afterwards, whole or not at all. Makes the folder."""
    path.parent.mkdir(exist_ok=True)
    part = path.with_suffix(PART)
    try:
        yield part
        sync(part)
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    sync(path.parent)


def sync(path: Path) -> None:
    """Wait until a file, or a folder's list of names, is on the disk."""
    if path.is_dir() and os.name == "nt":
        return  # Windows has no handle to do it with; its file system journals names itself
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)

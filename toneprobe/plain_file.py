"""Files that somebody names: opened only where they are plain files, for a device or a pipe may never end; written whole or not at all."""

import errno
import os
import stat
import tempfile
from pathlib import Path
from typing import BinaryIO


def open_plain(path: Path) -> BinaryIO:
    """Open for reading. OSError, with the reason as its `strerror`, for what is no plain file or cannot be read; it never waits."""
    mode = os.stat(path).st_mode
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, "it is a folder", str(path))
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, "it is not a file", str(path))
    return open(path, "rb")


def read_octets(path: Path, *, most: int) -> bytes | None:
    """All octets of a plain file, None where it holds more than `most` of them. OSError as of `open_plain`."""
    with open_plain(path) as file:
        octets = file.read(most + 1)
    return octets if len(octets) <= most else None


def write_whole(octets: bytes, path: Path) -> None:
    """Write them under that name. OSError where it cannot be; an older file then stays as it was, and nothing is left beside it."""
    path = Path(os.path.realpath(path))
    if path.exists() and not path.is_file():
        path.write_bytes(octets)  # a device or a pipe
        return
    handle, part = part_beside(path)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(octets)
        os.chmod(part, path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
        os.replace(part, path)
    except BaseException:
        os.unlink(part)
        raise


def part_beside(path: Path) -> tuple[int, str]:
    """A new hidden file in the folder of that one, open for writing: its handle and its name."""
    return tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".part", dir=path.parent)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask

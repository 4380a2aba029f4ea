"""Files that somebody names, opened only where they are plain files: a device or a pipe may have no end, or never begin."""

from __future__ import annotations

import errno
import os
import stat
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

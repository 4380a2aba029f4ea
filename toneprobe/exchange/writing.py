"""Text to a file, whole or not at all; "-" is standard output."""

from __future__ import annotations

import json
import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from errno import EISDIR
from pathlib import Path
from typing import Any

from toneprobe.errors import ToneprobeError, printable

STDOUT = "-"


def write_json(document: dict[str, Any], target: str) -> None:
    """One object, indented, in ASCII (other characters as escapes, so that it survives any terminal and pipe)."""
    write_text(json.dumps(document, indent=1, allow_nan=False) + "\n", target)


def write_text(text: str, target: str) -> None:
    """UTF-8, line ends as they are. ToneprobeError where the file cannot be written; an older file then stays as it was."""
    if target == STDOUT:
        sys.stdout.write(text)
        sys.stdout.flush()
        return
    write_octets(text.encode("utf-8"), target)


def write_octets(octets: bytes, target: str) -> None:
    """The same for what is no text, or whose line ends and encoding are fixed; to a file only."""
    with _plain_reason(target):
        _write_file(octets, Path(target))


def require_targets(*targets: str | None) -> None:
    """ToneprobeError, as of `write_text`, where one of these cannot be written: asked before there is anything to write. None is no target.

    Nothing is left there, and a file that is there stays as it is.
    """
    for target in targets:
        if target is not None and target != STDOUT:
            with _plain_reason(target):
                _try_place(Path(os.path.realpath(target)))


@contextmanager
def _plain_reason(target: str) -> Iterator[None]:
    try:
        yield
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ToneprobeError(f"{printable(target, most=200)} cannot be written: {reason}") from error


def _try_place(path: Path) -> None:
    if path.is_dir():
        raise IsADirectoryError(EISDIR, os.strerror(EISDIR))
    if not path.exists() or path.is_file():  # not a device or a pipe
        handle, part = _part_beside(path)
        os.close(handle)
        os.unlink(part)


def _part_beside(path: Path) -> tuple[int, str]:
    return tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".part", dir=path.parent)


def _write_file(octets: bytes, path: Path) -> None:
    path = Path(os.path.realpath(path))
    if path.exists() and not path.is_file():
        path.write_bytes(octets)  # a device or a pipe
        return
    handle, part = _part_beside(path)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(octets)
        os.chmod(part, path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
        os.replace(part, path)
    except BaseException:
        os.unlink(part)
        raise


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask

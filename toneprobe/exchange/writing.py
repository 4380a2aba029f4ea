"""Text to a file, whole or not at all; "-" is standard output. Over an older file of the kind, but never over a recording or a book."""

import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from errno import EEXIST, EISDIR
from pathlib import Path
from typing import Any

from toneprobe.errors import ToneprobeError, printable
from toneprobe.plain_file import open_plain, part_beside, write_whole

STDOUT = "-"
OWN_PICTURES = (b"\x89PNG", b"%PDF")  # how the files begin that are written here and are no text
LOOKED_AT = 4096  # octets of a file: recordings, databases and spreadsheets have a zero among the first


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
        _refuse_foreign(Path(target))
        write_whole(octets, Path(target))


def require_targets(*targets: str | None) -> None:
    """ToneprobeError, as of `write_text`, where one of these cannot be written; None is no target. It leaves nothing behind."""
    for target in targets:
        if target is None or target == STDOUT:
            continue
        with _plain_reason(target):
            path = Path(os.path.realpath(target))
            if path.is_dir():
                raise IsADirectoryError(EISDIR, os.strerror(EISDIR))
            _refuse_foreign(path)
            if not path.exists() or path.is_file():  # not a device or a pipe
                handle, part = part_beside(path)
                os.close(handle)
                os.unlink(part)


@contextmanager
def _plain_reason(target: str) -> Iterator[None]:
    try:
        yield
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ToneprobeError(f"{printable(target, most=200)} cannot be written: {reason}") from error


def _refuse_foreign(path: Path) -> None:
    """FileExistsError where what lies there is neither text nor a picture: nothing written here, and perhaps there only once."""
    if not path.is_file():
        return
    with open_plain(path) as file:
        begins = file.read(LOOKED_AT)
    if b"\0" in begins and not begins.startswith(OWN_PICTURES):
        raise FileExistsError(EEXIST, "a recording, a book or another file that is no text lies there. Give another name")

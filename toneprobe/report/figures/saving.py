"""Pictures as files: PNG, SVG or PDF. The same figure gives the same bytes: no dates, no random names inside."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import matplotlib
from matplotlib.figure import Figure

from toneprobe.errors import UsageError

FORMATS = {".png": {"Software": None}, ".svg": {"Date": None, "Creator": None},
           ".pdf": {"CreationDate": None, "Creator": None, "Producer": None}}
SETTINGS = {"svg.fonttype": "none", "svg.hashsalt": "toneprobe", "pdf.fonttype": 42}
DPI = 144


@contextmanager
def letters_of_all_kinds() -> Iterator[None]:
    """Without a warning for each letter of a string's own name that the font of the pictures lacks: a page shows it in the reader's."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", r"Glyph \d+ .* missing from", UserWarning)
        yield


def save_figure(figure: Figure, path: str | Path) -> None:
    """Write the figure in the format that the path's ending names. UsageError for another ending."""
    ending = Path(path).suffix.lower()
    if ending not in FORMATS:
        raise UsageError(f"{Path(path).name}: a picture ends in .png, .svg or .pdf")
    Path(path).write_bytes(figure_bytes(figure, ending))


def figure_bytes(figure: Figure, ending: str) -> bytes:
    """The figure as the bytes of a file on white paper; `ending` is .png, .svg or .pdf."""
    target = io.BytesIO()
    with matplotlib.rc_context(SETTINGS), letters_of_all_kinds():
        figure.savefig(target, format=ending[1:], dpi=DPI, facecolor="white", metadata=FORMATS[ending])
    return target.getvalue()

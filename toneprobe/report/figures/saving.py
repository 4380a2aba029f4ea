"""Pictures as files: PNG, SVG or PDF. The same figure gives the same bytes: no dates, no random names inside."""

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from xml.sax.saxutils import escape

import matplotlib
from matplotlib.figure import Figure

from toneprobe.plain_file import write_whole

FORMATS = {".png": {"Software": None}, ".svg": {"Date": None, "Creator": None},
           ".pdf": {"CreationDate": None, "Creator": None, "Producer": None}}
WORDS_KEY = {".png": "Description", ".svg": "Description", ".pdf": "Subject"}
SETTINGS = {"svg.fonttype": "none", "svg.hashsalt": "toneprobe", "pdf.fonttype": 42}
DPI = 144


@contextmanager
def letters_of_all_kinds() -> Iterator[None]:
    """No warning for a letter that the pictures' font lacks, in a string's own name: a page shows it in the reader's font."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", r"Glyph \d+ .* missing from", UserWarning)
        yield


def save_figure(figure: Figure, path: str | Path, *, title: str = "", words: str = "") -> None:
    """Write the figure in the format of the path's ending, as `figure_bytes` makes it."""
    write_whole(figure_bytes(figure, Path(path).suffix.lower(), title=title, words=words), Path(path))


def figure_bytes(figure: Figure, ending: str, *, title: str = "", words: str = "") -> bytes:
    """The figure on white as the bytes of a file; `ending` is .png, .svg or .pdf. Title and words go into its metadata, for those who do
    not see it: in an SVG as <title> and <desc>."""
    told = {"Title": title, WORDS_KEY[ending]: words} if title else {}
    target = io.BytesIO()
    with matplotlib.rc_context(SETTINGS), letters_of_all_kinds():
        figure.savefig(target, format=ending[1:], dpi=DPI, facecolor="white", metadata=FORMATS[ending] | told)
    made = target.getvalue()
    if title and ending == ".svg":
        return made.replace(b"</title>", f"</title>\n <desc>{escape(words)}</desc>".encode(), 1)
    return made

"""Pictures in files of their own, each with its title and what it shows in words."""

from pathlib import Path

from toneprobe.plain_file import write_whole
from toneprobe.report.figures import harp_picture, save_figure, string_picture
from toneprobe.report.figures.saving import figure_bytes
from toneprobe.report.picture_words import harp_words, picture_title, string_words
from toneprobe.report.string_view import StringView
from toneprobe.report.view import SweepView


def save_harp(view: SweepView, path: str | Path) -> None:
    """The whole harp, as PNG, SVG or PDF by the path's ending."""
    write_whole(harp_file(view, Path(path).suffix.lower()), Path(path))


def harp_file(view: SweepView, ending: str) -> bytes:
    return figure_bytes(harp_picture(view), ending, title=picture_title(view), words=harp_words(view))


def save_string(view: SweepView, one: StringView, path: str | Path) -> None:
    """The four pictures of one string, likewise."""
    save_figure(string_picture(view, one.name), path, title=picture_title(view, one.name), words=string_words(one))

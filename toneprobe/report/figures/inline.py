"""A figure as SVG inside a page: small, with ids that occur once, coloured by the page's style sheet, labelled for screen readers."""

import io
import re
from functools import lru_cache
from xml.sax.saxutils import quoteattr

import matplotlib
from matplotlib.backends.backend_svg import RendererSVG
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

from toneprobe.report.figures.look import ROLES
from toneprobe.report.figures.saving import SETTINGS, letters_of_all_kinds

UNITS_PER_INCH = 72.0
_PROLOGUE = re.compile(r"^.*?<svg [^>]*?viewBox=\"([^\"]*)\"[^>]*>", re.DOTALL)
_METADATA = re.compile(r"<metadata>.*?</metadata>|<style type=\"text/css\">.*?</style>|<!--.*?-->", re.DOTALL)
_EMPTY_DEFS = re.compile(r"<defs>\s*</defs>")
_ID = re.compile(r' id="([^"]*)"')
_REFERENCE = re.compile(r'(href="#|url\(#)([^")]*)')
_LONG_NUMBER = re.compile(r"(\d+\.\d)\d+")
_WHOLE = re.compile(r"(\d)\.0(?!\d)")
_FAMILY = re.compile(r"font-family: [^;\"]*(?:; )?")  # the page's own
_FONT = re.compile(r"font: ([0-9.]+)px [^;\"]*")
_DEFAULT = re.compile(r"; stroke-linejoin: miter|; stroke-dashoffset: 0(?![.\d])|<g></g>")
_UNTURNED = re.compile(r' transform="rotate\(-?0 [^"]*"')
_LINE_END = re.compile(r" ?\n([A-Za-z\"])")  # of a path: a letter needs no blank before it
_LONE = re.compile(r"<g>(<[^<>]*/>|<text[^<>]*>[^<>]*</text>)</g>")  # a group of one, without a word of its own
_INVISIBLE = re.compile(r'<path d="[^"]*" style="fill: none"/>')  # the figure's own ground
_MARK = re.compile(r'(<use href="#([^"]*)"[^<>]*?) style="([^"]*)"/>')
_MARK_SHAPE = re.compile(r'(<path id="([^"]*)" d="[^"]*") style="[^"]*"')
_SPACE = re.compile(r">\s+<")
_COLOUR = re.compile("|".join(ROLES))


class _PageRenderer(RendererSVG):
    """Measures each text once: a page of 47 strings writes the same months, ticks and titles a hundred times."""

    def get_text_width_height_descent(self, s, prop, ismath):
        return _extent(s, prop.copy(), ismath)


@lru_cache(maxsize=4096)
def _extent(text: str, font: FontProperties, is_math: bool) -> tuple[float, float, float]:
    return text_to_path.get_text_width_height_descent(text, font, is_math)


def inline_svg(figure: Figure, label: str, prefix: str) -> str:
    """The figure as an <svg> element. `label` says in words what it shows; `prefix` keeps its inner names apart from other pictures'."""
    with matplotlib.rc_context(SETTINGS):
        return svg_of(figure, label, prefix)


def svg_of(figure: Figure, label: str, prefix: str) -> str:
    """The same for a caller that has set matplotlib to `saving.SETTINGS` for many figures."""
    target = io.StringIO()
    width, height = figure.get_size_inches() * UNITS_PER_INCH
    renderer = _PageRenderer(width, height, target, metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    with letters_of_all_kinds():
        figure.draw(renderer)
    renderer.finalize()
    text = target.getvalue()
    view_box = _PROLOGUE.match(text)[1]
    body = _short(_PROLOGUE.sub("", text), prefix)
    return f'<svg viewBox="{view_box}" role="img" aria-label={quoteattr(label)}>{body}'


def _short(body: str, prefix: str) -> str:
    body = _INVISIBLE.sub("", _METADATA.sub("", body)).replace("xlink:href", "href")  # as every browser reads it
    used = {match[2] for match in _REFERENCE.finditer(body)}
    body = _ID.sub(lambda match: f' id="{prefix}-{match[1]}"' if match[1] in used else "", body)
    body = _REFERENCE.sub(lambda match: f"{match[1]}{prefix}-{match[2]}", body)
    body = _FONT.sub(lambda match: f"font-size: {match[1]}px", _FAMILY.sub("", body))
    body = _DEFAULT.sub("", _UNTURNED.sub("", body))
    body = _WHOLE.sub(r"\1", _LONG_NUMBER.sub(r"\1", body))
    body = _COLOUR.sub(lambda match: f"var(--{ROLES[match[0]]})", body)
    body = _looks_once(body)
    body = _LINE_END.sub(r"\1", _SPACE.sub("><", _EMPTY_DEFS.sub("", body)))
    return _LONE.sub(r"\1", body).strip()


def _looks_once(body: str) -> str:
    """The style of a mark is moved from each of its points to its shape, which is there once."""
    looks = {name: look for _, name, look in _MARK.findall(body)}
    shaped = _MARK_SHAPE.sub(lambda match: f'{match[1]} style="{looks[match[2]]}"' if match[2] in looks else match[0], body)
    return _MARK.sub(r"\1/>", shaped)

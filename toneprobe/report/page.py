"""One self-contained HTML file: no network, no cookies, opens from a mail or a phone, prints.

The same view gives the same text, but for the day of making, `made_on`. Jinja2 escapes every name. A content security policy inside the
page forbids every request and every script but the page's own.
"""

import base64
import hashlib
import re
from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache
from importlib.resources import files
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from toneprobe.commands import for_harp
from toneprobe.condition import VERDICTS
from toneprobe.condition.next_steps import cautions_of
from toneprobe.condition.verdict import CONDEMNING
from toneprobe.days import MONTHS, day_text
from toneprobe.limits import ERRORS_TOLD
from toneprobe.measure.figure import Figure
from toneprobe.phrases import as_string, capital
from toneprobe.plain_file import write_whole
from toneprobe.report.compare import ComparisonView
from toneprobe.report.figures import MIDDLE, NARROW, WIDE, harp_alone, inline_svg, lanes_picture, season_picture, tall_lanes_picture
from toneprobe.report.glossary import FINE_BUT_FELL, MEANINGS, PARTIALS, PLUS_MINUS, TWO_PLUCKS, WORDS_HERE, verdict_word
from toneprobe.report.life import LifeView
from toneprobe.report.marks import mark_svg, mark_symbols
from toneprobe.report.panels import anchor, lost_words, panels
from toneprobe.report.picture_words import harp_words, lanes_words
from toneprobe.report.season import SeasonView
from toneprobe.report.technician import TechnicianView
from toneprobe.report.view import SweepView
from toneprobe.report.words import sentence, signed, told_change
from toneprobe.typed import seen

_BEFORE_UNIT = re.compile(rf"(?<=\d) (?=(?:%|s|Hz|cents|dB|×|±|{'|'.join(MONTHS)})(?![A-Za-z]))|(?<=±) (?=\d)|"
                          r"(?:(?<=\bA)|(?<=artial)) (?=\d)")
_BEFORE_COUNTED = re.compile(r"(?<=\d) (?=[a-z])")


def sweep_page(view: SweepView, *, made_on: date | None = None, home: str = "", lives: Mapping[str, str] | None = None,
               since: str = "") -> str:
    """The condition report of one sweep. Files beside it: `home`, the first page; `lives`, the pages of single strings by name. `since`:
    what was changed after the sweep."""
    verdicts = {one.verdict for one in view.strings}
    made = panels(view.strings)
    notes = [text for text in (*(one.text for one in view.warnings), lost_words(made)) if text]
    return _render("sweep.html", made_on, home=home, lives=lives or {}, view=view, since=since, notes=notes, harp=_harp_pictures(view),
                   lanes=_lane_pictures(view), panels={panel.one.name: panel for panel in made},
                   meanings={verdict: MEANINGS[verdict] for verdict in VERDICTS if verdict in verdicts})


def comparison_page(view: ComparisonView, *, made_on: date | None = None, home: str = "", lives: Mapping[str, str] | None = None) -> str:
    """Two sweeps, string by string. `home`, `lives`: as of `sweep_page`."""
    return _render("compare.html", made_on, home=home, lives=lives or {}, view=view, cautions=view.after.cautions)


def life_page(view: LifeView, *, made_on: date | None = None, home: str = "") -> str:
    """One string's life, with its pictures and sounds."""
    cautions = cautions_of(view.word) if (view.standing in CONDEMNING and not view.new_since) or view.breaks else ()
    return _render("life.html", made_on, home=home, view=view, panel=panels([view.latest])[0], cautions=cautions)


def season_page(view: SeasonView, *, made_on: date | None = None, home: str = "", lives: Mapping[str, str] | None = None) -> str:
    """Which strings aged and which were changed between two days. `home`, `lives`: as of `sweep_page`."""
    words = f"Verdict of each sweep for each string. {view.headline}"
    pictures = {name: Markup(inline_svg(season_picture(view, layout.width), words, f"season-{name}"))
                for name, layout in (("wide", MIDDLE), ("narrow", NARROW))}
    is_due = any(one.last and one.last.verdict in CONDEMNING for one in view.strings)
    return _render("season.html", made_on, home=home, lives=lives or {}, view=view, pictures=pictures,
                   cautions=cautions_of(view.word) if is_due else ())


def technician_page(view: TechnicianView, *, made_on: date | None = None, home: str = "") -> str:
    """What is not a string's fault, for the technician."""
    return _render("technician.html", made_on, home=home, view=view)


def index_page(view: SweepView, pages: Mapping[str, Sequence[tuple[str, str]]], *, made_on: date | None = None, since: str = "") -> str:
    """The first page: the latest sweep's headline, what was changed since, its harp, and under headings the other pages, each (title, file
    name)."""
    return _render("index.html", made_on, view=view, since=since, harp=_harp_pictures(view), pages=pages)


def _harp_pictures(view: SweepView) -> dict[str, Markup]:
    """The harp at the three widths of the style sheet."""
    words, layouts = harp_words(view), {"wide": WIDE, "middle": MIDDLE, "narrow": NARROW}
    return {name: Markup(inline_svg(harp_alone(view, layout), words, f"harp-{name}")) for name, layout in layouts.items()}


def _lane_pictures(view: SweepView) -> dict[str, Markup]:
    """Every string against fresh, likewise; empty where none can be compared."""
    drawn = {"wide": lanes_picture(view, WIDE), "middle": lanes_picture(view, MIDDLE), "narrow": tall_lanes_picture(view)}
    return {name: Markup(inline_svg(figure, lanes_words(view), f"lanes-{name}")) for name, figure in drawn.items() if figure}


def for_harp_page(page: str, option: str) -> str:
    """The page with the option that names the harp in every command on it, for a book of several; "" for none."""
    return for_harp(page, str(escape(option)))


def write_page(page: str, path: str | Path) -> None:
    """Write a page as UTF-8 with plain line ends, whole or not at all."""
    write_whole(page.encode("utf-8"), Path(path))


def _render(template: str, made_on: date | None, home: str = "", **values) -> str:
    page = _environment().get_template(template)
    return page.render(made_on=day_text(made_on) if made_on else "", home=home, style=Markup(_text("style.css")),
                       script=Markup(_text("page.js")), policy=_policy(), marks=Markup(mark_symbols()), **values)


@cache
def _environment() -> Environment:
    environment = Environment(loader=PackageLoader("toneprobe.report"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
                              lstrip_blocks=True, finalize=_as_seen)
    environment.globals.update(mark=lambda verdict: Markup(mark_svg(verdict)), anchor=anchor, told_change=told_change,
                               cents_change=cents_change_text, partials=PARTIALS, plus_minus=PLUS_MINUS, two_plucks=TWO_PLUCKS,
                               words_here=WORDS_HERE, verdict_word=verdict_word, fine_but_fell=FINE_BUT_FELL)
    environment.filters.update(day=day_text, glue=glued, heading=heading, svg=Markup, sentence=sentence, capital=capital,
                               number=number_or_dash, called=as_string)
    return environment


def _as_seen(value: object) -> object:
    """Typed text without signs that would turn its line around; markup of ours is left as it is."""
    return seen(value) if isinstance(value, str) and not isinstance(value, Markup) else value


def glued(text: str) -> str:
    """Numbers and units on one line, as are a day and its month."""
    return _BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", text)


def heading(text: str) -> str:
    """The same for a heading, with a number and what it counts on one line too."""
    return _BEFORE_COUNTED.sub("\N{NO-BREAK SPACE}", glued(text))


def number_or_dash(value: float | None, digits: int) -> str:
    return "–" if value is None else f"{value:z.{digits}f}".replace("-", "−")  # z: no −0.0


def cents_change_text(change: Figure) -> str:
    """A difference of two pitches in cents, with two standard errors: "−1.2 ± 0.4"."""
    if change.value is None:
        return "–"
    return f"{signed(change.value, 1)}{f' ± {ERRORS_TOLD * change.se:.1f}' if change.se is not None else ''}"


def _policy() -> str:
    """Nothing may be loaded from outside the file, and no other script may run."""
    digest = base64.b64encode(hashlib.sha256(_text("page.js").encode()).digest()).decode()
    return (f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'; media-src data: blob:; img-src data:; "
            "base-uri 'none'; form-action 'none'")


@cache
def _text(name: str) -> str:
    return (files("toneprobe.report") / "templates" / name).read_text(encoding="utf-8")

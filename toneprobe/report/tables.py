"""A sweep on a terminal of 80 columns: headline, warnings, what needs attention, a table of every string, and cautions.

Names and reasons are printed as they are, never read as rich's markup, and in ASCII on a terminal that knows no more.
"""

from collections.abc import Iterable, Iterator, Sequence

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.padding import Padding
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from toneprobe.phrases import capital, count_of
from toneprobe.report.glossary import FINE_BUT_FELL, OWN_DOUBT, PARTIALS, PLUS_MINUS
from toneprobe.report.string_view import StringView
from toneprobe.report.view import SweepView
from toneprobe.report.words import plain_text, sentence, told_change

STYLES = {"false": "bold magenta", "dead": "bold red", "watch": "yellow", "settling": "cyan", "unsure": "cyan", "unrated": "dim",
          "unheard": "dim", "sound": ""}
COLUMNS = (("string", "left", 6), ("note", "left", 5), ("verdict", "left", 8), ("ring", "right", 12), ("bright", "right", 12),
           ("cents off", "right", 10), ("plucks", "right", 6))  # heading, side, least width where all are shown
DROPPED_FIRST = (6, 1, 5, 4)  # on a narrow terminal: plucks, then note, cents off and brightness
OCTAVE_WIDTH = len("Octave 0")
MOST_ON_SCREEN = 12  # strings of a list on a terminal; the table, or the page, has them all


def print_report(view: SweepView, console: Console, *, since: str = "") -> None:
    """Print the whole report to a terminal, a file or a string. since: what was changed after the sweep."""
    console.print(_AsciiWhereNeeded(Group(*_report(view, since))))


def _report(view: SweepView, since: str) -> Iterator[RenderableType]:
    yield Text(f"{view.harp} · sweep of {view.day}", style="dim")
    yield Text(view.headline, style="bold")
    yield from (Text(told) for told in (view.fresh_anew, view.named, view.standing, since, view.left_open) if told)
    yield Text(view.subline, style="dim")
    for part in (_warnings(view), _attention(view), _on_the_way(view), _fell_alone(view), _not_judged(view)):
        yield from part
    yield Text()
    yield condition_table(view)
    yield Text(_what_doubt_is(view), style="dim")
    if why := _why_no_brightness(view):
        yield Text(why)
    if any("artial" in reason for one in view.strings if one.verdict not in ("sound", "unrated") for reason in one.condition.reasons):
        yield Text(f"Partials are {PARTIALS}.", style="dim")
    if view.cautions:
        yield Text()
        yield Text("Before you change a string", style="bold")
        yield _bullets(view.cautions)


def _what_doubt_is(view: SweepView) -> str:
    """What ± means; without a word on changes where none is shown, as in a fresh sweep."""
    return PLUS_MINUS if any(one.ring.known or one.brightness.known for one in view.strings) else f"{OWN_DOUBT}."


def _why_no_brightness(view: SweepView) -> str:
    """The reason why the column of brightness is empty, where it is one for all strings that were compared."""
    changes = [one.condition.changes["brightness"] for one in view.strings if "brightness" in one.condition.changes]
    reasons = {change.reason for change in changes}
    if not changes or any(change.known for change in changes) or len(reasons) > 1:
        return ""
    return f"Brightness was not compared: {reasons.pop().removesuffix('.')}."


def condition_table(view: SweepView) -> RenderableType:
    """Every string with its note, verdict, ring and brightness against fresh, and pitch, grouped by octave."""
    return _AsciiWhereNeeded(_ResponsiveTable(view))


def _warnings(view: SweepView) -> Iterator[RenderableType]:
    if view.warnings:
        yield Text()
    for one in view.warnings:
        yield Text(f"Note: {one.text}")


def _attention(view: SweepView) -> Iterator[RenderableType]:
    """False, dead and watch, worst first, each with its reasons; then the next steps, each once for all strings that it concerns."""
    if view.attention:
        yield Text()
        yield Text("Needs attention", style="bold")
    if view.order:
        yield Text(sentence(view.order), style="dim")
    for one in view.attention[:MOST_ON_SCREEN]:
        known = "  ".join(part for part in (one.sureness, one.material) if part)
        yield Text.assemble("  ", (f"{one.title}  {one.verdict}", STYLES[one.verdict]), (f"  {known}" if known else "", "dim"))
        why = " ".join([*map(sentence, one.condition.reasons), *([one.outlook] if one.verdict == "watch" and one.outlook else [])])
        if why:
            yield _indented(why)
    if len(view.attention) > MOST_ON_SCREEN:
        yield Text(f"  … and {len(view.attention) - MOST_ON_SCREEN} more, in the table below.", style="dim")
    for step in view.steps:
        yield Text(f"Next for {step.names}:")
        yield _indented(sentence(step.text))
    if view.what_next:
        yield Text(view.what_next)


def _on_the_way(view: SweepView) -> Iterator[RenderableType]:
    if view.on_the_way:
        yield Text()
    for one in view.on_the_way:
        yield Text(f"Fine, but on the way: {one.title}")
        yield _indented(one.outlook)


def _fell_alone(view: SweepView) -> Iterator[RenderableType]:
    if view.fell_alone:
        yield Text()
    for one in view.fell_alone:
        yield Text(f"{FINE_BUT_FELL}: {one.title}")
        yield _indented(one.condition.reasons[0])
        yield _indented(one.next_step)


def _not_judged(view: SweepView) -> Iterator[RenderableType]:
    """Each group with its reasons, if it has any of its own, and its remedy."""
    if view.not_judged:
        yield Text()
    for group in view.not_judged:
        yield Text(f"{capital(group.words)}: {group.names}")
        yield from (_indented(f"{names}: {text}") for names, text in group.reasons[:MOST_ON_SCREEN])
        if len(group.reasons) > MOST_ON_SCREEN:
            yield _indented(f"… and {len(group.reasons) - MOST_ON_SCREEN} more.")
        yield _indented(group.remedy)


class _ResponsiveTable:
    """The table in as many whole columns as the terminal has room for, and a line on those left out. Where most strings were not heard it
    has only the others."""

    def __init__(self, view: SweepView) -> None:
        self.view = view

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        n_all, n_unheard = len(self.view.strings), sum(one.state == "unheard" for one in self.view.strings)
        hides_unheard = n_all > n_unheard > n_all / 2
        rows = [(octave, [_cells(one) for one in octave.strings if not (hides_unheard and one.state == "unheard")])
                for octave in self.view.octaves]
        shown = _columns_for(options.max_width, [cells for _, of_octave in rows for cells in of_octave])
        table = Table(box=None, padding=(0, 1, 0, 0), header_style="dim", pad_edge=False)
        for place in shown:
            label, justify, least = COLUMNS[place]
            table.add_column(label, justify=justify, min_width=least if len(shown) == len(COLUMNS) else None, overflow="fold")
        for octave, of_octave in rows:
            if of_octave:
                table.add_row(Text(octave.title, style="dim"))
            for cells in of_octave:
                table.add_row(*(cells[place] for place in shown))
        yield table
        if hides_unheard:
            yield Text(f"Left out: {count_of(n_unheard, 'string')} not heard.", style="dim")
        if left := [COLUMNS[place][0] for place in range(len(COLUMNS)) if place not in shown]:
            yield Text(f"Left out, for want of room: {', '.join(left)}. A wider window shows more.", style="dim")


def _columns_for(width: int, rows: Sequence[Sequence[Text]]) -> list[int]:
    """The places of the columns that fit side by side: always string, verdict and ring."""
    shown = list(range(len(COLUMNS)))
    widths = [max([len(COLUMNS[place][0]), *(cells[place].cell_len for cells in rows)]) for place in shown]
    widths[0] = max(widths[0], OCTAVE_WIDTH)
    if sum(max(one, least) for one, (_, _, least) in zip(widths, COLUMNS, strict=True)) + len(COLUMNS) - 1 <= width:
        return shown
    for dropped in DROPPED_FIRST:
        shown.remove(dropped)
        if sum(widths[place] for place in shown) + len(shown) - 1 <= width:
            break
    return shown


class _AsciiWhereNeeded:
    """What it holds, in ASCII on terminals that show no more."""

    def __init__(self, inner: RenderableType) -> None:
        self.inner = inner

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        for segment in console.render(self.inner, options):
            yield Segment(plain_text(segment.text), segment.style, segment.control) if options.ascii_only else segment


def _cells(one: StringView) -> list[Text]:
    style = STYLES[one.verdict]
    off = next((row.now for row in one.rows if row.key == "cents_off"), "–")
    cells = [Text(f"  {one.name}", style=style), Text(one.note), Text(one.word, style=style)]
    return cells + [Text(text) for text in (one.ring_told, told_change(one.verdict, one.brightness), off, str(one.condition.n_plucks))]


def _bullets(texts: Iterable[str]) -> RenderableType:
    """A list with hanging indents."""
    listed = Table.grid()
    for text in texts:
        listed.add_row(Text("  - "), Text(text))
    return listed


def _indented(text: str) -> Padding:
    return Padding(Text(text), (0, 0, 0, 4))

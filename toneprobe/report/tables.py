"""Tables for a terminal of 80 columns. Every function takes a view and gives something that rich prints.

    condition_table(view)     every string, grouped by octave
    attention_list(view)      what wants doing, worst first, with reasons and next steps
    report_text(view)         headline, warnings, attention list, table and cautions, one after the other
    print_report(view, console)

Names and reasons are printed as they are, never read as rich's markup. Where the terminal knows only ASCII, so does the text.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.padding import Padding
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from toneprobe.phrases import capital, count_of
from toneprobe.report.attention import NotJudged
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
    console.print(report_text(view, since=since))


def report_text(view: SweepView, *, since: str = "") -> RenderableType:
    """Headline, what was changed since, what the recording could not support, what wants doing, every string, and cautions where a string
    should come off."""
    title = Text(f"{view.harp} · sweep of {view.day}", style="dim")
    parts = [title, Text(view.headline, style="bold"), *_if_any(view.fresh_anew), *_if_any(view.named), *_if_any(view.standing),
             *_if_any(since), *_if_any(view.left_open), Text(view.subline, style="dim"), *_warnings(view), attention_list(view),
             *_if_any(view.what_next), *_on_the_way(view), *_fell_alone(view), *_not_judged(view), Text(), condition_table(view),
             Text(_what_doubt_is(view), style="dim"), *_if_any(_why_no_brightness(view)),
             *([Text(f"Partials are {PARTIALS}.", style="dim")] if any("artial" in reason for reason in _reasons(view)) else []),
             *_cautions(view)]
    return _Printable(Group(*parts))


def _what_doubt_is(view: SweepView) -> str:
    """What stands after ±; of changes nothing where none is shown, as in a fresh sweep."""
    return PLUS_MINUS if any(one.ring.known or one.brightness.known for one in view.strings) else f"{OWN_DOUBT}."


def _why_no_brightness(view: SweepView) -> str:
    """Where every string that was compared lacks its brightness for one and the same reason: its column is empty then."""
    changes = [one.condition.changes["brightness"] for one in view.strings if "brightness" in one.condition.changes]
    reasons = {change.reason for change in changes}
    if not changes or any(change.known for change in changes) or len(reasons) > 1:
        return ""
    return f"Brightness was not compared: {reasons.pop().removesuffix('.')}."


def condition_table(view: SweepView) -> RenderableType:
    """Every string with its note, verdict, decay and brightness against fresh, and pitch; a rule between octaves."""
    return _Printable(_Fitted(view))


def attention_list(view: SweepView) -> RenderableType:
    """False, dead and watch, worst first, each with its reasons; then the next steps, each once for all strings that it concerns."""
    if not view.attention:
        return Group()
    lines: list[RenderableType] = [Text(), Text("Needs attention", style="bold")]
    if view.order:
        lines.append(Text(sentence(view.order), style="dim"))
    for one in view.attention[:MOST_ON_SCREEN]:
        lines += _attention_lines(one)
    if len(view.attention) > MOST_ON_SCREEN:
        lines.append(Text(f"  … and {len(view.attention) - MOST_ON_SCREEN} more, in the table below.", style="dim"))
    for step in view.steps:
        lines += [Text(f"Next for {step.names}:"), _indented(sentence(step.text))]
    return _Printable(Group(*lines))


class _Fitted:
    """The table of every string in as many whole columns as the terminal has room for; it says which it leaves out. Where a few strings
    alone were plucked, of these: the others are named before it."""

    def __init__(self, view: SweepView) -> None:
        self.view = view

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        n_all, n_unheard = len(self.view.strings), sum(one.state == "unheard" for one in self.view.strings)
        is_few = n_all > n_unheard > n_all / 2
        rows = [(octave, [_cells(one) for one in octave.strings if not is_few or one.state != "unheard"]) for octave in self.view.octaves]
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
        if is_few:
            yield Text(f"Left out: {count_of(n_unheard, 'string')} not heard.", style="dim")
        if left := [COLUMNS[place][0] for place in range(len(COLUMNS)) if place not in shown]:
            yield Text(f"Left out, for want of room: {', '.join(left)}. A wider window shows more.", style="dim")


def _columns_for(width: int, rows: Sequence[Sequence[Text]]) -> list[int]:
    """The places of the columns that fit side by side, in order; string, verdict and ring always."""
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


class _Printable:
    """Turns what it holds into ASCII on terminals that show no more."""

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


def _attention_lines(one: StringView) -> list[RenderableType]:
    known = "  ".join(part for part in (one.sureness, one.material) if part)
    first = Text.assemble("  ", (f"{one.title}  {one.verdict}", STYLES[one.verdict]), (f"  {known}" if known else "", "dim"))
    why = " ".join([*map(sentence, one.condition.reasons), *([one.outlook] if one.verdict == "watch" and one.outlook else [])])
    lines: list[RenderableType] = [first]
    if why:
        lines.append(_indented(why))
    return lines


def _reasons(view: SweepView) -> list[str]:
    """All that stand in the lists over the table."""
    return [reason for one in view.strings if one.verdict not in ("sound", "unrated") for reason in one.condition.reasons]


def _warnings(view: SweepView) -> list[RenderableType]:
    return [Text(), *(Text(f"Note: {one.text}") for one in view.warnings)] if view.warnings else []


def _on_the_way(view: SweepView) -> list[RenderableType]:
    lines = [line for one in view.on_the_way for line in (Text(f"Fine, but on the way: {one.title}"), _indented(one.outlook))]
    return [Text(), *lines] if lines else []


def _fell_alone(view: SweepView) -> list[RenderableType]:
    lines = [line for one in view.fell_alone
             for line in (Text(f"{FINE_BUT_FELL}: {one.title}"), _indented(one.condition.reasons[0]), _indented(one.next_step))]
    return [Text(), *lines] if lines else []


def _not_judged(view: SweepView) -> list[RenderableType]:
    lines: list[RenderableType] = []
    for group in view.not_judged:
        lines += [Text(f"{capital(group.words)}: {group.names}"), *_why_unsure(group), _indented(group.remedy)]
    return [Text(), *lines] if lines else []


def _why_unsure(group: NotJudged) -> list[RenderableType]:
    """Each reason once, with the strings that it is of."""
    told = group.reasons
    lines: list[RenderableType] = [_indented(f"{names}: {text}") for names, text in told[:MOST_ON_SCREEN]]
    return [*lines, *([_indented(f"… and {len(told) - MOST_ON_SCREEN} more.")] if len(told) > MOST_ON_SCREEN else [])]


def _cautions(view: SweepView) -> list[RenderableType]:
    if not view.cautions:
        return []
    return [Text(), Text("Before you change a string", style="bold"), _bullets(view.cautions)]


def _bullets(texts: Iterable[str]) -> RenderableType:
    """A list whose wrapped lines stand under the words of their first."""
    listed = Table.grid()
    for text in texts:
        listed.add_row(Text("  - "), Text(text))
    return listed


def _if_any(text: str) -> list[RenderableType]:
    return [Text(text)] if text else []


def _indented(text: str) -> Padding:
    return Padding(Text(text), (0, 0, 0, 4))

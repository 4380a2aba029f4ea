"""What a notebook says in words unknown to the log: shown before anything is stored, and kept as it was written."""

from collections.abc import Iterable, Sequence

from toneprobe.instrument import Instrument
from toneprobe.instrument.file import nearest
from toneprobe.notebook.rows import TypedRow
from toneprobe.practice import SETTLE_DAYS, WHY_REMOVED, material_family, may_be_same

MATERIALS = sorted(SETTLE_DAYS)
MOST_LINES = 6  # named one by one


def doubts_about(rows: Sequence[TypedRow], instrument: Instrument) -> list[str]:
    """First days and materials that are none, materials that do not belong on their string, gauges that are no number, and reasons and
    places without a word in the log: one line each, with the rows that say so."""
    materials = ((row.row.material, row.row.line) for row in rows if row.row.material and material_family(row.row.material) is None)
    reasons = ((row.why_note, row.row.line) for row in rows if row.why_note and row.row.why_removed is None)
    gauges = ((row.gauge_note, row.row.line) for row in rows if row.gauge_note)
    days = ((row.day_note, row.row.line) for row in rows if row.day_note)
    return [*(f"{lines}: \"{text}\" names no day: the string counts as on since before the log, and this is kept as a remark"
              for text, lines in _grouped(days)),
            *(f"{lines}: {_material(text)}" for text, lines in _grouped(materials)),
            *(f"{lines}: {text}. Is it right? It is kept as it is written" for text, lines in _grouped(_other_kinds(rows, instrument))),
            *(f"{lines}: \"{text}\" is no gauge and is kept as a remark" for text, lines in _grouped(gauges)),
            *(f"{lines}: \"{text}\" is none of {', '.join(WHY_REMOVED)} and is kept as a remark" for text, lines in _grouped(reasons))]


def _other_kinds(rows: Sequence[TypedRow], instrument: Instrument) -> list[tuple[str, int]]:
    """Strings of another material than belongs on their position, stand-ins left out: which, and the line."""
    own = {spec.name: spec.material for spec in instrument.strings}
    told = [row.row for row in rows if not row.row.is_stand_in and material_family(row.row.material)]
    return [(f"{row.material} on {row.string}, where {own[row.string]} belongs", row.line) for row in told
            if not may_be_same(row.material, own[row.string])]


def _material(text: str) -> str:
    near = nearest(text, MATERIALS)
    question = f"is it {near}?" if near else "is it right?"
    return f"\"{text}\" is no material that is known here ({', '.join(MATERIALS)}): {question} It is kept as it is written"


def _grouped(found: Iterable[tuple[str, int]]) -> list[tuple[str, str]]:
    """Each text once, with its lines: "lines 3, 8"."""
    lines: dict[str, list[int]] = {}
    for text, line in found:
        lines.setdefault(text, []).append(line)
    return [(text, lines_words(numbers)) for text, numbers in lines.items()]


def lines_words(numbers: Sequence[int]) -> str:
    """ "line 3", "lines 3, 4, 5, 6, 7, 8 and 59993 more"."""
    shown = ", ".join(map(str, numbers[:MOST_LINES]))
    more = f" and {len(numbers) - MOST_LINES} more" if len(numbers) > MOST_LINES else ""
    return f"line{'' if len(numbers) == 1 else 's'} {shown}{more}"

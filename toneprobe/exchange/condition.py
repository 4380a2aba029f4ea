"""`toneprobe.condition/1`: what one sweep says of every string, as one JSON object.

{"schema", "harp", "sweep": {"id", "date", "fresh", …}, "instrument": {"name", "a4_hz", "tuning"},
 "strings": [{"string", "note", "verdict", "dead_score", "false_score", "plucks", "reasons": [], "next_step",
              "figures": {…, "reasons": {…}}, "fresh": {…, "reasons": {…}}, "changes": {…, "reasons": {…}}}], "warnings": []}

Strings from the highest to the lowest. `figures` and `fresh` have the figures of `toneprobe.measure/1` with their errors, `fresh` is {}
without a baseline. `changes`, as in `condition.verdict.CHANGES`: natural logs of fresh over present for ring, decay and brightness, of
present over fresh B for `stretch`, else in the names' units; `ring`, `moved_cents` and `waver_db` are what reasons and reports say. Why a
figure is null stands under its name in the `reasons` beside it; the `reasons` of a string are the sentences behind its verdict.
"""

from collections.abc import Mapping, Sequence

from toneprobe.book.entries import SweepRecord
from toneprobe.condition import Condition
from toneprobe.exchange.plain import Document, figure_fields, missing_reasons, number
from toneprobe.measure.figure import Figure
from toneprobe.typed import clean_text

SCHEMA = "toneprobe.condition/1"


def condition_document(record: SweepRecord, conditions: Sequence[Condition], *, harp: str, warnings: Sequence[str] = ()) -> Document:
    instrument = record.instrument
    return {
        "schema": SCHEMA,
        "harp": clean_text(harp),
        "sweep": {
            "id": record.id, "date": record.date.isoformat(), "fresh": record.is_fresh,
            "recordings": [clean_text(one.file_name) for one in record.recordings],
        },
        "instrument": {"name": clean_text(instrument.name), "a4_hz": number(instrument.a4_hz), "tuning": instrument.tuning},
        "strings": [_string(one) for one in conditions],
        "warnings": [clean_text(text) for text in warnings],
    }


def _string(condition: Condition) -> Document:
    return {
        "string": condition.string, "note": condition.note, "verdict": condition.verdict,
        "dead_score": number(condition.dead_score), "false_score": number(condition.false_score),
        "plucks": condition.n_plucks, "reasons": list(condition.reasons), "next_step": condition.next_step,
        "figures": _figures(condition.figures), "fresh": _figures(condition.fresh), "changes": _figures(condition.changes),
    }


def _figures(figures: Mapping[str, Figure]) -> Document:
    fields: Document = {}
    for name, figure in figures.items():
        fields |= figure_fields(name, figure)
    missing = missing_reasons(figures)
    return fields | ({"reasons": missing} if missing else {})

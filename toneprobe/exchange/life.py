"""The string's life as JSON: log, settling, spares, plans and notes, one object each with its schema's name.

A schema's name says which parts a document may have; each command gives some of them (DEVELOPERS.md, `The documents of --json`; a test
holds both to it). Values stand by the names of their fields; dates as ISO 8601, a figure as value and `_se`, null where it is not known,
for the reason under its name in `unmeasured`; `reasons` are the sentences of a state.
"""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from typing import Any

from toneprobe.exchange.plain import Document, figure_fields, missing_reasons, number
from toneprobe.measure.figure import Figure
from toneprobe.typed import clean_text


def life_document(kind: str, harp: str, **parts: Any) -> Document:
    """`kind`: log, settling, spares, plan or events."""
    return {"schema": f"toneprobe.{kind}/1", "harp": clean_text(harp), **{name: json_value(part) for name, part in parts.items()}}


def json_value(value: Any) -> Any:
    """Dataclasses, dates, mappings and sequences as JSON holds them."""
    if is_dataclass(value):
        return _fields_of(value)
    if isinstance(value, Mapping):
        return {clean_text(str(key)): json_value(item) for key, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [json_value(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str):
        return clean_text(value)
    return number(value) if isinstance(value, float) else value


def _fields_of(value: Any) -> dict[str, Any]:
    found: dict[str, Any] = {}
    items = {field.name: getattr(value, field.name) for field in fields(value)}
    for name, item in items.items():
        found |= figure_fields(name, item) if isinstance(item, Figure) else {name: json_value(item)}
    unmeasured = missing_reasons({name: item for name, item in items.items() if isinstance(item, Figure)})
    return found | ({"unmeasured": unmeasured} if unmeasured else {})

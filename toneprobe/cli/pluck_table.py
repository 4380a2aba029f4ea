"""The plucks of one recording as a table of at most 80 columns."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from rich.console import Console

COLUMNS = (  # heading, field, format
    ("string", "string", "{}"), ("note", "note", "{}"), ("at s", "onset_s", "{:.1f}"), ("pitch Hz", "pitch_hz", "{:.2f}"),
    ("cents off", "cents_off", "{:+.1f}"), ("ring s", "t60_s", "{:.2f}"), ("bright Hz", "centroid_hz", "{:.0f}"),
    ("B", "inharmonicity", "{:.1e}"), ("beat Hz", "beat_hz", "{:.1f}"), ("snr dB", "snr_db", "{:.0f}"),
)


def print_plucks(document: dict[str, Any], console: Console) -> None:
    """One line a pluck in time order, then the strings not heard, and warnings. Takes a `toneprobe.measure/1` document."""
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, header_style="dim")
    for heading, field, _ in COLUMNS:
        table.add_column(heading, justify="left" if field in ("string", "note") else "right", no_wrap=True)
    for pluck in document["plucks"]:
        table.add_row(*(Text(_shown(form, pluck[field])) for _, field, form in COLUMNS))
    console.print(table)
    if document["unheard"]:
        console.print(Text("Not heard: " + ", ".join(one["string"] for one in document["unheard"])))
    for warning in document["warnings"]:
        console.print(Text(f"Note: {warning}"))


def _shown(form: str, value: object) -> str:
    return "–" if value is None else form.format(value)

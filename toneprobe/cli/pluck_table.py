"""The plucks of one recording as a table of at most 80 columns."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from rich.table import Table
from rich.text import Text

from toneprobe.report.words import signed
from toneprobe.units import note_text

if TYPE_CHECKING:
    from rich.console import Console

COLUMNS = (  # heading, field, how it is shown
    ("string", "string", str), ("note", "note", note_text), ("at s", "onset_s", "{:.1f}".format), ("pitch Hz", "pitch_hz", "{:.2f}".format),
    ("cents off", "cents_off", partial(signed, digits=1)), ("ring s", "t60_s", "{:.2f}".format),
    ("bright Hz", "centroid_hz", "{:.0f}".format), ("B", "inharmonicity", "{:.1e}".format), ("beat Hz", "beat_hz", "{:.1f}".format),
    ("snr dB", "snr_db", "{:.0f}".format),
)
WHOLE = 70  # columns from which no line is broken; on narrower terminals a figure goes on in the next line, and none is cut


def print_plucks(document: dict[str, Any], console: Console) -> None:
    """One line a pluck in time order, then the strings not heard, and warnings. Takes a `toneprobe.measure/1` document."""
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, header_style="dim")
    for heading, field, _ in COLUMNS:
        side = "left" if field in ("string", "note") else "right"
        table.add_column(heading, justify=side, no_wrap=console.width >= WHOLE, overflow="fold")
    for pluck in document["plucks"]:
        table.add_row(*(Text("–" if pluck[field] is None else shown(pluck[field])) for _, field, shown in COLUMNS))
    console.print(table)
    if document["unheard"]:
        console.print(Text("Not heard: " + ", ".join(one["string"] for one in document["unheard"])))
    for warning in document["warnings"]:
        console.print(Text(f"Note: {warning}"))

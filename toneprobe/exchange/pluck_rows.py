"""Plucks as CSV (RFC 4180, comma, UTF-8, one line a pluck in time order): each figure with its standard error, empty where unknown. Text
that a spreadsheet would take for a formula gets an apostrophe in front."""

import csv
import io

from toneprobe.exchange.measurement import pluck_fields
from toneprobe.measure.figure import FIGURES, PluckMeasurement
from toneprobe.spreadsheet import as_text

COLUMNS = ("string", "note", "onset_s", "ring_s", *(column for name in FIGURES for column in (name, f"{name}_se")), "snr_db", "sureness",
           "n_partials", "flags")


def pluck_csv(plucks: tuple[PluckMeasurement, ...]) -> str:
    """A header and one line a pluck, as CSV; empty where a figure is not known."""
    target = io.StringIO()
    writer = csv.writer(target)
    writer.writerow(COLUMNS)
    for pluck in plucks:
        fields = pluck_fields(pluck)
        fields |= {"n_partials": len(fields["partials"]), "flags": "; ".join(fields["flags"])}
        writer.writerow([_cell(fields[column]) for column in COLUMNS])
    return target.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, float):
        return f"{value:.9g}"
    return as_text(value) if isinstance(value, str) else value

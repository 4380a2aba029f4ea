"""The string log as CSV that any spreadsheet opens, and that is read back as it was."""

import csv
import io
from collections.abc import Iterable
from datetime import date

from toneprobe.fittings import Fitting
from toneprobe.instrument import Instrument
from toneprobe.spreadsheet import as_text

HEADINGS = ("string", "fitted", "removed", "material", "gauge (mm)", "supplier", "batch", "why", "broke at", "stand-in", "notes",
            "day supposed")


def write_log(fittings: Iterable[Fitting], instrument: Instrument) -> str:
    """CSV after RFC 4180 with dates as 2024-05-01: strings from the top of the harp, each from the first to the present one. Write it to
    a file as UTF-8 with a byte-order mark (utf-8-sig), which spreadsheets need to show names rightly."""
    place = {spec.name: k for k, spec in enumerate(instrument.strings)}
    ordered = sorted(fittings, key=lambda one: (place.get(one.string, len(place)), one.fitted_on or date.min, one.removed_on or date.max))
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEADINGS)
    writer.writerows([as_text(cell) for cell in _cells(one)] for one in ordered)
    return out.getvalue()


def _cells(one: Fitting) -> list[str]:
    gauge = None if one.gauge_mm is None else f"{one.gauge_mm:g}"
    texts = (one.string, one.fitted_on, one.removed_on, one.material, gauge, one.supplier, one.batch, one.why_removed, one.broke_at,
             "yes" if one.is_stand_in else None, one.note, "yes" if one.is_supposed else None)
    return ["" if text is None else str(text) for text in texts]

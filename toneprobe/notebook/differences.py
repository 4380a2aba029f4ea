"""Where a row differs from the entry of the log that has its days: the entry is not overwritten, and the difference is shown."""

from collections.abc import Iterator
from math import isclose
from shlex import quote

from toneprobe.errors import printable
from toneprobe.fittings import Fitting
from toneprobe.notebook.rows import LogRow
from toneprobe.typed import clean_text

WORDS = {"material": "material", "gauge_mm": "gauge", "supplier": "supplier", "batch": "batch", "why_removed": "why it came off",
         "broke_at": "where it broke", "note": "remark"}
OPTIONS = {"gauge_mm": "gauge", "why_removed": "why", "broke_at": "broke-at"}  # of `log correct`; the others are called as the field is
SAME_GAUGE_MM = 5e-4  # the log's is written out with six digits, a row's is read to four places (set here)


def difference(row: LogRow, one: Fitting) -> str:
    """Which entry it is, what of it differs and how to put it right; "" for nothing. What a row leaves open does not differ."""
    found = list(_differing(row, one))
    if not found:
        return ""
    told, options = zip(*found, strict=True)
    return (f"is no. {one.id} of the log, where it differs: {'; '.join(told)}. If the row is right: "
            f"toneprobe log correct {quote(row.string)} --entry {one.id} {' '.join(options)}")


def _differing(row: LogRow, one: Fitting) -> Iterator[tuple[str, str]]:
    """Each difference in words, and the option that puts the entry right."""
    for field, word in WORDS.items():
        said, known = getattr(row, field), getattr(one, field)
        if said not in (None, "") and not _is_told(field, said, known):
            value = f"{said:g}" if field == "gauge_mm" else quote(printable(said, most=None))
            yield f"{word} {_shown(field, known)}, here {_shown(field, said)}", f"--{OPTIONS.get(field, field)} {value}"
    if row.is_stand_in and not one.is_stand_in:
        yield "no stand-in, here one", "--stand-in"


def _is_told(field: str, said: str | float, known: str | float | None) -> bool:
    if known is None or field == "gauge_mm":
        return known is not None and isclose(said, known, abs_tol=SAME_GAUGE_MM)
    one, other = (" ".join(clean_text(text).split()) for text in (said, known))
    return one in other if field == "note" else one.casefold() == other.casefold()


def _shown(field: str, item: str | float | None) -> str:
    if item in (None, ""):
        return "unknown" if field != "note" else "none"
    return f"{item:g} mm" if field == "gauge_mm" else f'"{printable(item)}"' if field == "note" else str(item)

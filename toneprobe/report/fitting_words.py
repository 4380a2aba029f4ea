"""One line of the string log in words."""

from __future__ import annotations

from toneprobe.book.entries import Fitting
from toneprobe.report.words import day_text


def fitting_line(one: Fitting) -> str:
    """ "2 February 2019 to 20 April 2023: gut, 1.02 mm, Reed & Daughters, lot 17; broke at the tuning pin." """
    kind = ", ".join(part for part in (one.material, f"{one.gauge_mm:g} mm" if one.gauge_mm else None, one.supplier, one.batch) if part)
    parts = [kind or "material not noted", "a stand-in" if one.is_stand_in else "", _end(one), one.note]
    return f"{fitting_span(one)}: {'; '.join(part for part in parts if part)}."


def fitting_span(one: Fitting) -> str:
    """ "since 20 April 2023", "2 February 2019 to 20 April 2023"."""
    start = day_text(one.fitted_on) if one.fitted_on else "before the book was begun"
    if one.removed_on:
        return f"{start[:1].upper()}{start[1:]} to {day_text(one.removed_on)}"
    return f"Since {start}" if one.fitted_on else "On since before the book was begun"


def _end(one: Fitting) -> str:
    if not one.why_removed and not one.broke_at:
        return ""
    if one.broke_at:
        return f"{one.why_removed or 'came off'} at the {one.broke_at}"
    return f"came off: {one.why_removed}"

"""One line of the string log in words."""

import re
from collections.abc import Collection, Iterable, Sequence
from datetime import date

from toneprobe.days import day_text
from toneprobe.fittings import BEGUN, WITHDRAWN, Correction, Fitting, first_day_text
from toneprobe.instrument import StringSpec
from toneprobe.phrases import as_strings, capital, kind_words, listed
from toneprobe.practice import LONG_ON_DAYS

ISO_DAY = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")
FIELD_WORDS = {"fitted_on": "put on", "removed_on": "came off", "gauge_mm": "gauge in mm", "why_removed": "why it came off",
               "broke_at": "where it broke", "is_stand_in": "stand-in"}  # other fields are called by their names
YES_OR_NO = {"True": "yes", "False": "no"}
FEW = 6  # strings that are named; the rest are counted


def fitting_line(one: Fitting) -> str:
    """ "2 February 2019 to 20 April 2023: gut, 1.02 mm, Reed & Daughters, lot 17; broke at the tuning pin." """
    kind = kind_words(one.material, one.gauge_mm, one.supplier, one.batch)
    parts = [kind or "material not noted", "a stand-in" if one.is_stand_in else "", _end(one), one.note]
    return f"{_span(one)}: {'; '.join(part for part in parts if part)}."


def material_words(fittings: Sequence[Fitting], spec: StringSpec, *, on: date) -> str:
    """Material and gauge to order for a position: "gut, 1.02 mm"; "" where neither the log nor the instrument knows."""
    known = [one for one in fittings if not one.is_stand_in and (one.removed_on is None or one.removed_on > on)]
    material = next((one.material for one in reversed(known) if one.material), spec.material)
    gauge_mm = next((one.gauge_mm for one in reversed(known) if one.gauge_mm), spec.gauge_mm)
    return kind_words(material, gauge_mm)


def changed_words(fittings: Sequence[Fitting], *, since: date, heard: Collection[int | None]) -> str:
    """ "Changed since this sweep: 4A on 5 October 2026."; "" where none was. `heard`: numbers of the sweep's fittings, as another one of
    its day went on after it."""
    on = [one for one in fittings if one.removed_on is None and one.fitted_on
          and (one.fitted_on > since or (one.fitted_on == since and heard and one.id not in heard))]
    new = [f"{one.string} on {first_day_text(one)}" for one in on]
    return f"Changed since this sweep: {', '.join(new)}." if new else ""


def not_new_words(fresh: Iterable[Fitting], *, on: date) -> str:
    """Which strings of a fresh baseline of that day had been on for long, and of which the age is not known; "" where none.

    It is said then, as later each of them is only compared with itself in that sweep.
    """
    fresh = tuple(fresh)
    old = [one.string for one in fresh if one.fitted_on is not None and (on - one.fitted_on).days > LONG_ON_DAYS]
    unknown = [one.string for one in fresh if one.fitted_on is None]
    if not old and not unknown:
        return ""
    which = [f"{listed(as_strings(old), FEW)} had been on for more than a year"] if old else []
    if unknown:
        of = listed(as_strings(unknown), FEW) if len(unknown) <= FEW else f"{len(unknown)} {'others' if old else 'strings'}"
        which.append(f"the log does not know the age of {of}")
    told = ", and ".join(which)
    lost = "What such a string has lost already" if old and not unknown else "What any of them that is not new has lost already"
    return (f"{capital(told)}. {lost} can never be heard, because from now on each is compared with itself as it was in this sweep. "
            "It is their reference all the same; when one is replaced, the new string gets its own.")


def empty_words(before: Fitting, *, until: date | None) -> str:
    """The same with a question whether that is so, which a command printed after it answers."""
    return f"{gap_words(before, until=until)} If no. {before.id} stayed on:"


def gap_words(before: Fitting, *, until: date | None) -> str:
    """That no string was on after this one came off, until that day, or until today."""
    span = f"from {day_text(before.removed_on)} to {day_text(until)}" if until else f"since {day_text(before.removed_on)}"
    return f"By the log no string {'was' if until else 'has been'} on {before.string} {span}."


def correction_words(one: Correction) -> str:
    """ ", put on: was 1 March 2026, now 2 March 2026", after the number of the entry."""
    if one.field == WITHDRAWN:
        return f" ({_in_words(one.before)}) was withdrawn"
    if one.field == BEGUN:
        return " was on before all that the log knew"
    before, after = (YES_OR_NO.get(text, text) if one.field == "is_stand_in" else text for text in (one.before, one.after))
    return f", {FIELD_WORDS.get(one.field, one.field)}: was {_in_words(before)}, now {_in_words(after)}"


def _in_words(text: str | None) -> str:
    """A corrected value, with days in words."""
    return ISO_DAY.sub(lambda found: day_text(date.fromisoformat(found[0])), text) if text else "blank"


def _span(one: Fitting) -> str:
    """ "Since 20 April 2023", "2 February 2019 to 20 April 2023"."""
    if one.fitted_on is None:
        return f"On before the book was begun, until {day_text(one.removed_on)}" if one.removed_on else "On since before the book was begun"
    start = first_day_text(one)
    return f"{start} to {day_text(one.removed_on)}" if one.removed_on else f"Since {start}"


def _end(one: Fitting) -> str:
    if one.broke_at:
        return f"{one.why_removed or 'came off'} at the {one.broke_at}"
    if not one.why_removed or (one.is_stand_in and one.why_removed == "stand-in"):
        return ""  # the line says already that it was a stand-in
    return f"came off: {one.why_removed}"

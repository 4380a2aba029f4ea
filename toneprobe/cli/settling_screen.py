"""The state of one new string, for people."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from shlex import quote
from typing import TYPE_CHECKING

from toneprobe.cli.table import print_heading, print_paragraph
from toneprobe.days import day_text
from toneprobe.fittings import first_day_text, material_of
from toneprobe.instrument import find_string
from toneprobe.phrases import one_after_another
from toneprobe.report.words import reason_sentence, signed
from toneprobe.units import note_text

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.fittings import Fitting
    from toneprobe.harp_state import HarpState
    from toneprobe.settling import Settling
    from toneprobe.upkeep.checked import LastReading


def alike(found: Mapping[str, Settling], state: HarpState) -> list[tuple[str, ...]]:
    """The strings in groups about which the same is to be said, but for the neighbours to pluck with them: put on one day, not checked yet,
    and to be checked as often. So seven new strings do not each fill a screen with the same words."""
    groups: dict[object, list[str]] = {}
    for name, one in found.items():
        is_like_others = one.check_how_often and one.checked_on is None and not state.on[name].is_stand_in
        what = (_kind(name, state), one.state, one.due_on, one.reasons, one.check_how_often, bool(one.company) or one.company)
        groups.setdefault(what if is_like_others else name, []).append(name)
    return [tuple(names) for names in groups.values()]


def print_settling_of(console: Console, names: Sequence[str], found: Mapping[str, Settling], state: HarpState) -> None:
    """The same as `print_settling` of strings that are alike: "each", so that what is said of "it" is true of every one."""
    from toneprobe.settling.words import checks_together

    first = found[names[0]]
    told = one_after_another([f"{name} ({_note(name, state)})" for name in names])
    how = "should have settled" if first.due_on else f"is {first.state}"
    print_heading(console, f"{', '.join((told, *_kind(names[0], state)))}: each {how}")
    for line in map(reason_sentence, first.reasons):
        print_paragraph(console, line, indent=4)
    print_paragraph(console, f"Next: {reason_sentence(checks_together([found[name] for name in names]))}", indent=4)


def print_settling(console: Console, name: str, found: Settling, state: HarpState, *, noted: Sequence[str]) -> None:
    """Heading, the last check in cents, the reasons, what was `noted` meanwhile, and what to do next."""
    fitting = state.on[name]
    parts = (_note(name, state), *_kind(name, state))
    print_heading(console, f"{name} ({', '.join(parts)}): {'should have settled' if found.due_on else found.state}")
    for line in (*_last_line(state, fitting), *map(reason_sentence, found.reasons)):
        print_paragraph(console, line, indent=4)
    for line in noted:
        print_paragraph(console, f"Noted meanwhile: {line}.", indent=4)
    if fitting.is_stand_in:
        print_paragraph(console, "It is a stand-in and never becomes a baseline.", indent=4)
    if found.next_step and not (fitting.is_stand_in and found.state == "settled"):
        print_paragraph(console, f"Next: {reason_sentence(found.next_step)}", indent=4)


def _note(name: str, state: HarpState) -> str:
    return note_text(find_string(state.instrument, name).note)


def _kind(name: str, state: HarpState) -> tuple[str, ...]:
    """What is on, and since when."""
    fitting = state.on[name]
    since = f"on since {first_day_text(fitting)}" if fitting.fitted_on else "on since before the log"
    return tuple(part for part in (material_of(fitting, find_string(state.instrument, name)), since) if part)


def _last_line(state: HarpState, fitting: Fitting) -> list[str]:
    from toneprobe.upkeep.checked import last_reading

    last = last_reading(state, fitting)
    if last is None:
        return []
    figures = [f"as {word} {signed(cents, 1)} cents" for word, cents in (("found", last.found_cents), ("left", last.left_cents))
               if cents is not None]
    checked = f"Checked on {day_text(last.at)} at {last.at:%H:%M}: {', '.join(figures)} from {note_text(last.note)}."
    return [checked, *_far_line(last, fitting.string)]


def _far_line(last: LastReading, name: str) -> list[str]:
    """Where the pitch is that of another string, the player must know for which it was taken."""
    off = last.semitones_off
    if off is None:
        return []
    line = f"That is {abs(off):.1f} semitones {'flat' if off < 0 else 'sharp'}; it was taken for {name} because you named it."
    if last.left_cents is not None:
        return [line]
    return [f"{line} Bring {name} to its note, and no higher, before you go on; then record it as left: "
            f"toneprobe settle {quote(name)} --as-left RECORDING"]

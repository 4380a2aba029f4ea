"""The state of one new string, for people."""

from __future__ import annotations

from shlex import quote
from typing import TYPE_CHECKING

from toneprobe.cli.table import print_heading, print_indented
from toneprobe.days import day_text
from toneprobe.units import note_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from toneprobe.book.entries import Fitting
    from toneprobe.harp_state import HarpState
    from toneprobe.settling import Settling
    from toneprobe.upkeep.pitch_check import LastReading


def print_settling(console: Console, name: str, found: Settling, state: HarpState, *, noted: Sequence[str] = ()) -> None:
    """Heading, the last check in cents, the reasons, what was `noted` meanwhile, and what to do next."""
    from toneprobe.fittings import material_of
    from toneprobe.instrument import find_string
    from toneprobe.report.words import reason_sentence

    fitting, spec = state.on[name], find_string(state.instrument, name)
    parts = (note_text(spec.note), material_of(fitting, spec), _since(fitting))
    print_heading(console, f"{name} ({', '.join(part for part in parts if part)}): {'has had its time' if found.due_on else found.state}")
    for line in (*_last_line(state, fitting), *map(reason_sentence, found.reasons)):
        print_indented(console, line)
    for line in noted:
        print_indented(console, f"Noted meanwhile: {line}.")
    if fitting.is_stand_in:
        print_indented(console, "It is a stand-in and never becomes a baseline.")
    if found.next_step and not (fitting.is_stand_in and found.state == "settled"):
        print_indented(console, f"Next: {reason_sentence(found.next_step)}")


def _since(fitting: Fitting) -> str:
    return f"on since {day_text(fitting.fitted_on)}" if fitting.fitted_on else "on since before the log"


def _last_line(state: HarpState, fitting: Fitting) -> list[str]:
    from toneprobe.report.words import signed
    from toneprobe.upkeep.pitch_check import last_reading

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

"""Strings grouped by octave, as harpists count them: from the top of the harp down, each octave from E to F."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from toneprobe.errors import UsageError
from toneprobe.report.string_view import StringView
from toneprobe.units import string_of_note


@dataclass(frozen=True)
class OctaveView:
    number: int | None  # None: strings whose note lies on no harp
    strings: tuple[StringView, ...]

    @property
    def title(self) -> str:
        return "Other strings" if self.number is None else f"Octave {self.number}"

    @property
    def span(self) -> str:
        """ "4E to 4F", or the only string."""
        first, last = self.strings[0].name, self.strings[-1].name
        return first if first == last else f"{first} to {last}"


def octave_views(strings: Iterable[StringView]) -> tuple[OctaveView, ...]:
    """The octaves from the highest to the lowest, those without strings left out."""
    groups: dict[int | None, list[StringView]] = {}
    for one in strings:
        groups.setdefault(octave_of(one.condition.note), []).append(one)
    ordered = sorted(groups, key=lambda number: 99 if number is None else number)
    return tuple(OctaveView(number, tuple(groups[number])) for number in ordered)


def octave_of(note: str) -> int | None:
    """The harp octave of a note: "C4" lies in octave 4, "A4" in octave 3."""
    try:
        return int(string_of_note(note)[0])
    except UsageError:
        return None

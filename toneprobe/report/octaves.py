"""Strings grouped by octave, as harpists count them: from the top of the harp down, each octave from E to F."""

from collections.abc import Iterable
from dataclasses import dataclass

from toneprobe.errors import UsageError
from toneprobe.report.string_view import StringView
from toneprobe.units import octave_of_note


@dataclass(frozen=True)
class OctaveView:
    number: int | None  # None: strings whose note no harp has, or all of an instrument that is no harp
    strings: tuple[StringView, ...]
    is_all: bool

    @property
    def title(self) -> str:
        return octave_title(self.number, is_all=self.is_all)

    @property
    def span(self) -> str:
        """ "4E to 4F", or the only string."""
        first, last = self.strings[0].name, self.strings[-1].name
        return first if first == last else f"{first} to {last}"


def octave_views(strings: Iterable[StringView]) -> tuple[OctaveView, ...]:
    """The octaves that have strings, from the highest to the lowest; all strings as one group where the instrument is no harp."""
    strings = tuple(strings)
    groups: dict[int | None, list[StringView]] = {}
    for one in strings:
        groups.setdefault(harp_octave(one.condition.note) if one.letter else None, []).append(one)
    return tuple(OctaveView(number, tuple(groups[number]), is_all=len(groups[number]) == len(strings)) for number in from_the_top(groups))


def from_the_top(numbers: Iterable[int | None]) -> list[int | None]:
    """Each octave once, from the highest to the lowest, then None."""
    return sorted(set(numbers), key=lambda number: (number is None, number))


def octave_title(number: int | None, *, is_all: bool) -> str:
    """ "Octave 4"; of strings in no octave "All strings" or "Other strings"."""
    if number is None:
        return "All strings" if is_all else "Other strings"
    return f"Octave {number}"


def harp_octave(note: str) -> int | None:
    """The octave of a note as harpists count, 3 for "A4"; None where no harp has the note."""
    try:
        return octave_of_note(note)
    except UsageError:
        return None

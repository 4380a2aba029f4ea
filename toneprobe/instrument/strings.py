"""An instrument: which strings it has, from the highest to the lowest, and what each of them should sound like.

Strings without mechanism (on a 47-string pedal harp 7C, 7D and mostly 0G) do not move with pedals or levers. Players set them by hand to
the key, so here they follow the tuning like all others, unless the owner's file gives such a string a note of its own. Where the kind is
not told no string has a mechanism, unless the file says so.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from toneprobe.errors import InstrumentError, UsageError, printable
from toneprobe.instrument.file import A4_RANGE_HZ, in_range
from toneprobe.instrument.tunings import accidentals_of, find_tuning, tunings_of
from toneprobe.phrases import HARP, NO_HARP, listed
from toneprobe.stiffness import expected_b
from toneprobe.units import hz_of_note, is_named_by_place, note_of_step, note_of_string, parse_string_name, split_note, step_of_note

LONGEST_NUMBER = 6  # digits of what may be a string counted from the top
PITCH_RANGE_HZ = (15.0, 5000.0)  # below any harp string; above the top of any


@dataclass(frozen=True)
class StringSpec:
    """One string position of an instrument, in its present tuning."""

    name: str  # harp name, "4C"; an owner's file may use any unique name
    note: str  # as tuned, scientific pitch, "Cb4"
    expected_hz: float  # the note's equal-tempered frequency at the instrument's A
    material: str | None = None  # nylon, gut, wire, wound nylon, fluorocarbon, …
    length_mm: float | None = None
    gauge_mm: float | None = None
    mechanism: bool = True  # False: no disc or lever, set by hand
    follows_tuning: bool = True  # False: set by hand to a note that the owner's file gives, whatever the tuning


@dataclass(frozen=True)
class Instrument:
    """All strings of one instrument, highest first."""

    name: str
    a4_hz: float
    tuning: str | None
    strings: tuple[StringSpec, ...]
    kind: str | None = None  # "pedal" or "lever", given or by the tuning's name: which tunings it takes; None takes all

    @property
    def is_harp(self) -> bool:
        """It has a mechanism, or its strings bear a harp's names. On others no C string is red, and octaves don't count from the top."""
        return self.has_mechanism or self._n_named_by_place == len(self.strings)

    @property
    def has_own_names(self) -> bool:
        """Most of its strings are called otherwise than a harp's, though one may agree by chance: a mandolin's 4G is G3."""
        return 2 * self._n_named_by_place <= len(self.strings)

    @property
    def _n_named_by_place(self) -> int:
        return sum(is_named_by_place(one.name, step_of_note(one.note)) for one in self.strings)

    @property
    def has_mechanism(self) -> bool:
        return any(one.mechanism for one in self.strings)

    @property
    def word(self) -> str:
        return HARP if self.is_harp else NO_HARP


def retune(instrument: Instrument, *, tuning: str | None = None, a4_hz: float | None = None) -> Instrument:
    """The instrument in another tuning or at another A; None leaves as is. UsageError where the tuning or the A cannot be."""
    named = find_tuning(tuning, instrument.kind) if tuning is not None else instrument.tuning
    try:
        a4 = in_range(a4_hz, A4_RANGE_HZ, "A4 in Hz") if a4_hz is not None else instrument.a4_hz
        notes = [note_in(step_of_note(s.note), named) if named != instrument.tuning and s.follows_tuning else s.note
                 for s in instrument.strings]
        strings = tuple(replace(s, note=note, expected_hz=audible_hz(s.name, note, a4))
                        for s, note in zip(instrument.strings, notes, strict=True))
        refuse_same_notes(strings)
    except InstrumentError as error:
        raise UsageError(str(error)) from None
    return replace(instrument, a4_hz=a4, tuning=named, strings=strings)


def respelled(instrument: Instrument, accidentals: Mapping[str, str], *, set_by_hand: bool = True) -> Instrument:
    """The instrument with the strings of some letters at other accidentals, those that are set by hand too or those with mechanism only."""
    strings = []
    for string in instrument.strings:
        letter, told, octave = split_note(string.note)
        if (string.mechanism or (set_by_hand and string.follows_tuning)) and accidentals.get(letter, told) != told:
            note = f"{letter}{accidentals[letter]}{octave}"
            string = replace(string, note=note, expected_hz=hz_of_note(note, instrument.a4_hz))
        strings.append(string)
    return replace(instrument, strings=tuple(strings))


def find_string(instrument: Instrument, text: str) -> StringSpec:
    """The string that a player means: by the name in the owner's file, else by the guarded harp name (see `units.parse_string_name`).
    UsageError for an ambiguous or unknown name, with the nearest strings, or all where they have names of their own."""
    wanted = text.strip().casefold()
    by_name = {string.name.casefold(): string for string in instrument.strings}
    if wanted in by_name:
        return by_name[wanted]
    has_own_names = instrument.has_own_names
    by_note = [s.name for s in instrument.strings if s.note.casefold() == wanted and (has_own_names or "b" in s.note or "#" in s.note)]
    if by_note:
        raise UsageError(f"{printable(text)!r} is a note: write the string, {by_note[0]}")
    number = int(wanted) if wanted.isdecimal() and len(wanted) <= LONGEST_NUMBER else 0
    if 0 < number <= len(by_name):
        counted = instrument.strings[number - 1].name
        raise UsageError(f"{printable(text)!r} is not a string name here: the string counted from the top is {counted}")
    if has_own_names:
        raise UsageError(f"there is no string {printable(text)!r}, only {listed([string.name for string in instrument.strings])}")
    name = parse_string_name(text)
    if name.casefold() in by_name:
        return by_name[name.casefold()]
    ends = f"{instrument.strings[0].name} to {instrument.strings[-1].name}"
    raise UsageError(f"{name} is not on this {instrument.word} ({ends}), nearest: {', '.join(_near(instrument, name))}")


def string_expected_b(spec: StringSpec) -> tuple[float, float]:
    """Expected inharmonicity B (geometric centre) and one standard deviation as a factor. A prior, not a measurement: see `stiffness`."""
    return expected_b(spec.expected_hz, material=spec.material, length_mm=spec.length_mm, gauge_mm=spec.gauge_mm)


def _near(instrument: Instrument, name: str) -> tuple[str, ...]:
    """The string nearest to where one of that name would stand, and the nearest of its letter."""
    wanted = step_of_note(note_of_string(name))
    steps = {string.name: step_of_note(string.note) for string in instrument.strings}
    found = [min(group, key=lambda one: abs(steps[one] - wanted), default=None)
             for group in (steps, [one for one, step in steps.items() if (step - wanted) % 7 == 0])]
    return tuple(dict.fromkeys(one for one in found if one is not None))


def note_in(step: int, tuning: str) -> str:
    """The note of a staff step in a tuning: 28 in "Eb" gives "C4", 27 "Bb3"."""
    letter, _, octave = split_note(note_of_step(step))
    return f"{letter}{accidentals_of(tunings_of(None)[tuning])[letter]}{octave}"


def audible_hz(name: str, note: str, a4_hz: float) -> float:
    """Frequency of a string's note. InstrumentError where no string sounds so low or so high."""
    freq_hz = hz_of_note(note, a4_hz)
    if not PITCH_RANGE_HZ[0] <= freq_hz <= PITCH_RANGE_HZ[1]:
        low, high = PITCH_RANGE_HZ
        raise InstrumentError(f"string {name}: note {note} at {freq_hz:.0f} Hz lies outside {low:.0f} to {high:.0f} Hz")
    return freq_hz


def refuse_same_notes(strings: Iterable[StringSpec]) -> None:
    """InstrumentError where two of them have one note."""
    note, count = Counter(string.note for string in strings).most_common(1)[0]
    if count > 1:
        names = [string.name for string in strings if string.note == note]
        raise InstrumentError(f"strings {names[0]} and {names[1]} have the same note {note}: a pluck is named by its pitch, so nothing "
                              "could tell them apart. List one of them here, and the other in an instrument of its own, or choose a "
                              "tuning in which they differ")

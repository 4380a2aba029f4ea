"""An instrument: which strings it has, and what each of them should sound like.

Strings are listed from the highest to the lowest, as they stand on a harp from the player outwards.
A preset is a starting point: what is on the owner's harp goes into an owner's file (fields in `instrument_file`).

Strings without mechanism (on a 47-string pedal harp 7C, 7D and mostly 0G) do not move with pedals or levers. Players set them by hand to
the key, so here they follow the tuning like all others, unless the owner's file gives such a string a note of its own, which then stays.
Of an instrument whose kind is not told no string has a mechanism, unless the file says so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path

from toneprobe.errors import InstrumentError, ToneprobeError, UsageError, printable
from toneprobe.instrument_file import A4_RANGE_HZ, in_range, read_fields
from toneprobe.phrases import HARP, NO_HARP, listed
from toneprobe.stiffness import expected_b
from toneprobe.string_rows import Row, Rows, lay_rows, refuse_other_readings
from toneprobe.tunings import DEFAULT_TUNINGS, KINDS, accidental_of, find_tuning
from toneprobe.units import (
    hz_of_note,
    is_named_by_place,
    midi_of_note,
    note_of_step,
    note_of_string,
    parse_string_name,
    split_note,
    step_of_note,
)

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
    kind: str | None = None  # "pedal" or "lever", told or by the tuning's name: which tunings it takes; None takes all

    @property
    def is_harp(self) -> bool:
        """It has a mechanism, or its strings bear a harp's names: of others no C string is red, and no octave counted from the top."""
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


def preset_names() -> tuple[str, ...]:
    """The presets, largest pedal harp first."""
    return tuple(sorted((file.name.removesuffix(".toml") for file in _presets().iterdir() if file.name.endswith(".toml")), reverse=True))


def preset_words() -> str:
    """ "pedal-47, -46, -44, -40; lever-40, -38, …": each kind with its sizes."""
    sizes: dict[str, list[str]] = {}
    for name in preset_names():
        kind, _, size = name.rpartition("-")
        sizes.setdefault(kind, []).append(f"-{size}")
    return "; ".join(f"{kind}{', '.join(of_kind)}" for kind, of_kind in sizes.items())


def load_instrument(name_or_path: str | Path, *, tuning: str | None = None, a4_hz: float | None = None) -> Instrument:
    """An instrument by its preset's name or from an owner's .toml file.

    `tuning` and `a4_hz` (380 to 480) overrule the file; another tuning than the file's gives every string with mechanism that tuning's
    accidental. Raises UsageError for an unknown preset or tuning, InstrumentError for a file that cannot serve: one line, the file named.
    """
    text = str(name_or_path)
    if text in preset_names():
        return retune(_built(_read_preset(text)), tuning=tuning, a4_hz=a4_hz)
    path = Path(text)
    if path.suffix.lower() != ".toml" and path.name == text:
        raise UsageError(f"no preset is called {printable(text)!r}: choose {', '.join(preset_names())}, or give a .toml file")
    try:
        instrument = _built(read_fields(path))
    except ToneprobeError as error:
        raise InstrumentError(f"{printable(str(path))}: {error}") from None
    return retune(instrument, tuning=tuning, a4_hz=a4_hz)


def retune(instrument: Instrument, *, tuning: str | None = None, a4_hz: float | None = None) -> Instrument:
    """The instrument in another tuning or at another A; None leaves as is. UsageError where the tuning or the A cannot be."""
    named = find_tuning(tuning, instrument.kind) if tuning is not None else instrument.tuning
    try:
        a4 = in_range(a4_hz, A4_RANGE_HZ, "A4 in Hz") if a4_hz is not None else instrument.a4_hz
        strings = instrument.strings if named == instrument.tuning else tuple(_respelled(s, named) for s in instrument.strings)
        strings = tuple(replace(s, expected_hz=_audible_hz(s.name, s.note, a4)) for s in strings)
        _refuse_same_notes(strings)
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

    UsageError for an ambiguous or unknown name, with the nearest strings, or those that there are where they have names of their own.
    """
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


def _presets():
    return files("toneprobe") / "presets"


def _read_preset(name: str) -> dict:
    return read_fields(Path(str(_presets() / f"{name}.toml")))


def _built(fields: Mapping) -> Instrument:
    """The instrument that a file's fields describe, over its preset's where it names one."""
    base, rows = {}, {}
    if "preset" in fields:
        if fields["preset"] not in preset_names():
            raise InstrumentError(f"no preset is called {printable(fields['preset'])!r}: choose {', '.join(preset_names())}")
        base = _read_preset(fields["preset"])
        rows = lay_rows(base)
    both = {**base, **fields}
    kind = both.get("kind") or next((k for k, names in KINDS.items() if both.get("tuning") in names), None)
    tuning = find_tuning(both["tuning"], kind) if "tuning" in both else DEFAULT_TUNINGS.get(kind or "")
    a4_hz = float(both.get("a4_hz", 440.0))
    rows = lay_rows(fields, rows)
    if kind:
        refuse_other_readings(rows)
    strings = _tuned_strings(rows, tuning, a4_hz, has_mechanism="kind" in both)  # a name of a tuning is no word of levers
    return Instrument(both["name"], a4_hz, tuning, strings, kind)


def _tuned_strings(rows: Rows, tuning: str | None, a4_hz: float, *, has_mechanism: bool) -> tuple[StringSpec, ...]:
    """has_mechanism: strings of which the file does not say."""
    strings = [_tuned(row, tuning, a4_hz, has_mechanism=has_mechanism) for row in rows.values()]
    _refuse_same_notes(strings)
    return tuple(sorted(strings, key=lambda s: (step_of_note(s.note), midi_of_note(s.note)), reverse=True))


def _tuned(row: Row, tuning: str | None, a4_hz: float, *, has_mechanism: bool) -> StringSpec:
    note = row.note or (_note_in(row.step, tuning) if tuning else None)
    if note is None:
        raise InstrumentError('says nothing of the notes: add a line such as tuning = "flats", or a note to each string')
    letter, accidental, octave = split_note(note)
    note = f"{letter}{accidental}{octave}"
    mechanism, follows = has_mechanism if row.mechanism is None else row.mechanism, row.mechanism is not False or row.note is None
    return StringSpec(row.name, note, _audible_hz(row.name, note, a4_hz), row.material, row.length_mm, row.gauge_mm, mechanism, follows)


def _respelled(string: StringSpec, tuning: str) -> StringSpec:
    return replace(string, note=_note_in(step_of_note(string.note), tuning)) if string.follows_tuning else string


def _note_in(step: int, tuning: str) -> str:
    letter, _, octave = split_note(note_of_step(step))
    return f"{letter}{accidental_of(letter, tuning)}{octave}"


def _audible_hz(name: str, note: str, a4_hz: float) -> float:
    freq_hz = hz_of_note(note, a4_hz)
    if not PITCH_RANGE_HZ[0] <= freq_hz <= PITCH_RANGE_HZ[1]:
        low, high = PITCH_RANGE_HZ
        raise InstrumentError(f"string {name}: note {note} at {freq_hz:.0f} Hz lies outside {low:.0f} to {high:.0f} Hz")
    return freq_hz


def _refuse_same_notes(strings: Iterable[StringSpec]) -> None:
    note, count = Counter(string.note for string in strings).most_common(1)[0]
    if count > 1:
        names = [string.name for string in strings if string.note == note]
        raise InstrumentError(f"strings {names[0]} and {names[1]} have the same note {note}: a pluck is named by its pitch, so nothing "
                              "could tell them apart. List one of them here, and the other in an instrument of its own, or choose a "
                              "tuning in which they differ")

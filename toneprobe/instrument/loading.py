"""An instrument by its preset's name or from its owner's file. A preset is a starting point; the fields of a file are in `file`."""

from collections.abc import Mapping
from pathlib import Path

from toneprobe.errors import InstrumentError, ToneprobeError, UsageError, printable
from toneprobe.instrument.file import read_fields
from toneprobe.instrument.rows import Row, lay_rows, refuse_other_readings
from toneprobe.instrument.strings import Instrument, StringSpec, audible_hz, note_in, refuse_same_notes, retune
from toneprobe.instrument.tunings import DEFAULT_TUNINGS, KINDS, find_tuning
from toneprobe.units import midi_of_note, split_note, step_of_note

PRESETS = Path(__file__).with_name("presets")


def preset_names() -> tuple[str, ...]:
    """The presets, largest pedal harp first."""
    return tuple(sorted((file.stem for file in PRESETS.glob("*.toml")), reverse=True))


def preset_words() -> str:
    """ "pedal-47, -46, -44, -40; lever-40, -38, …": each kind with its sizes."""
    sizes: dict[str, list[str]] = {}
    for name in preset_names():
        kind, _, size = name.rpartition("-")
        sizes.setdefault(kind, []).append(f"-{size}")
    return "; ".join(f"{kind}{', '.join(of_kind)}" for kind, of_kind in sizes.items())


def load_instrument(name_or_path: str | Path, *, tuning: str | None = None, a4_hz: float | None = None) -> Instrument:
    """An instrument by its preset's name or from an owner's .toml file. `tuning` and `a4_hz` (380 to 480) overrule the file; another
    tuning gives every string with mechanism that tuning's accidental. UsageError for an unknown preset or tuning, InstrumentError for a
    file that cannot serve: one line, the file named."""
    text = str(name_or_path)
    if text in preset_names():
        return retune(_built(read_fields(PRESETS / f"{text}.toml")), tuning=tuning, a4_hz=a4_hz)
    path = Path(text)
    if path.suffix.lower() != ".toml" and path.name == text:
        raise UsageError(f"no preset is called {printable(text)!r}: choose {', '.join(preset_names())}, or give a .toml file")
    try:
        instrument = _built(read_fields(path))
    except ToneprobeError as error:
        raise InstrumentError(f"{printable(str(path))}: {error}") from None
    return retune(instrument, tuning=tuning, a4_hz=a4_hz)


def _built(fields: Mapping) -> Instrument:
    """The instrument that a file's fields describe, over its preset's where it names one."""
    base, rows = {}, {}
    if "preset" in fields:
        if fields["preset"] not in preset_names():
            raise InstrumentError(f"no preset is called {printable(fields['preset'])!r}: choose {', '.join(preset_names())}")
        base = read_fields(PRESETS / f"{fields['preset']}.toml")
        rows = lay_rows(base)
    both = {**base, **fields}
    kind = both.get("kind") or next((k for k, names in KINDS.items() if both.get("tuning") in names), None)
    tuning = find_tuning(both["tuning"], kind) if "tuning" in both else DEFAULT_TUNINGS.get(kind or "")
    a4_hz = float(both.get("a4_hz", 440.0))
    rows = lay_rows(fields, rows)
    if kind:
        refuse_other_readings(rows)
    strings = [_tuned(row, tuning, a4_hz, has_mechanism="kind" in both) for row in rows.values()]  # a tuning's name tells of no levers
    refuse_same_notes(strings)
    highest_first = sorted(strings, key=lambda s: (step_of_note(s.note), midi_of_note(s.note)), reverse=True)
    return Instrument(both["name"], a4_hz, tuning, tuple(highest_first), kind)


def _tuned(row: Row, tuning: str | None, a4_hz: float, *, has_mechanism: bool) -> StringSpec:
    """has_mechanism: of a string for which the file does not say it."""
    note = row.note or (note_in(row.step, tuning) if tuning else None)
    if note is None:
        raise InstrumentError('says nothing of the notes: add a line such as tuning = "flats", or a note to each string')
    letter, accidental, octave = split_note(note)
    note = f"{letter}{accidental}{octave}"
    mechanism, follows = has_mechanism if row.mechanism is None else row.mechanism, row.mechanism is not False or row.note is None
    return StringSpec(row.name, note, audible_hz(row.name, note, a4_hz), row.material, row.length_mm, row.gauge_mm, mechanism, follows)

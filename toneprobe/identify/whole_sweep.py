"""One recording's plucks named: the way in to the room."""

from dataclasses import replace

from toneprobe.audio import Recording
from toneprobe.identify.alone import alone
from toneprobe.identify.as_played import as_played
from toneprobe.identify.between_notes import NOTHING_KNOWN, Known
from toneprobe.identify.candidates import candidates
from toneprobe.identify.collected import collect
from toneprobe.identify.named import Identification
from toneprobe.identify.octave_leaps import octave_leaps_are_harmonics, octave_leaps_complete_sweep, struck_over
from toneprobe.identify.solution import Events, Solution
from toneprobe.identify.solve import solve
from toneprobe.instrument import Instrument
from toneprobe.segment import Span
from toneprobe.workers import Each, one_by_one


def identify(recording: Recording, spans: tuple[Span, ...], instrument: Instrument, *, each: Each | None = None,
             known: Known = NOTHING_KNOWN) -> Identification:
    """Name every span of one recording; `each` maps functions of the recording over many of them (`workers`)."""
    each = each or one_by_one(recording)
    events = Events(candidates(recording, spans, instrument, each), instrument)
    if not events.candidates:
        return Identification((), instrument.strings, ())
    solution = solve(recording, events, known)
    played = as_played(instrument, events.likenesses, events.onsets_s, solution.path)
    if played != instrument:
        events = Events(candidates(recording, spans, played, each), played)
        solution = solve(recording, events, known)
    solution = _with_struck_over(recording, events, solution, known, each)
    found = alone(collect(recording, events, solution), played, each)
    if solution.is_leaping and not octave_leaps_complete_sweep(found) and octave_leaps_are_harmonics(found.named, each):
        solution = solve(recording, events, known, may_leap=False)
        solution = _with_struck_over(recording, events, solution, known, each, may_leap=False)
        found = alone(collect(recording, events, solution), played, each)
    set_by_hand = frozenset(one.name for one in instrument.strings if not one.mechanism)
    return replace(found, respelled=_respelled(instrument, played), kind=instrument.kind, set_by_hand=set_by_hand)


def _with_struck_over(recording: Recording, events: Events, solution: Solution, known: Known, each: Each, *,
                      may_leap: bool = True) -> Solution:
    """Solved again, where a string struck over one that rings, an octave or a twelfth lower, was named as that one; else the same."""
    over = struck_over(events, solution, each)
    return solve(recording, events, known, may_leap=may_leap, over=over) if over else solution


def _respelled(told: Instrument, played: Instrument) -> tuple[tuple[str, str], ...]:
    """Pairs of letters with their accidentals, each once, from the highest string down."""
    notes = zip(told.strings, played.strings, strict=True)
    return tuple(dict.fromkeys((one.note.rstrip("0123456789"), other.note.rstrip("0123456789")) for one, other in notes if one != other))

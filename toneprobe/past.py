"""What a book knows of a harp's strings on one day: which are on, what they were when fresh, how that was recorded, which still stretch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from toneprobe.baseline import Baseline, fresh_baseline
from toneprobe.book import read
from toneprobe.book.connect import Book
from toneprobe.book.entries import Fitting, RecordingEntry, StoredPluck
from toneprobe.condition import Capture
from toneprobe.harp_state import harp_state


@dataclass(frozen=True)
class Past:
    """By string name, but for the captures: those of all fresh sweeps that the baselines rest on."""

    fittings: Mapping[str, Fitting]
    baselines: Mapping[str, Baseline]
    fresh_plucks: Mapping[str, tuple[StoredPluck, ...]]
    captures: tuple[Capture, ...]
    settling: frozenset[str]

    @property
    def stand_ins(self) -> frozenset[str]:
        return frozenset(string for string, one in self.fittings.items() if one.is_stand_in)


def past_of(book: Book, harp_id: int, *, on: date, leaving_out: int | None = None) -> Past:
    """As of the end of that day. `leaving_out`: a sweep that must not be compared with itself.

    A baseline holds only plucks of the fitting that is on, from fresh sweeps of that day or before.
    """
    fittings = read.current_fittings(book, harp_id, on=on)
    plucks = {string: _fresh_plucks(book, one, on, leaving_out) for string, one in fittings.items()}
    plucks = {string: found for string, found in plucks.items() if found}
    sweeps = dict.fromkeys(pluck.sweep_id for found in plucks.values() for pluck in found)
    captures = tuple(capture for sweep_id in sweeps for capture in captures_of(read.sweep(book, sweep_id).recordings))
    state = harp_state(book, harp_id, read.harp_by_id(book, harp_id).instrument, today=on)
    settling = frozenset(string for string, one in fittings.items() if string not in plucks and state.still_settles(one))
    return Past(fittings, _baselines(plucks), plucks, captures, settling)


def captures_of(recordings: Sequence[RecordingEntry]) -> tuple[Capture, ...]:
    return tuple(Capture(one.quality, float(one.rate_hz)) for one in recordings)


def _fresh_plucks(book: Book, fitting: Fitting, on: date, leaving_out: int | None) -> tuple[StoredPluck, ...]:
    return tuple(one for one in read.fresh_plucks(book, fitting.id) if one.date <= on and one.sweep_id != leaving_out)


def _baselines(plucks: Mapping[str, tuple[StoredPluck, ...]]) -> dict[str, Baseline]:
    """Strings that were fresh in the same sweeps share a capture: a microphone, a room, a day."""
    groups: dict[tuple[int, ...], list[StoredPluck]] = {}
    for found in plucks.values():
        groups.setdefault(tuple(sorted({one.sweep_id for one in found})), []).extend(found)
    baselines: dict[str, Baseline] = {}
    for ids, found in groups.items():
        sweeps = [[one.measurement for one in found if one.sweep_id == sweep_id] for sweep_id in ids]
        baselines |= fresh_baseline(sweeps, capture=f"sweeps {', '.join(map(str, ids))}")
    return baselines

"""What the microphone did between the fresh sweep of a few strings and this sweep, told by the other strings heard in both.

A string restrung singly has a fresh sweep of its own. By itself it cannot tell another microphone from its own dulling. But that sweep
heard other strings too, and so does this one: their change between the two, whatever each of them is compared with itself, is what the two
recordings differ by, and what strings wore off in that time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from toneprobe.baseline.fresh import Baseline
from toneprobe.baseline.pairing import Pairs, pair_partials
from toneprobe.condition.context import Comparable, SweepContext
from toneprobe.session.reading import SweepReading

Links = Mapping[str, Mapping[str, Pairs]]  # by `Baseline.capture`, then by string


def linked_pairs(strings: Sequence[str], sweep: SweepReading, fresh: Mapping[str, Baseline], comparable: Mapping[str, Comparable],
                 context: SweepContext | None) -> Links:
    """The partials of the other strings now, beside the same in the fresh sweeps of `strings`; only of one note in both."""
    found: dict[str, Mapping[str, Pairs]] = {}
    for capture, of_it in by_capture(strings, fresh).items():
        beside = context.beside.get(capture) if context else None
        then = beside.readings if beside else {}
        both = [name for name in then if name not in of_it and name in sweep.readings and sweep.readings[name].note == then[name].note]
        found[capture] = {name: pair_partials(sweep.readings[name], then[name], comparable[of_it[0]].band) for name in both}
    return found


def by_capture(strings: Sequence[str], fresh: Mapping[str, Baseline]) -> dict[str, list[str]]:
    """The strings that were fresh in the same recordings, by these."""
    groups: dict[str, list[str]] = {}
    for string in strings:
        groups.setdefault(fresh[string].capture, []).append(string)
    return groups

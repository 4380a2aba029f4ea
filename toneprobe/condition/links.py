"""What room and microphone did between the fresh sweep of a few strings and this sweep, told by the other strings heard in both.

A string restrung singly has a fresh sweep of its own, and cannot by itself tell another microphone from its own dulling, nor a livelier
room from its own loss. But that sweep heard other strings too, and so does this one: their change between the two, whatever each is
compared with itself, is what the two recordings differ by, plus what the strings wore off in that time.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.baseline.decay_change import PARTS, DecayChange, decay_change
from toneprobe.baseline.fresh import Baseline
from toneprobe.baseline.pairing import Pairs, pair_partials
from toneprobe.baseline.robust import robust_fit
from toneprobe.baseline.scatter import USUAL_SCATTER
from toneprobe.condition.context import Comparable, SweepContext
from toneprobe.condition.verdict import Condition
from toneprobe.measure.figure import Figure, errors_together
from toneprobe.session.reading import SweepReading

N_AROUND = 9  # nearest strings in pitch, which show a string's room: a third of them may be bad
LEAST_AROUND = 5  # of them, for a straight line has two to itself and one may be bad (set)
SAID_SHARE = 1.0 / 3.0  # of the change that is noticed: a room's part as large as this is said
SURE_ERRORS = 2.0  # least number of its own errors that such a part must be
TOO_FEW = Figure(None, None, "too few strings around are known in both")

Links = Mapping[str, Mapping[str, Pairs]]  # by `Baseline.capture`, then by string


@dataclass(frozen=True)
class FreshRoom:
    """How much of a string's log decay may be the room of its own fresh sweeps. Positive where that room was the livelier."""

    days: tuple[date, ...]  # of these sweeps
    all: Figure
    low: Figure
    high: Figure

    @property
    def is_said(self) -> bool:
        """Whether the whole, the lowest or the upper partials have so large a part, beyond its own doubt."""
        parts = ((self.all, limits.DECAY_NOTICED), (self.low, limits.DECAY_NOTICED), (self.high, limits.HIGHS_NOTICED))
        return any(part.known and part.value >= max(SAID_SHARE * noticed, SURE_ERRORS * part.se) for part, noticed in parts)


def linked_pairs(strings: Sequence[str], sweep: SweepReading, fresh: Mapping[str, Baseline], comparable: Mapping[str, Comparable],
                 context: SweepContext) -> Links:
    """The partials of the other strings now, beside the same in the fresh sweeps of `strings`; only of one note in both."""
    found: dict[str, Mapping[str, Pairs]] = {}
    for capture, group in by_capture(strings, fresh).items():
        then = context.beside[capture].readings if capture in context.beside else {}
        both = [name for name in then if name not in group and name in sweep.readings and sweep.readings[name].note == then[name].note]
        found[capture] = {name: pair_partials(sweep.readings[name], then[name], comparable[group[0]].band) for name in both}
    return found


def fresh_rooms(changes: Mapping[str, Change], fresh: Mapping[str, Baseline], links: Links, *, sweep: SweepReading,
                context: SweepContext) -> Mapping[str, FreshRoom]:
    """By string, what the strings about it in pitch lost since its own fresh sweeps and did not lose since they were fresh themselves.

    That cannot be their age: in its fresh sweeps they rang longer than when they were new. What they lost since they were fresh may be age
    and is not counted, so that strings that aged together are seen.
    """
    found = {}
    for capture, group in by_capture(list(changes), fresh).items():
        linked = {name: _decay(pairs, sweep.readings[name].n_plucks, context.beside[capture].readings[name].n_plucks)
                  for name, pairs in links.get(capture, {}).items() if name in changes}
        lost = {part: {name: _beyond_age(getattr(decay, part), getattr(changes[name].decay, part)) for name, decay in linked.items()}
                for part in PARTS}
        for string in group if len(linked) >= LEAST_AROUND else ():
            octaves = {name: float(np.log2(changes[name].pitch_hz / changes[string].pitch_hz)) for name in linked}
            near = sorted(linked, key=lambda name: abs(octaves[name]))
            parts = {part: _at_string([(octaves[name], lost[part][name]) for name in near]) for part in PARTS}
            found[string] = FreshRoom(context.beside[capture].days, **parts)
    return found


def own_room(hz: float, conditions: Sequence[Condition], day: date) -> FreshRoom:
    """For a string at that pitch: how much longer the strings about it ring in the sweep of that day than when they were fresh, if this
    sweep is its own fresh one."""
    pitched = [(float(np.log2(one.figures["pitch_hz"].value / hz)), one.changes)
               for one in conditions if one.changes and one.figures["pitch_hz"].known]
    near = sorted(pitched, key=lambda entry: abs(entry[0]))
    parts = {part: _at_string([(octaves, _negative(changes[key])) for octaves, changes in near]) for part, key in PARTS.items()}
    return FreshRoom((day,), **parts)


def by_capture(strings: Sequence[str], fresh: Mapping[str, Baseline]) -> dict[str, list[str]]:
    """The strings grouped by the recordings in which they were fresh."""
    groups: dict[str, list[str]] = {}
    for string in strings:
        groups.setdefault(fresh[string].capture, []).append(string)
    return groups


def _decay(pairs: Pairs, n_now: int, n_fresh: int) -> DecayChange:
    return decay_change(pairs, USUAL_SCATTER, n_now=n_now, n_fresh=n_fresh, with_caps=False)


def _beyond_age(since_then: Figure, since_fresh: Figure) -> Figure:
    """What a string lost since that sweep beyond what it lost since it was fresh, log decay."""
    if not (since_then.known and since_fresh.known):
        return TOO_FEW
    return Figure(since_then.value - max(since_fresh.value, 0.0), errors_together(since_then.se, since_fresh.se))


def _negative(figure: Figure) -> Figure:
    return Figure(-figure.value, figure.se) if figure.known else figure


def _at_string(near: Sequence[tuple[float, Figure]]) -> Figure:
    """What most strings about one show, each so many octaves off it, nearest first: a straight line over pitch, as a room's part grows with
    shorter rings."""
    known = [(octaves, figure) for octaves, figure in near if figure.known and figure.se][:N_AROUND]
    if len(known) < LEAST_AROUND:
        return TOO_FEW
    values, variances = np.array([figure.value for _, figure in known]), np.array([figure.se**2 for _, figure in known])
    line, covariance, _ = robust_fit(values, variances, np.array([(1.0, octaves) for octaves, _ in known]))
    return Figure(float(line[0]), float(np.sqrt(covariance[0, 0])))

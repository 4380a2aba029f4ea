"""The change of every comparable string, without what the recorders differ by and what they cannot carry."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from toneprobe.baseline.beats_change import NO_COMMON_BEAT
from toneprobe.baseline.change import Change, change_since
from toneprobe.baseline.fresh import Baseline
from toneprobe.baseline.hand import hand_of_sweep
from toneprobe.baseline.level_curve import LevelCurve, level_curve
from toneprobe.baseline.longer_room import longer_room_s
from toneprobe.baseline.pairing import Pairs, pair_partials
from toneprobe.baseline.ripple_change import RippleChange
from toneprobe.baseline.room_ring import room_ring_s
from toneprobe.baseline.scatter import USUAL_SCATTER, pooled_scatter
from toneprobe.baseline.sinking import Sinking
from toneprobe.baseline.wave_change import WaveChange
from toneprobe.condition.context import Comparable
from toneprobe.condition.links import Links, by_capture
from toneprobe.measure.figure import Figure
from toneprobe.session.reading import SweepReading


def sweep_change(strings: Sequence[str], sweep: SweepReading, fresh: Mapping[str, Baseline],
                 comparable: Mapping[str, Comparable], links: Links) -> tuple[Mapping[str, Change], LevelCurve | None]:
    """Change by string, and the level curve of the largest group of strings that were fresh in one recording. comparable: by string.

    Strings restrung later have another fresh recording, and so a curve of their own; where they are few, that of the other strings that it
    heard, in `links`.
    """
    scatter = pooled_scatter([*(sweep.readings[s] for s in strings), *(fresh[s].reading for s in strings)])
    groups = by_capture(strings, fresh)
    pairs = {s: pair_partials(sweep.readings[s], fresh[s].reading, comparable[s].band) for s in strings}
    shared = {capture: level_curve([pairs[s] for s in group]) for capture, group in groups.items()}
    curves = {s: curve or _linked_curve([pairs[other] for other in groups[capture] if other != s], links.get(capture, {}))
              for capture, curve in shared.items() for s in groups[capture]}
    hand = hand_of_sweep(strings, sweep.readings, fresh)
    room_s = room_ring_s(sweep.readings.values(), [fresh[s].reading for s in strings])
    longer_s = {capture: longer_room_s([pairs[s] for s in group]) for capture, group in groups.items()}
    changes = {
        string: as_supported(change_since(sweep.readings[string], fresh[string], scatter=scatter.get(string, USUAL_SCATTER),
                                          curve=curves[string], band=comparable[string].band, hand_of_sweep=hand, room_s=room_s,
                                          longer_s=longer_s[fresh[string].capture]),
                             comparable[string])
        for string in strings
    }
    return changes, shared[max(groups, key=lambda capture: len(groups[capture]))]


def _linked_curve(shared: Sequence[Pairs], linked: Mapping[str, Pairs]) -> LevelCurve | None:
    """For few strings, the curve of all others heard in a string's fresh sweep and now: beside so few its own dulling would show."""
    return level_curve([*shared, *linked.values()]) if linked else None


def as_supported(change: Change, comparable: Comparable) -> Change:
    """What the recordings cannot support becomes unknown, with the reason. Sinking goes with the decay: a string that lost its ring glides
    by more."""
    if comparable.why_no_decay:
        unknown = Figure(None, None, comparable.why_no_decay)
        decay = change.decay.with_figures(lambda *_: unknown)
        change = replace(change, ripple=RippleChange(unknown), wave=WaveChange(unknown), beats=NO_COMMON_BEAT, decay=decay,
                         sinking=Sinking(unknown), room_loss={})
    if comparable.why_no_weak:
        unknown = Figure(None, None, comparable.why_no_weak)
        change = replace(change, ripple=RippleChange(unknown, is_refused=True), wave=WaveChange(unknown), beats=NO_COMMON_BEAT)
    if comparable.why_no_brightness:
        change = replace(change, brightness=Figure(None, None, comparable.why_no_brightness))
    return change

"""How far the whole harp stood off on the day of a fresh sweep of some strings, told by the other strings heard in it.

Strings restrung as a set have a fresh sweep of their own. If the whole harp was a few cents sharp that day, they seem to have fallen
together ever after, with no weather to explain it. The others tell how far they stood, that day, from where they were when fresh; but
weather moves one material and not another. So the harp's level is only what both show: the new strings' height against their notes,
relative to that of the others when fresh, and the others' move.
"""

from collections.abc import Collection, Mapping
from statistics import median

from toneprobe.baseline.fresh import Baseline
from toneprobe.condition.context import HeardBeside
from toneprobe.condition.links import by_capture
from toneprobe.instrument import Instrument
from toneprobe.session.reading import Reading
from toneprobe.units import cents_between

LEAST_BESIDE = 4  # other strings heard with them: the median holds though one slipped (set)


def fresh_levels(strings: Collection[str], fresh: Mapping[str, Baseline], beside: Mapping[str, HeardBeside],
                 instrument: Instrument) -> dict[str, float]:
    """By string, the cents by which the whole harp stood above its usual level when the string was fresh; 0 where nothing tells."""
    notes_hz = {spec.name: spec.expected_hz for spec in instrument.strings}
    materials = {spec.name: spec.material for spec in instrument.strings}
    was_hz = {name: pitch_hz for name, one in fresh.items() if (pitch_hz := _pitch_hz(one.reading))}
    levels = dict.fromkeys(strings, 0.0)
    for capture, group in by_capture(list(strings), fresh).items():
        then = beside[capture].readings if capture in beside else {}
        then_hz = {name: pitch_hz for name, one in then.items() if name in was_hz and name not in group
                   and one.note == fresh[name].reading.note and (pitch_hz := _pitch_hz(one))}
        if len(then_hz) < LEAST_BESIDE:
            continue
        moved_cents = median(cents_between(pitch_hz, was_hz[name]) for name, pitch_hz in then_hz.items())
        others_cents = median(cents_between(was_hz[name], notes_hz[name]) for name in then_hz)
        for material in {materials[name] for name in group}:
            own = [name for name in group if materials[name] == material and name in was_hz]
            own_cents = median([cents_between(was_hz[name], notes_hz[name]) for name in own] or [others_cents])
            levels |= dict.fromkeys(own, _shown_by_both(own_cents - others_cents, moved_cents))
    return levels


def _shown_by_both(cents: float, other_cents: float) -> float:
    """The smaller of two of one sign, else 0."""
    return 0.0 if cents * other_cents <= 0.0 else min(cents, other_cents, key=abs)


def _pitch_hz(reading: Reading) -> float | None:
    return reading.figures["pitch_hz"].value

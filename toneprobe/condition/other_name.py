"""Strings that stand far off the others in a sweep of a few, where the string a semitone that way was not heard: it may have been that one.

D 40 cents sharp sounds as E flat 60 cents flat does. Where their order told little it was named by its pitch, and would be judged, and
tuned, for another.
"""

from __future__ import annotations

from collections.abc import Mapping
from statistics import median

from toneprobe.baseline.fresh import Baseline
from toneprobe.instrument import Instrument
from toneprobe.limits import OTHER_NAME_CENTS, OUT_OF_TUNE_CENTS
from toneprobe.session.reading import SweepReading
from toneprobe.sweep_order import LEAST_ORDERED
from toneprobe.units import cents_between

SEMITONE_CENTS = (60.0, 140.0)  # from note to note, of owners' tunings too


def may_be_others(sweep: SweepReading, fresh: Mapping[str, Baseline], instrument: Instrument) -> Mapping[str, tuple[str, float]]:
    """By string: which other it may have been, and how far off the others it stands in cents. Not one that stood so when fresh."""
    cents = {string: now.figures["cents_off"].value for string, now in sweep.readings.items() if now.figures["cents_off"].known}
    if len(sweep.readings) >= LEAST_ORDERED:
        return {}
    found = {}
    for spec in instrument.strings:
        if spec.name not in cents or _is_as_when_fresh(cents[spec.name], fresh.get(spec.name)):
            continue
        off = cents[spec.name] - median([0.0, *(value for string, value in cents.items() if string != spec.name)])
        way = 1.0 if off > 0.0 else -1.0
        beside = [other.name for other in instrument.strings if other.name not in sweep.readings
                  and SEMITONE_CENTS[0] < way * cents_between(other.expected_hz, spec.expected_hz) < SEMITONE_CENTS[1]]
        if beside and abs(off) >= OTHER_NAME_CENTS:
            found[spec.name] = beside[0], off
    return found


def _is_as_when_fresh(cents: float, fresh: Baseline | None) -> bool:
    then = fresh.figures["cents_off"] if fresh else None
    return then is not None and then.known and abs(cents - then.value) < OUT_OF_TUNE_CENTS

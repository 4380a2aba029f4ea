"""Strings whose plucks may be another's, by their pitch.

In a sweep of a few: those that stand far off the others, where the string a semitone that way was not heard. D 40 cents sharp sounds as E
flat 60 cents flat does. If the order told little, it was named by its pitch, and would be judged, and tuned, for another.

In any sweep: those with more plucks than nearly all others, where a string beside them was not heard that its lever or pedal would bring to
their note; with twice as many and more, beside any that was not heard, for it may have fallen to that note. Those that number, order and
pitch told apart have their names by now (`identify/neighbours_note`); the rest may be mixed here.
"""

from collections.abc import Mapping
from itertools import pairwise
from statistics import median

from toneprobe.baseline.fresh import Baseline
from toneprobe.identify.neighbours_note import usual_n_plucks
from toneprobe.identify.sweep_order import LEAST_ORDERED
from toneprobe.instrument import Instrument
from toneprobe.limits import OUT_OF_TUNE_CENTS
from toneprobe.remarks.tuning import is_semitone
from toneprobe.session.reading import SweepReading
from toneprobe.units import cents_between

OTHER_NAME_CENTS = 30.0  # so far off in a sweep of a few strings it may be the string a semitone that way: a third of the semitone (set)


def may_be_others(sweep: SweepReading, fresh: Mapping[str, Baseline], instrument: Instrument) -> Mapping[str, tuple[str, float]]:
    """By string: which other it may have been, and its cents off the others. Not one that stood so when fresh."""
    if len(sweep.readings) >= LEAST_ORDERED:
        return {}
    cents = {string: now.figures["cents_off"].value for string, now in sweep.readings.items() if now.figures["cents_off"].known}
    found = {}
    for spec in instrument.strings:
        if spec.name not in cents or _is_as_when_fresh(cents[spec.name], fresh.get(spec.name)):
            continue
        off = cents[spec.name] - median([0.0, *(value for string, value in cents.items() if string != spec.name)])
        way = 1.0 if off > 0.0 else -1.0
        beside = [other.name for other in instrument.strings if other.name not in sweep.readings
                  and is_semitone(way * cents_between(other.expected_hz, spec.expected_hz))]
        if beside and abs(off) >= OTHER_NAME_CENTS:
            found[spec.name] = beside[0], off
    return found


def may_hold_others(sweep: SweepReading, instrument: Instrument) -> Mapping[str, tuple[str, int]]:
    """By string: which other may have sounded its note, and how many plucks nearly every string has."""
    n_plucks = {string: now.n_plucks for string, now in sweep.readings.items()}
    n_usual = usual_n_plucks(n_plucks) if len(n_plucks) >= LEAST_ORDERED else None
    if n_usual is None:
        return {}
    found = {}
    for above, below in pairwise(instrument.strings):
        for one, other in ((above, below), (below, above)):
            may_be_moved = other.mechanism and is_semitone(abs(cents_between(one.expected_hz, other.expected_hz)))
            if n_plucks.get(one.name, 0) >= (n_usual + 1 if may_be_moved else 2 * n_usual) and other.name not in n_plucks:
                found[one.name] = other.name, n_usual
    return found


def _is_as_when_fresh(cents: float, fresh: Baseline | None) -> bool:
    then = fresh.figures["cents_off"] if fresh else None
    return then is not None and then.known and abs(cents - then.value) < OUT_OF_TUNE_CENTS

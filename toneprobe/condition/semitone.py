"""Strings a whole semitone from where they were, or from the others: a lever, disc or pedal does that, and makes another string length.

Pulled up with its lever off, a string would stand under far too much tension once the lever is on; so none of these is to be tuned before
the player has looked, and none is compared with a baseline of another length.
"""

from collections.abc import Mapping
from statistics import median

from toneprobe.baseline.fresh import Baseline
from toneprobe.instrument import Instrument
from toneprobe.session.reading import SweepReading
from toneprobe.session.sweep import LEAST_STRINGS
from toneprobe.units import SEMITONE_CENTS

LEVER_SEMITONE_CENTS = 10.0  # so near to a whole semitone off, it may be a lever or pedal: levers are regulated within a few cents (set)


def semitones_moved(sweep: SweepReading, fresh: Mapping[str, Baseline], instrument: Instrument) -> Mapping[str, float]:
    """Cents by which strings moved since fresh beyond the others, for those whose mechanism may explain the semitone."""
    fresh_cents = {string: one.figures["cents_off"] for string, one in fresh.items()
                   if string in sweep.readings and one.reading.note == sweep.readings[string].note}
    now_cents = {string: sweep.readings[string].figures["cents_off"] for string in fresh_cents}
    return _semitones({string: now_cents[string].value - then.value for string, then in fresh_cents.items()
                       if then.known and now_cents[string].known}, instrument)


def semitones_off(sweep: SweepReading, instrument: Instrument) -> Mapping[str, float]:
    """The same of strings that lie a semitone off the others now."""
    cents = {string: now.figures["cents_off"] for string, now in sweep.readings.items()}
    return _semitones({string: off.value for string, off in cents.items() if off.known}, instrument)


def _semitones(cents: Mapping[str, float], instrument: Instrument) -> Mapping[str, float]:
    """Without those that neither have a mechanism nor share their letter with another one so far off: these have slipped. Strings set by
    hand follow the key of the others; where none has a mechanism there is no such key."""
    level = median(cents.values()) if len(cents) >= LEAST_STRINGS else 0.0
    beyond = {string: value - level for string, value in cents.items()
              if abs(abs(value - level) - SEMITONE_CENTS) <= LEVER_SEMITONE_CENTS}
    ways = [(spec.note[:1], beyond[spec.name] > 0.0) for spec in instrument.strings if spec.name in beyond]
    if not any(spec.mechanism for spec in instrument.strings):
        return {}
    return {spec.name: beyond[spec.name] for spec in instrument.strings if spec.name in beyond
            and (spec.mechanism or ways.count((spec.note[:1], beyond[spec.name] > 0.0)) > 1)}

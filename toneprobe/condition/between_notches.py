"""Strings that climbed: a lever, disc or pedal between two notches stops a string short, but not firmly.

A string falls by itself; it climbs with the weather, which all of its material do, or by a hand at its pin. One that lies clearly above the
others, and did not when fresh, may be held by its mechanism: shortened by less than a semitone, losing some ring, perhaps buzzing. None of
that is the string's fault, so it is not called dead or false, and is not to be tuned or changed before the player has looked; if it was a
hand at its pin, it is judged as ever once it is tuned. A stop moves all partials alike; where partials went astray the pitch is known no
better than they lie, and a rise within that is theirs. Nor is it a climb where the pitch is poorly known, as of a pluck that something else
sounded over. Strings below the others are left out, for they may have slipped.

The limit is that from which a string off the others is worth a word. The strings of a real harp lie within 4 cents above their middle (24
strings of a lever harp, in two takes each), so no tuning of that kind reaches it.
"""

from collections.abc import Callable, Collection, Mapping
from statistics import median

from toneprobe.baseline.change import Change
from toneprobe.condition.fallen import pitch_against_others
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.limits import OUT_OF_TUNE_CENTS, PITCH_ERRORS
from toneprobe.measure.figure import Figure
from toneprobe.phrases import listed
from toneprobe.remarks.tuning import letters_off_together
from toneprobe.session.reading import SweepReading
from toneprobe.session.sweep import LEAST_STRINGS

STRAYS = 2.0  # times the rms by which a string's partials have gone astray, its pitch may be off by that alone: twice its spread (set)
LOOK_FIRST = ("A string does not climb so far by itself: its lever, disc or pedal may stand between two notches, which takes ring too. "
              "Look before you tune it or change it.")


def climbed(sweep: SweepReading, changes: Mapping[str, Change], instrument: Instrument,
            level_for: Callable[[StringSpec], Figure]) -> Mapping[str, float]:
    """Cents by which strings with a mechanism lie above the others, where that is worth a word and they rose by as much since fresh.
    changes: by string; level_for: where, in cents, a string belongs (`common_cause`)."""
    moved = {string: change.series.pitch_cents.value for string, change in changes.items() if change.series.pitch_cents.known}
    level = median(moved.values()) if len(moved) >= LEAST_STRINGS else 0.0
    found = {}
    for spec in instrument.strings:
        above = pitch_against_others(sweep.readings[spec.name], level_for(spec)) if spec.name in moved and spec.mechanism else None
        if above is not None and above.known:
            least = OUT_OF_TUNE_CENTS + STRAYS * (changes[spec.name].series.astray_cents.value or 0.0)
            if min(above.value, moved[spec.name] - level) >= max(least, PITCH_ERRORS * above.error):
                found[spec.name] = above.value
    return found


def warnings(above: Mapping[str, float], sweep: SweepReading) -> list[str]:
    """above: as of `climbed`. A whole letter that lies so is put down to its pedal already (`remarks.tuning.between_notches`)."""
    told = _without_letters(above, sweep)
    if not told:
        return []
    one = len(told) == 1
    cents = sorted({round(value) for value in told.values()})
    far = f"{cents[0]} cents" if len(cents) == 1 else f"{cents[0]} to {cents[-1]} cents"
    return [f"{listed(list(told))} {'sounds' if one else 'sound'} {far} above the others, and did not when fresh: is "
            f"{'its lever, disc or pedal' if one else 'each lever, disc or pedal'} in its notch? Do not tune {'it' if one else 'them'} "
            "before you have looked."]


def _without_letters(above: Mapping[str, float], sweep: SweepReading) -> Mapping[str, float]:
    cents = {(string, now.note[:1]): now.figures["cents_off"].value for string, now in sweep.readings.items()
             if now.figures["cents_off"].known}
    letters: Collection[str] = [letter for letter, _ in letters_off_together(cents)]
    return {string: value for string, value in above.items() if sweep.readings[string].note[:1] not in letters}

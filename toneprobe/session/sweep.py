"""The plucks of one sweep into readings, string by string, and the pitch level that they share."""

from collections.abc import Iterable, Sequence

import numpy as np

from toneprobe.limits import RESOLVED_PERIODS
from toneprobe.measure.figure import (
    BEAT_PARTIALS,
    BROKEN_OFF,
    FALLS_ONLY,
    FIGURES,
    GAP,
    LEVEL_RANGE_DB,
    UNSURE_NAME,
    Figure,
    Partial,
    PluckMeasurement,
)
from toneprobe.medians import SD_OF_DEVIATION, SE_OVER_MEANS
from toneprobe.session.partial_pooling import pool_partials, string_decay_spread
from toneprobe.session.pitch_steps import pitch_steps
from toneprobe.session.pooling import ADDED_BEFORE_LOG, LOG_FIGURES, pool
from toneprobe.session.reading import Reading, StringBeat, SweepReading
from toneprobe.session.tuned_between import since_tuned

APART_CENTS = 20.0  # plucks of one string on one day do not differ by more (set here; two takes agree within a cent or two)
MOST_SHARE = 0.6  # of all partials heard in a string's plucks, from which on one pitch is that of most: of two plucks that of the one with
# half as many again (set). By one or two more any two plucks differ, and those before and after a string slipped too
SEMITONE_APART_CENTS = 80.0  # what lies farther apart than this is a semitone apart, in a harp tuned by ear too (set)
LEAST_STRINGS = 3  # below, a sweep has no pitch level of its own
FAINT_DB = 25.0  # a pluck that stands so much less out of the noise than the string's best was hardly meant as one, but the string touched
# again, or a word spoken before the sweep (soft and firm plucks of a lever harp differ by up to 22 dB); and it is measured more coarsely
AS_RICH = 0.75  # such a pluck counts if it shows this share of that one's partials: only the noise differs, as if the string rang before
# all but its last pluck (set here)
STOPPED_SHARE = 1.0 / 3.0  # a pluck that rang for less than this share of the string's longest, and not long enough for its partials to be
# told, was stopped at once (set here); where a drop-out cut it off so early, it lacks ten of the 30 dB that verdicts compare, and errs by a
# fifth and more (measured on cut plucks, of a ring heard for 60 dB); and where two others rang on, a finger touched it again
HELD_DB = 20.0  # a pluck in which the string fell too little for its decay to be told, where by its other plucks it falls by so much in
# the time, was a tone that is held: a flute's, a voice's, an organ's next door (set; a string's takes differ by a quarter, not twice)


def read_sweep(plucks: Sequence[PluckMeasurement]) -> SweepReading:
    """All plucks of one sweep, from one recording or several, in any order."""
    by_string: dict[str, list[PluckMeasurement]] = {}
    for pluck in plucks:
        by_string.setdefault(pluck.string, []).append(pluck)
    readings = {string: read_string(group) for string, group in by_string.items()}
    not_read = {string: {pluck.note for pluck in group} - {readings[string].note} for string, group in by_string.items()}
    return SweepReading(
        readings,
        pitch_level(readings.values()),
        other_notes={string: tuple(sorted(notes)) for string, notes in not_read.items() if notes},
        at_two_pitches=tuple(string for string, group in by_string.items() if _is_at_two_pitches(group, readings[string].note)),
    )


def _is_at_two_pitches(plucks: Sequence[PluckMeasurement], note: str) -> bool:
    cents = [pluck.cents_off.value for pluck in plucks if pluck.note == note and pluck.cents_off.known]
    return len(cents) > 1 and max(cents) - min(cents) > SEMITONE_APART_CENTS


def read_string(plucks: Sequence[PluckMeasurement]) -> Reading:
    """One reading from those plucks of one string that count (`plucks_that_count`); if it was tuned between them, from those since.

    Another pedal or lever position is another string length, so a reading is of one note: that which was plucked most.
    """
    note = note_plucked_most(plucks)
    used = plucks_that_count(since_tuned([pluck for pluck in plucks if pluck.note == note]))
    return Reading(
        string=used[0].string,
        note=note,
        n_plucks=len(used),
        snr_db=_middle_snr_db(used),
        figures={name: _pooled(name, used) for name in FIGURES},
        partials=pool_partials(used),
        flags=tuple(dict.fromkeys(flag for pluck in used for flag in pluck.flags)),
        decay_spread=string_decay_spread(used),
        ripples=tuple(pluck.ripple for pluck in used if pluck.ripple),
        waves=tuple(pluck.wave for pluck in used if pluck.wave),
        beats=tuple(StringBeat(one.n, one.beat_hz, one.beat_depth_db) for pluck in used for one in pluck.partials if _is_own_beat(one)),
        bends=tuple(partial.bend for pluck in used for partial in pluck.partials if partial.bend is not None),
        pitch_steps=pitch_steps(used, most_cents=APART_CENTS),
    )


def _pooled(name: str, plucks: Sequence[PluckMeasurement]) -> Figure:
    return pool([getattr(pluck, name) for pluck in plucks], as_log=name in LOG_FIGURES, added=ADDED_BEFORE_LOG.get(name, 0.0))


def _middle_snr_db(plucks: Sequence[PluckMeasurement]) -> float | None:
    known = [pluck.snr_db for pluck in plucks if pluck.snr_db is not None]
    return float(np.median(known)) if known else None


def _is_own_beat(partial: Partial) -> bool:
    is_strong = partial.n <= BEAT_PARTIALS and partial.level_db > -LEVEL_RANGE_DB
    return is_strong and bool(partial.beat_hz) and partial.beat_depth_db is not None and partial.answered_by is None


def note_plucked_most(plucks: Sequence[PluckMeasurement]) -> str:
    """Of notes plucked equally often, that of which more partials were heard."""
    notes = {pluck.note for pluck in plucks}
    of_note = {note: [len(pluck.partials) for pluck in plucks if pluck.note == note] for note in notes}
    return max(sorted(notes), key=lambda note: (len(of_note[note]), sum(of_note[note])))


def plucks_that_count(plucks: Sequence[PluckMeasurement]) -> list[PluckMeasurement]:
    """Without plucks that may be something else, a word spoken before the sweep or another string touched: of a doubtful name where others
    have a sure one, far off the pitch at which most partials were heard, held as no string holds its tone, or faint beside the best. And
    without those that tell little: stopped at once or long before two others, cut off early by a drop-out, or not measured at all. At least
    one is left."""
    sure = [pluck for pluck in plucks if pluck.sureness >= UNSURE_NAME] or plucks
    cents = _pitch_of_most([(pluck.cents_off.value, max(len(pluck.partials), 1)) for pluck in sure if pluck.cents_off.known])
    near = [pluck for pluck in sure if cents is None or not pluck.cents_off.known or abs(pluck.cents_off.value - cents) <= APART_CENTS]
    falling = [pluck for pluck in near if not _is_held(pluck, near)]
    measured = [pluck for pluck in falling if pluck.partials] or falling
    rings_s = sorted((pluck.ring_s or 0.0 for pluck in measured), reverse=True)
    best = max(measured, key=lambda pluck: pluck.clearness_db)
    clear = [pluck for pluck in measured
             if pluck.clearness_db > best.clearness_db - FAINT_DB or len(pluck.partials) >= AS_RICH * len(best.partials)]
    return [pluck for pluck in clear if not _was_stopped(pluck, rings_s)] or clear


def _pitch_of_most(heard: Sequence[tuple[float, int]]) -> float | None:
    """Of plucks' (cents off, partials), in any order, the cents near which most partials were heard; None where that is less than
    MOST_SHARE. Of several such the nearest to the median."""
    n_near = {cents: sum(n for other, n in heard if abs(cents - other) <= APART_CENTS) for cents, _ in heard}
    most = max(n_near.values(), default=0)
    if not heard or most < MOST_SHARE * sum(n for _, n in heard):
        return None
    median = float(np.median([cents for cents, _ in heard]))
    return min((cents for cents, n in n_near.items() if n == most), key=lambda cents: (abs(cents - median), cents))


def _is_held(pluck: PluckMeasurement, plucks: Sequence[PluckMeasurement]) -> bool:
    """Whether the tone was held up by something (see HELD_DB). The book keeps its reason among the flags."""
    shown_s = [other.t60_s.value for other in plucks if other.t60_s.known]
    is_level = any(FALLS_ONLY in flag for flag in pluck.flags)
    return is_level and bool(shown_s) and 60.0 * (pluck.ring_s or 0.0) / max(shown_s) > HELD_DB


def _was_stopped(pluck: PluckMeasurement, rings_s: Sequence[float]) -> bool:
    """rings_s: how long the string's plucks rang, longest first. Where two others rang three times as long it was touched again."""
    ring_s = pluck.ring_s or 0.0
    if len(rings_s) > 2 and ring_s < STOPPED_SHARE * rings_s[1]:
        return True
    is_unresolved = pluck.pitch_hz.known and ring_s < RESOLVED_PERIODS / pluck.pitch_hz.value
    return ring_s < STOPPED_SHARE * rings_s[0] and (is_unresolved or GAP in pluck.flags or BROKEN_OFF in pluck.flags)


def pitch_level(readings: Iterable[Reading]) -> Figure:
    """Median of the strings' cents off, with its error from their scatter, robust against a third of them."""
    cents = np.array([r.figures["cents_off"].value for r in readings if r.figures["cents_off"].known], float)
    if cents.size < LEAST_STRINGS:
        return Figure(None, None, "too few strings with a pitch")
    centre = float(np.median(cents))
    scatter = SD_OF_DEVIATION * float(np.median(np.abs(cents - centre)))
    return Figure(centre, max(SE_OVER_MEANS * scatter, 0.1) / float(np.sqrt(cents.size)))

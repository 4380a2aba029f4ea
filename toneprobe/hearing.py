"""From sound to figures: open a recording, find what is new in it (segment), name each pluck over the whole sweep (identify), measure each.
Nothing here knows of a book, a baseline or a verdict."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from toneprobe.audio import Recording, open_recording, without_foreign_gain, without_hum
from toneprobe.identify.between_notes import NOTHING_KNOWN, Known
from toneprobe.identify.candidates import AGAIN, PART_OF_IT
from toneprobe.identify.named import NOTHING_NEW, Identification, NamedSpan, Rejected
from toneprobe.identify.neighbours_note import fallen_beside
from toneprobe.identify.whole_sweep import identify
from toneprobe.instrument import Instrument
from toneprobe.limits import ONE_STRING_CENTS
from toneprobe.measure.answers import with_answers
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.measure.pluck import measure_pluck
from toneprobe.measure.stiffness_run import fits, out_of_run
from toneprobe.segment import find_spans
from toneprobe.units import cents_between
from toneprobe.workers import Each, Progress, shared_out

KNOWN_CENTS = ONE_STRING_CENTS / 4.0  # standard error of a pitch that tells one string from another (set: four errors)
LEAST_SHARED_SPANS = 24  # fewer are not worth starting other processes for
FOREIGN_S = 2.5  # a sound that is no pluck may go on so long; what ends later is the string that rings on under it (set)
FAR_BETTER_DB = 25.0  # soft and firm plucks of a lever harp differ by up to 22 dB (see `session.sweep.FAINT_DB`)
DROWNED = "it drowns in the noise, which its string's other plucks do not"
LONGEST_SHARED_S = 3600.0  # of longer recordings one process's figures alone need much memory


@dataclass(frozen=True)
class Heard:
    """What one recording told."""

    recording: Recording
    identification: Identification
    plucks: tuple[PluckMeasurement, ...]


def hear(recording: Recording | str | Path, instrument: Instrument, *, progress: Progress | None = None, processes: int = 1,
         known: Known = NOTHING_KNOWN) -> Heard:
    """Find, name and measure every pluck of a recording, in so many processes. `progress` is called with (plucks done, plucks in all).
    `known`: which strings may be far off their notes, as a book or the player says."""
    if not isinstance(recording, Recording):
        recording = open_recording(recording)
    sound = without_hum(recording)
    spans = find_spans(sound)
    is_shared = len(spans) >= LEAST_SHARED_SPANS and sound.duration_s < LONGEST_SHARED_S
    with shared_out(sound, processes=processes if is_shared else 1) as each:
        identification = identify(sound, spans, instrument, each=each, known=known)
        plucks = []
        for pluck in each(measure_pluck, identification.named):
            plucks.append(pluck)
            if progress:
                progress(len(plucks), len(identification.named))
        identification, plucks = with_fallen_beside(identification, plucks, each, instrument)
        plucks = _with_stiffness_in_run(identification, plucks, each)
    identification, plucks = without_drowned(identification, plucks)
    return Heard(without_foreign_gain(recording, _foreign_s(identification)), identification, with_answers(plucks))


def with_fallen_beside(identification: Identification, plucks: list[PluckMeasurement], each: Each,
                       instrument: Instrument) -> tuple[Identification, list[PluckMeasurement]]:
    """With plucks given to a string that seems skipped, where number and pitch show that they are not its neighbour's; measured again."""
    place = {one.name: k for k, one in enumerate(instrument.strings)}
    unheard = {one.name: one for one in identification.unheard}
    cents = [one.cents_off.value if one.cents_off.known and one.cents_off.se < KNOWN_CENTS else math.nan for one in plucks]
    fallen = fallen_beside([place[one.string.name] for one in identification.named], cents, len(place))
    if not fallen:
        return identification, plucks
    named = list(identification.named)
    for i, fallen_place in fallen.items():
        string = unheard[instrument.strings[fallen_place].name]
        named[i] = replace(named[i], string=string, offset_cents=cents_between(named[i].pitch_hz, string.expected_hz))
    again = dict(zip(fallen, each(measure_pluck, [named[i] for i in fallen]), strict=True))
    heard = {one.string.name for one in named}
    still_unheard = tuple(one for name, one in unheard.items() if name not in heard)
    return replace(identification, named=tuple(named), unheard=still_unheard), [again.get(i, one) for i, one in enumerate(plucks)]


def without_drowned(identification: Identification,
                    plucks: Sequence[PluckMeasurement]) -> tuple[Identification, tuple[PluckMeasurement, ...]]:
    """Without plucks whose partials have less power than the noise, where another pluck of the string stands far above it: a word spoken
    before, or a string touched, may have its pitch, but not its strength. `plucks`: of `identification.named`, in its order."""
    best: dict[tuple[str, str], float] = {}
    for pluck in plucks:
        if pluck.snr_db is not None:
            best[pluck.string, pluck.note] = max(pluck.snr_db, best.get((pluck.string, pluck.note), pluck.snr_db))
    drowned = [pluck.snr_db is not None and pluck.snr_db < min(0.0, best[pluck.string, pluck.note] - FAR_BETTER_DB) for pluck in plucks]
    if not any(drowned):
        return identification, tuple(plucks)
    pairs = list(zip(identification.named, plucks, drowned, strict=True))
    out = [Rejected(named.span, DROWNED) for named, _, is_out in pairs if is_out]
    rejected = tuple(sorted([*identification.rejected, *out], key=lambda one: one.span.onset_s))
    identification = replace(identification, named=tuple(named for named, _, is_out in pairs if not is_out), rejected=rejected)
    return identification, tuple(pluck for _, pluck, is_out in pairs if not is_out)


def _foreign_s(identification: Identification) -> list[tuple[float, float]]:
    """From when to when something sounded that was neither a pluck, nor a part of one, nor a mere change of the recorder's gain."""
    return [(one.span.onset_s, min(one.span.end_s, one.span.onset_s + FOREIGN_S)) for one in identification.rejected
            if one.reason not in (AGAIN, PART_OF_IT, NOTHING_NEW) and not one.pluck_of]


def _with_stiffness_in_run(identification: Identification, plucks: list[PluckMeasurement], each: Each) -> tuple[PluckMeasurement, ...]:
    """The plucks, those for which the rest of the sweep suggests another inharmonicity measured again with that in mind. In two rounds, for
    a correction in the first changes what is expected of the neighbours."""
    measured, tried = list(plucks), set()
    for _ in range(2):
        asked = []
        for index, expected_b in out_of_run(measured).items():
            attempt = (index, round(math.log(expected_b), 1))
            if attempt not in tried:
                tried.add(attempt)
                asked.append((index, expected_b))
        anew = each(_measured_anew, [(identification.named[index], expected_b) for index, expected_b in asked])
        for (index, expected_b), pluck in zip(asked, anew, strict=True):
            if fits(pluck, expected_b):
                measured[index] = pluck
    return tuple(measured)


def _measured_anew(recording: Recording, asked: tuple[NamedSpan, float]) -> PluckMeasurement:
    named, expected_b = asked
    return measure_pluck(recording, named, expected_b=expected_b)

"""A recorded pitch check: strings plucked as found, and perhaps again as left, become readings in the book and a state of each new string.
Neighbours plucked in the same recording are kept too: settled ones of the same material show what the weather did."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from shlex import quote
from statistics import median

from toneprobe.book.connect import Book, writing
from toneprobe.book.entries import Harp, NewCheck, SweepRecord
from toneprobe.book.filing import file_state, refuse_changed
from toneprobe.book.pitch_checks import CheckStandsError, add_checks, pitch_checks
from toneprobe.errors import BookError, RecordingError, UsageError
from toneprobe.harp_state import HarpState, harp_state
from toneprobe.hearing import hear
from toneprobe.identify.between_notes import Known
from toneprobe.instrument import Instrument, find_string
from toneprobe.judging.verdicts import judge_again, recall
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.session import Reading
from toneprobe.session.sweep import read_sweep
from toneprobe.settling import PitchReading, Settling, check_of_sweep
from toneprobe.units import shift_hz
from toneprobe.upkeep.check_plucks import BELOW_CENTS, TrustedPlucks, before_and_after, renamed, trusted_plucks
from toneprobe.upkeep.checked import how_things_stand, keep_what_settled
from toneprobe.upkeep.noted_in_order import noted_in_order
from toneprobe.workers import Progress

Readings = dict[str, Reading]

SAME_PLUCK_S = 0.1  # two onsets nearer than this are one pluck (set here)


@dataclass(frozen=True)
class CheckFiles:
    """The recordings of one check. At least one; a string just put on and tuned has a pitch as left only."""

    at: datetime
    found: Path | None = None
    left: Path | None = None
    is_retuned: bool = False  # `found` holds the named string as left too: plucked, tuned, plucked again


@dataclass(frozen=True)
class _Check:
    """What is known of a check before its recordings are heard."""

    instrument: Instrument
    young: frozenset[str]
    string: str | None  # that the player names
    is_retuned: bool
    progress: Progress | None
    is_left: bool = False  # the recording was made after the pin was touched


def hear_check(book: Book, harp: Harp, files: CheckFiles, instrument: Instrument, *, string: str | None,
               progress: Progress | None) -> tuple[NewCheck, ...]:
    """Hear the recordings of a check, every string in them; nothing is kept yet. RecordingError where `string` is not heard, or a file
    cannot serve or was written to meanwhile, UsageError where both files are one recording."""
    paths = [path for path in (files.found, files.left) if path is not None]
    states = [file_state(path) for path in paths]
    if len({one.sha256 for one in states}) < len(states):
        raise UsageError("as found and as left are the same recording: where one recording holds both, use --retuned")
    state = harp_state(book, harp.id, harp.instrument, today=files.at.date())
    young = frozenset(name for name, one in state.on.items() if state.is_young(one))
    check = _Check(instrument, young, string, files.is_retuned, progress)
    found, retuned = _hear(files.found, check)
    left = retuned or _hear(files.left, replace(check, is_left=True))[0]
    refuse_changed(paths, states)
    hash_of = {path: one.sha256 for path, one in zip(paths, states, strict=True)}
    hashes = [hash_of.get(path) for path in (files.found, files.found if retuned else files.left)]
    names = [spec.name for spec in instrument.strings if spec.name in {**found, **left}]
    readings = [_reading(name, files.at, found.get(name), left.get(name)) for name in names]
    return tuple(NewCheck(one, hashes[0] if one.found_hz else None, hashes[1] if one.left_hz else None) for one in readings)


def take_check(book: Book, harp: Harp, instrument: Instrument, heard: Sequence[NewCheck], *, today: date,
               string: str | None = None) -> tuple[HarpState, dict[str, Settling]]:
    """Keep what a check heard, note what has settled by it, and judge the sweeps from that day on again: all of it, or on any error none.
    `today`: the check's day. Returns as `checked.how_things_stand`."""
    with writing(book):
        try:
            with noted_in_order(book, harp.id, instrument):
                add_checks(book, harp.id, heard)
        except CheckStandsError as error:
            raise BookError(f"{error}, or take that check back first: "
                            f"toneprobe withdraw --check {error.at.date()} --time {error.at:%H:%M}") from error
        told = how_things_stand(book, harp.id, instrument, today=today, string=string)
        judge_again(book, harp.id, since=today)
    return told


def keep_sweep_as_check(book: Book, record: SweepRecord) -> tuple[PitchReading, ...]:
    """A sweep that was played before any tuning, as a pitch check of noon; a string that was checked at that moment keeps its reading. What
    has settled by it is noted, and the sweeps from that day on are judged again, itself included."""
    readings = recall(book, record).sweep.readings.values()
    checks = [check_of_sweep(reading, record.date, sweep_id=record.id) for reading in readings if reading.figures["pitch_hz"].known]
    with writing(book):
        known = {(one.string, one.at) for one in pitch_checks(book, record.harp_id)}
        with noted_in_order(book, record.harp_id, record.instrument):
            kept = add_checks(book, record.harp_id, [NewCheck(one) for one in checks if (one.string, one.at) not in known])
        keep_what_settled(book, harp_state(book, record.harp_id, record.instrument, today=record.date))
        judge_again(book, record.harp_id, since=record.date)
    return kept


def _hear(path: Path | None, check: _Check) -> tuple[Readings, Readings]:
    """What one recording says of each string that can be trusted in it, as found and, of a string that was tuned in it, as left."""
    if path is None:
        return {}, {}
    plucks = hear(path, check.instrument, progress=check.progress, known=Known(check.young, check.string)).plucks
    trusted, own = _trusted(path, check, plucks)
    if not own and check.string in check.young:
        others = plucks if len({one.string for one in plucks}) > 1 else ()  # alone it may have been given any name
        plucks = (*others, *_below_every_note(path, check, others))
        trusted, own = _trusted(path, check, plucks)
    if check.string is not None and not own:
        raise RecordingError(_not_told_apart(path, check, [*dict.fromkeys(one.string for one in trusted.plucks), *trusted.doubtful]))
    if not trusted.plucks:
        raise RecordingError(f"no pluck of any string of {check.instrument.name} was heard in {path.name}: is it the right recording and "
                             "tuning? Nothing was stored")
    if not check.is_retuned:
        return read_sweep(trusted.plucks).readings, {}
    found, left = before_and_after(own)
    if not found:
        raise RecordingError(f"the pitch of {check.string} does not change in {path.name}: pluck it, tune it, pluck it again; where it was "
                             "not tuned, leave out --retuned. Nothing was stored")
    others = [one for one in trusted.plucks if one.string != check.string]
    return read_sweep([*others, *found]).readings, read_sweep(left).readings


def _trusted(path: Path, check: _Check, plucks: Sequence[PluckMeasurement]) -> tuple[TrustedPlucks, list[PluckMeasurement]]:
    """What can be trusted, and those of it that are the named string's."""
    trusted = trusted_plucks(plucks, check.instrument, check.young, named=check.string, moves=check.is_retuned, may_sink=check.is_left)
    _refuse_two_pitches(path, check, trusted)
    return trusted, [one for one in trusted.plucks if one.string == check.string]


def _below_every_note(path: Path, check: _Check, heard: Sequence[PluckMeasurement]) -> list[PluckMeasurement]:
    """Plucks of the named new string where it is so flat that no string of the harp has its pitch: sought below its note, then there."""
    spec = find_string(check.instrument, check.string)

    def sought(cents: float) -> list[PluckMeasurement]:
        flat = replace(spec, expected_hz=shift_hz(spec.expected_hz, cents))
        plucks = hear(path, replace(check.instrument, strings=(flat,)), progress=check.progress).plucks
        new = [one for one in plucks if one.cents_off.known and all(abs(one.onset_s - known.onset_s) > SAME_PLUCK_S for known in heard)
               and {1, 3} <= {partial.n for partial in one.partials}]  # an octave higher only the even ones would sound
        return [renamed(one, spec) for one in new]

    for cents in BELOW_CENTS:
        rough = sought(cents)
        if rough:
            return sought(median(one.cents_off.value for one in rough))
    return []


def _refuse_two_pitches(path: Path, check: _Check, trusted: TrustedPlucks) -> None:
    """A string that was tuned between its plucks has no one pitch: a mean of two would be read as stretch."""
    for name, pitches in trusted.tuned.items():
        if check.string in (None, name):
            heard = " and at ".join(f"{round(cents)}".replace("-", "−") for cents in pitches)
            how = ("record it again as left, once it is tuned" if check.is_left else "pluck it again, alone, or where it was tuned between "
                   f"its plucks: toneprobe settle {quote(name)} {quote(str(path))} --retuned")
            raise RecordingError(f"{name} is heard at {heard} cents in {path.name}: {how}. Nothing was stored")


def _not_told_apart(path: Path, check: _Check, others: Sequence[str]) -> str:
    if not others:
        return f"no pluck of string {check.string} was heard in {path.name}: is it the right recording and tuning? Nothing was stored"
    how = "pluck it alone, once as found and once, into another recording, as left" if check.is_retuned else "pluck it alone"
    if check.string not in others:
        return (f"{check.string} was not heard in {path.name}, only {', '.join(others)}: pluck it too. Where it was plucked but is far off "
                f"its note, it cannot be told from the others: {how}. Nothing was stored")
    return (f"{check.string} cannot be told from the others in {path.name} ({', '.join(others)}): where it is far off its note, "
            f"{how}. Nothing was stored")


def _reading(name: str, at: datetime, found: Reading | None, left: Reading | None) -> PitchReading:
    note = (found or left).note
    return PitchReading(name, note, at, found.figures["pitch_hz"] if found else None, left.figures["pitch_hz"] if left else None)

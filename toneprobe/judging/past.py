"""What a sweep of one day is compared with: each string's fresh baseline, how that was recorded, and what earlier sweeps said of it."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cache

from toneprobe.audio import Quality, coarse_codec, stored_codec_kbit_s
from toneprobe.baseline import Baseline, fresh_baseline
from toneprobe.book import read
from toneprobe.book.connect import Book
from toneprobe.book.entries import NewPluck, RecordingEntry, StoredPluck
from toneprobe.condition.context import Capture, HeardBeside
from toneprobe.condition.judged_before import Said, call_that_stands, days_by_verdict
from toneprobe.fittings import Fitting
from toneprobe.harp_state import HarpState, harp_state
from toneprobe.instrument import Instrument
from toneprobe.session.reading import Reading
from toneprobe.session.sweep import note_plucked_most, read_string
from toneprobe.settling import SettledRecord

NEAR = 12  # strings on the harp, nearest to one that was fresh in a sweep of its own, that link it with a later sweep


class Lookups:
    """Queries answered once for many sweeps of one book; good as long as its plucks and their fittings stay as they are."""

    def __init__(self) -> None:
        self.readings = cache(readings_of)
        self.fresh_plucks = cache(read.fresh_plucks_in)
        self.captures = cache(lambda book, sweep_id: captures_of(read.sweep(book, sweep_id).recordings))
        self.fittings_heard = cache(read.fittings_heard)
        self._baselines: dict[tuple[tuple[int, ...], str], Baseline] = {}

    def baseline(self, plucks: tuple[StoredPluck, ...], capture: str) -> Baseline:
        """Of one string's fresh plucks."""
        key = tuple(one.id for one in plucks), capture
        if key not in self._baselines:
            sweeps = [[one.measurement for one in plucks if one.sweep_id == sweep_id] for sweep_id in _sweeps_of(plucks)]
            (self._baselines[key],) = fresh_baseline(sweeps, capture=capture).values()
        return self._baselines[key]


@dataclass(frozen=True)
class Past:
    """By string name, but for the captures: how the fresh sweeps were recorded, by the baselines' capture text."""

    fittings: Mapping[str, Fitting]
    baselines: Mapping[str, Baseline]
    fresh_plucks: Mapping[str, tuple[StoredPluck, ...]]
    captures: Mapping[str, tuple[Capture, ...]]
    settling: frozenset[str]
    said: Mapping[str, Mapping[str, tuple[date, ...]]]  # by verdict, the days of all sweeps before that say it of the fitting
    settled: Mapping[str, SettledRecord] = field(default_factory=dict)  # of strings without a baseline that their checks show settled
    beside: Mapping[str, HeardBeside] = field(default_factory=dict)  # by capture text, what those fresh sweeps heard of the other strings
    own_captures: Mapping[str, tuple[Capture, ...]] = field(default_factory=dict)  # of the recordings that hold the string's fresh plucks
    standing_calls: Mapping[str, Said] = field(default_factory=dict)  # in another position, that its baseline in the one heard can't clear

    @property
    def stand_ins(self) -> frozenset[str]:
        return frozenset(string for string, one in self.fittings.items() if one.is_stand_in)


def past_of(book: Book, harp_id: int, *, on: date, heard: Mapping[str, str] | None = None, leaving_out: Collection[int] = (),
            owners: Mapping[str, int] | None = None, before: int | None = None, lookups: Lookups | None = None) -> Past:
    """As of the end of that day. `leaving_out`: sweeps by number, for none must be compared with itself. `owners`: by string the fitting
    that a sweep of that day heard, which may have come off later in it. `before`: the number of that sweep, where the book has it: what
    another of the day says came before it only where it was stored before. `lookups`: the same ones where sweep after sweep is asked.

    A baseline holds only plucks of the fitting that is on, from fresh sweeps of that day or before, and only of one note: another pedal
    or lever position is another string length. It is the note that was `heard` of the string, where it was fresh in that one too.
    """
    lookups = lookups or Lookups()
    fittings = fittings_at(book, harp_id, on=on, owners=owners)
    heard = heard or {}
    sweep_ids = read.fresh_sweeps(book, harp_id, until=on)
    plucks = {string: tuple(pluck for sweep_id in sweep_ids.get(one.id, ()) if sweep_id not in leaving_out
                            for pluck in lookups.fresh_plucks(book, one.id, sweep_id)) for string, one in fittings.items()}
    fresh_plucks = {string: _of_one_note(found, heard.get(string)) for string, found in plucks.items() if found}
    instrument = read.harp_by_id(book, harp_id).instrument
    state = harp_state(book, harp_id, instrument, today=on)
    settling = frozenset(string for string, one in fittings.items() if string not in fresh_plucks and state.still_settles(one))
    heard_at_rest = {string: (one.id, heard[string]) for string, one in fittings.items() if string in heard and string not in settling}
    verdicts = read.verdicts_said(book, harp_id, until=on, leaving_out=leaving_out, before=before)
    said = {string: verdicts[one.id] for string, one in fittings.items() if one.id in verdicts}
    return Past(
        fittings,
        baselines=_baselines(fresh_plucks, lookups),
        fresh_plucks=fresh_plucks,
        captures={_capture_text(ids): tuple(capture for sweep_id in ids for capture in lookups.captures(book, sweep_id))
                  for ids in _by_sweeps(fresh_plucks)},
        settling=settling,
        said={string: days_by_verdict(found) for string, found in said.items()},
        settled=settled_without_baseline(fresh_plucks, state, fittings),
        beside=_beside(book, fresh_plucks, heard_at_rest, instrument, lookups),
        own_captures={string: _own_captures(book, found, lookups) for string, found in fresh_plucks.items()},
        standing_calls=_standing_calls(said, heard, fresh_plucks, on),
    )


def _standing_calls(said: Mapping[str, Sequence[Said]], heard: Mapping[str, str], plucks: Mapping[str, Sequence[StoredPluck]],
                    on: date) -> dict[str, Said]:
    """By string heard: a string without a baseline at that note may get it on the day itself."""
    found = {}
    for string in said.keys() & heard.keys():
        began = min((one.date for one in plucks.get(string, ()) if one.measurement.note == heard[string]), default=on)
        if call := call_that_stands(said[string], note=heard[string], began=began):
            found[string] = call
    return found


def settled_without_baseline(plucks: Collection[str], state: HarpState, fittings: Mapping[str, Fitting]) -> dict[str, SettledRecord]:
    """By string, that it had settled, of those without fresh plucks that were found so and don't move again."""
    noted = {record.fitting_id: record for record in state.records}
    bare = {string: one for string, one in fittings.items() if one.id in noted and string not in plucks and not one.is_stand_in}
    return {string: noted[one.id] for string, one in bare.items() if one.id not in state.readings or state.judge(one).state == "settled"}


def fittings_at(book: Book, harp_id: int, *, on: date, owners: Mapping[str, int] | None = None) -> dict[str, Fitting]:
    """By string, what was on when a sweep of that day heard those fittings: found dead and changed the same day, it is the old one."""
    by_id = {one.id: one for one in read.fitting_log(book, harp_id)} if owners else {}
    then = {string: by_id[number] for string, number in (owners or {}).items() if number in by_id}
    return read.current_fittings(book, harp_id, on=on) | then


def heard_in(plucks: Iterable[StoredPluck]) -> dict[str, int]:
    """By string, the fitting that the plucks of a sweep are of."""
    return {one.measurement.string: one.fitting_id for one in plucks if one.fitting_id is not None}


def captures_of(recordings: Sequence[RecordingEntry]) -> tuple[Capture, ...]:
    return tuple(Capture(_with_codec(one), float(one.rate_hz)) for one in recordings)


def captures_by_string(recordings: Sequence[RecordingEntry], plucks: Iterable[NewPluck | StoredPluck]) -> dict[str, tuple[Capture, ...]]:
    """Of a sweep, how those of its recordings were made that hold plucks of the string."""
    captures, places = captures_of(recordings), {}
    for one in plucks:
        places.setdefault(one.measurement.string, set()).add(one.recording)
    return {string: tuple(captures[place] for place in sorted(found)) for string, found in places.items()}


def _own_captures(book: Book, plucks: Sequence[StoredPluck], lookups: Lookups) -> tuple[Capture, ...]:
    places = sorted({(one.sweep_id, one.recording) for one in plucks})
    return tuple(lookups.captures(book, sweep_id)[place] for sweep_id, place in places)


def _with_codec(one: RecordingEntry) -> Quality:
    """Its quality, with what is known of its codec where the book was written before that was noted."""
    quality = replace(one.quality, coarse_codec=coarse_codec(one.codec))
    if quality.codec_kbit_s is not None:
        return quality
    return replace(quality, codec_kbit_s=stored_codec_kbit_s(one.codec, n_bytes=one.n_bytes, duration_s=one.duration_s,
                                                             channels=one.channels))


def readings_of(book: Book, sweep_ids: tuple[int, ...], wanted: frozenset[tuple[int, str]]) -> dict[str, Reading]:
    """By string, what these sweeps heard of fittings, wanted by number and note."""
    plucks: dict[str, list[StoredPluck]] = {}
    for one in read.plucks_in(book, sweep_ids, [number for number, _ in wanted]):
        if (one.fitting_id, one.measurement.note) in wanted:
            plucks.setdefault(one.measurement.string, []).append(one)
    return {string: read_string([one.measurement for one in found]) for string, found in plucks.items()}


def _beside(book: Book, plucks: Mapping[str, tuple[StoredPluck, ...]], heard_at_rest: Mapping[str, tuple[int, str]],
            instrument: Instrument, lookups: Lookups) -> dict[str, HeardBeside]:
    """What the fresh sweeps of some strings heard of strings near them that are on and heard now. `heard_at_rest`: by string, the number of
    the fitting and the note in which it is heard now, unless it still settles."""
    beside = {}
    for ids, strings in _by_sweeps(plucks).items():
        were_heard = lookups.fittings_heard(book, ids) if set(heard_at_rest).difference(strings) else frozenset()
        others = {string: one for string, one in heard_at_rest.items() if string not in strings and one[0] in were_heard}
        near = _near(strings, [spec.name for spec in instrument.strings if spec.name in others], instrument)
        if near:
            days = tuple(sorted({one.date for string in strings for one in plucks[string]}))
            beside[_capture_text(ids)] = HeardBeside(days, lookups.readings(book, ids, frozenset(others[string] for string in near)))
    return beside


def _near(strings: Collection[str], others: Sequence[str], instrument: Instrument) -> set[str]:
    place = {spec.name: k for k, spec in enumerate(instrument.strings)}
    return {other for string in strings if string in place
            for other in sorted(others, key=lambda name: abs(place[name] - place[string]))[:NEAR]}


def _of_one_note(plucks: Sequence[StoredPluck], heard: str | None) -> tuple[StoredPluck, ...]:
    """Those of the note heard, or where it was never fresh in that, of the one in which it was first."""
    note = heard
    if all(one.measurement.note != heard for one in plucks):
        _, first = min((one.date, one.sweep_id) for one in plucks)
        note = note_plucked_most([one.measurement for one in plucks if one.sweep_id == first])
    return tuple(one for one in plucks if one.measurement.note == note)


def _sweeps_of(plucks: Iterable[StoredPluck]) -> tuple[int, ...]:
    return tuple(sorted({one.sweep_id for one in plucks}))


def _by_sweeps(plucks: Mapping[str, tuple[StoredPluck, ...]]) -> dict[tuple[int, ...], list[str]]:
    """Strings by the sweeps in which they were fresh."""
    groups: dict[tuple[int, ...], list[str]] = {}
    for string, found in plucks.items():
        groups.setdefault(_sweeps_of(found), []).append(string)
    return groups


def _capture_text(sweep_ids: tuple[int, ...]) -> str:
    return f"sweeps {', '.join(map(str, sweep_ids))}"


def _baselines(plucks: Mapping[str, tuple[StoredPluck, ...]], lookups: Lookups) -> dict[str, Baseline]:
    """Strings that were fresh in the same sweeps share a capture: a microphone, a room, a day."""
    return {string: lookups.baseline(plucks[string], _capture_text(ids)) for ids, strings in _by_sweeps(plucks).items()
            for string in strings}

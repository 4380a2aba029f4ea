"""Which plucks of a pitch check can be trusted, and which of them are the string that the player names.

Pitch alone never names a string, and a new one can be two semitones flat: it passes for a lower neighbour. The player says that it is in
the recording; this finds its plucks only where nothing else can be meant, and leaves out a neighbour that may hold plucks of two strings.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, groupby
from statistics import median

from toneprobe.instrument import Instrument, StringSpec, find_string
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.session.sweep import APART_CENTS
from toneprobe.units import cents_between

TUNED_CENTS = 5.0  # plucks of a string further apart than this were parted by a turn of its pin (set here)
ASTRAY_CENTS = 30.0  # a settled string that lies further off the others may be another string (set here: a third of a semitone)
NEW_CENTS = (-400.0, 100.0)  # where a new string may lie: one can be two semitones flat (common practice); twice that is allowed
OLD_CENTS = (-120.0, 120.0)  # where any other string may lie that is plucked alone
BELOW_CENTS = (-200.0, -340.0)  # centres of the search for a new string where no string of the harp sounds; it reaches 120 to either side
SEMITONES_OFF_CENTS = 120.0  # farther off than this it is known by the player's word alone
TWO_STRINGS_CENTS = 8.0  # plucks under one name further apart than this are two strings' (two takes of a real one: 5.6 at the most)
UNTURNED_CENTS = 1.5  # from the first pluck, or the last, while the pin is not turned: so near lie nine takes of ten (measured). A turn
# by 2 cents so is told; of a string that the player says was tuned, and was not, every sixth pair of plucks passes for it (set)
OWN_CENTS = -60.0  # nearer to its note than this a string is known by its pitch

Plucks = Sequence[PluckMeasurement]


@dataclass(frozen=True)
class TrustedPlucks:
    """The plucks that speak of one string, and the names that more than one string may have sounded under."""

    plucks: tuple[PluckMeasurement, ...]
    doubtful: tuple[str, ...]
    tuned: Mapping[str, tuple[float, float]]  # new or named strings that have two pitches, those in cents: they are not among the plucks


def trusted_plucks(
    plucks: Plucks, instrument: Instrument, young: Collection[str], *, named: str | None = None, moves: bool = False,
    may_sink: bool = False,
) -> TrustedPlucks:
    """The plucks of known pitch under the names of their strings, in time order. `young`: strings put on lately. `named`: the string that
    the player says is in it. `moves`: it was tuned between its plucks. `may_sink`: all were just tuned, and a new one may give way."""
    known = sorted((one for one in plucks if one.cents_off.known), key=lambda one: one.onset_s)
    missing, unclear = set(young) - {one.string for one in known}, set()
    if named is not None:
        spec = find_string(instrument, named)
        own = _plucks_of(spec, known, is_young=named in young, moves=moves)
        unclear = {one.string for one in known if one.string == named and one not in own}
        known = [renamed(one, spec) if one in own else one for one in known]
        missing -= {named} if own else set()
    doubtful = (*unclear, *_doubtful(known, instrument, young, missing, named=named, moves=moves))
    other = set(doubtful) if named is None and missing else set()  # one of its two pitches may be the missing string
    tuned = _tuned_between(known, ({*young, named} - {named if moves else None}) - other, may_sink)
    return TrustedPlucks(tuple(one for one in known if one.string not in doubtful and one.string not in tuned), doubtful, tuned)


def may_be_far_off(spec: StringSpec, pluck: PluckMeasurement) -> bool:
    """Whether a pluck under another name has the pitch of a new string that is far off its note."""
    return pluck.string != spec.name and NEW_CENTS[0] <= _cents_from(spec, pluck) <= OWN_CENTS


def before_and_after(plucks: Plucks) -> tuple[Plucks, Plucks]:
    """The plucks of a string that was tuned between them, before the pin was turned and after; both empty where its pitch stays."""
    first, last = ([abs(cents_between(one.pitch_hz.value, end.pitch_hz.value)) < UNTURNED_CENTS for one in plucks]
                   for end in (plucks[0], plucks[-1]))
    n_before = next((k for k, same in enumerate(first) if not same), len(plucks))
    n_after = next((k for k, same in enumerate(reversed(last)) if not same), len(plucks))
    if n_before + n_after > len(plucks):
        return (), ()
    return plucks[:n_before], plucks[len(plucks) - n_after :]


def _tuned_between(known: Plucks, names: Collection[str | None], may_sink: bool) -> dict[str, tuple[float, float]]:
    """By name: the two pitches furthest apart in cents from its note, in time order, where a string has more than one."""
    found: dict[str, tuple[float, float]] = {}
    for name, cents in _cents_by_name(known).items():
        apart = [(a, b) for a, b in combinations(cents, 2) if abs(b - a) > TUNED_CENTS and not (may_sink and a - APART_CENTS < b < a)]
        if apart and name in names:
            found[name] = max(apart, key=lambda pair: abs(pair[1] - pair[0]))
    return found


def _plucks_of(spec: StringSpec, known: Plucks, *, is_young: bool, moves: bool) -> Plucks:
    """The plucks of the named string, empty where they cannot be told from others."""
    names = {one.string for one in known}
    own = [one for one in known if one.string == spec.name]
    if len(names) == 1:
        low, high = NEW_CENTS if is_young else OLD_CENTS
        return known if all(low <= _cents_from(spec, one) <= high for one in known) else own
    if not is_young:
        return own
    if moves and own and may_be_far_off(spec, known[0]):  # the first may be this string before it was tuned
        far = _off_every_note(spec, known)
        return [*far, *own] if far and far[0] is known[0] else []
    return own or _off_every_note(spec, known) or _beside_its_own(spec, known) or _half_of_a_long_run(spec, known)


def _off_every_note(spec: StringSpec, known: Plucks) -> Plucks:
    """The one run of plucks that lies where the named string may, and where no string that is in tune does."""
    common = _common_cents(known)
    far = [run for run in _runs(known)
           if all(may_be_far_off(spec, one) and abs(one.cents_off.value - common) > ASTRAY_CENTS for one in run)]
    return far[0] if len(far) == 1 else []


def _beside_its_own(spec: StringSpec, known: Plucks) -> Plucks:
    """Plucks one after the other under a lower name, of which others lie at the pitch of that string and these do not."""
    found = []
    for name in dict.fromkeys(one.string for one in known):
        of_name, rest = ([one for one in known if (one.string == name) is it_is] for it_is in (True, False))
        if not rest or not all(may_be_far_off(spec, one) for one in of_name):
            continue
        level = _common_cents(rest)
        stray = [one for one in of_name if abs(one.cents_off.value - level) > TWO_STRINGS_CENTS]
        own = [one.cents_off.value for one in of_name if one not in stray]
        parted = own and stray and min(abs(one.cents_off.value - cents) for one in stray for cents in own) > TWO_STRINGS_CENTS
        if parted and max(one.cents_off.value for one in stray) - min(one.cents_off.value for one in stray) <= TUNED_CENTS:
            found.append(stray)
    return found[0] if len(found) == 1 else []


def _runs(known: Plucks) -> list[list[PluckMeasurement]]:
    """Plucks one after the other under one name and at one pitch."""
    runs: list[list[PluckMeasurement]] = []
    for one in known:
        same = runs and runs[-1][-1].string == one.string and abs(runs[-1][-1].cents_off.value - one.cents_off.value) <= APART_CENTS
        if same:
            runs[-1].append(one)
        else:
            runs.append([one])
    return runs


def _half_of_a_long_run(spec: StringSpec, known: Plucks) -> Plucks:
    """Half of a run under a lower name, where it is twice as long as every other: the half that comes when the named string is due."""
    runs = [list(run) for _, run in groupby(known, key=lambda one: one.string)]
    long = [k for k, run in enumerate(runs) if all(may_be_far_off(spec, one) for one in run)]
    others = {len(run) for k, run in enumerate(runs) if k not in long}
    if len(long) != 1 or len(others) != 1 or len(runs[long[0]]) != 2 * min(others):
        return []
    place, half = long[0], len(runs[long[0]]) // 2
    above_before = any(_cents_from(spec, one) > 0 for run in runs[:place] for one in run)
    above_after = any(_cents_from(spec, one) > 0 for run in runs[place + 1 :] for one in run)
    if above_before == above_after:
        return []
    return runs[place][:half] if above_before else runs[place][half:]


def _doubtful(
    known: Plucks, instrument: Instrument, young: Collection[str], missing: Collection[str], *, named: str | None, moves: bool
) -> tuple[str, ...]:
    """Names that one string cannot have alone: plucks too far apart, a settled string astray, one pluck too many beside a missing one."""
    cents = _cents_by_name(known)
    usual = median(map(len, cents.values())) if cents else 0
    common = _common_cents(known)
    absent = [find_string(instrument, name) for name in missing]
    far = {name for name in cents if any(may_be_far_off(spec, one) for spec in absent for one in known if one.string == name)}
    return tuple(
        name for name, found in cents.items() if not (moves and name == named) and (
            max(found) - min(found) > APART_CENTS or (name in far and len(found) > usual)
            or (len(cents) > 1 and name not in young and name != named and abs(median(found) - common) > ASTRAY_CENTS))
    )


def _cents_by_name(known: Plucks) -> Mapping[str, list[float]]:
    cents: dict[str, list[float]] = {}
    for one in known:
        cents.setdefault(one.string, []).append(one.cents_off.value)
    return cents


def _common_cents(known: Plucks) -> float:
    """How far the harp lies off its notes: the middle of its strings."""
    return median(median(found) for found in _cents_by_name(known).values()) if known else 0.0


def _cents_from(spec: StringSpec, pluck: PluckMeasurement) -> float:
    return cents_between(pluck.pitch_hz.value, spec.expected_hz)


def renamed(pluck: PluckMeasurement, spec: StringSpec) -> PluckMeasurement:
    """The same pluck as one of another string; its pitch was measured, whatever it was called."""
    off = replace(pluck.cents_off, value=_cents_from(spec, pluck))
    return replace(pluck, string=spec.name, note=spec.note, cents_off=off, sureness=1.0)

"""What a player must know of the tuning that a recording was played in, in sentences: another than the given one, levers and pedals set
otherwise, strings of one note. Strings are counted, not plucks."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise, product
from statistics import median

from toneprobe.identify.as_played import LEAST_OF_LETTER
from toneprobe.identify.named import Identification
from toneprobe.identify.sweep_order import SAME_PITCH_CENTS
from toneprobe.limits import NEAR_LEVEL_CENTS, OUT_OF_TUNE_CENTS
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.phrases import listed
from toneprobe.units import cents_between, midi_of_note

RATE_OFF_CENTS = (42.0, 58.0)  # of the whole harp: a false rate is 1200·log2(48000/44100) = 146.7, or 46.7 and 53.3 from the next notes
NEXT_NOTE_CENTS = (60.0, 140.0)  # of a string tuned to the next note, on a harp that is out of tune (set)
NEARLY_ALL_SHARE = 2.0 / 3.0  # of the strings, near the median one (set, as LETTER_SHARE is)
LETTER_SHARE = 2.0 / 3.0  # of a letter's strings, off alike: a lever or a pedal key, not slipped pins
N_LETTERS, SEMITONES_OF_OCTAVE, TUNED = 7, 12, {"b": "flats", "": "naturals", "#": "sharps"}
LEAST_OFF = 4  # strings; fewer may have slipped
# What may stand wrong where all strings of a letter lie between two notes, by the kind of instrument.
QUESTIONS = {
    "pedal": "is the {letter} pedal, or its rod, in its notch", "lever": "do their levers, if they have any, stand as they should",
    None: "do their pedal or levers, if they have any, stand as they should",
}
OTHER_RATE = " A file whose header states another sample rate than it was recorded at, 48000 for 44100, sounds so too: export it again."


def tuning_remarks(identification: Identification, plucks: Sequence[PluckMeasurement]) -> tuple[str, ...]:
    by_hand = identification.set_by_hand
    held = [pluck for pluck in plucks if pluck.string not in by_hand]
    return (*_neighbours_notes(plucks, by_hand), *_equal_notes(plucks, identification), *_played_otherwise(identification, plucks),
            *another_tuning(plucks), *between_notches(held, identification.kind))


def _neighbours_notes(plucks: Sequence[PluckMeasurement], set_by_hand: Collection[str]) -> list[str]:
    """Strings that sound a neighbour's note, so that only the order of the plucks named them (`identify/neighbours_note`)."""
    found: dict[str, str] = {}
    for pair in pairwise(sorted((pluck for pluck in plucks if pluck.cents_off.known), key=lambda pluck: pluck.onset_s)):
        near, far = sorted(pair, key=lambda pluck: abs(pluck.cents_off.value))
        is_off = near.string != far.string and is_semitone(abs(far.cents_off.value)) and abs(near.cents_off.value) < NEXT_NOTE_CENTS[0]
        if is_off and abs(cents_between(far.pitch_hz.value, near.pitch_hz.value)) < SAME_PITCH_CENTS:
            found[far.string] = near.string
    look = "Is the lever, disc or pedal of {} set as it should be? Do not tune it before you have looked."
    return [f"{far} may have sounded as {near}: only the order of the plucks tells the two apart. "
            f"{'Tune it and look whether it holds.' if far in set_by_hand else look.format(far)}" for far, near in found.items()]


def _equal_notes(plucks: Sequence[PluckMeasurement], identification: Identification) -> list[str]:
    """Letters without a pluck, where others have twice as many: two pedals make one note of two strings (B sharp and C)."""
    n_plucks = Counter((pluck.string, pluck.note[:1]) for pluck in plucks)
    if not n_plucks:
        return []
    (usual_n, _), = Counter(n_plucks.values()).most_common(1)
    doubled = {string for string, n in n_plucks.items() if n >= 2 * usual_n}
    silent = {(spec.name, spec.note[:1]) for spec in identification.unheard}
    twice, missing = ([letter for letter in "CDEFGAB" if len([s for s in of_it if s[1] == letter]) >= LEAST_OF_LETTER
                       and _most_of(letter, of_it, {*n_plucks, *silent})] for of_it in (doubled, silent))
    if not twice or not missing:
        return []
    return [f"No {' or '.join(missing)} string was heard, but the {listed(twice)} strings have twice as many plucks as others. Where "
            "two pedals make one note of two strings, as B sharp and C, nothing tells which was plucked, and others may be named wrongly "
            "too: set one of the two pedals otherwise and sweep again."]


def _played_otherwise(identification: Identification, plucks: Sequence[PluckMeasurement]) -> list[str]:
    if not identification.respelled:
        return []
    accidentals = {(given[1:], played[1:]) for given, played in identification.respelled}
    if len(identification.respelled) == N_LETTERS and len(accidentals) == 1:
        (given, played), = accidentals
        changes = f"{TUNED[played]} instead of {TUNED[given]}"
    else:
        changes = listed([f"{played} instead of {given}" for given, played in identification.respelled])
    return [f"Played in another tuning than the one given: {changes}. Its strings are named and measured as they sounded; "
            f"they can be compared with their fresh sweep only in its own tuning.{_or_another_a(identification, plucks)}"]


def _or_another_a(identification: Identification, plucks: Sequence[PluckMeasurement]) -> str:
    """Whether the given notes, all a semitone off, are those played, each on the string beside it: B flat major is C flat major with
    another A. Only the ends of the sweep tell the two apart."""
    played = {pluck.note[0]: pluck.note.rstrip("0123456789") for pluck in plucks}
    given = {**played, **{note[0]: note for note, _ in identification.respelled}}
    if len(played) < N_LETTERS:
        return ""
    given_midi, played_midi = ({letter: midi_of_note(f"{note}4") for letter, note in one.items()} for one in (given, played))
    for way, word in ((-1, "below"), (1, "above")):
        moved = {(midi + way) % SEMITONES_OF_OCTAVE for midi in given_midi.values()}
        is_same = moved == {midi % SEMITONES_OF_OCTAVE for midi in played_midi.values()}
        if is_same and any(played_midi[letter] - given_midi[letter] != way for letter in played_midi):
            return (f" The same notes would sound if nothing were set otherwise and all were tuned a semitone {word} the A given; then "
                    "each string is named as the one beside it. If so, take the sweep back and give it again with --a4.")
    return ""


def another_tuning(plucks: Sequence[PluckMeasurement]) -> tuple[str, ...]:
    """Whether the harp seems tuned in another key than the given one, or is another harp: all strings a semitone off, or all of some
    letters."""
    off = _cents_off_by_string(plucks)
    level = median(off.values()) if len(off) >= LEAST_OFF else 0.0
    n_near = sum(abs(cents - level) <= NEAR_LEVEL_CENTS for cents in off.values())
    if abs(level) > RATE_OFF_CENTS[0] and n_near / len(off) < NEARLY_ALL_SHARE:
        level = 0.0  # the median lies between two groups of strings, where none is
    if abs(level) > RATE_OFF_CENTS[0]:
        asked = _ask(f"Nearly all strings sound {abs(level):.0f} cents {_way(level)} their notes")
        return (asked + OTHER_RATE if abs(level) < RATE_OFF_CENTS[1] else asked,)
    moved = {way: {string for string, cents in off.items() if is_semitone(way * (cents - level))} for way in (1, -1)}
    found = []
    for way, strings in moved.items():
        letters = [letter for letter in "CDEFGAB" if _most_of(letter, strings, off)]
        n_strings = sum(letter in letters for _, letter in strings)
        if n_strings >= LEAST_OFF:
            found.append(_ask(f"Nearly all {listed(letters)} strings sound a semitone {_way(way)} their notes"))
    return tuple(found)


def between_notches(plucks: Sequence[PluckMeasurement], kind: str | None) -> tuple[str, ...]:
    """Letters whose strings all lie between two notes: not slipped pins, but a pedal between two notches, or its rod. kind: as of
    `Instrument`; a lever moves one string only, so levers are asked about."""
    return tuple(f"The {letter} strings sound {_from_to(cents)} cents {_way(cents[0])} the others: {QUESTIONS[kind].format(letter=letter)}"
                 "? Do not tune them before you have looked."
                 for letter, cents in letters_off_together(_cents_off_by_string(plucks)))


def letters_off_together(off: Mapping[tuple[str, str], float]) -> tuple[tuple[str, tuple[float, ...]], ...]:
    """Letters most of whose strings lie off the middle of all strings in one direction, by less than a semitone, and how many cents each of
    these lies off it. off: cents off their notes, by string and letter."""
    level = median(off.values()) if len(off) >= LEAST_OFF else 0.0
    found = []
    for way, letter in product((1, -1), "CDEFGAB"):
        between_notes = {string for string, cents in off.items() if OUT_OF_TUNE_CENTS <= way * (cents - level) <= NEXT_NOTE_CENTS[0]}
        of_letter = tuple(off[string] - level for string in between_notes if string[1] == letter)
        if len(of_letter) >= LEAST_OF_LETTER and _most_of(letter, between_notes, off):
            found.append((letter, of_letter))
    return tuple(found)


def _cents_off_by_string(plucks: Sequence[PluckMeasurement]) -> Mapping[tuple[str, str], float]:
    """By string and letter, the median of its plucks, in cents off its note."""
    heard: dict[tuple[str, str], list[float]] = {}
    for pluck in plucks:
        if pluck.cents_off.known:
            heard.setdefault((pluck.string, pluck.note[:1]), []).append(pluck.cents_off.value)
    return {string: median(cents) for string, cents in heard.items()}


def _from_to(cents: Sequence[float]) -> str:
    least, most = round(min(map(abs, cents))), round(max(map(abs, cents)))
    return f"{least}" if least == most else f"{least} to {most}"


def is_semitone(cents: float) -> bool:
    """Whether an unsigned interval is within 40 cents of a semitone: owners' tunings are uneven."""
    return NEXT_NOTE_CENTS[0] < cents < NEXT_NOTE_CENTS[1]


def _most_of(letter: str, strings: Collection[tuple[str, str]], heard: Collection[tuple[str, str]]) -> bool:
    """Whether most strings of that letter that were heard, two at least, are among `strings`."""
    of_letter = [string for string in heard if string[1] == letter]
    return bool(of_letter) and sum(string in strings for string in of_letter) >= max(2, LETTER_SHARE * len(of_letter))


def _way(cents: float) -> str:
    return "above" if cents > 0 else "below"


def _ask(seen: str) -> str:
    return f"{seen}. Is it the right instrument, tuned as you said? If not, its strings are named or compared wrongly: take the sweep back."

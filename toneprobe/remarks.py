"""What a player must know of one recording, in plain sentences: what it lost, what in it was no pluck, which names are doubtful."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import pairwise, product
from statistics import median

from toneprobe.audio import Recording, coarse_codec
from toneprobe.audio.remarks import EIGHT_BITS, RIDES_GAIN, TOO_NOISY
from toneprobe.identify import LIKE_NO_STRING, NOTHING_NEW, OCTAVE_ABOVE, TOO_FAINT, Identification
from toneprobe.limits import LEAST_BENT_STRINGS, LEAST_FALLS, OUT_OF_TUNE_CENTS, SUPPRESSED_BEND
from toneprobe.measure.figure import UNSURE_NAME, PluckMeasurement
from toneprobe.measure.steps import BURIED_IN_STEPS, SUNK
from toneprobe.phrases import listed
from toneprobe.units import cents_between

PLUCK_BESIDE = "pluck it again between its two neighbours"
LEFT_OUT, NOT_COUNTED, DOUBTFUL = "Left out, because", "Not counted, because the name is doubtful", "Of doubtful name"
BREAKS_OFF = "Nearly every ring breaks off on its way down"
SPOILS_DECAYS = (RIDES_GAIN, EIGHT_BITS, BREAKS_OFF)  # how remarks begin on what bends every decay
RATE_OFF_CENTS = (42.0, 58.0)  # of the whole harp: 1200·log2(48000/44100) is 146.7, from the string a semitone up 46.7, a whole tone 53.3
SEMITONE_OFF_CENTS = (60.0, 140.0)  # of a string that is tuned to the next note, on a harp that is not in tune either
LETTER_SHARE = 2.0 / 3.0  # of a letter's strings that are off alike: a lever or a pedal key, not slipped pins
N_LETTERS, TUNED = 7, {"b": "flats", "": "naturals", "#": "sharps"}
LEAST_OF_LETTER = 3  # strings; two may have slipped (set)
LEAST_OFF = 4  # strings; fewer may have slipped
SAME_PITCH_CENTS = 15.0  # as of names (`sweep_order`): so near two strings sound one note
TWO_PITCHES_CENTS = 20.0  # far more than two takes of a string differ by (5.6 at the most), and than it is heard by (set here)
ERRORS = 4.0  # standard errors beyond which two pitches surely differ
OTHER_RATE = " A file whose header states another sample rate than it was recorded at, 48000 for 44100, sounds so too: export it again."
LEAST_ABOVE = 3  # plucks an octave above their strings, from which on the instrument is asked about (set)
KNOCKED_SHARE = 0.1  # of the plucks: worth a word
TELEPHONE_HZ = 8_000  # rate of telephones, which leaves of a tick little to tell it from a pluck's own beginning by (common practice)
CODEC_SHARE = 0.5  # of the plucks: in a file compressed with loss that is the compression (36 of 48 in an MP3 of 32 kbit/s, 3 at 48)


def speaks_of_single_sounds(remark: str) -> bool:
    """Whether it tells when something in the recording was no pluck, or of which string was doubtful: nothing of the harp itself."""
    return any(mark in remark for mark in (LEFT_OUT, NOT_COUNTED, DOUBTFUL))


def hearing_remarks(recording: Recording, identification: Identification, plucks: Sequence[PluckMeasurement], *,
                    swept: Sequence[PluckMeasurement] = (), file_name: str = "") -> tuple[str, ...]:
    """`swept`: all plucks of the sweep that the recording belongs to, none where it is measured by itself; `file_name`: where the sweep has
    several recordings."""
    is_codec = _is_lossy(recording) and _n_knocked(identification) > CODEC_SHARE * len(identification.named)
    knocks = _codec(identification) if is_codec else _knocks(identification, _own_sounds(recording))
    known_s = {at_s for one in identification.named for at_s in one.knocks_s} if knocks else set()
    known = (NOTHING_NEW, LIKE_NO_STRING, TOO_FAINT) if is_codec else (NOTHING_NEW, LIKE_NO_STRING)
    remarks = [*recording.quality.warnings, *_left_out(identification, known_s, known), *knocks, *_doubtful(plucks, swept, file_name)]
    remarks += [*_two_pitches(plucks), *_neighbours_notes(plucks), *_suppressed(plucks, swept), *_sunk(recording, plucks)]
    remarks += [*_octave_above(identification), *_equal_notes(plucks, identification)]
    return (*remarks, *_played_otherwise(identification), *another_tuning(plucks), *between_notches(plucks))


def _sunk(recording: Recording, plucks: Sequence[PluckMeasurement]) -> list[str]:
    n = sum(SUNK in pluck.flags or BURIED_IN_STEPS in pluck.flags for pluck in plucks)
    if recording.quality.eight_bits or n <= KNOCKED_SHARE * len(plucks):  # of eight bits it is said already
        return []
    return [f"It was recorded too quietly: {n} of the {len(plucks)} plucks sink among the steps between the sample values, and how long "
            "they ring is not told. Raise the input level, or set the recorder to 24 bits."]


def _octave_above(identification: Identification) -> list[str]:
    """One or two may be harmonics."""
    n = sum(one.reason == OCTAVE_ABOVE for one in identification.rejected)
    if n < LEAST_ABOVE:
        return []
    return [f"{n} plucks sound an octave above strings of this instrument and were left out: is this the right instrument file or preset?"]


def _two_pitches(plucks: Sequence[PluckMeasurement]) -> list[str]:
    """Strings that sound farther apart than one does that is left alone."""
    of_string: dict[tuple[str, str], list[PluckMeasurement]] = {}
    for pluck in plucks:
        if pluck.cents_off.known:
            of_string.setdefault((pluck.string, pluck.note), []).append(pluck)
    found, fell = [], False
    for (name, _), heard in of_string.items():
        low, high = min(heard, key=_cents), max(heard, key=_cents)
        doubt = ERRORS * math.hypot(low.cents_off.se or 0.0, high.cents_off.se or 0.0)
        apart = high.cents_off.value - low.cents_off.value
        if apart > max(TWO_PITCHES_CENTS, doubt):
            found.append(f"{name} by {apart:.0f} cents, at {low.onset_s:.1f} s and {high.onset_s:.1f} s")
            fell |= low.onset_s > high.onset_s
    if not found:
        return []
    slips = ", or, where the later is the lower, its knot or its pin slips" if fell else ""
    return [f"Heard at two pitches: {listed(found)}. A string that was not tuned in between does not move so far: it may have been another "
            f"string{slips}. Pluck it again, and those beside it."]


def _neighbours_notes(plucks: Sequence[PluckMeasurement]) -> list[str]:
    """Strings that were told from their neighbour by the order of the plucks, for they sound its note (`neighbours_note`)."""
    found: dict[str, str] = {}
    for pair in pairwise(sorted((pluck for pluck in plucks if pluck.cents_off.known), key=lambda pluck: pluck.onset_s)):
        near, far = sorted(pair, key=lambda pluck: abs(_cents(pluck)))
        is_off = near.string != far.string and _is_semitone(abs(_cents(far))) and abs(_cents(near)) < SEMITONE_OFF_CENTS[0]
        if is_off and abs(cents_between(far.pitch_hz.value, near.pitch_hz.value)) < SAME_PITCH_CENTS:
            found[far.string] = near.string
    return [f"{far} may have sounded as {near}: only the order of the plucks tells the two apart. Is the lever, disc or pedal of {far} set "
            "as it should be? Do not tune it before you have looked." for far, near in found.items()]


def _equal_notes(plucks: Sequence[PluckMeasurement], identification: Identification) -> list[str]:
    """Whether letters that were not heard at all are plucks of others that have twice as many: two pedals at one note (B sharp and C)."""
    n_plucks = Counter((pluck.string, pluck.note[:1]) for pluck in plucks)
    each = Counter(n_plucks.values()).most_common(1)
    if not each:
        return []
    doubled = {string for string, n in n_plucks.items() if n >= 2 * each[0][0]}
    silent = {(spec.name, spec.note[:1]) for spec in identification.unheard}
    twice, missing = ([letter for letter in "CDEFGAB" if len([s for s in of_it if s[1] == letter]) >= LEAST_OF_LETTER
                       and _most_of(letter, of_it, {*n_plucks, *silent})] for of_it in (doubled, silent))
    if not twice or not missing:
        return []
    return [f"No {' or '.join(missing)} string was heard, but the {listed(twice)} strings have twice as many plucks as others. Where "
            "two pedals make one note of two strings, as B sharp and C, nothing tells which was plucked, and others may be named wrongly "
            "too: set one of the two pedals otherwise and sweep again."]


def _cents(pluck: PluckMeasurement) -> float:
    return pluck.cents_off.value


def _doubtful(plucks: Sequence[PluckMeasurement], swept: Sequence[PluckMeasurement], file_name: str) -> list[str]:
    """Plucks of doubtful name, those first that do not count because the sweep has others of their string (`session.plucks_that_count`)."""
    surely = {(pluck.string, pluck.note) for pluck in swept if pluck.sureness >= UNSURE_NAME}
    doubtful = [pluck for pluck in plucks if pluck.sureness < UNSURE_NAME]
    left = [pluck for pluck in doubtful if (pluck.string, pluck.note) in surely]
    groups = ((NOT_COUNTED, left), (DOUBTFUL, [pluck for pluck in doubtful if pluck not in left]))
    where = f" in {file_name}" if file_name else ""
    told = [f"{what}: {listed([f'{pluck.string} at {pluck.onset_s:.1f} s' for pluck in of])}{where}" for what, of in groups if of]
    return [f"{'. '.join(told)}. A pluck is named by those before and after it too: {PLUCK_BESIDE}."] if told else []


def _suppressed(plucks: Sequence[PluckMeasurement], swept: Sequence[PluckMeasurement]) -> list[str]:
    """A recording of a few strings, a register of the harp, is asked with all of its sweep."""
    asked = plucks if len({pluck.string for pluck in plucks}) >= LEAST_BENT_STRINGS else swept or plucks
    bends = [(pluck.string, partial.bend) for pluck in asked for partial in pluck.partials if partial.bend is not None]
    told = len(bends) >= LEAST_FALLS and len({string for string, _ in bends}) >= LEAST_BENT_STRINGS
    if not told or median(bend for _, bend in bends) < SUPPRESSED_BEND:
        return []
    return [f"{BREAKS_OFF}, as noise suppression makes it. Switch it off, above all for a fresh sweep."]


def _played_otherwise(identification: Identification) -> list[str]:
    if not identification.respelled:
        return []
    accidentals = {(told[1:], played[1:]) for told, played in identification.respelled}
    if len(identification.respelled) == N_LETTERS and len(accidentals) == 1:
        (told, played), = accidentals
        changes = f"{TUNED[played]} instead of {TUNED[told]}"
    else:
        changes = listed([f"{played} instead of {told}" for told, played in identification.respelled])
    return [f"Played in another tuning than was told: {changes}. Its strings are named and measured as they sounded; "
            f"with their fresh sweep they can be compared only in its own tuning."]


def _is_lossy(recording: Recording) -> bool:
    return recording.source is not None and recording.source.lossy


def _n_knocked(identification: Identification) -> int:
    return sum(bool(one.knocks_s) for one in identification.named)


def _codec(identification: Identification) -> list[str]:
    """A clock may be the cause all the same, and would be said of the next recording."""
    return [f"The recording's compression left sounds of its own under {_n_knocked(identification)} of the {len(identification.named)} "
            "plucks. They were measured around it as far as may be; record without loss (WAV or FLAC), and more can be told."]


def _own_sounds(recording: Recording) -> str:
    """What in the recording itself may sound like something else, "" where nothing does."""
    if _is_lossy(recording) or coarse_codec(recording.codec):
        return "the compression"
    return "the coarse recording" if recording.quality.eight_bits or recording.rate_hz <= TELEPHONE_HZ else ""


def _knocks(identification: Identification, own: str) -> list[str]:
    """own: as `_own_sounds` says."""
    n_named, n_knocked = len(identification.named), sum(one.is_knocked for one in identification.named)
    if n_knocked < 2 or n_knocked <= KNOCKED_SHARE * n_named:
        return []
    what = f"a clock, a chair, a cough, or {own} itself?" if own else "a clock, a chair, a cough?"
    return [f"Something else sounded while {n_knocked} of the {n_named} plucks rang ({what}). "
            f"They were measured around it as far as may be; in a quiet room more can be told."]


def another_tuning(plucks: Sequence[PluckMeasurement]) -> tuple[str, ...]:
    """Whether the harp is likely tuned in another key than was told, or is another harp: all of it a semitone off, or all strings of some
    letters. Strings tell, not plucks."""
    off = _off_of_strings(plucks)
    level = median(off.values()) if len(off) >= LEAST_OFF else 0.0
    if abs(level) > RATE_OFF_CENTS[0]:
        asked = _ask(f"Nearly all strings sound {abs(level):.0f} cents {_way(level)} their notes")
        return (asked + OTHER_RATE if abs(level) < RATE_OFF_CENTS[1] else asked,)
    moved = {way: {string for string, cents in off.items() if _is_semitone(way * (cents - level))} for way in (1, -1)}
    found = []
    for way, strings in moved.items():
        letters = [letter for letter in "CDEFGAB" if _most_of(letter, strings, off)]
        concerned = sum(letter in letters for _, letter in strings)
        if concerned >= LEAST_OFF:
            found.append(_ask(f"Nearly all {listed(letters)} strings sound a semitone {_way(way)} their notes"))
    return tuple(found)


def _off_of_strings(plucks: Sequence[PluckMeasurement]) -> Mapping[tuple[str, str], float]:
    """By string and letter, cents off their notes."""
    heard: dict[tuple[str, str], list[float]] = {}
    for pluck in plucks:
        if pluck.cents_off.known:
            heard.setdefault((pluck.string, pluck.note[:1]), []).append(pluck.cents_off.value)
    return {string: median(cents) for string, cents in heard.items()}


def between_notches(plucks: Sequence[PluckMeasurement]) -> tuple[str, ...]:
    """Whether all strings of a letter lie between two notes: so slipped pins do not, but a pedal between two notches, or its rod, does."""
    return tuple(f"The {letter} strings sound {_from_to(cents)} cents {_way(cents[0])} the others: is the {letter} pedal, or its rod, in "
                 "its notch? Do not tune them before you have looked."
                 for letter, cents in letters_off_together(_off_of_strings(plucks)))


def letters_off_together(off: Mapping[tuple[str, str], float]) -> tuple[tuple[str, tuple[float, ...]], ...]:
    """Letters of which most strings lie off the others alike, by less than to the next note, and how far, in cents. off: by string and
    letter."""
    level = median(off.values()) if len(off) >= LEAST_OFF else 0.0
    found = []
    for way, letter in product((1, -1), "CDEFGAB"):
        between = {string for string, cents in off.items() if OUT_OF_TUNE_CENTS <= way * (cents - level) <= SEMITONE_OFF_CENTS[0]}
        of_it = tuple(off[string] - level for string in between if string[1] == letter)
        if len(of_it) >= LEAST_OF_LETTER and _most_of(letter, between, off):
            found.append((letter, of_it))
    return tuple(found)


def _from_to(cents: Sequence[float]) -> str:
    least, most = round(min(map(abs, cents))), round(max(map(abs, cents)))
    return f"{least}" if least == most else f"{least} to {most}"


def _is_semitone(cents: float) -> bool:
    return SEMITONE_OFF_CENTS[0] < cents < SEMITONE_OFF_CENTS[1]


def _most_of(letter: str, strings: Collection[tuple[str, str]], heard: Collection[tuple[str, str]]) -> bool:
    of_letter = [string for string in heard if string[1] == letter]
    return bool(of_letter) and sum(string in strings for string in of_letter) >= max(2, LETTER_SHARE * len(of_letter))


def _way(cents: float) -> str:
    return "above" if cents > 0 else "below"


def _ask(seen: str) -> str:
    return f"{seen}. Is it this harp, and tuned as was told? If not, its strings are named or compared wrongly: take the sweep back."


def is_noisy(remarks: Iterable[str]) -> bool:
    """Whether the plucks of a recording hardly stood above its background, from the remarks on it."""
    return any(text.startswith(TOO_NOISY) for text in remarks)


def rang_along(remarks: Iterable[str]) -> Mapping[str, str]:
    """What kept plucks from being used, from the remarks on a recording: string that was plucked, to the string that rang along."""
    found: dict[str, str] = {}
    for text in remarks:
        if told := ALONG.fullmatch(text):
            found |= dict.fromkeys(PLUCKED.findall(told[2]), told[1])
        elif told := AT_ONCE_BEFORE.match(text):
            found.setdefault(told[1], told[2])
    return found


ALONG = re.compile(r"Left out, because (.+?) rang along: (.*)\.")
PLUCKED = re.compile(r"(?:^|, )(.+?) at [0-9.]+ s(?: and [0-9.]+ s)*")
AT_ONCE_BEFORE = re.compile(r"Left out, because (.+?) and (.+?) sound at once: ")  # as books say that were written earlier


def _left_out(identification: Identification, known_s: Collection[float], known: Collection[str]) -> list[str]:
    """known_s: when something sounded that was spoken of already, where it was left out for one of the reasons `known`."""
    along: dict[str, dict[str, list[str]]] = {}
    others: dict[str, list[str]] = {}
    between: dict[tuple[str, ...], list[str]] = {}
    for one in identification.rejected:
        if one.span.onset_s in known_s and one.reason in known:
            continue
        at = f"{one.span.onset_s:.1f} s"
        if one.along:
            along.setdefault(one.along, {}).setdefault(one.plucked, []).append(at)
        elif one.between:
            between.setdefault(one.between, []).append(at)
        else:
            others.setdefault(one.reason, []).append(at)
    told = [f"{LEFT_OUT} {other} rang along: {_with_times(plucked)}." for other, plucked in along.items()]
    told += [_between(strings, at) for strings, at in between.items()]
    return told + [f"{LEFT_OUT} {reason}: the sound{'s' if len(at) > 1 else ''} at {listed(at)}." for reason, at in others.items()]


def _between(strings: Sequence[str], at: Sequence[str]) -> str:
    they_lie, sounds = ("it lies", "sound") if len(at) == 1 else ("they lie", "sounds")
    return (f"{LEFT_OUT} {they_lie} between {listed(strings)}, and nothing tells which was plucked: the {sounds} at {listed(at)}. "
            f"Pluck {'both' if len(strings) == 2 else 'each of them'} in one recording, and it can be told.")


def _with_times(plucked: Mapping[str, Sequence[str]]) -> str:
    """ "1D at 10.8 s, 1B at 14.1 s and 15.2 s": every string, for each is told of it in its own row."""
    return ", ".join(f"{name} at {' and '.join(at)}" for name, at in plucked.items())

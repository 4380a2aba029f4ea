"""What a player must know of one recording, in sentences: what it lost, what in it was no pluck, which names are doubtful."""

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from statistics import median

from toneprobe.audio import Recording, Remark, coarse_codec
from toneprobe.audio.remark import RINGS_BREAK_OFF, SINGLE_SOUNDS, TOO_NOISY
from toneprobe.identify.named import ABOVE, LIKE_NO_STRING, NOTHING_NEW, TOO_FAINT, VOICE, Identification
from toneprobe.limits import LEAST_BENT_STRINGS, LEAST_FALLS, SUPPRESSED_BEND
from toneprobe.measure.figure import BROKEN_OFF, UNSURE_NAME, PluckMeasurement
from toneprobe.measure.steps import BURIED_IN_STEPS, SUNK
from toneprobe.phrases import as_strings, listed, one_after_another
from toneprobe.remarks.tuning import tuning_remarks
from toneprobe.session.tuned_between import since_tuned, tuning

LEFT_OUT = "Left out, because"
TWO_PITCHES_CENTS = 20.0  # far more than two takes of a string differ by (5.6 at the most), and than is just heard (set here)
ERRORS = 4.0  # standard errors beyond which two pitches surely differ
LEAST_ABOVE = 3  # plucks an octave above their strings: is it the right instrument? (set; one or two may be harmonics)
MOST_NAMED = 3  # plucks; more are counted
KNOCKED_SHARE = 0.1  # of the plucks: worth a word
TELEPHONE_HZ = 8_000  # sample rate of telephones, at which a tick looks much like the onset of a pluck (common practice)
CODEC_SHARE = 0.5  # of the plucks: in a file with lossy compression that is its cause (36 of 48 in an MP3 of 32 kbit/s, 3 at 48)


def hearing_remarks(recording: Recording, identification: Identification, plucks: Sequence[PluckMeasurement], *,
                    swept: Sequence[PluckMeasurement] = (), file_name: str = "") -> tuple[Remark, ...]:
    """All remarks on one recording. `swept`: all plucks of the sweep that the recording belongs to, none where it is measured alone;
    `file_name`: where the sweep has several recordings."""
    is_codec = _is_lossy(recording) and _n_knocked(identification) > CODEC_SHARE * len(identification.named)
    other_sounds = _codec_sounds(identification) if is_codec else _knocks(identification, _own_sounds(recording))
    remarked_s = {at_s for one in identification.named for at_s in one.knocks_s} if other_sounds else set()
    remarked = (NOTHING_NEW, LIKE_NO_STRING, TOO_FAINT) if is_codec else (NOTHING_NEW, LIKE_NO_STRING)
    where = f" in {file_name}" if file_name else ""
    return (*recording.remarks, *_left_out(identification, remarked_s, remarked, where), *map(Remark, other_sounds),
            *_doubtful(plucks, swept, where),
            *map(Remark, (*_tuned(plucks, where), *_two_pitches(plucks, where))), *_suppressed(plucks, swept),
            *map(Remark, (*_sunk(recording, plucks), *_broken_off(plucks, where), *_octave_above(identification),
                          *tuning_remarks(identification, plucks))))


def _sunk(recording: Recording, plucks: Sequence[PluckMeasurement]) -> Iterator[str]:
    n = sum(SUNK in pluck.flags or BURIED_IN_STEPS in pluck.flags for pluck in plucks)
    if n > KNOCKED_SHARE * len(plucks) and not recording.quality.eight_bits:  # which has a remark of its own
        yield (f"It was recorded too quietly: {n} of the {len(plucks)} plucks sink among the steps between the sample values, and how long "
               "they ring is not told. Raise the input level, or set the recorder to 24 bits.")


def _broken_off(plucks: Sequence[PluckMeasurement], where: str) -> Iterator[str]:
    """Of many plucks: then somebody cut the recording so, and each is measured all the same."""
    if found := [f"{pluck.string} at {pluck.onset_s:.1f} s" for pluck in plucks if BROKEN_OFF in pluck.flags]:
        what = listed(found) if len(found) <= MOST_NAMED else f"{len(found)} of the {len(plucks)} plucks"
        yield (f"All sound breaks off at once while it rings: {what}{where} (a plug, a cable, a switch, a cut?). It is measured up to "
               "there. Where nothing is heard behind it, pluck the rest again.")


def _octave_above(identification: Identification) -> Iterator[str]:
    n = sum(one.reason == ABOVE[2] for one in identification.rejected)
    if n >= LEAST_ABOVE:
        yield f"{n} plucks sound an octave above strings of this instrument and were left out: is this the right instrument file or preset?"


def _by_string(plucks: Iterable[PluckMeasurement]) -> Mapping[tuple[str, str], list[PluckMeasurement]]:
    """The plucks of known pitch and sure name, by string and note."""
    of_string: dict[tuple[str, str], list[PluckMeasurement]] = {}
    for pluck in plucks:
        if pluck.cents_off.known and pluck.sureness >= UNSURE_NAME:
            of_string.setdefault((pluck.string, pluck.note), []).append(pluck)
    return of_string


def _tuned(plucks: Sequence[PluckMeasurement], where: str) -> Iterator[str]:
    told = []
    for (name, _), heard in _by_string(plucks).items():
        if run := tuning(heard):
            climb = run[-1].cents_off.value - min(map(_cents, run))
            told.append(f"{name} (up by {climb:.0f} cents from {run[0].onset_s:.1f} s to {run[-1].onset_s:.1f} s)")
    if told:
        they = "it" if len(told) == 1 else "them"
        yield (f"Tuned meanwhile, as it seems: {listed(told)}{where}. What was plucked during it, or before at another pitch, does not "
               f"count. If nobody tuned {they}, pluck {they} again.")


def _two_pitches(plucks: Sequence[PluckMeasurement], where: str) -> Iterator[str]:
    """Strings whose plucks lie farther apart in pitch than those of an untouched string."""
    found, fell = [], False
    for (name, _), plucked in _by_string(plucks).items():
        heard = since_tuned(plucked)
        low, high = min(heard, key=_cents), max(heard, key=_cents)
        doubt = ERRORS * math.hypot(low.cents_off.error, high.cents_off.error)
        apart = high.cents_off.value - low.cents_off.value
        if apart > max(TWO_PITCHES_CENTS, doubt):
            found.append(f"{name} by {apart:.0f} cents, at {low.onset_s:.1f} s and {high.onset_s:.1f} s")
            fell |= low.onset_s > high.onset_s
    if found:
        slips = ", or, where the later is the lower, its knot or its pin slips" if fell else ""
        yield (f"Heard at two pitches: {listed(found)}{where}. A string that was not tuned in between does not move so far: it may have "
               f"been another string{slips}. Pluck it again, and those beside it.")


def _cents(pluck: PluckMeasurement) -> float:
    return pluck.cents_off.value


def _doubtful(plucks: Sequence[PluckMeasurement], swept: Sequence[PluckMeasurement], where: str) -> list[Remark]:
    """Plucks of doubtful name, first those that do not count: the sweep has others of their string (`session.plucks_that_count`)."""
    surely_heard = {(pluck.string, pluck.note) for pluck in swept if pluck.sureness >= UNSURE_NAME}
    doubtful = [pluck for pluck in plucks if pluck.sureness < UNSURE_NAME]
    not_counted = [pluck for pluck in doubtful if (pluck.string, pluck.note) in surely_heard]
    groups = (("Not counted, because the name is doubtful", not_counted),
              ("Of doubtful name", [one for one in doubtful if one not in not_counted]))
    told = [f"{what}: {listed([f'{pluck.string} at {pluck.onset_s:.1f} s' for pluck in of])}{where}" for what, of in groups if of]
    text = f"{'. '.join(told)}. A pluck is named by those before and after it too: pluck it again between its two neighbours."
    return [Remark(text, SINGLE_SOUNDS)] if told else []


def _suppressed(plucks: Sequence[PluckMeasurement], swept: Sequence[PluckMeasurement]) -> list[Remark]:
    """Noise suppression, judged from the whole sweep where the recording has too few strings."""
    judged = plucks if len({pluck.string for pluck in plucks}) >= LEAST_BENT_STRINGS else swept or plucks
    bends = [(pluck.string, partial.bend) for pluck in judged for partial in pluck.partials if partial.bend is not None]
    is_enough = len(bends) >= LEAST_FALLS and len({string for string, _ in bends}) >= LEAST_BENT_STRINGS
    if not is_enough or median(bend for _, bend in bends) < SUPPRESSED_BEND:
        return []
    return [Remark("Nearly every ring breaks off on its way down, as noise suppression does. Switch it off, above all for a fresh "
                   "sweep.", RINGS_BREAK_OFF)]


def _is_lossy(recording: Recording) -> bool:
    return recording.source is not None and recording.source.lossy


def _n_knocked(identification: Identification) -> int:
    return sum(bool(one.knocks_s) for one in identification.named)


def _codec_sounds(identification: Identification) -> list[str]:
    return [f"The recording's compression left sounds of its own under {_n_knocked(identification)} of the {len(identification.named)} "
            "plucks. They were measured around it as far as may be; record without loss (WAV or FLAC), and more can be told."]


def _own_sounds(recording: Recording) -> str:
    """What in the recording itself may be taken for another sound, "" where nothing may."""
    if _is_lossy(recording) or coarse_codec(recording.codec):
        return "the compression"
    return "the coarse recording" if recording.quality.eight_bits or recording.rate_hz <= TELEPHONE_HZ else ""


def _knocks(identification: Identification, own: str) -> list[str]:
    """own: what in the recording itself may be taken for another sound, of `_own_sounds`."""
    n_named, n_knocked = len(identification.named), sum(one.is_knocked for one in identification.named)
    if n_knocked < 2 or n_knocked <= KNOCKED_SHARE * n_named:
        return []
    what = f"a clock, a chair, a cough, or {own} itself?" if own else "a clock, a chair, a cough?"
    return [f"Something else sounded while {n_knocked} of the {n_named} plucks rang ({what}). "
            f"They were measured around it as far as may be; in a quiet room more can be told."]


def is_noisy(remarks: Iterable[Remark]) -> bool:
    """Whether the plucks hardly stood out of the background, by the remarks on the recording."""
    return any(one.kind == TOO_NOISY for one in remarks)


def rang_along(remarks: Iterable[Remark]) -> Mapping[str, str]:
    """By string with unused plucks, the string that rang along with them, by the remarks on the recording."""
    return {string: one.along for one in remarks for string in one.lost}


def _left_out(identification: Identification, remarked_s: Collection[float], remarked: Collection[str], where: str) -> list[Remark]:
    """Sounds that were not used. remarked_s: times of those that have a remark already, where they were left out for one of the reasons
    `remarked`."""
    along: dict[str, dict[str, list[str]]] = {}
    others: dict[str, list[str]] = {}
    between: dict[tuple[str, ...], list[str]] = {}
    talk_s = _talk_s(identification)
    for one in identification.rejected:
        if one.span.onset_s in talk_s or (one.span.onset_s in remarked_s and one.reason in remarked):
            continue
        at = f"{one.span.onset_s:.1f} s"
        if one.rang_along:
            along.setdefault(one.rang_along, {}).setdefault(one.pluck_of, []).append(at)
        elif one.between:
            between.setdefault(one.between, []).append(at)
        else:
            others.setdefault(one.reason, []).append(at)
    rest = [_talk(talk_s, where)] if talk_s else []
    rest += [_between(strings, at, where) for strings, at in between.items()]
    rest += [f"{LEFT_OUT} {reason}: the {_sounds(at)} at {listed(at)}{where}." for reason, at in others.items()]
    return [*(Remark(f"{LEFT_OUT} {other} rang along: {_with_times(plucked)}{where}.", SINGLE_SOUNDS, tuple(plucked), other)
              for other, plucked in along.items()), *(Remark(text, SINGLE_SOUNDS) for text in rest)]


def _talk_s(identification: Identification) -> list[float]:
    """When something sounds before the first pluck, where some of it is a voice: speech is left out for many reasons, and is one thing."""
    voice_s = min((one.span.onset_s for one in identification.rejected if one.reason == VOICE), default=None)
    if voice_s is None or not identification.named:
        return []
    first_s = identification.named[0].span.onset_s
    before_s = [one.span.onset_s for one in identification.rejected if one.span.onset_s < first_s and not (one.rang_along or one.between)]
    return before_s if voice_s < first_s and len(before_s) > 1 else []


def _talk(at_s: Sequence[float], where: str) -> str:
    return f"{LEFT_OUT} taken for talk before the first pluck: the sounds from {min(at_s):.1f} to {max(at_s):.1f} s{where}."


def _between(strings: Sequence[str], at: Sequence[str], where: str) -> str:
    they_lie = "it lies" if len(at) == 1 else "they lie"
    return (f"{LEFT_OUT} {they_lie} between {listed(as_strings(strings))}, and nothing tells which was plucked: the {_sounds(at)} at "
            f"{listed(at)}{where}. Pluck {'both' if len(strings) == 2 else 'each of them'} in one recording, and it can be told.")


def _sounds(at: Sequence[str]) -> str:
    return "sound" if len(at) == 1 else "sounds"


def _with_times(plucked: Mapping[str, Sequence[str]]) -> str:
    """ "1D at 10.8 s, 1B at 14.1 s and 15.2 s": every string, as each has it in its own row too."""
    return ", ".join(f"{name} at {one_after_another(at)}" for name, at in plucked.items())

"""One piece of evidence as a sentence: what it means, the two or three figures that decided, and the doubt, in a player's words.

No seconds: a percentage comes from partials compared one by one, and contradicts the ratio of two rounded decay times.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import copysign, exp
from typing import NamedTuple

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.baseline.series_change import OF_HAND, OF_PARTIALS, TOO_LITTLE
from toneprobe.condition.doubt_words import is_unmeasured, is_within_plucks, percent_lost, plucks_text, plus_minus, why_unmeasured
from toneprobe.condition.evidence import KINDS, Evidence
from toneprobe.condition.few_astray import N_ASTRAY, Moved, have_others_stayed, moved_most
from toneprobe.limits import ERRORS_TOLD
from toneprobe.measure.figure import Figure
from toneprobe.phrases import capital, one_after_another

SLOWEST_TOLD_HZ = 0.5
ALONE, ALONE_AGAIN = "Two plucks of a healthy string differ by about", "Plucks alone: about"
BY_CHANCE = " One pluck alone may do that by chance: pluck it again."
ONE_OF_ITS_PLUCKS = " One of its plucks alone showed it, which may be chance: pluck it again."
ONCE_THEN = " Then it was plucked but once, so that may be chance."
MIGHT_BE_PLUCKS, LITTLE_MORE = " But its plucks might differ by that much.", " That is little more than its plucks differ by."
_STRETCH_DOUBTS = {OF_PARTIALS: "its partials are too few or too scattered",
                   OF_HAND: "it was plucked much harder or softer than when fresh",
                   TOO_LITTLE: "it moves the partials heard hardly more than two plucks differ"}
PITCH_MOVED_CENTS = 3.0  # from here on a player may think that tuning is all that it wants; musicians notice 2 to 5 (from memory)


@dataclass(frozen=True)
class Told:
    """What sentences are made from. Errors of all but `change` are those that the sweep's own noise gives."""

    change: Change
    ring: Figure  # natural log of fresh over present decay time: the one figure that reasons, rows and pictures show
    brightness: Figure  # the same of brightness
    moved: Figure  # by how many cents, rms, partials left the places that they had when fresh
    mechanism: bool = True  # as of `StringSpec`


def evidence_sentence(evidence: Evidence, told: Told) -> str:
    """What a figure says; where its doubt is so large that it says nothing, that it could not be measured, and why."""
    words = _WORDS[evidence.kind]
    if is_unmeasured(evidence):
        why = _STRETCH_DOUBTS.get(told.change.series.stretch_doubt) if evidence.kind == "stretch" else None
        return f"{words.unmeasured or words.untold} could not be measured: {why or why_unmeasured(told.change.n_now)}."
    return words.sentence(evidence, told)


def with_doubts_once(sentences: Sequence[str]) -> list[str]:
    """The reasons of one string; how much plucks differ is spelt out only at its first mention."""
    told: list[str] = []
    for text in sentences:
        before = " ".join(told)
        for doubt in (MIGHT_BE_PLUCKS, LITTLE_MORE):
            text = text.replace(doubt, "") if doubt in before else text
        told.append(text.replace(ALONE, ALONE_AGAIN) if ALONE in before else text)
    return told


def untold_sentence(evidence: Evidence, n_plucks: int) -> str:
    """For a change within its ± where nothing is decided: no suspicion and no figure, for "as fresh" is as likely."""
    return f"{_WORDS[evidence.kind].untold} could not be told from {plucks_text(n_plucks)}."


def _decay(evidence: Evidence, told: Told) -> str:
    """ "Rings 52 % shorter than fresh (± 5)." """
    if not told.ring.known or told.ring.value <= 0:
        return "Rings no shorter than fresh."
    doubt = plus_minus(told.ring.value, told.ring.se)
    return f"Rings {percent_lost(told.ring.value):.0f} % shorter than fresh ({doubt}).{_doubt(evidence)}"


def _high(evidence: Evidence, told: Told) -> str:
    return (f"Its colour fades early, as from dirt or wear: the upper partials die {percent_lost(evidence.change):.0f} % sooner than fresh "
            f"({plus_minus(evidence.change, evidence.se)}).{_doubt(evidence)}")


def _brightness(evidence: Evidence, told: Told) -> str:
    return f"Sounds {percent_lost(evidence.change):.0f} % duller than fresh ({plus_minus(evidence.change, evidence.se)})."


def _astray(evidence: Evidence, told: Told) -> str:
    """The picture of the partials shows which ones; here only lost ones are named."""
    lost = [(k, share) for k, share in told.change.series.lost if share >= 0.5][:3]
    everywhere = limits.UNCONFIRMED_LOST if told.change.n_now == 1 else 1.0
    gone = [k for k, share in lost if share >= everywhere]
    at_times = [k for k, share in lost if share < everywhere]
    claim = "is" if evidence.strength >= limits.DECIDED else "may be"
    lost_words = _lost_words(gone) + _at_times_words(at_times)
    doubt = _by_chance(evidence, told) or _doubt(evidence) or _alone(evidence.se, "cents")
    return (f"It {claim} uneven somewhere: its partials have drifted apart by {evidence.change:.1f} cents since it was "
            f"fresh.{doubt}{lost_words}{_no_tuning(evidence, told)}")


def _by_chance(evidence: Evidence, told: Told) -> str:
    """Where a single pluck tells it, and other lines beside its partials could explain it."""
    if told.change.series.doubted is None or evidence.most > limits.LINES_BESIDE_SAY or is_doubtful(evidence):
        return ""
    if told.change.n_now == 1:
        return BY_CHANCE
    return ONCE_THEN if told.change.n_fresh == 1 else ""


def _few_astray(evidence: Evidence, told: Told) -> str:
    """Names the partials. The scale of the sweep's scatter is left out, as it does not change their order."""
    count = N_ASTRAY[evidence.kind]
    moved = sorted(moved_most(told.change.series, evidence.kind)[:count])
    claim = "is" if evidence.strength >= limits.DECIDED else "may be"
    first, *others = (f"partial {one.n} moved {_how_far(one)}" for one in moved)
    where = f"since it was fresh, {first}." + "".join(f" {capital(other)}." for other in others)
    doubt = " Another hand may do that: pluck it again." if count == 1 else _doubt(evidence)
    stayed = " The others stayed where they were." if have_others_stayed(told.change.series, [one.n for one in moved]) else ""
    return f"It {claim} uneven somewhere: {where}{stayed}{doubt}{_no_tuning(evidence, told)}"


def _how_far(moved: Moved) -> str:
    if moved.is_lost:
        return "so far that it was not found"
    return f"{'up' if moved.cents > 0.0 else 'down'} by {abs(moved.cents):.0f} cents"


def _lost_words(gone: Sequence[int]) -> str:
    if not gone:
        return ""
    if len(gone) == 1:
        return f" Partial {gone[0]} lies so far off that it was not found."
    return f" Partials {one_after_another([str(n) for n in gone])} lie so far off that they were not found."


def _at_times_words(partials: Sequence[int]) -> str:
    """Of those that some plucks had."""
    if not partials:
        return ""
    numbers = one_after_another([str(n) for n in partials])
    return f" Partial{'s' if len(partials) > 1 else ''} {numbers} could not be followed in every pluck."


def _no_tuning(evidence: Evidence, told: Told) -> str:
    """Where the pitch moved too, beyond its doubt, a player would tune the string and wonder. The pitch of partials that lie so far apart
    is known no better than that: a smaller move may be theirs."""
    pitch = told.change.pitch_cents
    if evidence.strength < limits.DECIDED or not pitch.known:
        return ""
    if abs(pitch.value) < max(PITCH_MOVED_CENTS, evidence.change, ERRORS_TOLD * pitch.error):
        return ""
    return " Its pitch moved too, but that is not the reason: tuning cannot bring its partials together again."


def _beat(evidence: Evidence, told: Told) -> str:
    """Three partials may tell it alone; the rate of two voices is that of the first partial, which may ring too short to be among them."""
    rate_hz = told.change.ripple.beat_hz
    at = f" {_rate(rate_hz)}{' at its pitch' if told.change.ripple.voices_cents else ''}" if rate_hz else ""
    claim = "wavers" if evidence.strength >= limits.DECIDED else "may waver"
    by_chance = BY_CHANCE if told.change.n_now == 1 else ONE_OF_ITS_PLUCKS
    once = by_chance if told.change.ripple.is_of_one_pluck and not is_doubtful(evidence) else ""
    return (f"It {claim}{at}: several of its partials swell and fade together, {evidence.change:.1f} dB deeper than fresh."
            f"{once or _doubt(evidence) or _alone(evidence.se, 'dB')}")


def _pitch_wave(evidence: Evidence, told: Told) -> str:
    wave = told.change.wave
    at = f" {_rate(wave.rate_hz)}" if wave.rate_hz else ""
    claim = "may go" if is_doubtful(evidence) else "goes"
    again = "" if wave.is_confirmed else " Pluck it again to make sure."
    return (f"Its pitch {claim} up and down by {evidence.change:.0f} cents{at} while it rings, which it did not when fresh."
            f"{_doubt(evidence) or again}")


def _pitch_walk(evidence: Evidence, told: Told) -> str:
    """How far it wanders is no steady figure, so none is given."""
    is_sure = evidence.sureness >= limits.PITCH_WALK_SAY
    claim = "is unsteady" if is_sure else "may be unsteady"
    return (f"Its pitch {claim}: it wanders while the string rings, all partials alike, which it did not when fresh."
            f"{'' if is_sure else _doubt(evidence)}")


def _sinks(evidence: Evidence, told: Told) -> str:
    sinking = told.change.sinking
    return (f"Its pitch sinks by {sinking.now_cents:.0f} cents while it rings, against {sinking.fresh_cents:.0f} when fresh. Worn nylon "
            "does so, or a knot or a pin that gives way, or a harder pluck than the others had.")


def _pitch_fall(evidence: Evidence, told: Told) -> str:
    """What was heard, not only what is beyond fresh, so that it can be heard again."""
    last = "second" if told.change.n_now == 2 else "last"
    again = "" if evidence.sureness >= limits.DECIDED else " Pluck it again to make sure."
    return (f"Its pitch lay {told.change.pitch_fall.cents:.0f} cents lower at the {last} pluck than at the first. Its knot or its pin may "
            f"slip, or it was still settling.{again}")


def _common_beat(evidence: Evidence, told: Told) -> str:
    rate_hz = told.change.beats.rate_hz
    at = f", {_rate(rate_hz)}" if rate_hz else ""
    return (f"It may be turning false: {round(evidence.change)} of its partials beat at one rate{at}, which they did not when fresh. Pluck "
            "it again to make sure.")


def _rate(rate_hz: float) -> str:
    return f"{rate_hz:.1f} times a second" if rate_hz >= SLOWEST_TOLD_HZ else "less than once in two seconds"


def _stretch(evidence: Evidence, told: Told) -> str:
    """The change on which the paired partials and the two values of B agree, with the direction of the former."""
    stretch = copysign(evidence.change, told.change.series.stretch.value)
    kind = "thicker" if stretch > 0.0 else "thinner"
    once = BY_CHANCE if stretch < 0.0 and told.change.n_now == 1 and not is_doubtful(evidence) else ""
    return (f"It may not be the string that was fitted, but a {kind} one: {exp(stretch):.2f} times as stiff as when fresh "
            f"(± {max(0.01, ERRORS_TOLD * evidence.se * exp(stretch)):.2f}).{_less_tension(told.change)}"
            f"{once or _doubt(replace(evidence, change=-stretch))}")


def _less_tension(change: Change) -> str:
    """Where the two values of B, as shown beside it, differ by more or less than this."""
    pitch = change.pitch_cents
    if not pitch.known or abs(pitch.value) < limits.SLIPPED_CENTS:
        return ""
    return f" The effect of its {'lower' if pitch.value < 0.0 else 'higher'} pitch on its stiffness is left out."


def _fallen(evidence: Evidence, told: Told) -> str:
    semitones = -evidence.change / 100.0
    below = "an octave" if abs(semitones - 12.0) < 0.7 else f"{semitones:.1f} semitones"
    held = told.mechanism
    thud = f", but rings: a slipped pin{', a pedal or lever if it has one,' if held else ''} or a different string"
    if evidence.strength >= limits.DECIDED:
        thud = " and has lost its ring: a loosened winding, or the string is going"
    elif not keeps_ring(told.change):
        thud = f", perhaps without ring: a slipped pin{' or lever, or' if held else ' or'} a loose winding"
    return f"Sounds {below} too low against the others{thud}."


def keeps_ring(change: Change) -> bool:
    """Whether the loss of ring, as far as it is known, is less than a listener notices."""
    return change.decay.all.known and change.decay.all.value < limits.DECAY_NOTICED


def is_doubtful(evidence: Evidence) -> bool:
    """Whether plucks alone might make so much: judged by the ± where one is shown. A count of beats says itself how sure it is."""
    if evidence.kind == "common_beat":
        return False
    if evidence.kind == "stretch" and evidence.se is not None:  # either way: thicker, so many times as stiff, has the wider ±
        return is_within_plucks(-abs(evidence.change), evidence.se)
    if KINDS[evidence.kind].is_log and evidence.se is not None:
        return is_within_plucks(evidence.change, evidence.se)
    return evidence.sureness < limits.WATCHED


def _alone(se: float, unit: str) -> str:
    """How much two plucks of an untouched string differ."""
    return f" {ALONE} {max(0.1, ERRORS_TOLD * se):.1f} {unit}."


def _doubt(evidence: Evidence) -> str:
    """Only where there is some: what is beyond doubt has its ±, or what two plucks differ by."""
    if evidence.strength >= limits.DECIDED:
        return ""
    if is_doubtful(evidence):
        return MIGHT_BE_PLUCKS
    return LITTLE_MORE if evidence.sureness < limits.DECIDED else ""


class _Words(NamedTuple):
    """Of one kind of evidence."""

    sentence: Callable[[Evidence, Told], str]
    untold: str  # what could not be told where it is within its ±
    unmeasured: str = ""  # what could not be measured, where that is put in another way


_WORDS: Mapping[str, _Words] = {
    "decay": _Words(_decay, "Whether it rings shorter than fresh", "How long it rings against fresh"),
    "decay_low": _Words(_decay, "Whether it rings shorter than fresh", "How long it rings against fresh"),
    "decay_high": _Words(_high, "Whether its colour fades sooner than fresh", "How fast its colour fades"),
    "brightness": _Words(_brightness, "Whether it sounds duller than fresh", "Its brightness"),
    "astray_cents": _Words(_astray, "Whether its partials have drifted apart since it was fresh", "Whether it is still even"),
    "two_astray": _Words(_few_astray, "Whether two of its partials have moved since it was fresh"),
    "one_astray": _Words(_few_astray, "Whether one of its partials has moved since it was fresh"),
    "beat_db": _Words(_beat, "Whether it wavers more than when fresh", "Whether it wavers"),
    "pitch_wave": _Words(_pitch_wave, "Whether its pitch keeps still while it rings", "Whether its pitch keeps still"),
    "pitch_walk": _Words(_pitch_walk, "Whether its pitch keeps still while it rings", "Whether its pitch keeps still"),
    "pitch_fall": _Words(_pitch_fall, "Whether it loses pitch as it is plucked"),
    "sinks": _Words(_sinks, "Whether it sinks in pitch while it rings"),
    "common_beat": _Words(_common_beat, "Whether its partials beat alike"),
    "stretch": _Words(_stretch, "Whether it is as stiff as when fresh", "Its stiffness"),
    "fallen": _Words(_fallen, "Whether it has fallen in pitch"),
}

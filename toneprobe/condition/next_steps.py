"""What the player does now. Advice only: the owner decides, and what is not the string goes to a technician.

No step names its string, so that strings with one step can be listed before it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from toneprobe.condition.verdict import CONDEMNING
from toneprobe.days import day_text
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.phrases import HARP, NO_HARP, capital, listed, technician_of
from toneprobe.practice import WHEN_TO_CHANGE


def cautions_of(what: str) -> tuple[str, ...]:
    """What to mind whenever a string is changed: the one list for every screen and page, and the README. Common practice. what: as of
    `Instrument.word`."""
    parts = ", rods, discs and" if what == HARP else " and"
    return (
        f"One string at a time, and bring each up before the next. Never let the whole {what} down.",
        "Wear eye protection whenever a string is changed, most of all a wire.",
        "Let the old string down before you cut it, keep hold of the ends, and cut the new ends close: wire ends hurt fingers and eyes.",
        f"The same note, material and gauge as before, never tuned above its note: no more tension than the {what} was designed for.",
        f"Cracks, pins that slip or turn back{parts} the soundboard: leave them alone and call {technician_of(what)}.",
        "No measurement can tell when a string will break. What comes off, and when, is your decision.",
    )


CAUTIONS = cautions_of(HARP)
CAUTION = " ".join(CAUTIONS)
CAUTION_OF_NO_HARP = " ".join(cautions_of(NO_HARP))
FORMER_CAUTION = ("Wear eye protection, slacken it before you cut it, mind its ends, one string at a time, same material and gauge, never "
                  "above its pitch. When in doubt, ask a harp technician.")  # ends the steps of sweeps that were stored before
ENOUGH_PLUCKS = 3  # plucks from which on a dead string need not be heard again before it is changed (set)
# What a step says besides what to do and by when, in stored sweeps too.
ASIDES = (" (see the notes on this recording)", ", so that the new one has settled", " before you spend money",
          ", as a neighbour ringing along is no fault", ", for a neighbour that answers is no fault", ": no tuning helps a false one",
          ", no tuning helps a false one", " No tuning helps a false one.", " for one of the fitting's own material and gauge")
ROOM_FIRST = "First make sure that it is not the room"
SAID_BEFORE = "An earlier sweep said so too"

# What kind of step it is, for whoever shows it. Stored with every condition: a new word here, never another for the same.
CHECK_FIRST = "check first"  # plucked once more before money is spent on it
OTHERWISE_CONDEMNED = "otherwise condemned"  # no sweep before named this fault, but one another
MAYBE_ROOM = "maybe room"  # the room comes first
ELSEWHERE = "elsewhere"  # it is the room that hides what the string lost, so that plucking it again there does not help
FIRST_ROOM = "first room"  # what it lost may be the room of the fresh sweep: plucking it again in this one does not help
TECHNICIAN = "technician"  # this very string is for one; the cautions name one at every change
OTHER_POSITION, OTHER_STRINGS = "other position", "other strings"  # why it was not compared
JUDGED_BEFORE = "judged before"  # to want attention, in another pedal or lever position than that of its younger baseline
CHECK_LOG = "check log"  # another string may be on than the one that was fitted
TWO_STRINGS = "two strings"  # its plucks may be of two strings, or under the other's name: more plucks do not help
FELL_ALONE = "fell alone"  # of a sound string: its pitch fell, and no other's so far
KINDS = ("", CHECK_FIRST, OTHERWISE_CONDEMNED, MAYBE_ROOM, ELSEWHERE, FIRST_ROOM, TECHNICIAN, OTHER_POSITION, OTHER_STRINGS, JUDGED_BEFORE,
         CHECK_LOG, TWO_STRINGS, FELL_ALONE)
FIRST_OF_ITS_KIND = (CHECK_FIRST, OTHERWISE_CONDEMNED)
MOST_DAYS = 3  # of one verdict, named in a step
OUT_OF_THIS_ROOM = "Record it once more close to the strings"
ONCE_MORE = "Check once more before you spend money: pluck again"
WHICH_IS_ON = "Check in the log which string is on."
DAMPED = "with the neighbours damped"
ASK_MECHANISM = "Is its lever, disc or pedal set as it should be? Do not tune it before you have looked."


@dataclass(frozen=True)
class Build:
    """What a step must know of the string that it is for."""

    what: str = HARP  # as of `Instrument.word`
    mechanism: bool = True  # a lever, disc or pedal may hold it

    @property
    def caution(self) -> str:
        return CAUTION if self.what == HARP else CAUTION_OF_NO_HARP

    @property
    def to_technician(self) -> str:
        return f"show it to {technician_of(self.what)}"


ON_A_HARP = Build()


def build_of(spec: StringSpec, instrument: Instrument) -> Build:
    return Build(instrument.word, spec.mechanism)


@dataclass(frozen=True)
class Step:
    """What the player does now."""

    text: str  # "" where nothing
    kind: str = ""  # one of KINDS, "" of a step like any other


OTHER_NAME_STEP = Step("Pluck both, one after the other, and add the recording to this sweep.")
WATCH_STEP = Step(f"Watch: at the next sweep pluck three times, {DAMPED}, and have a spare ready.")
OTHER_STRING_STEP = Step(
    f"{WHICH_IS_ON} If it is the one that is written there, pluck it three times at the next sweep, {DAMPED}.", CHECK_LOG)
SINKING_STEP = Step(
    "Watch: pluck it three times more, no harder than its neighbours. If its pitch still sinks, look at its knot and its tuning pin, and "
    "have a spare ready.")
BETWEEN_NOTCHES_STEP = Step(
    "Do not tune or change it yet: look whether its lever, disc or pedal is in its notch, set it, and pluck it again. If it lies between "
    f"two notches again, {ON_A_HARP.to_technician}.", TECHNICIAN)
JUDGED_BEFORE_STEP = Step(
    "Pluck it in that position, where it is compared with its older baseline; it stands until it is judged otherwise there, or changed. If "
    "it was changed since, log it with 'toneprobe restring'.", JUDGED_BEFORE)
OTHER_POSITION_STEP = Step("Sweep again in the tuning of the fresh sweep.", OTHER_POSITION)


def wants_check(verdict: str, n_plucks: int, *, condemned_before: bool) -> bool:
    """Whether a string is to be plucked once more before money is spent on it. One that any earlier sweep called dead or false, whichever
    of the two, has been checked: other plucks, another recording."""
    return not condemned_before and (verdict == "false" or (verdict == "dead" and n_plucks < ENOUGH_PLUCKS))


def otherwise_condemned(verdict: str, said: Mapping[str, Sequence[date]]) -> str:
    """ "dead on 10 January 2026 and 7 March 2026": the other fault that earlier sweeps condemned the string for, with the last days; "" for
    none. said: by verdict, the days of those sweeps."""
    found = [(word, sorted(set(said[word]))[-MOST_DAYS:]) for word in CONDEMNING if word != verdict and said.get(word)]
    return ", ".join(f"{word} on {listed([day_text(day) for day in days])}" for word, days in found)


def short_step(step: str) -> str:
    """What is to be done and by when, without the reasons why."""
    for aside in ASIDES:
        step = step.replace(aside, "")
    return step.strip()


def other_set_step(what: str = HARP) -> Step:
    return Step(f"Make sure which {what} was recorded, and which strings are on it.", OTHER_STRINGS)


def two_strings_step(build: Build = ON_A_HARP) -> Step:
    """build: of the string that was not heard."""
    why = ", or its lever, disc or pedal is not set as it should be: put that right, tune it" if build.mechanism else ": tune it"
    return Step(f"Play it beside the one that was not heard. If both sound one note, that one has slipped{why}, and record the whole sweep "
                "again. If they do not, it was left out: record it alone, and give that recording to 'toneprobe sweep' together with those "
                "of this sweep.", TWO_STRINGS)


def dead_step(n_plucks: int, *, set_aged: bool = False, said_before: bool = False, otherwise: str = "", build: Build = ON_A_HARP) -> Step:
    """set_aged: most strings of the sweep lost their ring, so the room comes first. otherwise: as of `otherwise_condemned`."""
    change = f"change the string {WHEN_TO_CHANGE}, so that the new one has settled. {build.caution}"
    if set_aged:
        return Step(f"{ROOM_FIRST} (see the notes on this recording); then {change}", MAYBE_ROOM)
    if said_before:
        return Step(f"{SAID_BEFORE}: {change}")
    if otherwise:
        return Step(f"{_condemned_as(otherwise)} {capital(change)}", OTHERWISE_CONDEMNED)
    if not wants_check("dead", n_plucks, condemned_before=False):
        return Step(capital(change))
    return Step(f"{ONCE_MORE}, three times, {DAMPED}. If it stays so, {change}", CHECK_FIRST)


def false_step(kind: str, *, said_before: bool = False, otherwise: str = "", build: Build = ON_A_HARP) -> Step:
    """kind: of the evidence that decided. otherwise: as of `otherwise_condemned`."""
    first = f"Look first whether {_what_holds(build)} way. " if kind == "pitch_wave" else ""
    if kind == "stretch":
        return Step(f"{WHICH_IS_ON} If it is the wrong one, change it for one of the fitting's own material and gauge. {build.caution}",
                    CHECK_LOG)
    if said_before:
        return Step(f"{first}{SAID_BEFORE}: change the string {WHEN_TO_CHANGE}. No tuning helps a false one. {build.caution}")
    if otherwise:
        return Step(f"{first}{_condemned_as(otherwise)} Change the string {WHEN_TO_CHANGE}: no tuning helps a false one. {build.caution}",
                    OTHERWISE_CONDEMNED)
    return Step(f"{first}{ONCE_MORE}, three times, {DAMPED}, as a neighbour ringing along is no fault. If it stays so, change the string "
                f"{WHEN_TO_CHANGE}: no tuning helps a false one. {build.caution}", CHECK_FIRST)


def dead_other_step(build: Build = ON_A_HARP) -> Step:
    """Of a dead string that may not be the one that was fitted: then the lost ring is not its own loss."""
    return Step(f"{WHICH_IS_ON} If it is the wrong one, change it for one of the fitting's own material and gauge. If it is the right one, "
                f"pluck it again, three times, {DAMPED}; if it stays so, change it {WHEN_TO_CHANGE}. {build.caution}", CHECK_LOG)


def _condemned_as(otherwise: str) -> str:
    return f"Earlier it was called {otherwise}."


def fallen_step(rung_out: bool, *, may_thud: bool = False, build: Build = ON_A_HARP) -> Step:
    """may_thud: whether it still rings is not known."""
    if rung_out:
        return Step(f"Do not pull it up to pitch; slacken it and change it. {build.caution}")
    check = f"check the tuning pin,{' and pedal or lever if it has one,' if build.mechanism else ''}"
    if may_thud:
        return Step(f"Pluck it beside a neighbour. If it rings, {check} and tune it; if the pin does not hold, {build.to_technician}. If "
                    f"it only thuds, do not pull it up to pitch: slacken it and change it. {build.caution}", TECHNICIAN)
    return Step(f"{capital(check)} tune it, pluck it again. If the pin does not hold, {build.to_technician}.", TECHNICIAN)


def sounded_as_step(other: str) -> Step:
    return Step(f"Play it beside {other}, and do what is said of {other}.", TWO_STRINGS)


def fell_step(build: Build = ON_A_HARP) -> Step:
    first = "Look whether its lever, disc or pedal is set as it should be, tune it," if build.mechanism else "Tune it,"
    return Step(f"{first} and listen for some days whether it holds. If it falls again, or fell before, look at its knot and its tuning "
                f"pin, have a spare ready, and {build.to_technician}.", FELL_ALONE)


def unsteady_step(build: Build = ON_A_HARP) -> Step:
    return Step(f"Do not change the string for it: look whether {_what_holds(build)} way, and pluck it again. If its pitch still wanders, "
                f"{build.to_technician}.", TECHNICIAN)


def _what_holds(build: Build) -> str:
    """To be read before "way"."""
    return "its tuning pin, or its disc or lever, gives" if build.mechanism else "its tuning pin gives"


def slipping_step(build: Build = ON_A_HARP) -> Step:
    return Step("Do not change the string for it: look at its knot and its tuning pin, tune it, pluck it a few times and check its pitch "
                f"again. If it falls again, {build.to_technician}.", TECHNICIAN)


def unsure_step(*, room_step: str = "", crushed_now: bool = False, crushed_fresh: bool = False, spoilt_now: bool = False,
                spoilt_fresh: bool = False) -> Step:
    """room_step: ELSEWHERE, FIRST_ROOM or "". crushed: compressed so hard that weak partials cannot be trusted, in this sweep's recording
    and in the fresh one; spoilt: with every decay bent, whose remedy is in the reason."""
    if spoilt_fresh:
        return Step("Another pluck does not help: with that fresh recording nothing can tell whether the string is at fault.")
    if spoilt_now:
        return Step("Whether the string is at fault, this recording cannot tell: mend its own fault, and record the sweep again.")
    if crushed_fresh:
        return Step("Its fresh sweep was compressed too hard. Make another one without loss (WAV or FLAC), and from then on it can be "
                    "told.")
    if crushed_now:
        return Step(f"Record it once more without loss (WAV or FLAC), or at 128 kbit/s and more, plucked three times {DAMPED}.")
    if room_step == FIRST_ROOM:
        return Step("Sweep again in the room of the fresh sweep: more plucks in this one do not tell whether it lost its ring.", FIRST_ROOM)
    if room_step:
        return Step(f"{OUT_OF_THIS_ROOM}, or in a room with curtains and carpets, plucked three times {DAMPED}.", ELSEWHERE)
    return Step(f"Pluck three times more, {DAMPED}, and let it ring.")

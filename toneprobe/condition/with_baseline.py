"""One string that has a baseline: its evidence into scores, verdict, reasons and next step."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.baseline.decay_change import PARTS
from toneprobe.baseline.fresh import Baseline
from toneprobe.baseline.series_change import SeriesChange
from toneprobe.condition.common_cause import CommonCause, is_shared_loss
from toneprobe.condition.common_words import fresh_sweep_text
from toneprobe.condition.context import FRESH, NOW
from toneprobe.condition.dead_score import dead_case
from toneprobe.condition.evidence import OF_THE_RING, UNSTEADY, Case, another_string, large_ones, score, strongest_first
from toneprobe.condition.evidence_words import Told, keeps_ring
from toneprobe.condition.fallen import fallen_case, pitch_against_others
from toneprobe.condition.false_score import false_case, own_ripple
from toneprobe.condition.next_steps import (
    BETWEEN_NOTCHES_STEP,
    ELSEWHERE,
    FELL_ALONE,
    FIRST_ROOM,
    ON_A_HARP,
    OTHER_STRING_STEP,
    SINKING_STEP,
    WATCH_STEP,
    Build,
    Step,
    dead_other_step,
    dead_step,
    fallen_step,
    false_step,
    fell_step,
    otherwise_condemned,
    slipping_step,
    unsteady_step,
    unsure_step,
)
from toneprobe.condition.other_instrument import HELD_BACK
from toneprobe.condition.reasons import (
    case_reasons,
    is_hidden_by_room,
    is_left_open_by_its_ring,
    leaves_wavering_open,
    off_as_when_fresh,
    out_of_tune,
    rests_on_upper_partials,
    sound_reasons,
    unsure_reasons,
)
from toneprobe.condition.sweep_noise import SweepNoise
from toneprobe.condition.verdict import Condition, PartialsMoved
from toneprobe.measure.figure import Figure, errors_together
from toneprobe.session.reading import Reading

MAY_BE_ROOM = ("What rings as briefly lost as much on other strings: the room of the fresh sweep may have rung longer, or they aged "
               "together.")
ENDS_AS_FRESH = ("Its ring ends as slowly as when fresh: a healthy string that is pulled in another direction sounds so. Pluck it "
                 "again as you did then.")
RECKONED = "The room rings nearly as long as this string does: what it lost is worked out from partials that outring the room."


@dataclass(frozen=True)
class Surroundings:
    """What a string's verdict needs to know of the sweep."""

    noise: SweepNoise  # of all other strings
    common: CommonCause
    level: Figure  # cents off their notes at which it and those like it lie
    is_semitone_off: bool  # as a lever or pedal may hold it
    spoilt_by: tuple[str, ...] = ()  # as `context.Comparable` has it …
    crushed_by: tuple[str, ...] = ()  # … this too
    said: Mapping[str, Sequence[date]] = field(default_factory=dict)  # by verdict, the days of all sweeps before that say it of this string
    other_instrument: bool = False  # one played beside the sweep
    has_climbed: bool = False  # as of `between_notches`
    fell_alone: bool = False  # as of `fallen` …
    moved_alone_cents: float | None = None  # … this too
    build: Build = ON_A_HARP


def judge_rated(now: Reading, fresh: Baseline, change: Change, around: Surroundings) -> Condition:
    """Dead, false, watch, sound or unsure: a string that has a baseline and can be compared with it, scores 0 to 100."""
    against_others = pitch_against_others(now, around.common.pitch_level)
    blamed, room_notes = _without_room(change, around.common)
    blamed, own_room_notes = _without_own_room(blamed, around.common)
    weighed = _weigh(blamed, against_others, around)
    dead, false = weighed.dead, weighed.false
    verdict = _verdict(dead, false)
    told = Told(blamed, told_ring(blamed, dead, around.noise), enlarged(change.brightness, around.noise.brightness_scale),
                enlarged(change.series.moved_cents, around.noise.astray_scale), around.build.mechanism)
    room_step = _room_step(verdict, dead, told, may_be_room=bool(room_notes) and dead_case(change, around.noise).could_tell)
    ring_notes = [*room_notes, *own_room_notes, *_ring_notes(dead, blamed)] if verdict != "sound" else []
    held_back = [HELD_BACK] if weighed.is_held_back and verdict == "unsure" else []
    off_pitch = [] if weighed.has_fallen else _off_the_others(now, around, voices_cents=_voices_cents(verdict, false, change))
    step = _next_step(verdict, (dead, false), now.n_plucks, around, room_step=room_step, may_thud=not keeps_ring(blamed))
    step = BETWEEN_NOTCHES_STEP if around.has_climbed and verdict == "watch" else step
    reasons = _reasons(verdict, dead, false, told, may_be_room=room_step == FIRST_ROOM)
    reasons = off_pitch + reasons if step.kind == FELL_ALONE else reasons + off_pitch
    return Condition(
        now.string, now.note, verdict,
        dead_score=score(dead.strength), false_score=score(false.strength), n_plucks=now.n_plucks,
        reasons=(*held_back, *reasons, *ring_notes), next_step=step.text, step_kind=step.kind,
        figures=now.figures, fresh=fresh.figures, changes=_changes(against_others, told, around.noise),
        is_wavering_open=verdict == "sound" and leaves_wavering_open(change.ripple),
        rests_on_upper_partials=verdict not in ("sound", "unsure") and rests_on_upper_partials((dead, false)),
        is_ring_coarse=verdict == "unsure" and not (held_back or room_step) and is_left_open_by_its_ring(dead, false, told),
        partials_moved=_partials_moved(change.series, around.noise),
    )


@dataclass(frozen=True)
class _Weighed:
    """All evidence of one string, limited where something else may be the cause."""

    dead: Case
    false: Case
    has_fallen: bool
    is_held_back: bool  # what else was played may have made it false


def _weigh(change: Change, against_others: Figure, around: Surroundings) -> _Weighed:
    dead = dead_case(change, around.noise)
    ring = enlarged(change.decay.all, around.noise.decay_scale)
    fallen = fallen_case(against_others, ring, is_dead=dead.weight >= limits.DECIDED)
    false = false_case(change, around.noise, hardly_rings=_hardly_rings(dead, change), has_fallen=fallen is not None)
    is_held_back = around.other_instrument and false.weight >= limits.WATCHED
    if is_held_back:  # a lost ring beside it decides as ever
        false = replace(false.at_most(limits.OTHER_INSTRUMENT_SAY), could_tell=False)
    if fallen:  # a slipped pin makes no lost ring surer
        dead = Case(max(fallen.strength, dead.weight), tuple(strongest_first([fallen, *dead.evidence])), dead.could_tell)
    if around.has_climbed:
        dead, false = (case.at_most(limits.BETWEEN_NOTCHES_SAY) for case in (dead, false))
    return _Weighed(dead, false, fallen is not None, is_held_back)


def _room_step(verdict: str, dead: Case, told: Told, *, may_be_room: bool) -> str:
    """The kind of next step of an unsure string where a room hides whether it lost its ring: ELSEWHERE for this sweep's, FIRST_ROOM for the
    fresh sweep's, else "". may_be_room: the fresh sweep's alone keeps it open, and not how few plucks there are."""
    if verdict != "unsure":
        return ""
    if is_hidden_by_room(dead, told):
        return ELSEWHERE
    is_of_ring = not dead.could_tell or any(one.kind in PARTS.values() for one in large_ones(dead.evidence))
    return FIRST_ROOM if may_be_room and is_of_ring else ""


def _off_the_others(now: Reading, around: Surroundings, *, voices_cents: float) -> list[str]:
    """What is said of its pitch, against those of its material where the materials lie apart."""
    against_alike = pitch_against_others(now, around.level)
    as_when_fresh = [] if around.is_semitone_off else off_as_when_fresh(against_alike, around.moved_alone_cents)
    return as_when_fresh or out_of_tune(against_alike, now.figures["cents_off"], is_semitone_off=around.is_semitone_off,
                                        has_climbed=around.has_climbed, voices_cents=voices_cents)


def _hardly_rings(dead: Case, change: Change) -> bool:
    """Half its ring gone, and no doubt that it is dead."""
    ring = change.decay.all
    return dead.weight >= limits.DECIDED and ring.known and ring.value >= limits.DECAY_GROSS


def _voices_cents(verdict: str, false: Case, change: Change) -> float:
    """How far apart the voices of a string lie that is false by wavering; 0 of any other string."""
    is_by_wavering = verdict == "false" and false.evidence[0].kind == "beat_db"
    return change.ripple.voices_cents if is_by_wavering else 0.0


def told_ring(change: Change, dead: Case, noise: SweepNoise) -> Figure:
    """The figure of the ring shown to people: the deciding one, else of the lowest partials where these say most, else of all."""
    ring = next((one for one in dead.evidence if one.kind in OF_THE_RING), None)
    if ring is not None and ring.strength >= limits.WATCHED:
        return Figure(ring.change, ring.se)
    return enlarged(change.decay.low if ring is not None and ring.kind == "decay_low" else change.decay.all, noise.decay_scale)


def enlarged(figure: Figure, scale: float) -> Figure:
    """With the error that this sweep's noise gives."""
    return replace(figure, se=scale * figure.se) if figure.known and figure.se is not None else figure


def _verdict(dead: Case, false: Case) -> str:
    if any(e.kind == "fallen" and e.strength >= limits.DECIDED for e in dead.evidence):
        return "dead"  # partials of a fallen string lie anywhere
    strengths = {"false": false.weight, "dead": dead.weight}
    worst = max(strengths, key=strengths.get)
    if strengths[worst] >= limits.DECIDED:
        return worst
    if strengths[worst] >= limits.WATCHED:
        return "watch"
    if not dead.could_tell or not false.could_tell or large_ones((*dead.evidence, *false.evidence)):
        return "unsure"
    return "sound"


def _without_room(change: Change, common: CommonCause) -> tuple[Change, list[str]]:
    """What may be the room's, of the lost ring, is doubt."""
    doubt = common.room_doubt.get(change.string, {})
    unsure = change.decay.with_figures(lambda part, figure: _less_sure(figure, doubt.get(part, 0.0)))
    parts = [(getattr(change.decay, part), value) for part, value in doubt.items()]
    is_said = any(figure.known and min(figure.value, value) > limits.ROOM_DECAY for figure, value in parts)
    return replace(change, decay=unsure), [MAY_BE_ROOM] if is_said else []


def _without_own_room(change: Change, common: CommonCause) -> tuple[Change, list[str]]:
    """A string that was fresh in a livelier room than the others is not blamed beyond doubt for what those lost since that day too."""
    room = common.fresh_rooms.get(change.string)
    if room is None:
        return change, []
    of_parts = {part: getattr(room, part) if getattr(room, part).known else room.all for part in PARTS}
    doubts = {part: max(figure.value, 0.0) for part, figure in of_parts.items() if figure.known}
    note = (f"Its fresh sweep, {fresh_sweep_text(room)}, was made in a livelier room: the strings around lost more ring since that day "
            "than since they were fresh themselves.")
    unsure = change.decay.with_figures(lambda part, figure: _less_sure(figure, doubts.get(part, 0.0)))
    return replace(change, decay=unsure), [note] if room.is_said else []


def _ring_notes(dead: Case, change: Change) -> list[str]:
    """Of a loss of ring that is told: that the rings in its row show less of it, and that its falls end as when fresh."""
    if not any(one.kind.startswith("decay") and one.strength >= limits.WATCHED for one in dead.evidence):
        return []
    notes = {RECKONED: change.decay.heard_share < limits.HIDDEN_BY_ROOM, ENDS_AS_FRESH: change.decay.keeps_slow_plane}
    return [note for note, is_so in notes.items() if is_so]


def _less_sure(figure: Figure, doubt: float) -> Figure:
    return replace(figure, se=errors_together(figure.se, doubt)) if figure.known else figure


def _reasons(verdict: str, dead: Case, false: Case, told: Told, *, may_be_room: bool) -> list[str]:
    if verdict == "sound":
        return sound_reasons(told)
    return unsure_reasons(dead, false, told, may_be_room=may_be_room) if verdict == "unsure" else case_reasons((dead, false), told)


def _next_step(verdict: str, cases: tuple[Case, Case], n_plucks: int, around: Surroundings, *, room_step: str,
               may_thud: bool) -> Step:
    dead, false = cases
    if verdict in ("dead", "watch") and any(one.kind == "fallen" for one in dead.evidence):
        return fallen_step(verdict == "dead", may_thud=may_thud, build=around.build)
    if verdict == "dead" and another_string((*dead.evidence, *false.evidence)):
        return dead_other_step(around.build)
    set_aged, said_before = is_shared_loss(around.common.decay), bool(around.said.get(verdict))
    otherwise = otherwise_condemned(verdict, around.said)
    steps = {
        "dead": lambda: dead_step(n_plucks, set_aged=set_aged, said_before=said_before, otherwise=otherwise, build=around.build),
        "false": lambda: false_step(false.evidence[0].kind, said_before=said_before, otherwise=otherwise, build=around.build),
        "watch": lambda: _watch_step(_what_weighs_most(dead, false), around.build),
        "unsure": lambda: unsure_step(room_step=room_step, crushed_now=NOW in around.crushed_by,
                                      crushed_fresh=FRESH in around.crushed_by, spoilt_now=NOW in around.spoilt_by,
                                      spoilt_fresh=FRESH in around.spoilt_by),
        "sound": lambda: fell_step(around.build) if around.fell_alone else Step(""),
    }
    return steps[verdict]()


def _watch_step(kind: str, build: Build) -> Step:
    """kind: of the evidence that weighs most, "" where that is the ring."""
    steps = {**dict.fromkeys(UNSTEADY, unsteady_step(build)), "pitch_fall": slipping_step(build), "sinks": SINKING_STEP,
             "stretch": OTHER_STRING_STEP}
    return steps.get(kind, WATCH_STEP)


def _what_weighs_most(dead: Case, false: Case) -> str:
    """The kind of what weighs most, "" where that is the ring."""
    first = false.evidence[0] if false.evidence else None
    return first.kind if first is not None and first.strength >= max(limits.WATCHED, dead.weight) else ""


def _changes(against_others: Figure, told: Told, noise: SweepNoise) -> Mapping[str, Figure]:
    """What the verdict rests on, keys as in `verdict.CHANGES`."""
    change = told.change
    return {
        "ring": told.ring,
        "decay": change.decay.all,
        "decay_low": change.decay.low,
        "decay_high": change.decay.high,
        "brightness": told.brightness,
        "astray_cents": change.series.astray_cents,
        "moved_cents": told.moved,
        "beat_db": change.ripple.depth_db,
        "waver_db": enlarged(own_ripple(change.ripple.depth_db, noise), noise.beat_scale),
        "stretch": change.series.stretch,
        "pitch_cents": change.pitch_cents,
        "pitch_against_others_cents": against_others,
    }


def _partials_moved(series: SeriesChange, noise: SweepNoise) -> PartialsMoved | None:
    if not series.pattern:
        return None
    n, cents, sigmas = zip(*series.pattern, strict=True)
    return PartialsMoved(n, cents, tuple(noise.astray_scale * sigma for sigma in sigmas), series.left_out)

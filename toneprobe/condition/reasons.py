"""What decided, in a player's words: the two or three figures that weigh most, each with its size and its doubt."""

from collections.abc import Collection, Sequence

from toneprobe import limits
from toneprobe.baseline.decay_change import PARTS
from toneprobe.baseline.ripple_change import TOO_SHORT, RippleChange
from toneprobe.condition.between_notches import LOOK_FIRST
from toneprobe.condition.doubt_words import (
    BRIGHT,
    coarse_ring,
    is_too_wide,
    is_unmeasured,
    is_within_plucks,
    plucks_text,
    plus_minus,
    shift_from,
    shift_words,
)
from toneprobe.condition.evidence import ASTRAY, OF_THE_RING, UNSTEADY, Case, Evidence, another_string, large_ones, strongest_first
from toneprobe.condition.evidence_words import PITCH_MOVED_CENTS, Told, evidence_sentence, is_doubtful, untold_sentence, with_doubts_once
from toneprobe.condition.few_astray import farthest_first, moved_most
from toneprobe.condition.next_steps import ASK_MECHANISM
from toneprobe.limits import ERRORS_TOLD
from toneprobe.measure.figure import Figure
from toneprobe.phrases import capital

MOST_REASONS = 3
SUPPORTS = 0.4  # strength from which a figure is worth naming beside the deciding one
SEEN = 0.1  # log change that a reader of the table stops at
COARSELY_KNOWN = "A loss of half its ring would most likely have shown, a smaller one might not."
ROOM_HIDES_IT = "The room rings about as long as this string does, so a lost ring could not be heard here."
HIDDEN_BY_CODEC = "The compression spared too few of its partials, so a false string might pass for a true one."
NO_WEAR_BRIGHTER = ("that is not wear. It was plucked harder or nearer its end, or something buzzes against it: pluck it alone and listen "
                    "for a rattle")
CONTRADICTED = ("The partials that the compression spared say so, but its ring as a whole does not: one of the two is the compression's "
                "doing.")
HIDDEN_WAVERING = "Whether it wavers could not be told: one of the two recordings is compressed too hard for that."
SLOW_WAVER_HZ = 1.0  # what swings more slowly is heard as a longer or shorter ring rather than as a wavering (set)
HEALTHY = "within what two plucks of a healthy string differ by"


def case_reasons(cases: Sequence[Case], told: Told) -> list[str]:
    """Sentences of the strongest evidence, at most MOST_REASONS: the deciding one first, then that another string may be on. A fallen pitch
    explains the rest."""
    ranked = _ranked(cases)
    chosen, other_string = ranked[:1], another_string(ranked)
    if other_string and other_string not in chosen:
        chosen.append(other_string)
    for evidence in ranked:
        if evidence not in chosen and evidence.strength >= SUPPORTS and not _adds_nothing(evidence, chosen):
            chosen.append(evidence)
    return with_doubts_once([evidence_sentence(e, told) for e in chosen[:MOST_REASONS]])


def rests_on_upper_partials(cases: Sequence[Case]) -> bool:
    """Whether the upper partials, which decided, come first, and not the ring shown in a string's row."""
    first = next(iter(_ranked(cases)), None)
    return first is not None and first.kind == "decay_high" and not is_unmeasured(first)


def _ranked(cases: Sequence[Case]) -> list[Evidence]:
    return sorted((e for case in cases for e in case.evidence), key=lambda e: (e.kind != "fallen", -e.strength))


def _adds_nothing(evidence: Evidence, chosen: Sequence[Evidence]) -> bool:
    """Whether one of the rules below says so of it, beside those chosen already."""
    rules = (_is_told_already, _is_no_other_sign, _is_fitted_to_stray_partials, _is_a_pitch_hardly_heard, _is_made_by_sinking,
             _is_within_doubt)
    return any(rule(evidence, chosen) for rule in rules)


def _is_told_already(evidence: Evidence, chosen: Sequence[Evidence]) -> bool:
    """The ring, the partials or an unsteady pitch a second time."""
    return any(evidence.kind in views and _has(chosen, views) for views in (OF_THE_RING, ASTRAY, UNSTEADY))


def _is_no_other_sign(evidence: Evidence, chosen: Sequence[Evidence]) -> bool:
    """Beats of one rate beside another sign of a false string."""
    return evidence.kind == "common_beat" and _has(chosen, ("beat_db", *ASTRAY))


def _is_fitted_to_stray_partials(evidence: Evidence, chosen: Sequence[Evidence]) -> bool:
    """A stiffness fitted to partials that are clearly astray tells of no string."""
    return evidence.kind == "stretch" and _has(chosen, ASTRAY, limits.DECIDED)


def _is_a_pitch_hardly_heard(evidence: Evidence, chosen: Sequence[Evidence]) -> bool:
    """A fall of pitch that is not watched by itself, or within a pluck that hardly rings."""
    if evidence.kind in ("pitch_fall", "sinks") and evidence.strength < limits.WATCHED:
        return True
    return evidence.kind == "sinks" and _has(chosen, (*OF_THE_RING, "decay_high"), limits.DECIDED)


def _is_made_by_sinking(evidence: Evidence, chosen: Sequence[Evidence]) -> bool:
    """What a fall within the pluck makes of its partials' swings."""
    return evidence.kind in ("beat_db", "pitch_walk") and evidence.strength < limits.DECIDED and _has(chosen, ("sinks",), limits.WATCHED)


def _is_within_doubt(evidence: Evidence, chosen: Sequence[Evidence]) -> bool:
    """A brightness or a stiffness within its ±; beside what is beyond doubt, anything else that plucks alone might make, and another string
    unless that is beyond doubt too."""
    if evidence.kind in ("brightness", "stretch") and is_doubtful(evidence):
        return True
    if evidence.kind == "brightness" or not any(e.strength >= limits.DECIDED for e in chosen):
        return False
    return is_doubtful(evidence) or (evidence.kind == "stretch" and evidence.strength < limits.DECIDED)


def _has(chosen: Sequence[Evidence], kinds: Collection[str], least: float = 0.0) -> bool:
    """Whether any is of these kinds and at least as strong."""
    return any(e.kind in kinds and e.strength >= least for e in chosen)


def sound_reasons(told: Told) -> list[str]:
    """What was found unchanged, and how finely that could be told; for a visible change, why the string is fine."""
    astray = told.change.series.astray_cents
    found = [*_ring_is_fine(told.ring), *_brightness_is_fine(told.brightness)]
    if astray.known and _stretch_took_it(told):
        found.append("Too few partials to tell whether it is uneven or only of different stiffness.")
    elif astray.known:
        within = _within_cents(told)
        found.append(f"Its partials are where they were, within {within:.1f} cents{_but_for(told, within)}.")
    else:
        found.append("Too few partials to tell whether it is true.")
    return [*found, *_untold_wavering(told.change.ripple)]


def leaves_wavering_open(ripple: RippleChange) -> bool:
    """Whether the string rings too short to tell a wavering, at any rate or at slow ones, or the compression leaves none to be told."""
    if ripple.is_refused:
        return True
    if ripple.depth_db.known:
        return ripple.slowest_hz is None or ripple.slowest_hz > SLOW_WAVER_HZ
    return ripple.depth_db.reason == TOO_SHORT.reason


def _untold_wavering(ripple: RippleChange) -> list[str]:
    if not leaves_wavering_open(ripple):
        return []
    if ripple.is_refused:
        return [HIDDEN_WAVERING]
    is_of_slow_ones = ripple.depth_db.known and ripple.slowest_hz is not None
    rate = f" more slowly than {ripple.slowest_hz:.1f} times a second" if is_of_slow_ones else ""
    return [f"Whether it wavers{rate} could not be told: it rings, or was left to ring, too briefly."]


def _within_cents(told: Told) -> float:
    """Of all partials together, or of single ones off by more than their plucks differ: of those that may be mistaken the second, of those
    that can't be the first."""
    series = told.change.series
    single = [*farthest_first(series)[1:], *moved_most(series, "one_astray")]
    off = [abs(one.cents) for one in single if one.sigmas > ERRORS_TOLD]
    return max([told.moved.value + ERRORS_TOLD * told.moved.se, *off])


def _but_for(told: Told, within_cents: float) -> str:
    """The one partial that no rms counts and that is not watched, as it is weak or its plucks contradict each other: named where it lies
    off by more than they differ, and by what a player might hear."""
    farthest = next(iter(farthest_first(told.change.series)), None)
    if farthest is None or farthest.sigmas <= ERRORS_TOLD or abs(farthest.cents) <= max(within_cents, PITCH_MOVED_CENTS):
        return ""
    if farthest.is_lost:
        return f", except partial {farthest.n}, which was not found"
    higher = "higher" if farthest.cents > 0.0 else "lower"
    return f", except partial {farthest.n}: it seems {abs(farthest.cents):.0f} cents {higher}, but one alone may be mistaken"


def _stretch_took_it(told: Told) -> bool:
    """Whether the partials moved beyond doubt as those of another stiffness do, and no B of its own confirms it: then the rest lies in
    place only because the fit took the fault, as one near an end where few partials sound."""
    stretch = told.change.series.stretch
    if not stretch.known or told.change.stiffness.known:
        return False
    return abs(stretch.value) > ERRORS_TOLD * stretch.error


def out_of_tune(against_others: Figure, own: Figure, *, is_semitone_off: bool = False, has_climbed: bool = False,
                voices_cents: float = 0.0) -> list[str]:
    """Of a string off the others; still farther off, its tension makes its stiffness another. own: cents off its note. No tuning is advised
    at its note, where it may be the only one that is right; where is_semitone_off, as a lever or pedal may hold it; where has_climbed
    (`between_notches`); within voices_cents, the distance of its two voices, as the pitch may be the other's; nor where its plucks lie so
    far apart that some may be another string's."""
    if not against_others.known or abs(against_others.value) < limits.OUT_OF_TUNE_CENTS:
        return []
    where = "above" if against_others.value > 0.0 else "below"
    cents = abs(against_others.value)
    if is_semitone_off:
        return [f"Its pitch lies {cents:.0f} cents {where} the others, a whole semitone. {ASK_MECHANISM}"]
    if cents <= voices_cents:
        return [f"Its pitch lies {cents:.0f} cents {where} the others, but it has two voices, and this may be the other one."]
    if cents < limits.PITCH_ERRORS * against_others.error:
        return ["Its plucks lie far apart in pitch: pluck it again, and those beside it, before you tune it."]
    if abs(own.value) < limits.OUT_OF_TUNE_CENTS:
        return [f"Its pitch lies {cents:.0f} cents {where} the others, but near its own note."]
    if has_climbed:
        return [f"Its pitch lies {cents:.0f} cents {where} the others. {LOOK_FIRST}"]
    then = ", and its stiffness can be told more surely" if cents >= limits.SLIPPED_CENTS else ""
    return [f"Its pitch lies {cents:.0f} cents {where} the others: tune it{then}."]


def off_as_when_fresh(against_others: Figure, moved_alone_cents: float | None) -> list[str]:
    """Of a string that stands about where it stood, as quarter tones or pure thirds ask: no wear, and its tension is as it was."""
    if not against_others.known or moved_alone_cents is None or abs(moved_alone_cents) >= limits.OUT_OF_TUNE_CENTS:
        return []
    now, stood = against_others.value, against_others.value - moved_alone_cents
    is_known = abs(now) >= limits.PITCH_ERRORS * against_others.error
    if min(abs(now), abs(stood)) < limits.OUT_OF_TUNE_CENTS or now * stood < 0.0 or not is_known:
        return []
    return [f"Its pitch lies {abs(now):.0f} cents {'above' if now > 0.0 else 'below'} the others, as when fresh ({abs(stood):.0f}): "
            "tune it, unless it is meant to stand so."]


def _ring_is_fine(ring: Figure) -> list[str]:
    if not ring.known:
        return []
    doubt = plus_minus(ring.value, ring.se)
    coarse = f" {COARSELY_KNOWN}" if ERRORS_TOLD * ring.se > limits.DECAY_NOTICED else ""
    if abs(ring.value) < SEEN and is_within_plucks(ring.value, ring.se):
        return [f"Rings as when fresh ({doubt} %).{coarse}"]
    if is_within_plucks(ring.value, ring.se):
        return [f"Rings as when fresh: {shift_words(ring.value)} ({doubt}) is {HEALTHY}.{coarse}"]
    if ring.value < 0:
        return [f"Rings {shift_from(ring.value, 'fresh')} ({doubt}): that is not wear, but the room, the damping or the hand."]
    return [f"Rings {shift_from(ring.value, 'fresh')} ({doubt}): less than a careful listener notices."]


def _brightness_is_fine(brightness: Figure) -> list[str]:
    if not brightness.known or abs(brightness.value) < SEEN:
        return []
    doubt = plus_minus(brightness.value, brightness.se)
    if is_within_plucks(brightness.value, brightness.se):
        return [f"Sounds {shift_words(brightness.value, BRIGHT)} ({doubt}): {HEALTHY}."]
    why = "it changes with the place and the strength of the pluck" if brightness.value > 0 else NO_WEAR_BRIGHTER
    return [f"Sounds {shift_from(brightness.value, 'fresh', BRIGHT)} ({doubt}): {why}."]


def unsure_reasons(dead: Case, false: Case, told: Told, *, may_be_room: bool = False) -> list[str]:
    """Why a string is measured and yet not judged. may_be_room: what it lost may be the fresh sweep's room, which is said beside them, and
    no number of plucks would tell it."""
    plucks = plucks_text(told.change.n_now)
    found = [] if told.ring.known else [told.change.decay.all.reason or f"Its decay could not be compared from {plucks}."]
    doubtful = _in_doubt(dead, false, told, may_be_room=may_be_room)
    found.extend(untold_sentence(e, told.change.n_now) if is_doubtful(e) and not is_unmeasured(e) else evidence_sentence(e, told)
                 for e in doubtful)
    if told.change.decay.contradicted and any(e.kind in (*OF_THE_RING, "decay_high") for e in doubtful):
        found.append(CONTRADICTED)
    if is_hidden_by_room(dead, told):
        found.append(ROOM_HIDES_IT)
    elif told.ring.known and not dead.could_tell and not may_be_room:
        found.extend(_ring_too_coarse(told.ring, doubtful, told.change.n_now))
    if told.change.series.hidden:
        found.append(HIDDEN_BY_CODEC)
    elif not false.could_tell:
        then = told.change.n_fresh
        of_both = f"{plucks}, and {plucks_text(then)} when fresh," if then < told.change.n_now else plucks
        found.append(f"From {of_both} its partials are not known finely enough, so a false string might pass for a true one.")
    return [f"{capital(text)}{'' if text.endswith('.') else '.'}" for text in found]


def _in_doubt(dead: Case, false: Case, told: Told, *, may_be_room: bool) -> list[Evidence]:
    """The strongest of what may be large, at most one, unless the room is said to hide it."""
    hidden = is_hidden_by_room(dead, told)
    return [e for e in strongest_first(large_ones((*dead.evidence, *false.evidence)))[:1]
            if not (hidden and e.kind in OF_THE_RING and is_unmeasured(e)) and not (may_be_room and e.kind in PARTS.values())]


def is_left_open_by_its_ring(dead: Case, false: Case, told: Told) -> bool:
    """Whether how coarsely its ring is known comes first among the reasons of an unsure string."""
    is_coarse = told.ring.known and not is_too_wide(told.ring.se)
    return is_coarse and not (dead.could_tell or is_hidden_by_room(dead, told) or _in_doubt(dead, false, told, may_be_room=False))


def is_hidden_by_room(dead: Case, told: Told) -> bool:
    """Whether it is because of the room that the loss of ring cannot be told."""
    return told.ring.known and not dead.could_tell and told.change.decay.heard_share < limits.HIDDEN_BY_ROOM


def _ring_too_coarse(ring: Figure, said: Sequence[Evidence], n_plucks: int) -> list[str]:
    """Nothing where it was said already that the ring could not be measured."""
    if any(e.kind in OF_THE_RING and is_unmeasured(e) for e in said):
        return []
    if is_too_wide(ring.se):
        return [f"From {plucks_text(n_plucks)} its ring could not be measured, so a dead string might pass for a fine one."]
    return [coarse_ring([ring], n_plucks)]

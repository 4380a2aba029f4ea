"""Strings on which no verdict of sound, dead or false is passed, and why."""

from dataclasses import replace

from toneprobe.baseline.fresh import Baseline
from toneprobe.condition.next_steps import (
    ASK_MECHANISM,
    ON_A_HARP,
    OTHER_NAME_STEP,
    OTHER_POSITION_STEP,
    Build,
    Step,
    other_set_step,
    sounded_as_step,
    two_strings_step,
)
from toneprobe.condition.verdict import Condition
from toneprobe.instrument import StringSpec
from toneprobe.phrases import HARP
from toneprobe.session.reading import Reading


def unheard_condition(spec: StringSpec, fresh: Baseline | None) -> Condition:
    return Condition(spec.name, spec.note, "unheard", dead_score=None, false_score=None, n_plucks=0, figures={},
                     fresh=fresh.figures if fresh else {}, reasons=("It was not heard in this sweep.",),
                     next_step="Pluck it and add the recording to this sweep.")


def sounded_as_condition(unheard: Condition, other: str) -> Condition:
    """The unheard string's plucks may be among those of the other."""
    step = sounded_as_step(other)
    return replace(unheard, reasons=(*unheard.reasons, f"It may have sounded as {other}."), next_step=step.text, step_kind=step.kind)


def left_out_condition(condition: Condition, other: str) -> Condition:
    """For a string whose plucks were left out, all or some, because another string rang along: that is said, with its remedy."""
    if condition.verdict == "unheard":
        return replace(condition, reasons=(f"It was heard, but {other} rang along.",), next_step=f"Damp {other} and pluck it again.")
    if condition.verdict != "unsure":
        return condition
    reason = f"A pluck of it was left out, because {other} rang along: damp {other} too when you pluck it again."
    return replace(condition, reasons=(*condition.reasons, reason))


def settling_condition(now: Reading, fresh: Baseline | None) -> Condition:
    return _unscored(now, fresh, "settling", "It is new and still stretching: not judged until its pitch holds.",
                     Step("Tune it daily and check its pitch; record its fresh baseline when it holds."))


def unrated_condition(now: Reading, note: str | None) -> Condition:
    step = "If the string is new and settled, record it as fresh (three plucks), and it is judged from then on."
    alone = _unscored(now, None, "unrated", "It has no fresh baseline, so nothing can be said of wear.", Step(step))
    if not note:
        return alone
    return replace(alone, reasons=(*alone.reasons, note), next_step=f"If it is old, change it when you doubt it. {step}")


def other_set_condition(now: Reading, fresh: Baseline, *, what: str = HARP) -> Condition:
    """Most strings are others than those of the fresh sweep (see `other_strings`), so this one may be too."""
    return _unscored(now, fresh, "unsure", "Most strings are not those of the fresh sweep, so it is not compared.",
                     other_set_step(what))


def other_position_condition(now: Reading, fresh: Baseline, *, mechanism: bool = True) -> Condition:
    """Another pedal or lever position shortens the string, and at the pin it is tuned to another pull: its partials are not those of the
    fresh baseline."""
    why = "another pedal or lever position, which is another string length" if mechanism else "at another note it pulls differently"
    return _unscored(now, None, "unsure", f"It sounds {now.note}, its fresh baseline {fresh.reading.note}: {why}.", OTHER_POSITION_STEP)


def semitone_condition(now: Reading, cents: float) -> Condition:
    """cents: how far it moved since fresh against the others."""
    return _unscored(now, None, "unsure", f"It sounds a semitone {'lower' if cents < 0 else 'higher'} than when fresh, by {abs(cents):.0f} "
                     f"cents against the others. {ASK_MECHANISM}", OTHER_POSITION_STEP)


def other_name_condition(now: Reading, fresh: Baseline, *, other: str, cents: float) -> Condition:
    """cents: how far it stands off the other strings, towards the other, which was not heard."""
    where, semitone = ("above", "higher") if cents > 0 else ("below", "lower")
    return _unscored(now, fresh, "unsure", f"It sounds {abs(cents):.0f} cents {where} the others, and {other}, a semitone {semitone}, was "
                     f"not heard: it may have been {other}.", OTHER_NAME_STEP)


def two_strings_condition(now: Reading, fresh: Baseline, *, other: str, n_usual: int, build: Build = ON_A_HARP) -> Condition:
    """other: the string beside it that may have sounded its note, of this build; n_usual: plucks that nearly all strings have."""
    have = "one" if n_usual == 1 else str(n_usual)
    return _unscored(now, fresh, "unsure", f"It has {now.n_plucks} plucks where the others have {have}, and {other} beside it was not "
                     f"heard: {other} may have sounded as {now.string}.", two_strings_step(build))


def _unscored(now: Reading, fresh: Baseline | None, verdict: str, reason: str, step: Step) -> Condition:
    return Condition(now.string, now.note, verdict, dead_score=None, false_score=None, n_plucks=now.n_plucks, figures=now.figures,
                     fresh=fresh.figures if fresh else {}, reasons=(reason,), next_step=step.text, step_kind=step.kind)

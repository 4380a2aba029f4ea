"""Which strings come first: what wants doing, worst first, what is to be done with them, and what could not be judged."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from toneprobe import limits
from toneprobe.condition.doubt_words import coarse_ring
from toneprobe.condition.next_steps import ELSEWHERE, FIRST_ROOM, TWO_STRINGS, short_step
from toneprobe.condition.verdict import CONDEMNING, SILENT
from toneprobe.days import day_text
from toneprobe.phrases import as_strings, capital, listed, was_or_were
from toneprobe.report.glossary import (
    A_FEW_AGAIN,
    FIRST_SWEEP,
    FRESH,
    LEFT_OUT,
    NEEDS_ATTENTION,
    NOT_JUDGED,
    OPEN_STATES,
    OTHER_ROOM,
    RECORD_AGAIN,
    REMEDIES,
)
from toneprobe.report.series import last_said
from toneprobe.report.string_view import StringView
from toneprobe.report.words import first_sentence, fresh_already, had_time_step, settled_step

MOST_OF_A_REASON = 3  # strings named before a reason that they share; the list's heading names all
MOST_STEPS = 2  # on a first screen, but for those of strings that want changing, which are all there
MOST_NAMED = 9  # strings in each
OF_THEIR_OWN = (FIRST_ROOM, TWO_STRINGS)  # kinds of steps that are told as they stand, for more plucks tell nothing
OWN, SETTLED, HAD_TIME, FRESH_ELSEWHERE = "own", "settled", "had time", "fresh elsewhere"  # what decides on a remedy before the state


@dataclass(frozen=True)
class NotJudged:
    """Strings left without a verdict for one reason, and what would settle it."""

    verdict: str
    state: str
    words: str  # "not sure"
    strings: tuple[StringView, ...]
    remedy: str
    is_all: bool = False  # of the harp: they need not be named

    @property
    def names(self) -> str:
        return "all strings" if self.is_all else _names(self.strings)

    @property
    def reasons(self) -> tuple[tuple[str, str], ...]:
        """Why strings are unsure, each reason once, after those that it is for: ("4F, 5D and 10 more", "Rings …"). The remedy of another
        group says it for all."""
        groups: dict[object, list[StringView]] = {}  # by the reason; of a coarse ring, which differs in figures, by the number of plucks
        for one in self.strings if self.state == "unsure" else ():
            if one.brief:
                groups.setdefault(one.condition.n_plucks if one.condition.is_ring_coarse else one.brief, []).append(one)
        everyone = "All strings" if self.is_all else "All of these"
        return tuple((everyone if 1 < len(ones) == len(self.strings) else
                      listed(as_strings([one.name for one in ones], at_start=True), MOST_OF_A_REASON), _shared_reason(ones))
                     for ones in groups.values())


@dataclass(frozen=True)
class SharedStep:
    """One next step, given once for all strings that it concerns."""

    strings: tuple[StringView, ...]
    text: str

    @property
    def names(self) -> str:
        return _names(self.strings)


@dataclass(frozen=True)
class FirstStep:
    """A line for the first screen: what to do next."""

    what: str  # "Next for 3F, 5C"
    text: str


def worst_first(strings: Iterable[StringView]) -> tuple[StringView, ...]:
    """False, then dead, then to watch; in each by score, then, as many scores reach 100, by the size of the change, then from the top of
    the harp down."""
    return tuple(sorted((one for one in strings if one.verdict in NEEDS_ATTENTION), key=_urgency))


def still_standing(strings: Iterable[StringView]) -> tuple[StringView, ...]:
    """Strings of which this sweep says nothing and an earlier one said that they want attention, the worst first."""
    found = [one for one in strings if one.still_stands]
    return tuple(sorted(found, key=lambda one: (NEEDS_ATTENTION.index(one.still_stands.verdict), one.place)))


def standing_words(standing: Iterable[StringView]) -> str:
    """ "4A, not heard, was last judged dead on 10 March 2026.", strings of one day and verdict together; "" where there are none."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for one in standing:
        why = "not heard" if one.state == "unheard" else "heard but not judged"
        judged = "worth watching" if one.still_stands.verdict == "watch" else one.still_stands.verdict
        groups.setdefault((why, judged, day_text(one.still_stands.date)), []).append(one.name)
    return " ".join(f"{', '.join(as_strings(names, at_start=True))}, {why}, {was_or_were(names)} last judged {judged} on {day}."
                    for (why, judged, day), names in groups.items())


def shared_steps(attention: Iterable[StringView]) -> tuple[SharedStep, ...]:
    """The next steps in the order of their first strings."""
    steps: dict[str, list[StringView]] = {}
    for one in attention:
        if one.next_step:
            steps.setdefault(one.next_step, []).append(one)
    return tuple(SharedStep(tuple(strings), text) for text, strings in steps.items())


def not_judged(strings: Iterable[StringView], *, take_back: int | str | None = None) -> tuple[NotJudged, ...]:
    """The strings without a verdict in groups that share a remedy, in the order of `glossary.OPEN_STATES`.

    take_back: the number of a sweep so full of noise that plucking a few strings again does not help; else None.
    """
    strings = tuple(strings)
    elsewhere, groups = _elsewhere(strings), {}
    for one in strings:
        if one.state in NOT_JUDGED:
            groups.setdefault(_key_of(one, elsewhere), []).append(one)
    ordered = sorted(groups.items(), key=lambda group: (OPEN_STATES.index(group[0].state), group[0].kind == FRESH_ELSEWHERE))
    return tuple(NotJudged(ones[0].verdict, key.state, f"heard, but {key.other} rang along" if key.other else NOT_JUDGED[key.state],
                           tuple(ones), _remedy(key, ones, strings, take_back), is_all=len(ones) == len(strings)) for key, ones in ordered)


def first_steps(steps: Sequence[SharedStep], groups: Sequence[NotJudged]) -> tuple[FirstStep, ...]:
    """What to do and by when, in short: for all strings that want changing, for others as far as there is room, and for the largest group
    without a verdict."""
    due = [step for step in steps if any(one.verdict in CONDEMNING for one in step.strings)]
    shown = [*due, *[step for step in steps if step not in due][:max(0, MOST_STEPS - len(due))]]
    largest = sorted(groups, key=lambda group: -len(group.strings))[:1]
    return (*(FirstStep(f"Next for {_short_names(step.strings)}", short_step(step.text)) for step in shown),
            *(FirstStep(capital(group.words), first_sentence(group.remedy)) for group in largest))


def _names(strings: Iterable[StringView]) -> str:
    return ", ".join(as_strings(one.name for one in strings))


def _shared_reason(strings: Sequence[StringView]) -> str:
    """The reason that these share; of rings known too coarsely with the range of their errors."""
    first = strings[0]
    if not first.condition.is_ring_coarse:
        return first.brief
    return coarse_ring([one.condition.changes["ring"] for one in strings], first.condition.n_plucks)


def _short_names(strings: Sequence[StringView]) -> str:
    """ "3F, 5C"; of many "the 20 dead"."""
    words = list(dict.fromkeys(one.word for one in strings))
    return _names(strings) if len(strings) <= MOST_NAMED else f"the {len(strings)} {' or '.join(words)}"


class _Key(NamedTuple):
    """What strings without a verdict share that are told one remedy."""

    state: str
    other: str  # the string that rang along, "" for none
    kind: str  # OWN, SETTLED, HAD_TIME, FRESH_ELSEWHERE, or "" where the state alone decides on the remedy
    detail: str = ""  # their own remedy, or what they still lack for a baseline


def _elsewhere(strings: Iterable[StringView]) -> dict[str, str]:
    """By string, the remedy of those that are best plucked in another room: the strings whose ring this room hides, or, where these are
    most of the unsure ones, all unsure ones, as one sweep should not mix two rooms."""
    unsure = [one for one in strings if one.state == "unsure" and not one.spoilt and one.condition.step_kind not in OF_THEIR_OWN]
    hidden = [one for one in unsure if one.condition.step_kind == ELSEWHERE]
    is_most = 2 * len(hidden) > len(unsure)
    these = "most of these" if is_most and len(hidden) < len(unsure) else "these"
    return {one.name: OTHER_ROOM.format(these) for one in (unsure if is_most else hidden)}


def _key_of(one: StringView, elsewhere: Mapping[str, str]) -> _Key:
    own = one.spoilt or elsewhere.get(one.name, "") or (one.next_step if one.condition.step_kind in OF_THEIR_OWN else "")
    if not own and one.fresh_elsewhere_on:
        return _Key(one.state, one.left_out_by, FRESH_ELSEWHERE)
    if own or one.fresh_later_on:
        return _Key(one.state, one.left_out_by, OWN, own or one.next_step)
    return _Key(one.state, one.left_out_by, SETTLED if one.settled else HAD_TIME if one.had_time_on else "", one.lacks)


def _remedy(key: _Key, ones: Sequence[StringView], strings: Sequence[StringView], take_back: int | str | None) -> str:
    """What would settle it for a group. ones: its strings; strings: all of the harp; take_back: as of `not_judged`."""
    if key.kind == FRESH_ELSEWHERE:
        has_all = all(one.state == FRESH or one.fresh_elsewhere_on for one in strings)
        return fresh_already([one.fresh_elsewhere_on for one in ones], len(ones), n_all=len(strings) if has_all else None)
    if take_back is not None and key.state in ("unsure", "unheard", LEFT_OUT):
        return RECORD_AGAIN.format(take_back)
    if key.kind == OWN:
        return key.detail
    if key.kind == SETTLED:
        return settled_step([one.settled for one in ones], key.detail)
    if key.kind == HAD_TIME:
        return had_time_step([one.name for one in ones], max(one.had_time_on for one in ones), key.detail)
    if key.state == "unrated" and all(one.state in ("unrated", "unheard", LEFT_OUT) for one in strings):
        return FIRST_SWEEP
    if key.state == "unheard" and _is_on_purpose(ones, n_strings=len(strings)):
        return A_FEW_AGAIN
    return REMEDIES[key.state].format(key.other)


def _is_on_purpose(unheard: Sequence[StringView], *, n_strings: int) -> bool:
    """Whether a few strings were plucked again, as a step asked for: most of the harp was not heard, and of most of these an earlier sweep
    says something, which none does of a string changed since."""
    points = [last_said(one.own_history) for one in unheard]
    n_said = sum(point is not None and point.verdict not in SILENT for point in points)
    return 2 * len(points) > n_strings and 2 * n_said > len(points)


def _urgency(one: StringView) -> tuple[int, float, float, int]:
    """By which `worst_first` sorts."""
    condition = one.condition
    scores = {"false": (condition.false_score,), "dead": (condition.dead_score,)}.get(
        one.verdict, (condition.dead_score, condition.false_score))
    return NEEDS_ATTENTION.index(one.verdict), -max(score or 0.0 for score in scores), -_largest_change(one), one.place


def _largest_change(one: StringView) -> float:
    """The largest change that supports the verdict, as a multiple of what a listener notices; 0 where none is known."""
    changes = one.condition.changes
    of_partials = [("moved_cents", limits.ASTRAY_NOTICED_CENTS), ("waver_db", limits.BEAT_NOTICED_DB)]
    sizes = [changes[key].value / noticed for key, noticed in of_partials if key in changes and changes[key].known]
    if one.verdict != "false":
        sizes = [] if one.verdict == "dead" else sizes
        sizes += [-math.log(one.ring.value) / limits.DECAY_NOTICED] if one.ring.known and one.ring.value > 0.0 else []
    return max(sizes, default=0.0)

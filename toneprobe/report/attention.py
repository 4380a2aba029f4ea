"""Which strings come first: what wants doing, worst first, what is to be done with them, and what could not be judged."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from toneprobe import limits
from toneprobe.condition.doubt_words import coarse_ring
from toneprobe.condition.next_steps import ELSEWHERE, TWO_STRINGS, short_step
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

MOST_OF_A_REASON = 3  # strings that are named before a reason that they share; all stand over it
MOST_STEPS, MOST_NAMED = 2, 9  # of a first screen: steps, beside those of strings that want changing, and strings named in each


@dataclass(frozen=True)
class NotJudged:
    """The strings that one verdict leaves open, and what would settle it."""

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
        """Why its strings are unsure, each reason once, and of which: ("4F, 5D and 10 more", "Rings …"). Of another group its remedy says
        what all have in common."""
        of: dict[object, list[StringView]] = {}
        for one in self.strings if self.state == "unsure" else ():
            if one.brief:
                of.setdefault(one.condition.n_plucks if one.condition.is_ring_coarse else one.brief, []).append(one)
        everyone = "All strings" if self.is_all else "All of these"
        return tuple((everyone if 1 < len(ones) == len(self.strings) else
                      listed(as_strings([one.name for one in ones], at_start=True), MOST_OF_A_REASON), _in_one(ones))
                     for ones in of.values())


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
    """What to do next, in a line for the first screen."""

    what: str  # "Next for 3F, 5C"
    text: str


def worst_first(strings: Iterable[StringView]) -> tuple[StringView, ...]:
    """False, then dead, then those to watch, each by its score, then by the size of its change, as many scores stand at 100; equals of both
    from the top of the harp down."""
    return tuple(sorted((one for one in strings if one.verdict in NEEDS_ATTENTION), key=_pressing))


def still_standing(strings: Iterable[StringView]) -> tuple[StringView, ...]:
    """The strings of which this sweep says nothing and an earlier one found that they want attention, the worst first."""
    found = [(NEEDS_ATTENTION.index(one.still_stands.verdict), one.place, one) for one in strings if one.still_stands]
    return tuple(one for *_, one in sorted(found, key=lambda each: each[:2]))


def standing_words(standing: Iterable[StringView]) -> str:
    """ "4A, not heard, was last judged dead on 10 March 2026.", those of one day and verdict together; "" where there are none."""
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
    """Groups of strings without a verdict on their state, in the order of `glossary.OPEN_STATES`; those left out by what rang along,
    those that a recording's fault or its room leaves open by that remedy.

    take_back: the number of a sweep drowned in noise, which plucking a few strings again does not save; else None.
    """
    strings, groups = tuple(strings), {}
    elsewhere = _elsewhere(strings)
    for one in strings:
        if one.state in NOT_JUDGED:
            groups.setdefault(_group_of(one, elsewhere), []).append(one)
    ordered = sorted(groups, key=lambda group: (OPEN_STATES.index(group.state), group.is_fresh))
    has_all = all(one.state == FRESH or one.fresh_elsewhere_on for one in strings)
    found = tuple(_not_judged(group, tuple(groups[group]), take_back, n_all=len(strings) if has_all else None) for group in ordered)
    if all(one.state in ("unrated", "unheard", LEFT_OUT) for one in strings):  # the first sweep of a harp
        found = tuple(replace(group, remedy=FIRST_SWEEP) if group.remedy == REMEDIES["unrated"] else group for group in found)
    found = tuple(replace(group, remedy=A_FEW_AGAIN) if group.remedy == REMEDIES["unheard"] and _is_on_purpose(group, strings) else group
                  for group in found)
    return tuple(replace(group, is_all=len(group.strings) == len(strings)) for group in found)


def _is_on_purpose(unheard: NotJudged, strings: Sequence[StringView]) -> bool:
    """A few strings plucked again, as a step asked for: most were not heard, and of most of these an earlier sweep speaks. Of a string that
    was changed since none does."""
    points = [last_said(one.own_history) for one in unheard.strings]
    n_said = sum(point is not None and point.verdict not in SILENT for point in points)
    return 2 * len(points) > len(strings) and 2 * n_said > len(points)


def first_steps(steps: Sequence[SharedStep], groups: Sequence[NotJudged]) -> tuple[FirstStep, ...]:
    """What to do and by when, in short: for all strings that want changing, and for others where there is room; then what would settle the
    largest group of those left open."""
    due = [step for step in steps if any(one.verdict in CONDEMNING for one in step.strings)]
    shown = [*due, *[step for step in steps if step not in due][:max(0, MOST_STEPS - len(due))]]
    largest = sorted(groups, key=lambda group: -len(group.strings))[:1]
    return (*(FirstStep(f"Next for {_in_short(step.strings)}", short_step(step.text)) for step in shown),
            *(FirstStep(capital(group.words), first_sentence(group.remedy)) for group in largest))


def _names(strings: Iterable[StringView]) -> str:
    return ", ".join(as_strings(one.name for one in strings))


def _in_one(strings: Sequence[StringView]) -> str:
    """The reason that these share; where that is how finely their rings are known, from the least to the most."""
    first = strings[0]
    if not first.condition.is_ring_coarse:
        return first.brief
    return coarse_ring([one.condition.changes["ring"] for one in strings], first.condition.n_plucks)


def _in_short(strings: Sequence[StringView]) -> str:
    """ "3F, 5C"; of many "the 20 dead"."""
    words = list(dict.fromkeys(one.word for one in strings))
    return _names(strings) if len(strings) <= MOST_NAMED else f"the {len(strings)} {' or '.join(words)}"


@dataclass(frozen=True)
class _Group:
    """What strings without a verdict on their state have in common. The remedies of the last two kinds name all their strings."""

    state: str
    other: str  # the string that rang along, "" for none
    remedy: str  # of their own, "" for that of their state
    lacks: str | None  # of strings that have settled or had their time and have no baseline, what they lack for it; None for others
    is_settled: bool  # whether their checks show it
    is_fresh: bool  # of a fresh sweep that did not hear them, where they have a baseline


def _elsewhere(strings: Iterable[StringView]) -> dict[str, str]:
    """By string, what is said of those that are best plucked in another room: all that are unsure, where it hides most of them, for two
    rooms in one sweep are none; else the hidden ones."""
    unsure = [one for one in strings if one.state == "unsure" and not one.spoilt and one.condition.step_kind != TWO_STRINGS]
    hidden = [one for one in unsure if one.condition.step_kind == ELSEWHERE]
    is_most = 2 * len(hidden) > len(unsure)
    these = "most of these" if is_most and len(hidden) < len(unsure) else "these"
    return {one.name: OTHER_ROOM.format(these) for one in (unsure if is_most else hidden)}


def _group_of(one: StringView, elsewhere: Mapping[str, str]) -> _Group:
    """A remedy of its own comes first, then that it is fresh already, then what it lacks for a baseline; else that of its state."""
    own = one.spoilt or elsewhere.get(one.name, "") or (one.next_step if one.condition.step_kind == TWO_STRINGS else "")
    if not own and one.fresh_elsewhere_on:
        return _Group(one.state, one.left_out_by, "", None, is_settled=False, is_fresh=True)
    own = own or (one.next_step if one.fresh_later_on and not one.fresh_elsewhere_on else "")
    lacks = one.lacks if (one.settled or one.had_time_on) and not own else None
    return _Group(one.state, one.left_out_by, own, lacks, is_settled=bool(one.settled), is_fresh=False)


def _not_judged(group: _Group, strings: tuple[StringView, ...], take_back: int | str | None, *, n_all: int | None) -> NotJudged:
    """n_all: strings of the harp, where each has its baseline."""
    state = group.state
    words = f"heard, but {group.other} rang along" if state == LEFT_OUT else NOT_JUDGED[state]
    if group.is_fresh:
        return NotJudged(strings[0].verdict, state, words, strings,
                         fresh_already([one.fresh_elsewhere_on for one in strings], len(strings), n_all=n_all))
    own_remedy = group.remedy
    if group.lacks is not None and group.is_settled:
        own_remedy = settled_step([one.settled for one in strings], group.lacks)
    elif group.lacks is not None:
        own_remedy = had_time_step([one.name for one in strings], max(one.had_time_on for one in strings), group.lacks)
    remedy = own_remedy or REMEDIES[state].format(group.other)
    if take_back is not None and state in ("unsure", "unheard", LEFT_OUT):
        remedy = RECORD_AGAIN.format(take_back)
    return NotJudged(strings[0].verdict, state, words, strings, remedy)


def _pressing(one: StringView) -> tuple[int, float, float, int]:
    condition = one.condition
    scores = {"false": (condition.false_score,), "dead": (condition.dead_score,)}.get(
        one.verdict, (condition.dead_score, condition.false_score))
    return NEEDS_ATTENTION.index(one.verdict), -max(score or 0.0 for score in scores), -_size(one), one.place


def _size(one: StringView) -> float:
    """The largest change that speaks for the verdict, in what a listener notices; 0 where none is known."""
    changes = one.condition.changes
    of_partials = [("moved_cents", limits.ASTRAY_NOTICED_CENTS), ("waver_db", limits.BEAT_NOTICED_DB)]
    sizes = [changes[key].value / noticed for key, noticed in of_partials if key in changes and changes[key].known]
    if one.verdict != "false":
        sizes = [] if one.verdict == "dead" else sizes
        sizes += [-math.log(one.ring.value) / limits.DECAY_NOTICED] if one.ring.known and one.ring.value > 0.0 else []
    return max(sizes, default=0.0)

"""Two sweeps side by side, as before and after restringing: what changed from one to the other, string by string.

Each sweep is judged against its own baselines. The step between them is what judging the later sweep against the earlier gives, partial
against the same partial, of one fitting or of two: where the earlier is the baseline, what the later sweep's own page tells. A string
without a baseline has no verdict in either sweep; the step is all that is known of it, and is told with its reason as what lies between the
two days, not since fresh.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from toneprobe.condition import SILENT, Condition
from toneprobe.condition.verdict import CONDEMNING
from toneprobe.days import day_text
from toneprobe.fittings import Fitting
from toneprobe.measure.figure import Figure
from toneprobe.phrases import as_string, as_strings, count_of, one_after_another
from toneprobe.report.fitting_words import fitting_line
from toneprobe.report.glossary import FRESH, NEEDS_ATTENTION, NOT_JUDGED
from toneprobe.report.off_since import off_days, with_log
from toneprobe.report.series import UNKNOWN, brightness_change, ring_change
from toneprobe.report.string_view import StringView
from toneprobe.report.view import SweepView
from toneprobe.report.words import first_sentence, since_day


@dataclass(frozen=True)
class ComparedString:
    """One string in both sweeps. `before` or `after` is None where the instrument of that sweep did not have it."""

    name: str
    note: str
    before: StringView | None
    after: StringView | None
    ring: Figure  # ratio after/before
    brightness: Figure  # ratio after/before
    step_verdict: str  # of the later sweep judged against the earlier, "" where that was not done
    pitch_cents: Figure  # after − before
    new_fitting: str  # the log's line of a string put on between the sweeps, "" where none was
    words: str  # "dead, now fine"; "" where it is what it was
    off_on: date | None = None  # the day on which the one that the later sweep heard came off
    step_words: str = ""  # why it is told of where no verdict of its own says it: "It wavers: …, 3.8 dB deeper than on 10 January 2026."

    @property
    def told(self) -> str:
        """The verdicts in words, of one that stayed too: "dead in both sweeps"; a new string's verdict is another string's."""
        word = _state_words(self.after or self.before)
        told = self.words or (word if self.new_fitting else f"{word} in both sweeps")
        return f"{told}; came off on {day_text(self.off_on)}" if self.off_on else told


@dataclass(frozen=True)
class ComparisonView:
    harp: str
    before: SweepView
    after: SweepView
    headline: str
    strings: tuple[ComparedString, ...]

    @property
    def moved(self) -> tuple[ComparedString, ...]:
        """The strings whose verdict is another, that were restrung, or that have clearly changed between the sweeps whatever was said of
        them: what needs attention now first, before it what did not until now, the worst before the others, then new strings, then those
        without a verdict, the largest step first, then what is fine. Not those that were recorded fresh and are fine, nor those of which
        only one sweep could tell."""
        off = {one.name for one in self.strings if one.off_on}
        found = [one for one in self.strings if _has_moved(one)]
        is_new = {one.name: bool(one.words) for one in found}
        worst = sorted((one.name for one in self.after.attention if one.name in is_new and one.name not in off),
                       key=lambda name: not is_new[name])
        return tuple(sorted(found, key=lambda one: (worst.index(one.name) if one.name in worst else len(worst) + _calm_rank(one),
                                                    _step_rank(one))))

    @property
    def restrung(self) -> bool:
        """Whether a new string went on between the sweeps, on any position."""
        return any(one.new_fitting for one in self.strings)

    @property
    def in_short(self) -> tuple[str, ...]:
        """What needs a line and no more: "Still dead, and no clear change seen since 8 June 2024: 6D.", "Fine in one sweep, heard too
        poorly in the other to say: 1E and 2A now not sure, 0F now fine.", "Fine in one sweep, not heard in the other: 24 strings." and how
        many recorded fresh are fine."""
        rest = [one for one in self.strings if not _has_moved(one)]
        still = [(verdict, [one.name for one in rest if _was_and_is_due(one) and one.after.verdict == verdict])
                 for verdict in CONDEMNING]
        lines = [f"Still {verdict}, and no clear change seen since {self.before.day}: {one_after_another(as_strings(names))}."
                 for verdict, names in still if names]
        coarse = [(words, [one.name for one in rest if _is_heard_once(one, "unsure") and one.after.verdict == verdict])
                  for verdict, words in (("unsure", "now not sure"), ("sound", "now fine"))]
        if any(names for _, names in coarse):
            told = ", ".join(f"{one_after_another(as_strings(names))} {words}" for words, names in coarse if names)
            lines.append(f"Fine in one sweep, heard too poorly in the other to say: {told}.")
        if n_missed := sum(_is_heard_once(one, "unheard") for one in rest):  # the table has their names
            lines.append(f"Fine in one sweep, not heard in the other: {count_of(n_missed, 'string')}.")
        return tuple(line for line in (self.between_alone, *lines, self.stayed_fresh, self.changed_since) if line)

    @property
    def changed_since(self) -> str:
        """ "Came off after the later sweep: 3G on 27 November 2026.", "" where none is."""
        off = [f"{as_string(one.name)} on {day_text(one.off_on)}" for one in self.strings if one.off_on]
        return f"Came off after the later sweep: {', '.join(off)}." if off else ""

    @property
    def between_alone(self) -> str:
        """ "4G has no verdict: what is said of it is the change between these two sweeps, not since fresh.", "" where there is none."""
        names = [one.name for one in self.strings if one.step_words and one.after.state in NOT_JUDGED]
        have, them = ("has", "it") if len(names) == 1 else ("have", "them")
        told = f"no verdict: what is said of {them} is the change between these two sweeps, not since fresh"
        return f"{one_after_another(as_strings(names, at_start=True))} {have} {told}." if names else ""

    @property
    def stayed_fresh(self) -> str:
        """ "35 strings recorded fresh in the earlier sweep are fine in the later.", "" where there is none."""
        number = sum(map(_stayed_fresh, self.strings))
        are = "is" if number == 1 else "are"
        return f"{count_of(number, 'string')} recorded fresh in the earlier sweep {are} fine in the later." if number else ""


def comparison_view(before: SweepView, after: SweepView, steps: Mapping[str, Condition] | None = None, *,
                    log: Iterable[Fitting] = ()) -> ComparisonView:
    """From the earlier sweep of a harp to the later.

    steps: by string, the later sweep's condition against the earlier (`retelling.steps_between`); of a string without one, or one that
    could not be compared, ring and brightness stay unknown. log: of all strings, as far as it is known, also after the later sweep.
    """
    earlier, later = ({one.name: one for one in view.strings} for view in (before, after))
    names = [*later, *(name for name in earlier if name not in later)]
    off = off_days(with_log(after.strings, log), after.date)
    strings = tuple(replace(_compared(earlier.get(name), later.get(name), (before.date, after.date), (steps or {}).get(name)),
                            off_on=off.get(name)) for name in names)
    return ComparisonView(after.harp, before, after, _headline(strings), strings)


def _compared(before: StringView | None, after: StringView | None, span: tuple[date, date], step: Condition | None) -> ComparedString:
    known = after or before
    figures = [one.condition.figures if one else {} for one in (after, before)]
    told = step if step and step.changes else None
    new_fitting = _new_fitting(before, after, span)
    return ComparedString(
        name=known.name, note=known.note, before=before, after=after, ring=ring_change(told) if told else UNKNOWN,
        brightness=brightness_change(told) if told else UNKNOWN, step_verdict=step.verdict if step else "",
        pitch_cents=_difference(*(side.get("cents_off", UNKNOWN) for side in figures)),
        new_fitting=new_fitting, words=_words(before, after), step_words="" if new_fitting else _step_words(before, after, step, span[0]))


def _has_moved(one: ComparedString) -> bool:
    if one.new_fitting or one.step_verdict in CONDEMNING or one.step_words:
        return True
    return bool(one.words) and not _stayed_fresh(one) and not _says_nothing_new(one)


def _was_and_is_due(one: ComparedString) -> bool:
    return bool(one.before and one.after) and not one.off_on and _is_due(one.before) and _is_due(one.after)


def _says_nothing_new(one: ComparedString) -> bool:
    """At least one of the sweeps says nothing of it, and the other at most that it is fine."""
    return bool(one.before and one.after) and any(
        side.verdict in SILENT and other.verdict in (*SILENT, "sound")
        for side, other in ((one.before, one.after), (one.after, one.before)))


def _is_heard_once(one: ComparedString, else_: str) -> bool:
    """Fine in the one sweep, of that verdict in the other: no change."""
    return bool(one.before and one.after) and {one.before.verdict, one.after.verdict} == {"sound", else_}


def _stayed_fresh(one: ComparedString) -> bool:
    return not one.new_fitting and bool(one.before and one.after) and (one.before.state, one.after.state) == (FRESH, "sound")


def _calm_rank(one: ComparedString) -> int:
    """The order of strings that need no attention."""
    return 0 if one.new_fitting or one.off_on else 1 if one.after is None or one.after.verdict != "sound" else 2


def _step_rank(one: ComparedString) -> int:
    return NEEDS_ATTENTION.index(one.step_verdict) if one.step_verdict in NEEDS_ATTENTION else len(NEEDS_ATTENTION)


def _difference(after: Figure, before: Figure) -> Figure:
    if after.value is None or before.value is None:
        return Figure(None, reason=after.reason or before.reason)
    known = after.se is not None and before.se is not None
    return Figure(after.value - before.value, (after.se**2 + before.se**2) ** 0.5 if known else None)


def _new_fitting(before: StringView | None, after: StringView | None, span: tuple[date, date]) -> str:
    """The newest fitting that went on after the first sweep, maybe on its day, and not after the second."""
    known = {one.id for one in before.fittings} if before else set()
    later = [one for one in (after.fittings if after else ()) if one.fitted_on and span[0] <= one.fitted_on <= span[1]]
    new = [one for one in later if one.fitted_on > span[0] or (known and one.id not in known)]
    return fitting_line(new[-1]) if new else ""


def _step_words(before: StringView | None, after: StringView | None, step: Condition | None, first: date) -> str:
    """Why the step is told, against the first day. Of a string without a baseline a watched one too, for no verdict ever tells it; of one
    false in both sweeps, for ring and brightness do not tell it. "" where the string's own verdict has its reason, and where it was at
    fault in the earlier sweep alone, where a move back looks like one."""
    if after is None or step is None or not step.reasons:
        return ""
    was, now = before.verdict if before else "", after.verdict
    is_told = was == now == "false" or (now not in NEEDS_ATTENTION and was not in CONDEMNING)
    told = ("false",) if was == now == "false" else NEEDS_ATTENTION if after.state == "unrated" else CONDEMNING
    return since_day(first_sentence(step.reasons[0]), first) if is_told and step.verdict in told else ""


def _words(before: StringView | None, after: StringView | None) -> str:
    """ "dead, now fine". Fresh is no verdict that a later one stands against: that sweep is what the string was compared with."""
    was, now = (_state_words(one) if one else "" for one in (before, after))
    then = "its baseline then" if was == FRESH else was
    return "" if was == now else f"{then or 'not there'}, now {now or 'not there'}"


def _headline(strings: Sequence[ComparedString]) -> str:
    both = [(one.before, one.after) for one in strings if one.before and one.after and not one.off_on]
    told = _counted(strings)
    if told:
        return f"{', '.join(told)}."
    n_open = [sum(one.state in NOT_JUDGED for one in side) for side in zip(*both, strict=True)] if both else [0, 0]
    blind = [which for which, n in zip(("earlier", "later"), n_open, strict=True) if both and n == len(both)]
    if len(blind) == 2:
        return "No string could be judged in either sweep: they need a sweep that is their fresh baseline."
    if blind:
        return f"No string could be judged in the {blind[0]} sweep; in the other none wants changing."
    return f"No string wants changing in either sweep{f'; {n_open[1]} without a verdict in the later one' if n_open[1] else ''}."


def _state_words(one: StringView) -> str:
    """Its state in a sentence: "dead", "to watch", "not heard"."""
    return "to watch" if one.verdict == "watch" else NOT_JUDGED.get(one.state, one.word)


def _counted(strings: Sequence[ComparedString]) -> list[str]:
    """How many want changing no longer, still or newly, in words. What one of the sweeps did not judge is neither better nor worse, and a
    new string without a verdict was changed."""
    both = [one for one in strings if one.before and one.after and not one.off_on]
    was_due = [one for one in both if _is_due(one.before) and not _is_due(one.after)]
    left_open = [one for one in was_due if one.after.state in NOT_JUDGED]
    n_changed = sum(bool(one.new_fitting) for one in left_open)
    due_now = [one.before.state for one in both if _is_due(one.after) and not _is_due(one.before)]
    n_unknown = sum(state in NOT_JUDGED for state in due_now)
    n_off = sum(bool(one.off_on and one.after) and _is_due(one.after) for one in strings)
    return [f"{count_of(number, 'string')} {words[number != 1]}" for number, words in (
        (len(was_due) - len(left_open), ("that wanted changing no longer does", "that wanted changing no longer do")),
        (n_changed, ("that wanted changing was changed", "that wanted changing were changed")),
        (len(left_open) - n_changed, ("that wanted changing was not judged again", "that wanted changing were not judged again")),
        (sum(map(_was_and_is_due, strings)), ("still likely wants changing", "still likely want changing")),
        (len(due_now) - n_unknown, ("likely wants changing that did not before", "likely want changing that did not before")),
        (n_unknown, ("likely wants changing that the earlier sweep did not judge",
                     "likely want changing that the earlier sweep did not judge")),
        (n_off, ("that wanted changing has come off since", "that wanted changing have come off since"))) if number]


def _is_due(one: StringView) -> bool:
    return one.verdict in CONDEMNING

"""Two sweeps side by side, as before and after restringing: what changed from one to the other, string by string.

Each sweep is judged against its own baselines. Between the two the later sweep is judged against the earlier, partial against the same
partial, of one fitting or of two; where the earlier is the baseline, that is what the later sweep's own page tells. Of a string without a
baseline it is all that is known, and is told with its reason as the change between the two days, not since fresh.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
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

ONE = {"does": "does", "was": "was", "wants": "wants", "has": "has"}  # verbs after "1 string", and after more
SEVERAL = {"does": "do", "was": "were", "wants": "want", "has": "have"}


@dataclass(frozen=True)
class ComparedString:
    """One string in both sweeps. `before` or `after` is None where the instrument of that sweep did not have it."""

    name: str
    note: str
    before: StringView | None
    after: StringView | None
    ring: Figure  # ratio after/before
    brightness: Figure  # ratio after/before
    verdict_between: str  # of the later sweep judged against the earlier, "" where that was not done
    pitch_cents: Figure  # after − before
    new_fitting: str  # the log's line of a string put on between the sweeps, "" where none was
    words: str  # "dead, now fine"; "" where it is what it was
    off_on: date | None  # the day on which the one that the later sweep heard came off
    words_between: str  # the reason of `verdict_between` where its own verdict does not tell it: "It wavers: … than on 10 January 2026."

    @property
    def told(self) -> str:
        """The verdicts in words: "dead, now fine", "dead in both sweeps"; where a new string was put on between them, not "in both"."""
        word = _state_words(self.after or self.before)
        told = self.words or (word if self.new_fitting else f"{word} in both sweeps")
        return f"{told}; came off on {day_text(self.off_on)}" if self.off_on else told

    @property
    def in_both(self) -> bool:
        return self.before is not None and self.after is not None

    @property
    def stayed_fresh(self) -> bool:
        """Recorded fresh in the earlier sweep and fine in the later."""
        return not self.new_fitting and self.in_both and (self.before.state, self.after.state) == (FRESH, "sound")

    @property
    def was_and_is_due(self) -> bool:
        return self.in_both and not self.off_on and self.before.verdict in CONDEMNING and self.after.verdict in CONDEMNING

    @property
    def has_moved(self) -> bool:
        """Whether its verdict is another, it was restrung, or it has clearly changed whatever was said of it. Not where it stayed fresh, or
        where one sweep says nothing of it and the other at most that it is fine."""
        if self.new_fitting or self.verdict_between in CONDEMNING or self.words_between:
            return True
        says_nothing_new = self.in_both and any(side.verdict in SILENT and other.verdict in (*SILENT, "sound") for side, other in (
            (self.before, self.after), (self.after, self.before)))
        return bool(self.words) and not self.stayed_fresh and not says_nothing_new

    def is_fine_and(self, verdict: str) -> bool:
        """Fine in one sweep, of that verdict in the other."""
        return self.in_both and {self.before.verdict, self.after.verdict} == {"sound", verdict}


@dataclass(frozen=True)
class ComparisonView:
    harp: str
    before: SweepView
    after: SweepView
    headline: str
    strings: tuple[ComparedString, ...]

    @property
    def moved(self) -> tuple[ComparedString, ...]:
        """What is different: first what needs attention, newly before as before, the worst first; then new strings, those without a verdict
        and those that are fine, in each the worst change between the sweeps first."""
        worst = [one.name for one in self.after.attention]
        return tuple(sorted((one for one in self.strings if one.has_moved), key=lambda one: _rank(one, worst)))

    @property
    def restrung(self) -> bool:
        """Whether a new string went on between the sweeps, on any position."""
        return any(one.new_fitting for one in self.strings)

    @property
    def in_short(self) -> tuple[str, ...]:
        """What needs a line and no more."""
        return tuple(_in_short(self.strings, self.before.day))


def comparison_view(before: SweepView, after: SweepView, between: Mapping[str, Condition] | None = None, *,
                    log: Iterable[Fitting] = ()) -> ComparisonView:
    """From the earlier sweep of a harp to the later.

    between: by string, the later sweep's condition against the earlier (`retelling.judged_between`); of a string without one, or one that
    could not be compared, ring and brightness stay unknown. log: of all strings, as far as it is known, also after the later sweep.
    """
    earlier, later = ({one.name: one for one in view.strings} for view in (before, after))
    names = [*later, *(name for name in earlier if name not in later)]
    off = off_days(with_log(after.strings, log), after.date)
    strings = tuple(_compared((earlier.get(name), later.get(name)), (before.date, after.date), (between or {}).get(name), off.get(name))
                    for name in names)
    return ComparisonView(after.harp, before, after, _headline(strings), strings)


def _compared(sides: tuple[StringView | None, StringView | None], span: tuple[date, date], between: Condition | None,
              off_on: date | None) -> ComparedString:
    before, after = sides
    known = after or before
    figures = [one.condition.figures if one else {} for one in (after, before)]
    comparable = between if between and between.changes else None
    new_fitting = _new_fitting(before, after, span)
    return ComparedString(
        name=known.name, note=known.note, before=before, after=after, ring=ring_change(comparable) if comparable else UNKNOWN,
        brightness=brightness_change(comparable) if comparable else UNKNOWN, verdict_between=between.verdict if between else "",
        pitch_cents=_difference(*(side.get("cents_off", UNKNOWN) for side in figures)), new_fitting=new_fitting,
        words=_words(before, after), off_on=off_on, words_between="" if new_fitting else _words_between(before, after, between, span[0]))


def _rank(one: ComparedString, worst: Sequence[str]) -> tuple[int, int]:
    """The place in the list of what is different. worst: the names of strings that need attention now, the worst first."""
    if one.name in worst and not one.off_on:
        return 0 if one.words else 1, worst.index(one.name)
    urgency = NEEDS_ATTENTION.index(one.verdict_between) if one.verdict_between in NEEDS_ATTENTION else len(NEEDS_ATTENTION)
    return 2 if one.new_fitting or one.off_on else 3 if one.after is None or one.after.verdict != "sound" else 4, urgency


def _in_short(strings: Sequence[ComparedString], first_day: str) -> Iterator[str]:
    if names := [one.name for one in strings if one.words_between and one.after.state in NOT_JUDGED]:
        have, them = ("has", "it") if len(names) == 1 else ("have", "them")
        yield (f"{one_after_another(as_strings(names, at_start=True))} {have} no verdict: what is said of {them} is the change between "
               "these two sweeps, not since fresh.")
    rest = [one for one in strings if not one.has_moved]
    for verdict in CONDEMNING:
        if names := [one.name for one in rest if one.was_and_is_due and one.after.verdict == verdict]:
            yield f"Still {verdict}, and no clear change seen since {first_day}: {one_after_another(as_strings(names))}."
    coarse = [(words, [one.name for one in rest if one.is_fine_and("unsure") and one.after.verdict == verdict])
              for verdict, words in (("unsure", "now not sure"), ("sound", "now fine"))]
    if told := ", ".join(f"{one_after_another(as_strings(names))} {words}" for words, names in coarse if names):
        yield f"Fine in one sweep, heard too poorly in the other to say: {told}."
    if n_missed := sum(one.is_fine_and("unheard") for one in rest):  # the table has their names
        yield f"Fine in one sweep, not heard in the other: {count_of(n_missed, 'string')}."
    if n_fresh := sum(one.stayed_fresh for one in strings):
        yield f"{count_of(n_fresh, 'string')} recorded fresh in the earlier sweep {'is' if n_fresh == 1 else 'are'} fine in the later."
    if off := [f"{as_string(one.name)} on {day_text(one.off_on)}" for one in strings if one.off_on]:
        yield f"Came off after the later sweep: {', '.join(off)}."


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


def _words_between(before: StringView | None, after: StringView | None, between: Condition | None, first: date) -> str:
    """What the later sweep says against the earlier, with the first day for fresh. It is told where the string's own verdict does not give
    the reason: of a condemned string, of a watched one too where it has no baseline, as then no verdict ever watches it; and of one false
    in both sweeps, as ring and brightness do not tell that. Else ""; also where it was at fault in the earlier sweep alone, as a move back
    looks like a fault."""
    if after is None or between is None or not between.reasons:
        return ""
    was, now = before.verdict if before else "", after.verdict
    if was == now == "false":
        told = ("false",)
    elif now in NEEDS_ATTENTION or was in CONDEMNING:
        told = ()
    else:
        told = NEEDS_ATTENTION if after.state == "unrated" else CONDEMNING
    return since_day(first_sentence(between.reasons[0]), first) if between.verdict in told else ""


def _words(before: StringView | None, after: StringView | None) -> str:
    """ "dead, now fine". Fresh is no verdict that a later one stands against: that sweep is what the string was compared with."""
    was, now = (_state_words(one) if one else "" for one in (before, after))
    then = "its baseline then" if was == FRESH else was
    return "" if was == now else f"{then or 'not there'}, now {now or 'not there'}"


def _headline(strings: Sequence[ComparedString]) -> str:
    told = _counted(strings)
    if told:
        return f"{', '.join(told)}."
    both = [(one.before, one.after) for one in strings if one.in_both and not one.off_on]
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
    """How many want changing no longer, still or newly, in words. A string that one of the sweeps did not judge is neither better nor
    worse; a new one without a verdict was changed."""
    both = [one for one in strings if one.in_both and not one.off_on]
    was_due = [one for one in both if one.before.verdict in CONDEMNING and one.after.verdict not in CONDEMNING]
    left_open = [one for one in was_due if one.after.state in NOT_JUDGED]
    n_changed = sum(bool(one.new_fitting) for one in left_open)
    due_now = [one.before.state for one in both if one.after.verdict in CONDEMNING and one.before.verdict not in CONDEMNING]
    n_unknown = sum(state in NOT_JUDGED for state in due_now)
    n_off = sum(one.off_on is not None and one.after.verdict in CONDEMNING for one in strings)
    return [f"{count_of(number, 'string')} {words.format(**(ONE if number == 1 else SEVERAL))}" for number, words in (
        (len(was_due) - len(left_open), "that wanted changing no longer {does}"),
        (n_changed, "that wanted changing {was} changed"),
        (len(left_open) - n_changed, "that wanted changing {was} not judged again"),
        (sum(one.was_and_is_due for one in strings), "still likely {wants} changing"),
        (len(due_now) - n_unknown, "likely {wants} changing that did not before"),
        (n_unknown, "likely {wants} changing that the earlier sweep did not judge"),
        (n_off, "that wanted changing {has} come off since")) if number]

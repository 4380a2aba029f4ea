"""Sentences that the terminal, the CSV and the pages share. Plain text: whoever prints it escapes it.

Percentages are whole numbers, a minus is U+2212. After ± stand two standard errors, as in the reasons (`condition.doubt_words`).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from toneprobe import limits
from toneprobe.commands import fresh_for
from toneprobe.condition.doubt_words import is_within_doubt, percent_doubt, plucks_text
from toneprobe.condition.next_steps import CHECK_LOG, FIRST_OF_ITS_KIND, MAYBE_ROOM
from toneprobe.condition.verdict import CONDEMNING
from toneprobe.days import DAYS_PER_MONTH, DAYS_PER_YEAR, day_text, span_text
from toneprobe.measure.figure import Figure
from toneprobe.phrases import as_strings, capital, count_of, listed, one_after_another
from toneprobe.report.glossary import FRESH, JUDGED, LEFT_OUT, NEEDS_ATTENTION, NOT_JUDGED

if TYPE_CHECKING:
    from toneprobe.settling import SettledRecord

SURE, VERY_SURE = 70.0, 90.0  # scores: 1.4 and 1.8 times what names a string; set here
SMALL_PART = 0.5  # of the harp: a sweep that heard less of it says so first; set here
FRESH_IN_VAIN = "not usable as fresh"
FOUND_WORDS = {"watch": "to watch", "sound": "fine"}
KEPT_WORDS = {FRESH: "recorded fresh", FRESH_IN_VAIN: FRESH_IN_VAIN}
FEW_DAYS = 3  # that are named
FEW_OPEN = 0.1  # of the harp: where more has no verdict, the headline begins with how much was judged; set here
PLAIN_WORDS = {"too short to hear a glide": "too short to tell", "too near the noise to hear a glide": "too near the noise",
               "the inharmonicity": "its stiffness", "to tell a ripple": "to tell whether they waver",
               "the ripple of the partials": "a wavering of its partials"}
ORDINARY = {"♭": "b", "♯": "#", "−": "-", "±": "+/-", "–": "-", "·": "|", "…": "...", "→": "->", "’": "'"}


def order_text(verdicts: Iterable[str]) -> str:
    """ "false first, then dead; in each the clearest first, of equals the most changed": the order of the list of what needs attention; ""
    where all are of one kind."""
    seen = set(verdicts)
    ordered = [verdict for verdict in NEEDS_ATTENTION if verdict in seen]
    if len(ordered) < 2:
        return ""
    then = ", ".join(f"then {verdict}" for verdict in ordered[1:])
    return f"{ordered[0]} first, {then}; in each the clearest first, of equals the most changed"


def length_text(days: float) -> str:
    """ "9 days", "7 months", "2.5 years"."""
    if days < 60:
        return count_of(round(days), "day")
    if days < 730:
        return count_of(round(days / DAYS_PER_MONTH), "month")
    return f"{days / DAYS_PER_YEAR:.1f} years"


def ordinary_signs(text: str) -> str:
    """The text with ordinary characters for musical and typographic signs; letters stay."""
    return "".join(ORDINARY.get(c, c) for c in text)


def plain_text(text: str) -> str:
    """The text in ASCII, for terminals that show no more."""
    return ordinary_signs(text).encode("ascii", "replace").decode("ascii")


def is_drowned(states: Iterable[str], *, is_noisy: bool) -> bool:
    """Whether a noisy recording leaves most of the strings that it heard in doubt, which then is the recording's fault."""
    n = Counter(states)
    return is_noisy and 2 * n["unsure"] > n.total() - n["unheard"] - n[LEFT_OUT]


def headline(states: Iterable[str], *, is_fresh: bool = False, is_more_known: bool = False, is_drowned: bool = False,
             why_unfit: str = "") -> str:
    """ "3 strings likely want changing, 5 to watch, 39 fine.": likely, as the next step may be to pluck them once more.

    Every string is counted: "No string wants changing, 31 fine, 2 recorded fresh, 1 not judged." Where many have no verdict it begins with
    how many have: "Of 12 strings judged, none wants changing, 12 fine; 12 could not be judged."; where few were heard with that: "Only 3 of
    47 strings heard: none of those wants changing, 3 fine."

    is_more_known: earlier sweeps said something, which still stands, of strings that this one did not judge. is_drowned: as the function of
    that name. why_unfit: why the sweep cannot serve as the fresh baseline that it is, "" where it can.
    """
    n = Counter(states)
    if is_drowned:
        found = _judged_words(n, "")
        return f"Too noisy to judge {f'most strings: {found}' if found else 'from: record it again, nearer or where it is quieter'}."
    n_heard = n.total() - n["unheard"] - n[LEFT_OUT]
    n_open = n.total() - sum(n[state] for state in (*JUDGED, FRESH))
    is_unrated = 0 < n_heard == n["unrated"]
    none_judged = _fresh_words(n, why_unfit, is_fresh=is_fresh) or (
        "measured and kept, but there is no fresh baseline to judge by" if is_unrated else "no string could be judged")
    if why_unfit:
        n = Counter({FRESH_IN_VAIN if state == FRESH else state: number for state, number in n.items()})
    if 0 < n_heard < SMALL_PART * n.total():
        told = _judged_words(n, "none of those wants changing", n_open - (n.total() - n_heard)) or none_judged
        return f"Only {n_heard} of {count_of(n.total(), 'string')} heard: {told}."
    if n_open > FEW_OPEN * n.total():
        told = _of_those_judged(n, n_open)
    else:
        told = _judged_words(n, "none of the strings judged wants changing" if is_more_known else "", n_open)
    return f"{capital(told or none_judged)}."


def _judged_words(n: Counter[str], none: str, n_open: int = 0) -> str:
    """ "3 strings likely want changing, 5 to watch, 39 fine", "" where none was judged. `none`: what is said where none wants changing but
    not all strings were judged, "" for the usual words; `n_open`: how many are told to be not judged."""
    if not any(n[verdict] for verdict in JUDGED):
        return ""
    n_due = sum(n[verdict] for verdict in CONDEMNING)
    due = none if none and not n_due else want_changing(n_due)
    return ", ".join([due, *_counted(n, FOUND_WORDS | KEPT_WORDS), *([f"{n_open} not judged"] if n_open else [])])


def _of_those_judged(n: Counter[str], n_open: int) -> str:
    """ "of 12 strings judged, none wants changing, 12 fine; 12 could not be judged", "" where none was judged."""
    n_judged, n_due = sum(n[verdict] for verdict in JUDGED), sum(n[verdict] for verdict in CONDEMNING)
    due = f"{n_due} likely {'wants' if n_due == 1 else 'want'} changing" if n_due else "none wants changing"
    found, rest = ", ".join([due, *_counted(n, FOUND_WORDS)]), ", ".join([*_counted(n, KEPT_WORDS), f"{n_open} could not be judged"])
    return f"of {count_of(n_judged, 'string')} judged, {found}; {rest}" if n_judged else ""


def _counted(n: Counter[str], words: Mapping[str, str]) -> list[str]:
    return [f"{n[state]} {word}" for state, word in words.items() if n[state]]


def _fresh_words(n: Counter[str], why_unfit: str, *, is_fresh: bool) -> str:
    """ "fresh baseline of 24 strings recorded", "" where none was."""
    n_fresh = n[FRESH] or (n["unrated"] if is_fresh else 0)
    if n_fresh and why_unfit:
        return f"not usable as a fresh baseline, because {why_unfit}"
    return f"fresh baseline of {count_of(n_fresh, 'string')} recorded" if n_fresh else ""


def want_changing(number: int) -> str:
    """ "3 strings likely want changing", "no string wants changing"."""
    if number == 0:
        return "no string wants changing"
    return f"{count_of(number, 'string')} likely {'wants' if number == 1 else 'want'} changing"


def names_by_verdict(verdict_of: Iterable[tuple[str, str]]) -> str:
    """From pairs (string, verdict): "False: 3F, 5C. Dead: 4A. Watch: 1A.", "" where none wants attention."""
    pairs = tuple(verdict_of)
    groups = [(verdict, [name for name, found in pairs if found == verdict]) for verdict in NEEDS_ATTENTION]
    return " ".join(f"{capital(verdict)}: {', '.join(as_strings(names))}." for verdict, names in groups if names)


def left_open(verdicts: Iterable[str]) -> str:
    """ "1 still settling, 2 not heard.", "" where every string was judged."""
    rest = ", ".join(_counted(Counter(verdicts), NOT_JUDGED))
    return f"{rest}." if rest else ""


def sureness_text(verdict: str, score: float | None, n_plucks: int, step_kind: str = "", *, is_wavering_open: bool = False) -> str:
    """How sure a verdict is, from its score: at 50 the change is as large as a careful listener notices and beyond the measurement's
    doubt, at 100 twice that.

    Never more than likely from one pluck, which may be a slip of the hand, or while the room or the log is in question; sure "for this one
    sweep" until another says the same. score: None where the verdict has none. step_kind: of the next step, from `next_steps.KINDS`.
    is_wavering_open: whether a sound string wavers could not be told.
    """
    if verdict not in JUDGED or n_plucks == 0:
        return ""
    if verdict == "sound":
        return f"as far as {plucks_text(n_plucks)} can tell{', but for a wavering' if is_wavering_open else ''}"
    heard = f"from {plucks_text(n_plucks)}{' only' if n_plucks == 1 else ''}"
    if verdict == "watch":
        return f"a suspicion, {heard}"
    if step_kind == MAYBE_ROOM:
        return f"likely, {heard}; the room is still in question"
    if verdict == "dead" and step_kind == CHECK_LOG:
        return f"likely, {heard}; which string is on is still in question"
    sure = "likely" if n_plucks == 1 or score < SURE else "sure" if score < VERY_SURE else "very sure"
    once = step_kind in FIRST_OF_ITS_KIND and sure != "likely"
    return f"{sure} for this one sweep, {heard}" if once else f"{sure}, {heard}"


def told_change(verdict: str, change: Figure, same: str = "as fresh") -> str:
    """A string's change as text: "−41 % ± 12", `same` where none is seen and a large one would have been, "–" where unknown. Of one that
    could not be judged the figure alone, never `same`."""
    return same if verdict not in NOT_JUDGED and is_as_fresh(change) else percent_text(change)


def percent_text(change: Figure) -> str:
    """A ratio now/fresh in per cent of change, with two standard errors: "−41 % ± 12"."""
    if change.value is None:
        return "–"
    percent = round(100.0 * (change.value - 1.0))
    doubt = f" ± {percent_doubt(change.se)}" if change.se is not None else ""
    return f"{signed(percent)} %{doubt}"


def is_as_fresh(change: Figure) -> bool:
    """Whether no change is seen although one that a listener notices would have been."""
    least = 1.0 - limits.LEAST_RING_NOTICED
    return is_within_doubt(change) and (change.se is None or limits.ERRORS_TOLD * change.se / change.value < least)


def why_fine(ring: Figure, brightness: Figure) -> str:
    """Why the change in a fine string's row does not count, in few words; "" where no change is seen."""
    seen = [one for one in (ring, brightness) if one.value is not None and not is_as_fresh(one)]
    if not seen:
        return ""
    if beyond := [one for one in seen if not is_within_doubt(one)]:
        return "No wear: longer or brighter." if all(one.value > 1 for one in beyond) else "Too small a change to count."
    is_coarse = ring in seen and ring.se is not None and limits.ERRORS_TOLD * ring.se / ring.value > limits.DECAY_NOTICED
    return "Known coarsely: half the ring gone would most likely have shown." if is_coarse else "Within what plucks differ by."


def signed(number: float, digits: int = 0) -> str:
    """A number with its sign, minus as U+2212; zero has none."""
    text = f"{abs(number):.{digits}f}"
    return text if float(text) == 0 else f"{'+' if number > 0 else '−'}{text}"


def sentence(text: str) -> str:
    """A reason as a sentence: a capital at the start, a stop at the end."""
    text = text.strip()
    return f"{capital(text)}{'' if text.endswith(('.', '!', '?')) else '.'}"


def reason_sentence(text: str) -> str:
    """The same, with minus signs as screens and pages have them."""
    return re.sub(r"(?<![\d-])-(?=\d)", "−", sentence(text))


def settled_step(settled: Sequence[SettledRecord], lacks: str) -> str:
    """How strings get their baseline whose pitch checks show that they had settled. lacks: what each still lacks for it, as of
    `ToneState.lacks`. The day of the check is given too, as before it no screen can have said that they had settled.
    """
    names = [record.string for record in settled]
    one = len(names) == 1
    known = (f"{one_after_another(as_strings(names, at_start=True))} had settled by "
             f"{day_text(max(record.settled_on for record in settled))}, as your pitch checks up to "
             f"{day_text(max(record.noted_on for record in settled))} show")
    if lacks:
        return _none_yet(known, lacks, one=one)
    return (f"{known}: give this sweep's recordings to 'toneprobe sweep' again with '{fresh_for(names)}', and "
            f"{'it gets its' if one else 'they get their'} fresh baseline.")


def had_time_step(names: Sequence[str], since: date, lacks: str) -> str:
    """The same for strings that have had time to settle, though no check shows that they have."""
    one = len(names) == 1
    known = f"{one_after_another(as_strings(names, at_start=True))} should have settled by {day_text(since)}"
    if lacks:
        return _none_yet(known, lacks, one=one)
    they, their, them, get = ("it has", "its", "it", "it gets") if one else ("they have", "their", "them", "they get")
    return (f"{known}, though no check shows that {they}. If {they} held {their} pitch since, give this sweep's recordings to "
            f"'toneprobe sweep' again with '{fresh_for(names)}', and {get} {their} fresh baseline. If you are not sure, check {them} once "
            "more with 'toneprobe settle'.")


def _none_yet(known: str, lacks: str, *, one: bool) -> str:
    return f"{known}, but {'gets' if one else 'get'} no fresh baseline yet. {reason_sentence(lacks if one else f'of each: {lacks}')}"


def fresh_already(days: Iterable[date], n_strings: int, *, n_all: int | None) -> str:
    """That strings which this fresh sweep did not hear have a baseline of another. n_all: strings of the harp, where all have one now."""
    days = sorted(set(days))
    told = span_text(days) or listed([day_text(day) for day in days], FEW_DAYS)
    they = "It has its fresh baseline" if n_strings == 1 else "They have their fresh baselines"
    whole = f" All {n_all} strings have one now." if n_all else ""
    return f"{they} already, of {told}: there is nothing to record.{whole}"


def later_fresh_step(fresh_on: date, sweep_id: int | None) -> str:
    """What to do where the baseline is of a day after the sweep: a wrong year was typed, or the computer's clock was set back."""
    taken_back = f"'toneprobe withdraw {sweep_id}', then give" if sweep_id is not None else "give"
    return (f"The fresh baseline is of {day_text(fresh_on)}, after this sweep, and judges only what comes after it. Is the day of this "
            f"sweep right? If not: {taken_back} its recordings again with --date and the right day. If it is, keep it: there is nothing to "
            "do.")


def first_sentence(text: str) -> str:
    """A reason's first sentence, which says what it means."""
    return sentence(text.strip().partition(". ")[0])


def since_day(reason: str, day: date) -> str:
    """A reason from judging one sweep against another, with the earlier one's day for "fresh": "deeper than on 10 January 2026"."""
    on = f"on {day_text(day)}"
    return (reason.replace("since it was fresh", f"since {day_text(day)}").replace("when fresh", on)
            .replace("than fresh", f"than {on}").replace("against fresh", f"against {day_text(day)}"))


def plain_reason(text: str) -> str:
    """Why a figure is missing, without the terms of measuring."""
    if text.startswith("no beat"):
        return "no single partial wavers by itself"
    for term, word in PLAIN_WORDS.items():
        text = text.replace(term, word)
    return text

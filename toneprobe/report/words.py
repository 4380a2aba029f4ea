"""The words that the terminal, the CSV and the pages share. Plain text: whoever prints it escapes it.

Percentages are whole numbers, a minus is U+2212, doubt is one standard error after ±.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable

from toneprobe.condition import VERDICTS
from toneprobe.measure.figure import Figure

CHANGE_VERDICTS = ("false", "dead")  # strings that want changing
JUDGED = (*CHANGE_VERDICTS, "watch", "sound")
PARTIALS = "the tones that a string sounds at once: the first is its pitch, the higher ones make its colour"

MEANINGS = {
    "false": "Its partials have moved or waver, so it cannot be tuned true.",
    "dead": "It rings much shorter or duller than when it was fresh.",
    "watch": "It has changed, but not so much that it must come off.",
    "settling": "New and still stretching: not judged yet.",
    "unsure": "Heard, but not well enough to judge.",
    "unrated": "It has no fresh baseline to be compared with.",
    "unheard": "It is not in this recording.",
    "sound": "As fresh, as far as this recording can tell.",
}
STAND_IN, FRESH = "stand-in", "fresh"  # what is said of a string without a verdict beside the verdicts themselves
NOT_JUDGED = {
    STAND_IN: "with a stand-in",
    "unsure": "not sure",
    "settling": "still settling",
    "unrated": "without a fresh baseline",
    "unheard": "not heard",
}
REMEDIES = {
    STAND_IN: "Put the right string on when you have it. A stand-in is never judged and never becomes a baseline.",
    "unsure": "Pluck these again, three times each, with the neighbours damped, and measure the recording together with this one.",
    "settling": "Check their pitch every day or two until it holds; they are judged once they have settled.",
    "unrated": "Record them when they are new and settled, and keep that sweep as their fresh baseline.",
    "unheard": "Record these strings and measure the recording together with this one.",
}
CAUTIONS = (
    "Wear eye protection whenever a string is changed, most of all a wire.",
    "Let the old string down before you cut it, keep hold of the ends, and cut the new ends close: wire ends hurt fingers and eyes.",
    "One string at a time, and bring each up before the next. Never let the whole harp down.",
    "The same note, material and gauge as before, never tuned above its note: no more tension than the harp was designed for.",
    "A crack, a pin that slips or turns back, a loose disc or rod, a lifting soundboard: leave it alone and call a harp technician.",
    "No measurement can tell when a string will break. What comes off, and when, is your decision.",
)
NOTICED = 0.25  # a ring shortened by less goes unnoticed: Tolonen & Järveläinen, J. AES 49 (2001)
ACCIDENTALS = str.maketrans({"b": "♭", "#": "♯"})
ORDINARY = {"♭": "b", "♯": "#", "−": "-", "±": "+/-", "–": "-", "·": "|", "…": "...", "→": "->", "’": "'"}


def count_of(number: int, thing: str) -> str:
    """ "1 string", "3 strings"."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def length_text(days: float) -> str:
    """ "9 days", "7 months", "2.5 years"."""
    if days < 60:
        return count_of(round(days), "day")
    if days < 730:
        return count_of(round(days / 30.44), "month")
    return f"{days / 365.25:.1f} years"


def note_text(note: str) -> str:
    """A note as musicians write it: "Cb4" gives "C♭4"."""
    return note.translate(ACCIDENTALS) if note[:1] in "CDEFGAB" else note


def plain_text(text: str) -> str:
    """The same in ASCII where it can be, for terminals that show no more."""
    return "".join(ORDINARY.get(c, c) for c in text).encode("ascii", "replace").decode("ascii")


def headline(verdicts: Iterable[str], *, is_fresh: bool = False) -> str:
    """ "3 strings likely want changing, 5 to watch, 39 fine.": likely, as the next step may be to pluck them once more. """
    n = Counter(verdicts)
    judged = sum(n[verdict] for verdict in JUDGED)
    if judged:
        due = want_changing(sum(n[verdict] for verdict in CHANGE_VERDICTS))
        return f"{', '.join([_capital(due), *_if_any(n['watch'], 'to watch'), *_if_any(n['sound'], 'fine')])}."
    n_heard = n.total() - n["unheard"] - n[STAND_IN]
    if is_fresh and n_heard:
        return f"Fresh baseline of {count_of(n_heard, 'string')} recorded."
    return "No string could be judged." if n.total() else "No string was looked at."


def want_changing(number: int) -> str:
    """ "3 strings likely want changing", "no string wants changing"."""
    if number == 0:
        return "no string wants changing"
    return f"{count_of(number, 'string')} likely {'wants' if number == 1 else 'want'} changing"


def named(verdict_of: Iterable[tuple[str, str]]) -> str:
    """Which strings, given (string, verdict) worst first: "False: 3F, 5C. Dead: 4A. Watch: 1A.", "" where none wants attention."""
    listed = tuple(verdict_of)
    groups = [(verdict, [name for name, found in listed if found == verdict]) for verdict in (*CHANGE_VERDICTS, "watch")]
    return " ".join(f"{_capital(verdict)}: {', '.join(names)}." for verdict, names in groups if names)


def left_open(verdicts: Iterable[str]) -> str:
    """ "1 still settling, 2 not heard.", "" where every string was judged."""
    n = Counter(verdicts)
    rest = ", ".join(f"{n[state]} {NOT_JUDGED[state]}" for state in (STAND_IN, *VERDICTS) if state in NOT_JUDGED and n[state])
    return f"{rest}." if rest else ""


def sureness_text(verdict: str, score: float | None, n_plucks: int) -> str:
    """How sure a verdict is, from its score (50: as large as a careful listener notices and beyond the measurement's doubt)."""
    if verdict not in JUDGED or n_plucks == 0:
        return ""
    heard = "one pluck only" if n_plucks == 1 else f"from {n_plucks} plucks"
    if verdict in CHANGE_VERDICTS and score is not None:
        return f"{'beyond argument' if score >= 90 else 'clear' if score >= 70 else 'likely'}, {score:.0f} of 100, {heard}"
    return heard


def change_text(change: Figure, same: str = "as fresh") -> str:
    """A ratio as a change: "−41 % ± 6", `same` where none is seen and a large one would have been, "–" where unknown."""
    return same if is_as_fresh(change) else percent_text(change)


def told_change(verdict: str, change: Figure) -> str:
    """A string's change as text; of one that could not be judged the figure alone, never that it is as fresh."""
    return percent_text(change) if verdict in NOT_JUDGED else change_text(change)


def percent_text(change: Figure) -> str:
    """A ratio now/fresh in per cent of change, with its standard error: "−41 % ± 6"."""
    if change.value is None:
        return "–"
    percent = round(100.0 * (change.value - 1.0))
    doubt = f" ± {max(1, round(100.0 * change.se))}" if change.se is not None else ""
    return f"{signed(percent)} %{doubt}"


def is_within_doubt(change: Figure) -> bool:
    """Whether a ratio now/fresh is nearer to 1 than two standard errors; without a standard error, nearer than 3 %."""
    if change.value is None:
        return False
    return abs(math.log(change.value)) < (2.0 * change.se / change.value if change.se is not None else 0.03)


def is_as_fresh(change: Figure) -> bool:
    """Whether no change is seen although one that a listener notices would have been."""
    return is_within_doubt(change) and (change.se is None or 2.0 * change.se / change.value < NOTICED)


def ring_phrase(change: Figure) -> str:
    """ "rings 41 % shorter", "" where unknown or in doubt."""
    return _phrase(change, "rings {} % shorter", "rings {} % longer", "rings as long as fresh")


def bright_phrase(change: Figure) -> str:
    return _phrase(change, "{} % duller", "{} % brighter", "as bright as fresh")


def signed(number: float, digits: int = 0) -> str:
    """A number with its sign, minus as U+2212; zero has none."""
    text = f"{abs(number):.{digits}f}"
    return text if float(text) == 0 else f"{'+' if number > 0 else '−'}{text}"


def sentence(text: str) -> str:
    """A reason as a sentence of its own: a capital at the start, a stop at the end."""
    text = text.strip()
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith(('.', '!', '?')) else '.'}"


def first_sentence(text: str) -> str:
    """The first of a reason's sentences: what it means."""
    return sentence(text.strip().partition(". ")[0])


def _phrase(change: Figure, less: str, more: str, same: str) -> str:
    if change.value is None:
        return ""
    percent = round(abs(100.0 * (change.value - 1.0)))
    if is_as_fresh(change) or percent == 0:
        return same
    if is_within_doubt(change):
        return ""
    return (less if change.value < 1 else more).format(percent)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _if_any(number: int, word: str) -> list[str]:
    return [f"{number} {word}"] if number else []

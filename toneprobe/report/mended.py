"""Strings that several sweeps condemned and that are fine now: changed but not logged, or wrongly condemned."""

from collections.abc import Mapping, Sequence
from shlex import quote

from toneprobe.book.entries import StoredCondition
from toneprobe.condition import SILENT
from toneprobe.condition.verdict import CONDEMNING
from toneprobe.days import day_text
from toneprobe.phrases import as_strings, listed
from toneprobe.report.fitting_words import FEW

N_SWEEPS = 2  # that condemned it: of one alone this sweep is the check


def mended_words(now: Sequence[StoredCondition], histories: Mapping[str, Sequence[StoredCondition]]) -> str:
    """ "4A was judged false more than once, last on 2 May 2026, and is fine now, …", with what to do; "" where there is no such string.

    now: what a sweep says. histories: by string, what all sweeps say of it, oldest first.
    """
    called = [calls for one in now if (calls := _condemned_before(one, histories.get(one.condition.string, ())))]
    if not called:
        return ""
    names = [calls[-1].condition.string for calls in called]
    said = {one.condition.verdict for calls in called for one in calls}
    verdicts = " or ".join(verdict for verdict in CONDEMNING if verdict in said)
    was, is_, it, them, which = ("was", "is", "it", "it", quote(names[0])) if len(names) == 1 else ("were", "are", "they", "them", "STRING")
    return (f"{listed(as_strings(names, at_start=True), FEW)} {was} judged {verdicts} more than once, last on "
            f"{day_text(max(calls[-1].date for calls in called))}, and {is_} fine now, though no string mends. If {it} {was} changed, "
            f"log it: 'toneprobe restring {which} --date DATE'. If not, pluck {them} again before you rely on it.")


def _condemned_before(one: StoredCondition, history: Sequence[StoredCondition]) -> Sequence[StoredCondition]:
    """The last sweeps before one that finds a string fine, where they condemned that string in the same pedal or lever position."""
    before = [other for other in history if (other.date, other.sweep_id) < (one.date, one.sweep_id)
              and (other.fitting_id, other.condition.note) == (one.fitting_id, one.condition.note)
              and other.condition.verdict not in SILENT][-N_SWEEPS:]
    is_told = one.condition.verdict == "sound" and len(before) == N_SWEEPS
    return before if is_told and all(other.condition.verdict in CONDEMNING for other in before) else ()

"""A string that was condemned sweep after sweep and is fine now. The words are our own; that no string mends is common practice."""

from datetime import date

import pytest

from toneprobe.book.entries import StoredCondition
from toneprobe.condition import Condition
from toneprobe.report.mended import mended_words


def said(verdict, sweep_id, *, string="4A", note="A3", fitting_id=1):
    return StoredCondition(sweep_id, date(2026, sweep_id, 2), fitting_id, Condition(string, note, verdict, None, None, 2, (), "", {}, {}))


def words(*verdicts, now="sound", **changed):
    """Of one string, whose sweeps are of January, February and so on, the last of them now."""
    history = [said(verdict, n) for n, verdict in enumerate(verdicts, 1)]
    last = said(now, len(history) + 1, **changed)
    return mended_words([last], {"4A": [*history, last, said("false", 12)]})


def test_a_string_that_is_fine_after_two_sweeps_that_condemned_it_was_changed_or_wrongly_condemned():
    assert words("fresh", "false", "false") == (
        "4A was judged false more than once, last on 2 March 2026, and is fine now, though no string mends. If it was changed, log it: "
        "'toneprobe restring 4A --date DATE'. If not, pluck it again before you rely on it.")
    assert words("false", "dead", "unsure", "unheard").startswith(
        "4A was judged false or dead more than once, last on 2 February 2026, and is fine now")


@pytest.mark.parametrize("verdicts", [("false",), ("sound", "false"), ("false", "sound"), ("watch", "watch"), ("false", "false", "sound")])
def test_one_sweep_alone_is_checked_by_this_one_and_nothing_is_said_twice(verdicts):
    assert words(*verdicts) == ""


@pytest.mark.parametrize("changed", [{"now": "false"}, {"now": "unsure"}, {"fitting_id": 2}, {"note": "Ab3"}])
def test_nothing_is_said_of_another_string_or_position_or_of_one_that_is_not_fine(changed):
    assert words("false", "false", **changed) == ""


def test_several_are_told_together():
    now, histories = [], {}
    for string, verdict in (("4A", "false"), ("5F", "dead")):
        histories[string] = [said(verdict, 1, string=string), said(verdict, 2, string=string)]
        now.append(said("sound", 3, string=string))
    assert mended_words(now, histories) == (
        "4A and 5F were judged false or dead more than once, last on 2 February 2026, and are fine now, though no string mends. If they "
        "were changed, log it: 'toneprobe restring STRING --date DATE'. If not, pluck them again before you rely on it.")
    for string in ("1G", "1F", "2E", "2D", "2C", "2B"):
        histories[string] = [said("dead", 1, string=string), said("dead", 2, string=string)]
        now.append(said("sound", 3, string=string))
    assert mended_words(now, histories).startswith("4A, 5F, 1G, 1F, 2E and 3 more were judged false or dead")

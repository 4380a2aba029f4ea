"""Which verdict from another pedal or lever position a younger baseline cannot clear. The order of the days decides; derived here."""

from datetime import date

import pytest

from toneprobe.condition.judged_before import Said, call_that_stands, judged_before_condition
from toneprobe.condition.next_steps import JUDGED_BEFORE
from toneprobe.condition.verdict import Condition

MARCH, APRIL, MAY, JUNE, JULY = (date(2026, month, 1) for month in range(3, 8))
DEAD, FALSE, WATCH, SOUND = ("dead", "Eb5", APRIL), ("false", "Eb5", JUNE), ("watch", "Eb5", APRIL), ("sound", "Eb5", JUNE)


@pytest.mark.parametrize(("said", "began", "stands"), [
    ([DEAD], MAY, DEAD), ([WATCH], MAY, WATCH),
    ([DEAD], APRIL, DEAD),  # of one day: what was lost by then was lost in both positions
    ([DEAD], MARCH, None),  # the baseline is older: against it a loss since would be heard
    ([DEAD, SOUND], MAY, None),  # judged otherwise there since
    ([DEAD, FALSE], MAY, FALSE),  # the last word of it
    ([("sound", "Eb5", MARCH), FALSE], MAY, None),  # fine when the baseline was made
    ([DEAD, SOUND, ("dead", "Eb5", JULY)], MAY, None),
    ([("dead", "E5", APRIL)], MAY, None),  # of the position itself: the baseline is compared with directly
    ([DEAD, ("sound", "E5", JUNE)], MAY, DEAD), ([], MAY, None),
])
def test_a_baseline_clears_no_call_that_is_older(said, began, stands):
    found = call_that_stands([Said(*one) for one in said], note="E5", began=began)
    assert found == (Said(*stands) if stands else None)


def test_what_stands_is_said_with_its_day_and_position():
    fine = Condition("3E", "E5", "sound", 3.0, 2.0, 2, ("It rings as when fresh.",), "", {}, {}, is_wavering_open=True)
    open_again = judged_before_condition(fine, Said(*DEAD))
    assert (open_again.verdict, open_again.dead_score, open_again.false_score) == ("unsure", None, None)
    assert open_again.reasons[0].startswith("It was last judged dead on 1 April 2026 at E♭5, set to another note than now, ")
    assert open_again.step_kind == JUDGED_BEFORE and not open_again.is_wavering_open
    assert "judged worth watching on" in judged_before_condition(fine, Said(*WATCH)).reasons[0]

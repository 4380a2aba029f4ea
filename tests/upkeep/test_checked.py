"""When a check was made, as its owner says it. What is expected is derived here: no check is made before its time."""

from datetime import date, datetime, time

import pytest

from toneprobe.errors import UsageError
from toneprobe.upkeep.checked import moment_of

NOW = datetime(2026, 5, 6, 8, 10, 42)
TODAY, BEFORE = date(2026, 5, 6), date(2026, 5, 5)


@pytest.mark.parametrize(("day", "clock", "at"), [
    (None, None, datetime(2026, 5, 6, 8, 10)), (None, time(8, 10), datetime(2026, 5, 6, 8, 10)), (TODAY, time(7), datetime(2026, 5, 6, 7)),
    (BEFORE, time(23, 50), datetime(2026, 5, 5, 23, 50)), (BEFORE, None, datetime(2026, 5, 5, 12)),
    (TODAY, None, datetime(2026, 5, 6, 8, 10)),  # its noon is still to come
])
def test_a_check_is_of_the_time_that_is_said_or_of_noon_or_now(day, clock, at):
    assert moment_of(day, clock, now=NOW) == at


@pytest.mark.parametrize("day", [None, TODAY])
def test_a_time_to_come_is_refused_with_what_to_type(day):
    """After midnight that of the last evening would be taken for a day later, and its drift for that of another."""
    with pytest.raises(UsageError, match="23:50 has not come yet: .* the day before, say so with --date 2026-05-05 --time 23:50"):
        moment_of(day, time(23, 50), now=NOW)


def test_on_a_journey_west_a_check_may_follow_that_of_the_evening():
    """Checked at 22:39, then seventeen zones to the west: by the clock the evening has not come, and the next check is after it."""
    assert moment_of(None, time(23, 10), now=NOW, last=datetime(2026, 5, 6, 22, 39)) == datetime(2026, 5, 6, 23, 10)
    with pytest.raises(UsageError, match="23:10 has not come yet"):
        moment_of(None, time(23, 10), now=NOW, last=datetime(2026, 5, 5, 22, 39))

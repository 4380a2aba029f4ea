"""The day on which a string settled, in the light of what its earlier checks had let one say.

Later checks see less and less of a stretch that is over, so they shake the day more than they mend it: the day said when the string was
first found settled stands, unless they put it out of their range. And where a check left the matter unsure, it had not settled by then.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from toneprobe.settling.readings import PitchReading
from toneprobe.settling.verdict import Settling


def as_said_before(
    found: Settling, checks: Sequence[PitchReading], judge: Callable[[Sequence[PitchReading]], Settling]
) -> Settling:
    """A settled string with the day first said in the present run of checks that find it settled, and none before a check that left one
    unsure. `checks`: all, in order; `judge` gives the state by the first so many of them."""
    said, is_running, days = found.settled_on, True, found.settled
    for n in range(len(checks) - 1, 0, -1):
        if checks[n - 1].at.date() <= min(said, found.settled_on):
            break
        before = judge(checks[:n])
        is_running = is_running and before.settled_on is not None
        if is_running:
            said = before.settled_on
        if before.state == "unsure":
            days = days.not_before(checks[n - 1].at.date())
            break
    likely = said if days.early <= said <= days.late else days.likely
    return replace(found, settled=replace(days, likely=likely), settled_on=likely)

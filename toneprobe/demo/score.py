"""What was planted against what was found."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from toneprobe.condition.verdict import CONDEMNING
from toneprobe.demo.story import DAYS, FAULTS


@dataclass(frozen=True)
class Score:
    """One sweep; names of strings from the highest down."""

    day: date
    due: tuple[str, ...]  # to be named
    found: tuple[str, ...]  # of these, named with the right verdict
    on_the_way: tuple[str, ...]  # to be watched at least
    seen: tuple[str, ...]  # of these, watched or named
    false_alarms: tuple[str, ...]  # healthy, and called dead or false
    false_watches: tuple[str, ...]  # healthy, and to be watched
    n_judged: int  # healthy strings with a verdict

    @property
    def missed(self) -> tuple[str, ...]:
        return tuple(name for name in self.due if name not in self.found)


def score_sweep(sweep: int, verdicts: Mapping[str, str]) -> Score:
    """Compare the verdicts by string of sweep 0 to 3 with the story."""
    stages = {fault.string: fault.stage(sweep) for fault in FAULTS}
    right = {fault.string: fault.verdict for fault in FAULTS}
    healthy = [name for name in verdicts if stages.get(name, "none") == "none"]
    due, late = ([name for name in verdicts if stages.get(name) == stage] for stage in ("due", "on the way"))
    return Score(
        DAYS[sweep], tuple(due), tuple(name for name in due if verdicts[name] == right[name]),
        tuple(late), tuple(name for name in late if verdicts[name] in (*CONDEMNING, "watch")),
        tuple(name for name in healthy if verdicts[name] in CONDEMNING), tuple(name for name in healthy if verdicts[name] == "watch"),
        sum(verdicts[name] in (*CONDEMNING, "watch", "sound") for name in healthy),
    )

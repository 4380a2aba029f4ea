"""Strings of which one low partial or two lie astray: python tests/benchmarks/few_moved.py

Real plucks of the lever harp, two a string, each heard alone and told its note; in both later plucks of every string but each third one or
two of the partials 2 to 4 are moved by 8 cents, or half of these strings by 15 and half by 30. Which partials, and which way, is drawn for
each string. Counted are the verdicts without what asks for one partial or two by themselves (`condition/few_astray`) and with it, on the
moved strings and, in the last row, on those left alone in all four sweeps. One harp, one draw. Takes a minute.
"""

from collections import Counter
from unittest import mock

import numpy as np
from sounds.pluck_cache import measure_all
from sounds.real_plucks import RealPluck, lever_harp, measure_real

from toneprobe.baseline import fresh_baseline
from toneprobe.condition import Condition, false_score
from toneprobe.condition.judgement import judge
from toneprobe.session.sweep import read_sweep

LOW = (2, 3, 4)
SEED = 6
ROWS = (("two, by 8 cents", 2, (8.0, 8.0)), ("two, by 15 and 30 cents", 2, (15.0, 30.0)),
        ("one, by 8 cents", 1, (8.0, 8.0)), ("one, by 15 and 30 cents", 1, (15.0, 30.0)))
VERDICTS = ("false", "watch", "unsure", "sound")


def moved(strings: list[str], n: int, cents: tuple[float, float]) -> dict[str, tuple]:
    """What is done to the plucks of each moved string: one of the two amounts in turn."""
    rng, found = np.random.default_rng(SEED), {}
    for k, string in enumerate(one for i, one in enumerate(strings) if i % 3):
        chosen = rng.choice(LOW, n, replace=False)
        found[string] = (("move", *((int(partial), float(cents[k % 2] * rng.choice((-1.0, 1.0)))) for partial in chosen)),)
    return found


def plucks(string: str, take: int, done: tuple = ()) -> list[RealPluck]:
    return [RealPluck(string, hand, take, done) for hand in ("soft", "firm")]


def verdicts(strings: list[str], done: dict[str, tuple]) -> list[tuple[Condition, ...]]:
    """Without what asks for few partials, and with it."""
    fresh, now = ([one for string in strings for one in plucks(string, take, done.get(string, ()) if take == 2 else ())] for take in (1, 2))
    measured, told = measure_all([*fresh, *now], measure_real), []
    baselines, sweep = fresh_baseline([[measured[one] for one in fresh]]), read_sweep([measured[one] for one in now])
    for asks in (lambda *_: {}, false_score.few_astray):
        with mock.patch.object(false_score, "few_astray", asks):
            told.append(judge(sweep, baselines, instrument=lever_harp()).conditions)
    return told


def row(name: str, both: list[Counter[str]]) -> str:
    return f"| {name} | {' | '.join(' → '.join(str(one[verdict]) for one in both) for verdict in VERDICTS)} |"


def main() -> None:
    strings, others = [spec.name for spec in lever_harp().strings], [Counter(), Counter()]
    print(f"| moved | {' | '.join(VERDICTS)} |\n|---|{'---:|' * len(VERDICTS)}")
    for name, n, cents in ROWS:
        done = moved(strings, n, cents)
        told = verdicts(strings, done)
        print(row(f"{name}, of {len(done)}", [Counter(one.verdict for one in of if one.string in done) for of in told]), flush=True)
        for counts, of in zip(others, told, strict=True):
            counts.update(one.verdict for one in of if one.string not in done)
    print(row("none, the others", others))


if __name__ == "__main__":
    main()

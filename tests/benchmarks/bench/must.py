"""What must be shown, line by line: the goal, what the bench found, and whether it holds."""

from collections.abc import Callable, Sequence

from bench.sweeps import Outcome
from bench.tables import CALLED, ONE_IN, wilson

AT_LEAST_WATCH = (*CALLED, "watch")


def must_table(outcomes: Sequence[Outcome]) -> list[str]:
    """With two plucks a string where not said otherwise. Real and model apart, for they tell different things."""
    two = [o for o in outcomes if o.n_plucks == 2]
    lines = [f"{'must show':<58}{'from':<7}{'asked':>8}{'found':>16}  holds"]
    for words, name, strength, asked, watch in _NAMED:
        for source in ("real", "model"):
            group = [o for o in two if o.faulty and o.source == source and o.case.name == name and o.case.strength.startswith(strength)]
            if group:
                found = [o.condition.verdict in (AT_LEAST_WATCH if watch else o.case.names) for o in group]
                lines.append(_line(words, source, asked, (sum(found), len(found)), lambda share, asked=asked: share >= asked))
    aged = [o for o in two if o.case.name == "whole set aged" and o.case.strength.startswith("to 60%")]
    for source in ("real", "model"):
        group = [o.condition.verdict == "dead" for o in aged if o.source == source]
        if group:
            lines.append(_line("whole set aged to 60 %: named", source, 0.9, (sum(group), len(group)), lambda share: share >= 0.9))
    healthy = [o for o in outcomes if not o.case.names]
    for words, cases, limit in (("only another microphone: called", ("duller microphone", "brighter microphone"), 0.0),
                                ("all cases without fault, all plucks: called", None, 0.01)):
        called = [o.condition.verdict in CALLED for o in healthy if cases is None or o.case.name in cases]
        if called:
            lines.append(_line(words, "both", limit, (sum(called), len(called)), lambda share, limit=limit: share <= limit))
    return [*lines, *_worst_case(healthy)]


def _worst_case(healthy: Sequence[Outcome]) -> list[str]:
    rates = []
    for name in dict.fromkeys(o.case.name for o in healthy):
        called = [o.condition.verdict in CALLED for o in healthy if o.case.name == name]
        rates.append((sum(called) / len(called), sum(called), len(called), name))
    if not rates:
        return []
    share, hits, n, name = max(rates)
    low, high = wilson(hits, n)
    return [_line(f"worst case without fault: {name}"[:57], "both", ONE_IN, (hits, n), lambda share: share <= ONE_IN),
            f"    (95 % interval of that one: {low:.1%} to {high:.1%})"]


def _line(words: str, source: str, asked: float, found: tuple[int, int], holds: Callable[[float], bool]) -> str:
    share = found[0] / found[1]
    return f"{words:<58}{source:<7}{asked:>8.1%}{f'{found[0]}/{found[1]} {share:.1%}':>16}  {'yes' if holds(share) else 'no'}"


_NAMED = (  # words, case, strength, asked, whether a watch suffices
    ("decay to 50 %: named", "decay shorter", "to 50%", 0.95, False),
    ("decay to 35 %: named", "decay shorter", "to 35%", 0.95, False),
    ("decay to 70 %: at least watched", "decay shorter", "to 70%", 0.8, True),
    ("partials 5 cents astray: named", "partials astray", "5 cents", 0.95, False),
    ("partials 8 cents astray: named", "partials astray", "8 cents", 0.95, False),
    ("partials 15 cents astray: named", "partials astray", "15 cents", 0.95, False),
    ("beat of 2 dB, second voice, 3 swings heard: named", "heard beat, split", "2 dB", 0.95, False),
    ("beat of 4 dB, second voice, 3 swings heard: named", "heard beat, split", "4 dB", 0.95, False),
    ("beat of 2 dB, swelling, 3 swings heard: named", "heard beat, pulse", "2 dB", 0.95, False),
    ("beat of 4 dB, swelling, 3 swings heard: named", "heard beat, pulse", "4 dB", 0.95, False),
    ("beat of 2 dB, second voice 4 cents off: named", "beat, split", "2 dB", 0.95, False),
    ("beat of 2 dB, swelling at 3 Hz: named", "beat, pulse", "2 dB", 0.95, False),
    ("polarisations 2 cents apart: named", "polarisations split", "2 cents", 0.95, False),
    ("polarisations 5 cents apart: named", "polarisations split", "5 cents", 0.95, False),
)

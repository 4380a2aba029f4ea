"""The bench's figures: how often named, how well the scores part faulty from healthy, what the scores mean, and false alarms."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

import numpy as np

from bench.sweeps import Outcome

CALLED = ("dead", "false")
ONE_IN = 1.0 / 40.0  # what no case in which nothing is wrong may exceed


def fault_table(outcomes: Sequence[Outcome]) -> list[str]:
    """One line for each kind, strength, source and number of plucks."""
    lines = [f"{'fault':<28}{'strength':<20}{'from':<6}{'plucks':>6}{'strings':>8}{'named':>8}{'called':>8}{'watch+':>8}{'unsure':>8}"
             f"{'AUC dead':>10}{'AUC false':>10}{'alarms':>8}"]
    for key, group in _groups(o for o in outcomes if o.case.names).items():
        bad, good = [o.condition for o in group if o.faulty], [o.condition for o in group if not o.faulty]
        names = group[0].case.names
        lines.append(f"{key[0]:<28}{key[1]:<20}{key[2]:<6}{key[3]:>6}{len(bad):>8}{_share(bad, names):>8}{_share(bad, CALLED):>8}"
                     f"{_share(bad, (*CALLED, 'watch')):>8}{_share(bad, ('unsure', 'unrated')):>8}{_auc(bad, good, 'dead_score'):>10}"
                     f"{_auc(bad, good, 'false_score'):>10}{_share(good, CALLED):>8}")
    return lines


def no_fault_table(outcomes: Sequence[Outcome]) -> list[str]:
    lines = [f"{'nothing wrong':<46}{'from':<6}{'plucks':>6}{'readings':>9}{'dead':>6}{'false':>6}{'watch':>7}{'unsure':>8}{'called':>9}"]
    for key, group in _groups(o for o in outcomes if not o.case.names).items():
        verdicts = [o.condition.verdict for o in group]
        called = sum(v in CALLED for v in verdicts)
        lines.append(f"{key[0]:<46}{key[2]:<6}{key[3]:>6}{len(verdicts):>9}{verdicts.count('dead'):>6}{verdicts.count('false'):>6}"
                     f"{verdicts.count('watch'):>7}{verdicts.count('unsure'):>8}{called / len(verdicts):>9.1%}")
    return lines


def no_fault_doubt_table(outcomes: Sequence[Outcome]) -> list[str]:
    """Per case, real and model and all numbers of plucks together: share called, and its 95 % interval (Wilson)."""
    lines = [f"{'nothing wrong, all readings':<46}{'readings':>9}{'called':>8}{'95 % interval':>18}  against 1 in 40"]
    for name in dict.fromkeys(o.case.name for o in outcomes if not o.case.names):
        verdicts = [o.condition.verdict for o in outcomes if o.case.name == name and not o.case.names]
        called = sum(v in CALLED for v in verdicts)
        low, high = wilson(called, len(verdicts))
        word = "above" if low > ONE_IN else "below" if high <= ONE_IN else "cannot be told"
        lines.append(f"{name:<46}{len(verdicts):>9}{called:>8}{f'{low:.1%} to {high:.1%}':>18}  {word}")
    return lines


def wilson(hits: int, n: int) -> tuple[float, float]:
    """95 % interval of a share (Wilson 1927)."""
    z2, share = 1.96**2, hits / n
    centre, half = share + z2 / (2 * n), 1.96 * np.sqrt(share * (1 - share) / n + z2 / (4 * n**2))
    return float((centre - half) / (1 + z2 / n)), float((centre + half) / (1 + z2 / n))


def false_alarm_line(outcomes: Iterable[Outcome]) -> str:
    verdicts = [o.condition.verdict for o in outcomes if not o.faulty and not o.case.names]
    called = sum(v in CALLED for v in verdicts)
    share = called / max(len(verdicts), 1)
    return f"healthy strings called dead or false over all no-fault cases: {called} of {len(verdicts)} readings ({share:.2%})"


def calibration_table(outcomes: Sequence[Outcome]) -> list[str]:
    """Of strings whose worse score falls in a range, the share in which a fault had been planted."""
    edges = (0, 10, 25, 37.5, 50, 65, 80, 100.1)
    rows = [(max(o.condition.dead_score or 0.0, o.condition.false_score or 0.0), o.faulty) for o in outcomes]
    lines = [f"{'worse score':<14}{'readings':>9}{'faulty':>8}"]
    for low, high in zip(edges[:-1], edges[1:], strict=True):
        inside = [faulty for score, faulty in rows if low <= score < high]
        if inside:
            lines.append(f"{f'{low:g} to {high:.4g}':<14}{len(inside):>9}{np.mean(inside):>8.0%}")
    return lines


def _groups(outcomes: Iterable[Outcome]) -> dict[tuple, list[Outcome]]:
    groups: dict[tuple, list[Outcome]] = defaultdict(list)
    for o in outcomes:
        groups[(o.case.name, o.case.strength, o.source, o.n_plucks)].append(o)
    return groups


def _share(conditions: Sequence, verdicts: Iterable[str]) -> str:
    wanted = set(verdicts)
    return f"{np.mean([c.verdict in wanted for c in conditions]):.0%}" if conditions else "-"


def _auc(bad: Sequence, good: Sequence, score: str) -> str:
    from sklearn.metrics import roc_auc_score  # takes seconds to load

    values = [(getattr(c, score), flag) for group, flag in ((bad, 1), (good, 0)) for c in group if getattr(c, score) is not None]
    if len({flag for _, flag in values}) < 2:
        return "-"
    scores, flags = zip(*values, strict=True)
    return f"{roc_auc_score(flags, scores):.3f}"

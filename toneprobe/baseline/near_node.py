"""Which partials were plucked near a node of theirs: the third, where it is a third up, as is usual.

At p = m/n + d a partial has sin(n·π·p) ≈ n·π·d of its full level: at 2.7 % of the string off its node the third is 12 dB below full, and a
hand that finds its spot to half of that may silence it. So weak a partial is there in one sweep and not in the next, and a mode of the
board or a sum tone beside it may be as loud and be followed in its place, in every pluck alike.
"""

from collections.abc import Mapping

NODE_DB = 12.0  # under the mean of the partials beside it, two spreads of such a hand


def near_node(level_db: Mapping[int, float]) -> frozenset[int]:
    """level_db: of a string's partials, by number. A partial without both neighbours is not judged."""
    return frozenset(n for n, db in level_db.items() if {n - 1, n + 1} <= level_db.keys()
                     and db < 0.5 * (level_db[n - 1] + level_db[n + 1]) - NODE_DB)

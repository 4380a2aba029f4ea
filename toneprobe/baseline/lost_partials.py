"""Partials that were the string's own when fresh and are not found where its series puts them now.

The series is followed within a few cents. A partial that stood out clearly in every fresh pluck, would stand out now, and is not found has
gone farther astray than that, or was silenced. So a grossly false string shows here when it shows nowhere else. Not counted are: a pluck
stopped before its partials could be resolved; a partial that the room outrings (`place_in_room`); where another hand plucked, a partial on
which sum tones lie, which go with the square of the pull and may cover it in a firm pluck; and one that was near its node when fresh
(`near_node`) or was plucked nearer to it now, a third of the string for the third: at p = m/n + d every multiple k·n has sin(k·n·π·p) ≈
k·n·π·d of its full level, so all of them fall with it.
"""

from collections.abc import Mapping
from math import exp
from statistics import median

from toneprobe import limits
from toneprobe.baseline.hand import like_hands
from toneprobe.baseline.near_node import near_node
from toneprobe.baseline.pairing import Band
from toneprobe.baseline.place_in_room import place_share
from toneprobe.measure.series import FIRST_SUM_TONE
from toneprobe.session.reading import PartialReading, Reading
from toneprobe.units import LN_1000

# A partial that is the string's own is in every fresh pluck, and:
OWN_PARTIALS = 10  # highest number (set)
OWN_LEVEL_DB = -35.0  # least level beside the string's strongest partial (set)
OWN_SNR_DB = 35.0  # least level above the noise in the partial's own band (set)
NODE_FALL_DB = 6.0  # by which each multiple of a silenced partial fell beyond the others: two spreads of limits.PARTIAL_LEVEL_SPREAD_DB
MULTIPLES = (2, 3)  # of a silenced partial, which fall with it


def lost_partials(now: Reading, fresh: Reading, band: Band, *, hand: float, room_s: float | None,
                  longer_s: float | None = None) -> Mapping[int, float]:
    """Partial number → share of the present plucks in which it is missing, for the partials that should be found.

    hand: log ratio of pitch glides; room_s: decay time of the room; longer_s: of the fresh sweep's, as of `longer_room`. Missing from a
    single pluck counts as limits.UNCONFIRMED_LOST. Where a codec left partials out, a missing one tells nothing.
    """
    if band.is_codecs or not _is_resolved(now) or not fresh.partials:
        return {}
    quieter_db = min(0.0, now.snr_db - fresh.snr_db)
    n_having = {p.n: p.n_plucks for p in now.partials}
    weak = near_node({p.n: p.level_db.value for p in fresh.partials})
    own = [p for p in fresh.partials if _ought_to_be_found(p, fresh.n_plucks, quieter_db) and band.holds(p.freq_hz.value)
           and not _is_outrung(p, room_s, longer_s) and (like_hands(hand) or p.n < FIRST_SUM_TONE)
           and p.n not in weak and not _is_at_node(p.n, now, fresh)]
    trust = limits.UNCONFIRMED_LOST if now.n_plucks == 1 else 1.0
    return {p.n: trust * (1.0 - n_having.get(p.n, 0) / now.n_plucks) for p in own}


def _is_outrung(partial: PartialReading, room_s: float | None, longer_s: float | None) -> bool:
    decay = partial.log_decay
    return decay.known and float(place_share(LN_1000 / exp(decay.value), room_s, longer_s)) < limits.HIDDEN_BY_ROOM


def _is_at_node(n: int, now: Reading, fresh: Reading) -> bool:
    """Whether the multiples of partial n fell beyond all others, as they do where it is plucked nearer to its node than when fresh."""
    here = {p.n: p.level_db.value for p in now.partials}
    fall_db = {p.n: p.level_db.value - here[p.n] for p in fresh.partials if p.n in here}
    of_multiples = [fall_db[k * n] for k in MULTIPLES if k * n in fall_db]
    others = [db for k, db in fall_db.items() if k % n]
    return bool(of_multiples and others) and min(of_multiples) - median(others) >= NODE_FALL_DB


def _is_resolved(now: Reading) -> bool:
    periods = [p.heard_s * p.freq_hz.value / p.n for p in now.partials if p.heard_s is not None]
    return bool(now.partials) and max(periods, default=limits.RESOLVED_PERIODS) >= limits.RESOLVED_PERIODS


def _ought_to_be_found(partial: PartialReading, n_plucks: int, quieter_db: float) -> bool:
    return (partial.n <= OWN_PARTIALS and partial.n_plucks == n_plucks and partial.level_db.value > OWN_LEVEL_DB
            and partial.snr_db is not None and partial.snr_db + quieter_db > OWN_SNR_DB)

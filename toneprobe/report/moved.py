"""How far each of a string's partials has moved against the others since it was fresh, by the comparison that its verdict rests on, but for
what only the whole sweep tells: the band of the recordings, the room, and a hand that differs for all strings."""

from __future__ import annotations

from dataclasses import replace

from toneprobe.baseline.hand import differing_hand, hand_change
from toneprobe.baseline.pairing import pair_partials
from toneprobe.baseline.series_change import series_change
from toneprobe.report.series import PartialPoint, partial_points
from toneprobe.session import Reading

Points = tuple[PartialPoint, ...]


def paired_points(now: Reading | None, fresh: Reading | None) -> tuple[Points, Points]:
    """The partials of both; those compared with how far they moved, fresh at 0."""
    here, then = partial_points(now), partial_points(fresh)
    if now is None or fresh is None:
        return here, then
    hand = differing_hand(hand_change(now, fresh), 0.0)
    series = series_change(pair_partials(now, fresh), fresh.figures["inharmonicity"], {}, hand=hand, room_s=None)
    moved = {n: {"moved_cents": cents, "moved_se_cents": sigma} for n, cents, sigma in series.pattern}
    return (tuple(replace(point, **moved.get(point.n, {})) for point in here),
            tuple(replace(point, moved_cents=0.0) if point.n in moved else point for point in then))

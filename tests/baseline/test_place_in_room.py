"""How far a room takes the place of a partial from the string, against the model's own arithmetic."""

from dataclasses import replace

import numpy as np
import pytest

from toneprobe.baseline.lost_partials import lost_partials
from toneprobe.baseline.pairing import Band, pair_partials
from toneprobe.baseline.place_in_room import longest_room_s, place_share
from toneprobe.baseline.series_change import series_change
from toneprobe.measure.figure import Figure

P = 2.85  # of two convolved falls, see test_room_ring
OWN_S = np.array([0.63, 0.63, 0.36, 0.28, 0.22, 0.19, 0.14, 0.12])  # partials of a lever harp's G#6 (measured)


def log_decay(t60_s):
    return np.log(np.log(1000.0) / np.asarray(t60_s))


def in_room(own_s, room_s):
    return (np.asarray(own_s) ** P + room_s**P) ** (1.0 / P)


def test_of_a_partial_that_rings_as_long_as_the_room_two_sevenths_are_its_own():
    """Derived: it is heard to ring 2^(1/p) as long; at half the ring (1 + 2^−p)^(1/p). The ratio's logarithm over ln 2 is 0.285."""
    share = np.log(2.0 ** (1 / P) / (1.0 + 2.0**-P) ** (1 / P)) / np.log(2.0)
    assert float(place_share(0.4, 0.4)) == pytest.approx(share, abs=1e-6) and share == pytest.approx(0.285, abs=1e-3)


def test_what_outrings_the_room_or_is_not_known_keeps_its_place():
    np.testing.assert_allclose(place_share([5.0, np.nan], 0.3), 1.0, atol=0.01)
    np.testing.assert_array_equal(place_share([0.1, 5.0], None), 1.0)
    shares = place_share(np.linspace(0.05, 3.0, 60), 0.4)
    assert (np.diff(shares) >= 0.0).all() and 0.0 < shares[0] < shares[-1] <= 1.0


@pytest.mark.parametrize("room_s", [0.3, 0.5])
def test_a_string_whose_short_partials_all_ring_longer_tells_of_its_room(reading, series, room_s):
    f = series(1658.0, 2e-3, 8)
    pairs = pair_partials(reading(f, log_decay=log_decay(in_room(OWN_S, room_s))), reading(f, log_decay=log_decay(OWN_S)))
    assert longest_room_s(pairs, None) == pytest.approx(room_s, rel=1e-6)
    assert longest_room_s(pairs, 2.0 * room_s) == 2.0 * room_s


@pytest.mark.parametrize("factor", [1.0, 1.1, 0.5])  # as when fresh, within what plucks scatter by, half the ring
def test_a_string_that_rings_no_longer_tells_of_none(reading, series, factor):
    f = series(1658.0, 2e-3, 8)
    pairs = pair_partials(reading(f, log_decay=log_decay(factor * OWN_S)), reading(f, log_decay=log_decay(OWN_S)))
    assert longest_room_s(pairs, None) is None


def test_upper_partials_moved_by_a_room_make_no_astray_string(reading, series):
    """The top string of a lever harp, dry when fresh and in a room of 0.35 s now: partials 4 to 6 some 15 cents lower (measured)."""
    f, off = series(1658.0, 2e-3, 8), np.array([0.0, 3.0, 0.0, -14.0, -15.0, -14.0, -5.0, -3.0])
    pairs = pair_partials(reading(f * 2 ** (off / 1200), log_decay=log_decay(in_room(OWN_S, 0.35))),
                          reading(f, b=2e-3, log_decay=log_decay(OWN_S)))
    dry, wet = (series_change(pairs, Figure(2e-3, 2e-5), {}, hand=0.0, room_s=room_s) for room_s in (None, longest_room_s(pairs, None)))
    assert max(abs(r) / sigma for _, r, sigma in wet.pattern) < 2.0 < max(abs(r) / sigma for _, r, sigma in dry.pattern)
    assert 3 not in wet.unmistakable and 3 in dry.unmistakable  # 0.36 s in 0.35 s


def test_upper_partials_that_the_fresh_sweep_s_room_moved_make_no_astray_string_either(reading, series):
    """The same string and room, the other way round. Its first partial outrings the room twice: that one's place is its own."""
    f, off = series(1658.0, 2e-3, 8), np.array([0.0, 3.0, 0.0, -14.0, -15.0, -14.0, -5.0, -3.0])
    now = reading(f, log_decay=log_decay(OWN_S))
    fresh = reading(f * 2 ** (off / 1200), b=2e-3, log_decay=log_decay(in_room(OWN_S, 0.35)))
    blind, told = (series_change(pair_partials(now, fresh), Figure(2e-3, 2e-5), {}, hand=0.0, room_s=None, longer_s=longer_s)
                   for longer_s in (None, 0.35))
    assert max(abs(r) / sigma for _, r, sigma in told.pattern) < 2.0 < max(abs(r) / sigma for _, r, sigma in blind.pattern)
    shares = place_share(in_room(OWN_S, 0.35), None, 0.35)
    np.testing.assert_allclose(shares, place_share(OWN_S, 0.35))  # of a string heard in a room, whichever sweep that is
    np.testing.assert_array_equal(place_share(in_room(OWN_S, 0.35), 0.1, 0.35), shares)  # the worse of two sides
    lacking = reading(f[:3], log_decay=log_decay(OWN_S[:3]))
    loud = replace(fresh, partials=tuple(replace(one, snr_db=60.0) for one in fresh.partials))
    asked = [lost_partials(lacking, loud, Band(), hand=0.0, room_s=None, longer_s=longer_s) for longer_s in (None, 0.35)]
    assert set(asked[0]) > set(asked[1]) and not any(asked[1].values())


def test_a_string_of_long_partials_is_not_asked(reading, series):
    f = series(220.0, 2e-4, 8)
    longer = pair_partials(reading(f, log_decay=log_decay(np.full(8, 6.0))), reading(f, log_decay=log_decay(np.full(8, 3.0))))
    assert longest_room_s(longer, None) is None
    unknown = replace(longer, log_decay=np.full(8, np.nan), fresh_decay=np.full(8, np.nan))
    assert longest_room_s(unknown, None) is None

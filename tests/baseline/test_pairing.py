"""What of two readings can be laid side by side, partial by partial."""

from dataclasses import replace

import numpy as np
import pytest

from toneprobe.baseline.pairing import Band, pair_partials
from toneprobe.baseline.scatter import LEAST_SHOWN_DB, SHOWN_POWER, fall_factor
from toneprobe.measure.figure import Figure

UNKNOWN = Figure(None, None, "not measured")


def with_partials(one, **rows):
    """The reading with so many values of each of its partials."""
    of_each = [{name: values[i] for name, values in rows.items()} for i in range(len(one.partials))]
    return replace(one, partials=tuple(replace(p, **row) for p, row in zip(one.partials, of_each, strict=True)))


def test_a_decay_known_on_one_side_alone_is_no_change_of_it(reading, series):
    f = series(220.0, 1e-4, 3)
    whole = with_partials(reading(f), heard_db=[30.0] * 3, heard_s=[5.0] * 3)
    half = with_partials(whole, log_decay=[Figure(0.7, 0.05), UNKNOWN, UNKNOWN], heard_s=[1.0] * 3)
    for pairs, change in ((pair_partials(half, whole), 0.7), (pair_partials(whole, half), -0.7)):
        assert np.isnan(pairs.log_decay[1:]).all() and pairs.log_decay[0] == pytest.approx(change)
        assert (pairs.less_rung_db[1:] == 0.0).all() and pairs.less_rung_db[0] > 5.0  # nothing tells how far such a fall was heard
        assert len(pairs.n) == 3 and np.isfinite(pairs.cents).all()  # its place is compared all the same


@pytest.mark.parametrize(("t60_s", "fresh_t60_s", "heard_s", "is_told"), [
    (5.0, 20.0, 0.87, False),  # derived: as when fresh it falls by 60·0.87/20 = 2.6 dB, of which no decay is measured
    (5.0, 12.0, 0.87, True),  # by 4.4 dB, and
    (5.0, 20.0, 2.3, True),  # by 6.9 dB
])
def test_what_would_not_have_fallen_far_enough_for_a_decay_shows_none(reading, series, t60_s, fresh_t60_s, heard_s, is_told):
    """Of a healthy real G2, two plucks of 0.87 s, only the partials had a decay whose beats fell in that time, for one is told of 4 dB at
    the least: it was dead, 77 % shorter than fresh."""
    now, fresh = (with_partials(reading(series(98.0, 1e-4, 1)), heard_db=[30.0], heard_s=[time_s], log_decay=[Figure(np.log(6.9078 / one))])
                  for one, time_s in ((t60_s, heard_s), (fresh_t60_s, 2.3)))
    for pairs in (pair_partials(now, fresh), pair_partials(fresh, now)):
        assert np.isfinite(pairs.log_decay[0]) == is_told and np.isfinite(pairs.cents[0])


def test_the_errors_of_both_sides_add(reading, series):
    f = series(220.0, 1e-4, 2)
    now = with_partials(reading(f), log_decay=[Figure(0.0, 0.3), Figure(0.0)], freq_hz=[Figure(float(f[0]), 0.2), Figure(float(f[1]))])
    fresh = with_partials(reading(f), log_decay=[Figure(0.0, 0.4), Figure(0.0, 0.4)], freq_hz=[Figure(float(one), 0.1) for one in f])
    pairs = pair_partials(now, fresh)
    assert pairs.log_decay_var == pytest.approx([0.25, 0.16])  # 0.3² + 0.4², and where one is not known the other's
    cents = 1200.0 / np.log(2.0) * np.array([np.hypot(0.2, 0.1), 0.1]) / f
    assert pairs.cents_own_var == pytest.approx(cents**2)


@pytest.mark.parametrize("unknown", ["now", "fresh"])
@pytest.mark.parametrize("what", ["heard_db", "heard_s"])
def test_where_it_is_not_known_how_much_of_a_fall_was_heard_nothing_lacks(reading, series, unknown, what):
    """Books of before do not hold it."""
    told = with_partials(reading(series(220.0, 1e-4, 2)), heard_db=[12.0] * 2, heard_s=[0.5] * 2)
    sides = {"now": told, "fresh": told, unknown: with_partials(told, **{what: [None] * 2})}
    pairs = pair_partials(sides["now"], sides["fresh"])
    assert (pairs.less_heard_db == 0.0).all() and (pairs.less_rung_db == 0.0).all() and (pairs.cut_db == 0.0).all()


@pytest.mark.parametrize(("heard_s", "lacks"), [(2.0, False), (2.4, False), (3.2, True)])
def test_a_hand_that_damps_a_little_sooner_cuts_nothing_off(reading, series, heard_s, lacks):
    """Others are damped the same way each time (common practice), but never at the very same moment."""
    now, fresh = (with_partials(reading(series(80.0, 1e-4, 1)), heard_db=[30.0], heard_s=[one_s]) for one_s in (2.0, heard_s))
    for pairs in (pair_partials(now, fresh), pair_partials(fresh, now)):
        assert (pairs.less_rung_db[0] > 0.0) == lacks


@pytest.mark.parametrize("weak", ["now", "fresh"])
def test_a_partial_that_is_weak_in_either_recording_a_codec_may_have_made_up(reading, series, weak):
    f = series(220.0, 1e-4, 3)
    sides = {name: reading(f, level_db=[0.0, -20.0, -40.0 if name == weak else -20.0]) for name in ("now", "fresh")}
    assert pair_partials(sides["now"], sides["fresh"], Band(least_db=-25.0)).n.tolist() == [1.0, 2.0]


def test_of_less_than_six_db_no_decay_is_doubted_more():
    """Nearly no decay is told of less (set); all of the first 30 shown, and more, is no doubt at all."""
    assert fall_factor(2.0) == fall_factor(LEAST_SHOWN_DB) == pytest.approx(5.0**SHOWN_POWER) and fall_factor(45.0) == 1.0

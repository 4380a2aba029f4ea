"""Of how few partials what is told, and which of them can be relied on."""

from dataclasses import replace

import numpy as np
import pytest

from toneprobe.baseline.change import change_since
from toneprobe.baseline.fresh import Baseline
from toneprobe.baseline.pairing import WHOLE_BAND, Band, pair_partials
from toneprobe.baseline.scatter import USUAL_SCATTER
from toneprobe.baseline.series_change import AGREED, NOTHING_PAIRED, series_change
from toneprobe.measure.figure import Figure

B = Figure(2e-4, 2e-6)
NO_B = Figure(None, None, "only 3 partials could be followed")


@pytest.fixture
def pairs(reading, series):
    """Of a string whose partials all lie where they lay."""
    return lambda n: pair_partials(*(reading(series(220.0, 2e-4, n)) for _ in range(2)))


def told(of, b=B, lost=None):
    return series_change(of, b, lost or {}, hand=0.0, room_s=None)


def test_where_nothing_is_paired_nothing_is_told(pairs):
    found = told(pairs(4).where(np.zeros(4, bool)))
    assert found == NOTHING_PAIRED and not found.pitch_cents.known


@pytest.mark.parametrize(("n", "b", "lost", "is_told"), [
    (3, NO_B, {}, False), (4, NO_B, {}, True),  # the farthest is left out and the pitch fitted: of three nothing that scatters is left
    (4, B, {}, True), (3, B, {}, False), (3, B, {4: 1.0}, True), (2, B, {3: 1.0, 4: 1.0}, True), (2, B, {3: 1.0}, False),
])
def test_four_partials_tell_whether_any_went_astray_and_a_lost_one_counts(pairs, n, b, lost, is_told):
    assert told(pairs(n), b, lost).astray_cents.known == is_told


def test_partials_are_relied_on_that_all_plucks_have_and_agree_on(pairs):
    eight = replace(pairs(8), n_lacking=np.array([0.0, 1.0] + [0.0] * 6), fresh_level_db=np.array([0.0, 0.0, -30.0] + [0.0] * 5))
    found = told(replace(eight, cents_unexplained=np.array([0.0, 0.0, 0.0, 50.0] + [0.0] * 4)))
    assert found.steady == (1, 3, 4, 5, 6, 7, 8)  # but the second, which a pluck lacks …
    assert found.plain == (1, 5, 6, 7, 8)  # … the third, which is weak, and the fourth, of which the plucks say different things
    assert found.contradictions[3] > AGREED and told(replace(eight, per_pluck=np.full(8, 1.5))).steady == ()  # one pluck a side


@pytest.mark.parametrize(("weaker_db", "plain"), [((0.0, 0.0), True), ((11.0, 0.0), True), ((13.0, 0.0), False), ((0.0, 13.0), False)])
def test_a_partial_near_its_node_on_either_side_is_not_relied_on(reading, series, weaker_db, plain):
    """Derived: 12 dB under full is 2.7 % of the string off the third's node; a mode of the board may be as loud there."""
    fresh, now = (reading(series(220.0, 2e-4, 8), level_db=[0.0, 0.0, -db] + [0.0] * 5) for db in weaker_db)
    found = told(pair_partials(now, fresh))
    assert 3 in found.steady and (3 in found.plain) == plain


@pytest.mark.parametrize(("b", "off_sum_cents", "relied_on"), [(1.5e-3, 0.0, False), (1.5e-3, 17.0, True), (2e-4, 0.0, True)])
def test_a_third_partial_found_at_the_sum_of_the_first_two_may_be_their_sum_tone(reading, series, b, off_sum_cents, relied_on):
    """Derived: 3·√(1 + 9·B) lies 7.7 cents above √(1 + B) + 2·√(1 + 4·B) where B = 1.5e-3, as of a nylon C7, and 1.0 where it is
    2e-4: there the two are one line. A string is not false by what may be a sum tone."""
    fresh, f = (series(2000.0, b, 6) for _ in range(2))
    f[2] = (f[0] + f[1]) * 2.0 ** (off_sum_cents / 1200.0)
    found = told(pair_partials(reading(f), reading(fresh)), Figure(b, 0.01 * b))
    assert (3 in found.unmistakable and 3 in found.plain) == relied_on


@pytest.mark.parametrize(("n_now", "n_fresh", "n_loud", "band", "is_hidden"), [
    (8, 8, 8, Band(least_db=-25.0), False), (8, 8, 2, Band(least_db=-25.0), True), (8, 8, 2, WHOLE_BAND, False),
    (3, 8, 2, Band(least_db=-25.0), True), (8, 3, 2, Band(least_db=-25.0), True),
    (3, 3, 2, Band(least_db=-25.0), False),  # a string of three partials tells of none astray, whatever recorded it
])
def test_a_codec_hides_what_went_astray_where_too_few_partials_are_left_of_enough(reading, series, n_now, n_fresh, n_loud, band, is_hidden):
    now, fresh = (reading(series(220.0, 2e-4, n), level_db=[0.0] * n_loud + [-30.0] * (n - n_loud), b=2e-4) for n in (n_now, n_fresh))
    found = change_since(now, Baseline(fresh), scatter=USUAL_SCATTER, curve=None, band=band, hand_of_sweep=0.0, room_s=None)
    assert found.series.hidden == is_hidden

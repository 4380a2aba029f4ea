"""Robust fits against NumPy's least squares where nothing is wrong, and against it where something is."""

import numpy as np
import pytest

from toneprobe.baseline.robust import robust_fit, robust_shares


def robust_mean(values, variances):
    """(mean, standard error): the fit of a constant."""
    coefficients, covariance, _ = robust_fit(values, variances, np.ones((len(values), 1)))
    return float(coefficients[0]), float(np.sqrt(covariance[0, 0]))


def test_clean_data_give_least_squares():
    rng = np.random.default_rng(1)
    x = np.linspace(-1, 1, 40)
    y = 2.0 + 3.0 * x + rng.uniform(-0.1, 0.1, 40)  # within the errors: no one loses a say
    design = np.stack([np.ones(40), x], axis=1)
    coefficients, _, _ = robust_fit(y, np.full(40, 0.1**2), design)
    assert coefficients == pytest.approx(np.polyfit(x, y, 1)[::-1], abs=0.01)  # outside reference: NumPy's polyfit


def test_the_error_of_a_mean_is_sigma_over_root_n():
    rng = np.random.default_rng(2)
    means = [robust_mean(rng.normal(0, 0.3, 16), np.full(16, 0.09)) for _ in range(600)]
    spread = np.std([m for m, _ in means])
    assert spread == pytest.approx(0.3 / 4, rel=0.15)  # derived; Student weights cost some percent
    assert np.median([se for _, se in means]) == pytest.approx(spread, rel=0.2)


def test_a_third_of_wild_values_hardly_moves_the_mean():
    rng = np.random.default_rng(3)
    values = np.concatenate([rng.normal(0, 0.1, 20), np.full(9, 2.0)])
    assert abs(robust_mean(values, np.full(29, 0.01))[0]) < 0.1
    assert np.mean(values) > 0.5  # the plain mean


def test_scatter_beyond_the_variances_enlarges_the_error():
    rng = np.random.default_rng(4)
    values = rng.normal(0, 1.0, 30)
    assert robust_mean(values, np.full(30, 0.01))[1] > 5 * 0.1 / np.sqrt(30)


def test_the_error_of_a_line_through_few_points_allows_for_what_the_line_takes_up():
    """Five values that scatter by ten times what is said of them, drawn here: a line through them takes up two of their five degrees of
    freedom, and without those its level would seem known half again as well as it is."""
    rng, x = np.random.default_rng(5), np.linspace(-1.0, 1.0, 5)
    design = np.stack([np.ones(5), x], axis=1)
    fits = [robust_fit(rng.normal(0.0, 10.0, 5), np.ones(5), design) for _ in range(1500)]
    true, said = np.var([one[0] for one, *_ in fits]), np.mean([covariance[0, 0] for _, covariance, _ in fits])
    assert true == pytest.approx(100.0 / 5.0, rel=0.15)  # derived: σ²/n
    assert 0.6 < said / true < 1.2


def test_the_scatter_of_four_values_is_believed_as_if_three_more_had_scattered_as_said():
    """-2, -1, 1, 2 with variance 1, worked by hand: the middle of the squares is 2.5, over 0.4549 and, for the mean taken out, times 4/3
    makes 7.33; with three that scattered as said (3 + 4·7.33)/7 = 4.62; none lies farther off, so each counts whole: √(4.62/4)."""
    assert robust_mean(np.array([-2.0, -1.0, 1.0, 2.0]), np.ones(4)) == pytest.approx((0.0, 1.0742), abs=1e-4)


@pytest.mark.parametrize(("n", "held"), [(2, 0.89), (3, 0.91), (4, 0.955), (8, 0.955)])
def test_how_often_two_errors_hold_a_mean_of_wild_noise(n, held):
    """Drawn here: Student's t with four degrees of freedom and a scale of one."""
    rng = np.random.default_rng(6)
    drawn = rng.standard_t(4.0, (2000, n))
    told = np.array([robust_mean(row, np.ones(n)) for row in drawn])
    assert np.mean(np.abs(told[:, 0]) < 2.0 * told[:, 1]) == pytest.approx(held, abs=0.02)
    assert np.var(rng.standard_t(4.0, 400000)) == pytest.approx(2.0, rel=0.1)  # twice the squared scale: 4/(4 − 2)


def test_one_value_is_its_own_mean():
    assert robust_mean(np.array([2.5]), np.array([0.04])) == pytest.approx((2.5, 0.2))  # derived


@pytest.mark.parametrize("n", [2, 3, 4, 9, 16])
def test_rows_fitted_at_once_are_fitted_as_each_alone(n):
    """Wild rows need more rounds than the rest, which must not go on with them."""
    rng = np.random.default_rng(13)
    rows, variances, share = rng.normal(0.3, 0.2, (40, n)), rng.uniform(0.01, 0.09, n), rng.uniform(0.2, 1.0, n)
    rows[::3, 0] += 3.0
    alone = [robust_fit(row, variances, share[:, None]) for row in rows]
    coefficients, se2, weights = robust_shares(rows, variances, share)
    assert coefficients == pytest.approx([one[0][0] for one in alone], abs=1e-9)
    assert se2 == pytest.approx([one[1][0, 0] for one in alone], abs=1e-9)
    assert weights == pytest.approx(np.array([one[2] for one in alone]), rel=1e-9)

"""Exponentials at even steps of time, against each worked out by itself."""

import numpy as np
import pytest

from toneprobe.exponentials import exponentials


@pytest.mark.parametrize("n", [0, 1, 2, 3, 16, 17, 1000, 1024, 1025])
@pytest.mark.parametrize("powers", [2j * np.pi * 440.0 - 3.0, np.array([-170j, 0.0, 2j * np.pi * 3000.0 - 40.0]),
                                    np.zeros(0)], ids=["one", "many", "none"])
def test_each_is_that_of_its_own_time(n, powers):
    """exp(p·t) at t = start + k·step, by the definition. A phase of 10⁴ rad is itself known to 10⁻¹² only."""
    found = exponentials(powers, n, step_s=1e-3, start_s=-0.25)
    time_s = -0.25 + 1e-3 * np.arange(n)
    assert found.shape == (*np.shape(powers), n)
    assert found == pytest.approx(np.exp(np.multiply.outer(powers, time_s)), rel=1e-11)


def test_the_powers_are_left_alone():
    powers = np.array([1j, 2j])
    exponentials(powers, 100, step_s=0.1)
    assert powers.tolist() == [1j, 2j]

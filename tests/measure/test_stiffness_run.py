"""Which plucks fall out of a harp's run of inharmonicity, on plucks put together by hand."""

from dataclasses import replace

import numpy as np
import pytest

from toneprobe.measure.figure import FIGURES, Figure, Partial, PluckMeasurement
from toneprobe.measure.stiffness_run import CERTAIN, fits, out_of_run

UNKNOWN = Figure(None, None, "not given")
HZ = 440.0 * 2.0 ** (np.arange(9) / 6.0)


def pluck(hz, b, *, string=None, n_partials=9):
    figures = {name: UNKNOWN for name in FIGURES} | {"pitch_hz": Figure(float(hz), 0.1)}
    figures |= {"inharmonicity": Figure(b, 0.05 * b)} if b else {}
    partials = tuple(Partial(n, n * hz, 0.1, -3.0 * n, 40.0, 1.0, 0.2, 0.0, None, None) for n in range(1, n_partials + 1))
    return PluckMeasurement(string or f"{hz:.0f}", "A4", 0.0, 1.0, 1.0, 50.0, **figures, partials=partials, flags=())


def run_of(odd=None, at=4, **how):
    """Nine strings whose B grows by the 0.75th power of pitch; `odd` in place of one of them."""
    b = 3e-4 * (HZ / 440.0) ** 0.75
    return [pluck(hz, odd if i == at else one, **(how if i == at else {})) for i, (hz, one) in enumerate(zip(HZ, b, strict=True))]


def test_an_even_run_has_none_out_of_it():
    assert out_of_run(run_of(3e-4 * (HZ[4] / 440.0) ** 0.75)) == {}


@pytest.mark.parametrize("at", [0, 4, 8])
def test_a_pluck_out_of_the_run_is_told_what_is_expected(at):
    found = out_of_run(run_of(0.7e-4, at=at))
    assert list(found) == [at]
    assert found[at] == pytest.approx(3e-4 * (HZ[at] / 440.0) ** 0.75, rel=0.01)  # the run's own law


def test_a_pluck_without_b_is_told_too():
    assert list(out_of_run(run_of(None))) == [4]


def test_another_gauge_is_no_mistake():
    assert out_of_run(run_of(1.4 * 3e-4 * (HZ[4] / 440.0) ** 0.75)) == {}  # derived: a string 18 % thicker has 1.4 times the B


def test_where_wires_end_and_gut_begins_both_sides_are_at_home():
    b = np.where(np.arange(9) < 4, 3e-4, 0.9e-4) * (HZ / 440.0) ** 0.75
    assert out_of_run([pluck(hz, one) for hz, one in zip(HZ, b, strict=True)]) == {}


def test_a_second_pluck_of_the_string_that_says_the_same_settles_it():
    plucks = run_of(0.7e-4, string="odd one")
    again = pluck(HZ[4], 0.75e-4, string="odd one")
    assert out_of_run([*plucks, again]) == {}
    other = out_of_run([*plucks, pluck(HZ[4], 4.8e-4, string="odd one")])
    assert list(other) == [4]


def test_a_series_followed_far_is_mistaken_for_no_other():
    assert out_of_run(run_of(0.7e-4, n_partials=CERTAIN)) == {}


def test_few_strings_make_no_run():
    assert out_of_run(run_of(0.7e-4)[3:6]) == {}


def test_no_more_than_three_strings_beside_it_on_each_side_say_what_is_usual():
    """Of thirteen the three lowest and the three highest agree with the odd one in the middle, the three on each side of it do not."""
    hz = 440.0 * 2.0 ** (np.arange(13) / 12.0)
    b = np.where(np.abs(np.arange(13) - 6) > 3, 0.7e-4, 3e-4) * (hz / 440.0) ** 0.75
    b[6] = 0.7e-4 * (hz[6] / 440.0) ** 0.75
    found = out_of_run([pluck(one_hz, one_b) for one_hz, one_b in zip(hz, b, strict=True)])
    assert found.get(6) == pytest.approx(3e-4 * (hz[6] / 440.0) ** 0.75, rel=0.01)


def test_a_pluck_that_could_not_be_measured_is_passed_by():
    nothing = replace(run_of()[0], pitch_hz=UNKNOWN, inharmonicity=UNKNOWN, partials=())
    assert list(out_of_run([nothing, *run_of(0.7e-4)])) == [5]


def test_what_the_second_look_must_have_found():
    assert fits(pluck(440.0, 3e-4), 4e-4)
    assert not fits(pluck(440.0, 3e-4), 9e-4) and not fits(pluck(440.0, None), 3e-4)

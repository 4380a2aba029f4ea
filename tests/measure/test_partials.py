"""Which low partials a string lacks, and where its pitch settles, on partials made by hand."""

import numpy as np
import pytest

from toneprobe.measure.exact import ExactPartial
from toneprobe.measure.glide import Glide
from toneprobe.measure.partials import SeriesFit, follow_series, lacking_partials, with_settled_pitch
from toneprobe.measure.series import Lines, Series
from toneprobe.units import cents_between, shift_hz

SERIES = Series(1000.0, 1e-4)


def lines_of(zones, energy_db=0.0, *, off_cents=0.0):
    zone, ones = np.array(zones), np.ones(len(zones))
    energy = 10.0 ** (energy_db * ones / 10.0)
    return Lines(zone, shift_hz(SERIES.partial_hz(zone), off_cents * ones), 2.0 * ones, energy, ones, ones, 1e-9 * ones, ones)


def fit_of(*numbers):
    n, ones = np.array(numbers), np.ones(len(numbers))
    return SeriesFit(SERIES, 1000.0, 0.0, 0.0, 0.1, n, n, ones, SERIES.partial_hz(n), ones, 0.0 * ones, ones)


def exact_at(**cents):
    """By n1, n2 …: cents off the series."""
    return {int(n[1:]): ExactPartial(float(shift_hz(SERIES.partial_hz(int(n[1:])), off)), 2.0, 0.01, 0.01) for n, off in cents.items()}


def glide_of(cents, settled_cents, strength, se_cents=1.0):
    settled = {n: float(shift_hz(SERIES.partial_hz(n), off)) for n, off in settled_cents.items()}
    return Glide(cents, se_cents, np.ones(3), 0.02, 0.04, settled, dict.fromkeys(settled, 0.3), strength)


def settles_at(glide=None, exact=None, numbers=(1, 2, 3, 4, 5, 6)):
    """Cents off the series."""
    return cents_between(with_settled_pitch(fit_of(*numbers), glide, exact or {}).pitch_hz, 1000.0)


@pytest.mark.parametrize(("zones", "energy_db", "rate_hz", "lacking"), [
    ((1, 2, 3, 4, 5, 6), 0.0, 44100, (3,)),  # something rings loudly where the third should be, but was not taken for it
    ((1, 2, 3, 4, 5, 6), np.array([0.0, 0.0, -39.0, 0.0, 0.0, 0.0]), 44100, (3,)),
    ((1, 2, 3, 4, 5, 6), np.array([0.0, 0.0, -41.0, 0.0, 0.0, 0.0]), 44100, ()),  # so faint that it is not asked for
    ((1, 2, 4, 5, 6), 0.0, 44100, ()),  # nothing rings there: the string was plucked where the third has a node
    ((1, 2, 4), 0.0, 11300, (5, 6)),  # 0.48 of the rate is 5424 Hz, and the zone of the fifth reaches up to 5450
    ((1, 2, 4), 0.0, 11400, (6,)),  # 5472
])
def test_what_a_string_lacks_of_its_low_partials(zones, energy_db, rate_hz, lacking):
    """Of the lowest six; what is found is not lacking, though its zone reaches too high."""
    found = fit_of(*(n for n in zones if n != 3), 7)
    assert lacking_partials(lines_of(zones, energy_db), found, rate_hz=rate_hz) == lacking


def test_one_partial_astray_hardly_moves_the_pitch():
    """Four at 0 and one at 10 cents: Huber's mean with a corner of 4 cents lies where 4·m = 4, at 1 (derived); the plain mean at 2."""
    assert settles_at(exact=exact_at(n1=0.0, n2=0.0, n3=0.0, n4=0.0, n5=10.0)) == pytest.approx(1.0, abs=0.01)


def test_the_pitch_is_that_of_the_five_lowest_partials_that_were_found():
    assert settles_at(exact=exact_at(n1=1.0, n2=1.0, n3=1.0, n4=1.0, n5=1.0, n6=3.0)) == pytest.approx(1.0)
    assert settles_at(exact=exact_at(n1=1.0, n2=3.0), numbers=(1, 3, 4)) == pytest.approx(1.0)  # the second is none of them
    assert settles_at(exact=exact_at(n7=3.0)) == 0.0  # nothing settled is known of them: the series' own


def test_a_stronger_partial_counts_by_the_fourth_root_of_its_energy():
    """Sixteen times the energy counts twice: (0 + 2·3)/3 = 2 (worked by hand)."""
    found = with_settled_pitch(fit_of(1, 2), glide_of(0.5, {1: 0.0, 2: 3.0}, {1: 1.0, 2: 16.0}), {})
    assert cents_between(found.pitch_hz, 1000.0) == pytest.approx(2.0) and found.pitch_se_cents == pytest.approx(0.3)


@pytest.mark.parametrize(("glide_cents", "at_cents"), [(5.0, 0.0), (3.0, 2.0)])
def test_a_partial_that_seems_to_stand_still_is_believed_unless_the_glide_is_sure(glide_cents, at_cents):
    """Beyond four of its errors, here of one cent, all partials glide (see `Glide.is_sure`)."""
    assert settles_at(glide_of(glide_cents, {1: 0.0}, {}), exact_at(n1=2.0)) == pytest.approx(at_cents)


def test_two_partials_make_a_series_at_their_mean():
    """4 cents above it and 2 below: 1 above (derived); of two no stiffness is told."""
    fit = follow_series(lines_of((1, 2), off_cents=np.array([4.0, -2.0])), SERIES)
    assert cents_between(fit.series.f1_hz, 1000.0) == pytest.approx(1.0) and fit.series.b == SERIES.b and np.isinf(fit.log_b_se)

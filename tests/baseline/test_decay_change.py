"""How surely a string's lost ring is known: errors worked out by hand from what its partials and plucks scatter by."""

from dataclasses import replace

import numpy as np
import pytest

from toneprobe.baseline.decay_change import TOO_FEW, decay_change, is_contradicted
from toneprobe.baseline.pairing import pair_partials
from toneprobe.baseline.scatter import Scatter
from toneprobe.measure.figure import Figure

UNKNOWN = Figure(None, None, "not measured")
A_DAY = 0.025  # log decay of a string from one day to another (takes of a lever harp)


def changed(reading, series, *, scatter, own_se, n_plucks=2):
    f = series(220.0, 1e-4, 10)
    now, fresh = (reading(f, log_decay=np.full(10, level), n_plucks=n_plucks) for level in (np.log(2.0), 0.0))
    now, fresh = (replace(one, partials=tuple(replace(p, log_decay=replace(p.log_decay, se=own_se)) for p in one.partials))
                  for one in (now, fresh))
    return decay_change(pair_partials(now, fresh), scatter, n_now=n_plucks, n_fresh=n_plucks).all


@pytest.mark.parametrize(("partial", "own_se", "of_each"), [
    (0.2, 0.01, 0.2), (0.4, 0.01, 0.4),  # two plucks a side: √(1/2 + 1/2) of one
    (0.01, 0.3, np.sqrt(0.5 * 2.0) * 0.3),  # what the measurement itself leaves open, where that is more: half of both sides' variance
])
def test_ten_partials_of_one_mind_are_ten_times_as_sure_as_their_variance(reading, series, partial, own_se, of_each):
    """The mean of ten, each as strong as the strongest, which scatter by half of it; of what all share there is √2·a day's only here. That
    the ten agree makes them no surer than plucks are."""
    figure = changed(reading, series, scatter=Scatter(partial, 0.0), own_se=own_se)
    assert figure.value == pytest.approx(np.log(2.0))
    assert figure.se == pytest.approx(np.hypot(0.5 * of_each / np.sqrt(10.0), np.sqrt(2.0) * A_DAY), rel=0.01)


def test_what_all_partials_of_a_pluck_share_is_not_averaged_over_them_but_over_plucks(reading, series):
    few, many = (changed(reading, series, scatter=Scatter(0.001, 0.1), own_se=0.001, n_plucks=n) for n in (2, 8))
    assert few.se == pytest.approx(np.hypot(0.1, np.sqrt(2.0) * A_DAY), rel=0.01)
    assert many.se == pytest.approx(np.hypot(0.05, np.sqrt(2.0) * A_DAY), rel=0.01)


@pytest.mark.parametrize("unknown", ["decay", "now", "fresh"])
def test_what_is_not_known_contradicts_nothing(reading, series, unknown):
    f = series(220.0, 1e-4, 10)
    pairs = pair_partials(reading(f, log_decay=np.full(10, 0.8)), reading(f))
    known = {"decay": decay_change(pairs, Scatter(0.05, 0.02), n_now=2, n_fresh=2), "now": Figure(4.0, 0.1), "fresh": Figure(4.0, 0.1)}
    assert is_contradicted(*known.values())
    without = replace(known["decay"], all=TOO_FEW) if unknown == "decay" else UNKNOWN
    assert not is_contradicted(*(known | {unknown: without}).values())

"""Numbers ready to be drawn."""

import math
from dataclasses import replace
from datetime import date

import pytest

from toneprobe.book.entries import StoredCondition
from toneprobe.condition import Condition
from toneprobe.measure.figure import Figure
from toneprobe.report.series import brightness_change, history, partial_points, ratio, ring_change
from toneprobe.session import PartialReading, Reading

BLANK = Condition("4C", "Cb4", "sound", 1.0, 1.0, 2, (), "", {}, {})


def test_ratio_carries_both_errors():
    found = ratio(Figure(2.0, 0.2), Figure(4.0, 0.2))
    assert found.value == pytest.approx(0.5)
    assert found.se == pytest.approx(0.5 * math.hypot(0.1, 0.05))  # derived: relative errors add in square


@pytest.mark.parametrize(("now", "fresh", "reason"), [
    (Figure(None, reason="too short"), Figure(1.0), "too short"), (Figure(1.0), Figure(None, reason="clipped"), "clipped"),
    (None, Figure(1.0), "not measured"), (Figure(1.0), None, "no fresh baseline"), (Figure(0.0), Figure(1.0), "not a ratio")])
def test_ratio_keeps_the_reason(now, fresh, reason):
    assert ratio(now, fresh) == Figure(None, reason=reason)


def test_the_condition_s_own_comparison_comes_first():
    """ln 2 less decay time is half; the two figures would have said a quarter less."""
    condition = replace(BLANK, figures={"t60_s": Figure(3.0, 0.1)}, fresh={"t60_s": Figure(4.0, 0.1)},
                        changes={"decay": Figure(math.log(2.0), 0.1), "brightness": Figure(None, reason="another recorder")})
    assert ring_change(condition).value == pytest.approx(0.5)
    assert ring_change(condition).se == pytest.approx(0.05)  # derived: relative error 0.1 of 0.5
    assert brightness_change(condition) == Figure(None, reason="another recorder")
    assert ring_change(replace(condition, changes={})).value == pytest.approx(0.75)


def test_brightness_takes_the_centroid_that_holds_in_another_room():
    figures = {"centroid_partials_hz": Figure(800.0), "centroid_hz": Figure(900.0)}
    fresh = {"centroid_partials_hz": Figure(1000.0), "centroid_hz": Figure(1000.0)}
    assert brightness_change(replace(BLANK, figures=figures, fresh=fresh)).value == pytest.approx(0.8)
    partly = {"centroid_partials_hz": Figure(None, reason="too few partials"), "centroid_hz": Figure(900.0)}
    assert brightness_change(replace(BLANK, figures=partly, fresh=fresh)).value == pytest.approx(0.9)


def reading(freqs_hz, pitch_hz, b, log_decay=0.0):
    partials = tuple(PartialReading(n, Figure(freq), Figure(log_decay, 0.05), Figure(-3.0 * n)) for n, freq in freqs_hz)
    return Reading("4C", "C4", 1, 40.0, {"pitch_hz": Figure(pitch_hz), "inharmonicity": Figure(b)}, partials)


def test_partials_of_a_plain_steel_string_lie_on_its_series():
    # Partials of a published string (Fletcher 1964: B 3.8847e-4, f0 261.6256 Hz), n = 1, 2, 5, 10, 16; the last one set 10 cents sharp.
    freqs_hz = [(1, 261.6764), (2, 523.6576), (5, 1314.4647), (10, 2666.5882), (16, 4389.2207 * 2 ** (10 / 1200))]
    points = partial_points(reading(freqs_hz, 261.6764, 3.8847e-4))
    assert [point.astray_cents for point in points] == pytest.approx([0, 0, 0, 0, 10], abs=0.01)


def test_decay_time_of_a_partial():
    # T60 = 6.9078·τ (definition); δ = 2/s is τ = 0.5 s; an error of 0.05 in ln δ is 5 % of T60 (derived).
    point = partial_points(reading([(1, 100.0)], 100.0, 0.0, math.log(2.0)))[0]
    assert point.t60_s == pytest.approx(3.4539, abs=1e-3)
    assert point.t60_se_s == pytest.approx(0.05 * 3.4539, abs=1e-3)


def test_a_series_that_is_not_known_leaves_the_distance_open():
    assert partial_points(reading([(1, 100.0)], 100.0, None))[0].astray_cents is None
    assert partial_points(None) == ()


def test_a_stiffness_too_small_to_be_told_leaves_the_partials_their_places():
    """Of a string without stiffness partial n lies at n·f1: 300 Hz of 100 Hz; the fourth is set 10 cents sharp (derived here)."""
    heard = reading([(3, 300.0), (4, 400.0 * 2 ** (10 / 1200))], 100.0, None)
    why = Figure(None, reason="the inharmonicity is too small to be told from none by the 18 partials that could be followed")
    points = partial_points(replace(heard, figures=heard.figures | {"inharmonicity": why}))
    assert [point.astray_cents for point in points] == pytest.approx([0.0, 10.0], abs=1e-6)
    why = Figure(None, reason="the partials are too few or too scattered for the inharmonicity")
    points = partial_points(replace(heard, figures=heard.figures | {"inharmonicity": why}))
    assert [point.astray_cents for point in points] == [None, None]


def test_history_is_in_order_of_days():
    stored = [StoredCondition(n, date(2025, month, 1), 7, BLANK) for n, month in ((1, 5), (2, 3), (3, 4))]
    assert [point.date.month for point in history(stored)] == [3, 4, 5]
    assert {point.fitting_id for point in history(stored)} == {7}

"""Trends against slopes counted by hand and Kendall's own table of ranks, and what is said of them."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from toneprobe.trend import TrendPoint, fit_trend, threshold_crossing, trend_sentence

DAY_0 = date(2024, 1, 15)
REACHED = "a quarter of its ring will be gone"


def told(points, threshold):
    return trend_sentence(fit_trend(points), threshold, reached=REACHED)


def history(values, every_days=30):
    return [TrendPoint(DAY_0 + timedelta(days=i * every_days), float(v)) for i, v in enumerate(values)]


def test_slope_and_interval_counted_by_hand():
    """Of 0, 2, 1, 5, 4, 9 the fifteen slopes between pairs, in order: −1 −1 0.5 0.67 1 1.5 1.5 1.67 1.75 1.8 2 2 2.67 4 5, the middle one
    1.67. Sen 1968: half the interval is 1.96·√(6·5·17/18) = 10.43 ranks, so the bounds are the slopes at ranks 2 and 14 (12.7 up, next)."""
    trend, a_step = fit_trend(history([0.0, 2.0, 1.0, 5.0, 4.0, 9.0])), 365.25 / 12 / 30
    assert trend.per_month == pytest.approx(5.0 / 3.0 * a_step)
    assert (trend.low_per_month, trend.high_per_month) == pytest.approx((-1.0 * a_step, 4.0 * a_step))


def test_a_third_of_wild_readings_does_not_bend_the_slope():
    values = 0.03 * np.arange(9.0)  # log change 0.03 a month
    values[[2, 5, 7]] = (1.5, -1.0, 2.0)
    trend = fit_trend(history(values, every_days=30))
    assert trend.per_month == pytest.approx(0.03 * 365.25 / 12 / 30, rel=0.15)  # derived: exact without the three
    straight = np.polyfit(np.arange(9.0), values, 1)[0]  # least squares is bent: this is what the assertion would catch
    assert abs(straight - 0.03) > 0.15 * 0.03


SETTINGS = [(4, 0.06), (6, 0.03), (8, 0.025), (12, 0.02), (12, 0.03), (20, 0.015)]  # readings, true rise from one to the next


def drawn(n_readings, step, seed, n_runs=400):
    """Straight rises from 0.15 with a scatter of 0.03: what was fitted, and the value on the last day."""
    rng = np.random.default_rng(seed)
    true = 0.15 + step * np.arange(n_readings)
    return [fit_trend(history(true + rng.normal(0, 0.03, n_readings))) for _ in range(n_runs)], float(true[-1])


@pytest.mark.parametrize(("n_readings", "step"), SETTINGS)
def test_the_threshold_lies_in_the_named_interval_nine_times_in_ten(n_readings, step):
    trends, _ = drawn(n_readings, step, 3)
    crossings = [found for found in (threshold_crossing(trend, 0.5) for trend in trends) if found]
    truth = DAY_0 + timedelta(days=round(30 * (0.5 - 0.15) / step))  # derived: when the straight line is there
    inside = sum(one.earliest <= truth and (one.latest is None or truth <= one.latest) for one in crossings)
    assert len(crossings) > 100
    assert inside / len(crossings) >= 0.9  # simulated: 95 to 99 %; with a level's error that forgets the slope's 80 % of twelve readings


@pytest.mark.parametrize("n_readings", [4, 5, 6, 8, 12, 20])
@pytest.mark.parametrize("told_se", [None, 0.06])
def test_the_middle_level_lies_in_its_interval_19_times_in_20(n_readings, told_se):
    """Drawn here: 1000 straight rises with a scatter of 0.03; a change of 0.06 told has half of it of its own sweep, which is the truth.
    95 % are asked for. By the scatter of the middle half and 1.96 errors it is 79, 76, 82 and 89 % of 4, 5, 6 and 8 readings
    that tell no error."""
    rng, true = np.random.default_rng(12), 0.15 + 0.02 * np.arange(n_readings)
    inside = []
    for _ in range(1000):
        points = [TrendPoint(one.date, one.value, told_se) for one in history(true + rng.normal(0.0, 0.03, n_readings))]
        trend = fit_trend(points)
        inside.append(abs(trend.middle_level - true.mean()) <= trend.middle_doubt)
    assert 0.925 <= np.mean(inside) <= (0.98 if told_se is None else 1.0)


def test_two_sweeps_of_one_day_are_one_reading():
    """They share the day's air and hand: a rise read once more on each of its days is known no better, and two days more are not four."""
    points = history([0.02, 0.06, 0.08, 0.12, 0.14, 0.18])
    once, twice = fit_trend(points), fit_trend([*points, *points])
    assert twice.middle_se == pytest.approx(once.middle_se) and twice.middle_doubt == pytest.approx(once.middle_doubt)
    assert (twice.low_per_month, twice.high_per_month) == pytest.approx((once.low_per_month, once.high_per_month))
    assert twice.n_readings == 12  # of so many sweeps it is told
    assert fit_trend([*points[:3], *points[:3]]) is None


@pytest.mark.parametrize(("n_readings", "step"), SETTINGS)
def test_the_level_on_the_last_day_lies_within_its_error(n_readings, step):
    """95 of 100 within 1.96 errors, by what they say; without the slope's share 49 of four readings, 65 of twelve (simulated)."""
    trends, level = drawn(n_readings, step, 4)
    assert np.mean([abs(trend.level - level) <= 1.96 * trend.level_se for trend in trends]) >= 0.91


@pytest.mark.parametrize(("n_readings", "step", "level_share"), [(6, 0.03, 0.4), (12, 0.02, 0.7), (20, 0.015, 0.7)])
def test_the_level_is_not_said_to_be_less_sure_than_it_is(n_readings, step, level_share):
    """What the levels of 400 drawn rises scatter by, over what is said: 0.88 to 0.93 in the middle, 0.87 to 0.9 on the last day of twelve
    and twenty, 0.53 of six, whose slope Kendall's ranks bound coarsely (simulated); 1 is expected."""
    trends, level = drawn(n_readings, step, 7)
    of_middle = np.std([trend.middle_level for trend in trends]) / np.sqrt(np.mean([trend.middle_se**2 for trend in trends]))
    of_level = np.std([trend.level for trend in trends]) / np.sqrt(np.mean([trend.level_se**2 for trend in trends]))
    assert 0.8 < of_middle < 1.1 and level_share < of_level < 1.1


@pytest.mark.parametrize("n_readings", [12, 20])
def test_the_baseline_s_own_error_moves_the_dates_apart(n_readings):
    """A rise of 0.22 over all readings with a scatter of 0.03 whose baseline is off by 0.05, so that all are off alike; each tells both. Of
    100 named intervals 2.5 are expected to begin after the truth; where nothing is known of the baseline 5 and more do (simulated)."""
    rng, step, early = np.random.default_rng(11), 0.22 / (n_readings - 1), {0.0: [], float(np.hypot(0.03, 0.05)): []}
    truth = DAY_0 + timedelta(days=round(30 * 0.288 / step))  # derived: when the straight line is there
    for _ in range(500):
        values = step * np.arange(n_readings) + rng.normal(0.0, 0.03, n_readings) + rng.normal(0.0, 0.05)
        for se, begins_late in early.items():
            crossing = threshold_crossing(fit_trend([TrendPoint(one.date, one.value, se) for one in history(values)]), 0.288)
            begins_late += [crossing.earliest > truth] if crossing else []
    unknown, known = (np.mean(begins_late) for begins_late in early.values())
    assert known <= 0.025 and unknown > 0.04


def test_readings_that_lie_on_one_line_by_chance_are_no_surer_than_their_own_errors():
    """Five of six on a line: the median distance from it is 0. Each change has an error of 0.08, half of which at least is its sweep's own
    (see OWN_SHARE), and a median's error is √(π/2)/√n of that: 0.0205, derived here. With no error told the one that lies 0.01 off tells:
    its square over six less a sixth, and over 6 − 2, gives a scatter of 0.00456 and an error of 0.0023."""
    points = [TrendPoint(one.date, one.value, 0.08) for one in history([0.0, 0.03, 0.06, 0.10, 0.12, 0.15])]
    assert fit_trend(points).middle_se == pytest.approx(0.0205, abs=2e-4)
    assert fit_trend(history([0.0, 0.03, 0.06, 0.10, 0.12, 0.15])).middle_se == pytest.approx(0.0023, abs=1e-4)


def test_pure_noise_is_hardly_ever_told_as_a_trend():
    rng = np.random.default_rng(4)
    said = [told(history(rng.normal(0.1, 0.05, 8)), 0.3) for _ in range(400)]
    assert sum(text != "" for text in said) <= 0.05 * 400  # 2.5 % by the lower 95 % bound; more with a bound on the wrong rank


def uneven(readings):
    return [TrendPoint(date.fromisoformat(day), value, se) for day, value, se in readings]


def test_a_rise_within_what_its_readings_are_known_to_is_none():
    """A healthy string in four sweeps (made up, as told in the book of a harp): −6 % ± 18, −12 % ± 24, −14 % ± 20, −26 % ± 16. Each reads
    less than the one before, as one of 24 orders does. Derived here: from 117.75 days the days lie −117.75, −61.75, 58.25 and 121.25 off,
    so the slope's error is √407.6 / 35773 a day, 0.0172 a month; the slope is 0.0288, and twice the error 0.0344."""
    readings = [("2026-01-10", 0.060, 0.091), ("2026-03-07", 0.128, 0.136), ("2026-07-04", 0.148, 0.115), ("2026-09-05", 0.295, 0.110)]
    trend = fit_trend(uneven(readings))
    assert (trend.per_month, trend.told_se_per_month) == pytest.approx((0.0288, 0.0172), abs=2e-4)
    assert trend.low_per_month > 0.0 and trend.level > 0.288 and not trend.rises
    assert told(uneven(readings), 0.288) == ""
    half = uneven([(day, value, se / 2.0) for day, value, se in readings])  # the same from more plucks: twice the error is 0.0172
    assert told(half, 0.288) == "It has been getting worse over 4 sweeps since January 2026."


def test_nothing_is_said_while_the_last_reading_is_within_its_own_error():
    """A change within ± means nothing: 0.3 ± 0.32 as the last of readings that rise without any doubt."""
    surely = [TrendPoint(one.date, one.value, 0.01) for one in history([0.10, 0.15, 0.20, 0.25, 0.30])]
    assert told(surely, 0.29) == "It has been getting worse over 5 sweeps since January 2024."
    assert told([*surely[:-1], TrendPoint(surely[-1].date, 0.30, 0.16)], 0.29) == ""


@pytest.mark.parametrize(("values", "every_days"), [((0.1, 0.2, 0.3), 30), ((0.1, 0.2, 0.3, 0.4), 10), ((), 30)])
def test_too_few_or_too_short_says_nothing(values, every_days):
    trend = fit_trend(history(values, every_days))
    assert trend is None
    assert trend_sentence(trend, 0.3, reached=REACHED) == ""


def test_a_falling_or_level_figure_says_nothing():
    assert told(history([0.3, 0.25, 0.2, 0.15, 0.1]), 0.4) == ""
    assert told(history([0.1] * 6), 0.4) == ""


def test_a_date_far_beyond_what_was_seen_is_not_named():
    assert told(history(0.002 * np.arange(6.0)), 0.3) == ""


def test_the_sentence_names_months_and_makes_no_promise_of_a_break():
    values = [0.02, 0.06, 0.08, 0.12, 0.14, 0.18, 0.2, 0.24]
    text = told(history(values), 0.29)
    assert "between" in text and "and" in text and "2024" in text
    assert "break" not in text
    past = told(history([0.1, 0.2, 0.3, 0.4, 0.5]), 0.29)
    assert past == "It has been getting worse over 5 sweeps since January 2024."


def test_a_harp_of_healthy_strings_is_hardly_ever_told_that_one_is_on_the_way():
    """0.07 is what a ring's log ratio scatters by from two plucks (measured on a lever harp). By the rank bound alone, one string of 47
    rises by chance in most sweeps; half way none may be."""
    rng = np.random.default_rng(5)
    harps = [[told(history(rng.normal(0.0, 0.07, 8)), 0.288) for _ in range(47)] for _ in range(20)]
    assert sum(text != "" for harp in harps for text in harp) <= 2
    rising = [fit_trend(history(rng.normal(0.0, 0.07, 8))).rises for _ in range(47 * 20)]
    assert sum(rising) > 10  # so it is the half way that keeps them out


def test_no_day_is_named_farther_ahead_than_half_as_long_again_as_was_observed():
    rng, n_named = np.random.default_rng(6), 0
    for _ in range(200):
        trend = fit_trend(history(0.02 * np.arange(8) + rng.normal(0, 0.03, 8)))
        crossing = threshold_crossing(trend, 0.288)
        if crossing:
            n_named += 1
            assert crossing.latest is None or (crossing.latest - trend.last).days <= 1.5 * (trend.last - trend.first).days + 1
    assert n_named > 50


def test_order_of_the_readings_does_not_matter():
    points = history([0.02, 0.06, 0.08, 0.12, 0.14, 0.18])
    assert fit_trend(points[::-1]) == fit_trend(points)

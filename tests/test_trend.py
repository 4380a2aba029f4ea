"""Trends against slopes counted by hand and Kendall's own table of ranks, and what is said of them."""

from datetime import date, timedelta

import numpy as np
import pytest
from scipy.stats import linregress
from scipy.stats import t as student

from toneprobe.report.outlook import trend_sentence
from toneprobe.trend import TrendPoint, fit_trend, threshold_crossing

DAY_0 = date(2024, 1, 15)
REACHED = ("a quarter of its ring", "gone")


def told(points, threshold):
    return trend_sentence(fit_trend(points), threshold, *REACHED)


def history(values, every_days=30):
    return [TrendPoint(DAY_0 + timedelta(days=i * every_days), float(v)) for i, v in enumerate(values)]


def test_slope_and_its_low_end_counted_by_hand():
    """Of 0, 2, 1, 5, 4, 9 the fifteen slopes between pairs, in order: −1 −1 0.5 0.67 1 1.5 1.5 1.67 1.75 1.8 2 2 2.67 4 5, the middle one
    1.67. Sen 1968: half the interval is 1.96·√(6·5·17/18) = 10.43 ranks, so its low end is the slope at rank 2."""
    trend, a_step = fit_trend(history([0.0, 2.0, 1.0, 5.0, 4.0, 9.0])), 365.25 / 12 / 30
    assert trend.per_month == pytest.approx(5.0 / 3.0 * a_step)
    assert trend.low_per_month == pytest.approx(-1.0 * a_step)


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
    assert len(crossings) > 50
    assert inside / len(crossings) >= 0.9  # simulated: 95 to 99 %; with a level's error that forgets the slope's 80 % of twelve readings


def test_two_sweeps_of_one_day_are_one_reading():
    """They share the day's air and hand: a rise read once more on each of its days is known no better, and two days more are not four."""
    points = history([0.02, 0.06, 0.08, 0.12, 0.14, 0.18])
    once, twice = fit_trend(points), fit_trend([*points, *points])
    assert threshold_crossing(twice, 0.25) == threshold_crossing(once, 0.25) is not None
    assert twice.low_per_month == pytest.approx(once.low_per_month)
    assert twice.n_readings == 12  # of so many sweeps it is told
    assert fit_trend([*points[:3], *points[:3]]) is None


def test_the_baseline_s_own_error_moves_the_dates_apart():
    """A rise of 0.22 over all readings with a scatter of 0.03 whose baseline is off by 0.05, so that all are off alike; each tells both. Of
    100 named intervals 2.5 are expected to begin after the truth; where nothing is known of the baseline 12 and more do (simulated)."""
    n_readings, rng, early = 12, np.random.default_rng(11), {0.0: [], float(np.hypot(0.03, 0.05)): []}
    step = 0.22 / (n_readings - 1)
    truth = DAY_0 + timedelta(days=round(30 * 0.288 / step))  # derived: when the straight line is there
    for _ in range(500):
        values = step * np.arange(n_readings) + rng.normal(0.0, 0.03, n_readings) + rng.normal(0.0, 0.05)
        for se, begins_late in early.items():
            crossing = threshold_crossing(fit_trend([TrendPoint(one.date, one.value, se) for one in history(values)]), 0.288)
            begins_late += [crossing.earliest > truth] if crossing else []
    unknown, known = (np.mean(begins_late) for begins_late in early.values())
    assert known <= 0.04 and unknown > 0.06


SIX_ON_A_LINE = history(0.03 + 0.02 * np.arange(6.0))


def test_readings_that_lie_on_one_line_by_chance_are_no_surer_than_their_own_errors():
    """Six on a line, 0.02 apart, the last at 0.13: with no error told they come to 0.14 half of 30 days later (derived here), to the day.
    Where changes of 0.04 are told, half of each at least the sweep's own and half the baseline's, 0.01 is far within what is not known."""
    sure = threshold_crossing(fit_trend(SIX_ON_A_LINE), 0.14)
    assert abs((sure.earliest - DAY_0).days - 165) <= 2 and (sure.latest - sure.earliest).days <= 2 and not sure.may_be_past
    unsure = threshold_crossing(fit_trend([TrendPoint(one.date, one.value, 0.04) for one in SIX_ON_A_LINE]), 0.14)
    assert unsure.may_be_past and unsure.latest is None


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


def test_a_reading_without_an_error_is_no_surer_than_the_others():
    """Not known is not none: the last is told as the middle of the others, by which 0.3 ± 0.32 means nothing."""
    unsure = [TrendPoint(one.date, one.value, 0.16) for one in history([0.10, 0.15, 0.20, 0.25, 0.30])]
    assert told([*unsure[:-1], TrendPoint(unsure[-1].date, 0.30)], 0.29) == told(unsure, 0.29) == ""
    assert not fit_trend([*unsure[:-1], TrendPoint(unsure[-1].date, 0.30)]).last_is_beyond_doubt


@pytest.mark.parametrize(("values", "every_days"), [((0.1, 0.2, 0.3), 30), ((0.1, 0.2, 0.3), 90), ((0.1, 0.2, 0.3, 0.4), 19), ((), 30)])
def test_too_few_or_too_short_says_nothing(values, every_days):
    """Three readings are none, however far apart, nor are four within 57 days (set: two months)."""
    trend = fit_trend(history(values, every_days))
    assert trend is None
    assert trend_sentence(trend, 0.3, *REACHED) == ""


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
    assert n_named > 30


def test_no_earliest_month_is_named_farther_ahead_than_that():
    """Five readings on a line, 0.002 from one to the next, the last at 0.158: to 0.3 it is 71 times 30 days, 17.75 times what was observed
    (derived here), so no day is left that 1.5 times reach. From 0.288 down to 0.17 it is six times 30 days, 1.5 times, and one is named."""
    points = history(0.150 + 0.002 * np.arange(5.0))
    assert threshold_crossing(fit_trend(points), 0.3) is None and told(points, 0.3) == ""
    assert threshold_crossing(fit_trend(points), 0.1699) is not None and threshold_crossing(fit_trend(points), 0.1705) is None


def monthly(rng, truth, *, scatter=0.06, baseline=0.03, told_share=0.65, n_months=18):
    """Readings as a player's book has them: `truth` of the day, the sweep's own scatter, one error of the baseline, both told too large."""
    own, se = rng.normal(0.0, baseline), float(np.hypot(scatter, baseline)) / told_share
    days = np.maximum(np.round(30.4 * np.arange(n_months)) + rng.integers(-4, 5, n_months), 0)
    return [TrendPoint(DAY_0 + timedelta(days=int(day)), truth(day) + own + rng.normal(0.0, scatter), se) for day in days]


def crossings(points, threshold=0.288):
    """Sweep by sweep: the day of the last reading, and what is foretold then."""
    found = [(points[n - 1].date, threshold_crossing(fit_trend(points[:n]), threshold)) for n in range(4, len(points) + 1)]
    return [(day, crossing) for day, crossing in found if crossing]


def a_jump(rng):
    when = rng.uniform(60.0, 400.0)
    return lambda day: 0.2 * (day >= when)


def a_cycle(rng):
    phase = rng.uniform(0.0, 2.0 * np.pi)
    return lambda day: 0.15 * (np.sin(2.0 * np.pi * day / 365.25 + phase) - np.sin(phase))


@pytest.mark.parametrize(("make", "scatter", "most"), [(a_jump, 0.06, 0.3), (a_jump, 0.03, 0.15), (a_cycle, 0.03, 0.28)])
def test_what_jumped_once_or_swings_with_the_seasons_has_no_date(make, scatter, most):
    """None is true, for neither goes on. By the line alone a date was
    named in 71, 87 and 40 of 100 histories of 18 months; now 15, 3, 13."""
    rng = np.random.default_rng(21)
    dated = [bool(crossings(monthly(rng, make(rng), scatter=scatter, baseline=0.5 * scatter))) for _ in range(40)]
    assert np.mean(dated) <= most


def test_a_rise_that_is_over_has_no_date_half_a_year_on():
    """0.04 a month for five months and level since: at twelve months seven or eight sweeps show it."""
    rng = np.random.default_rng(22)
    over = [fit_trend(monthly(rng, lambda day: 0.04 * min(day / 30.4, 5.0), scatter=0.03, baseline=0.01, n_months=13)) for _ in range(40)]
    assert np.mean([trend.rises for trend in over]) > 0.7  # so it is not the slope that keeps the dates away
    assert np.mean([threshold_crossing(trend, 0.288) is not None for trend in over]) <= 0.05


@pytest.mark.parametrize(("step", "scatter", "least"), [(0.02, 0.06, 0.7), (0.02, 0.02, 1.0), (0.04, 0.06, 0.25)])
def test_sweep_by_sweep_up_to_the_threshold_and_beyond_nine_in_ten_are_true(step, scatter, least):
    """Straight rises keep their sentences: of 100 histories 96, 100 and 60 had one by the line alone, 85, 100 and 42 now. Sweeps after the
    threshold was reached count too: there a first month from that day on would be untrue, as 72 of 205 were at 0.02 with a scatter of
    0.06. The truth is the day on which the line is there (derived)."""
    rng, n_dated, true, later = np.random.default_rng(23), 0, [], []
    truth = DAY_0 + timedelta(days=30.4 * 0.288 / step)
    for _ in range(40):
        said = crossings(monthly(rng, lambda day: step * day / 30.4, scatter=scatter, baseline=0.5 * scatter))
        n_dated += bool(said)
        true += [(one.may_be_past or one.earliest <= truth) and (one.latest is None or truth <= one.latest) for _, one in said]
        later += [one.may_be_past for day, one in said if day >= truth + timedelta(days=45)]
    assert later and all(later)  # of 40 histories a few say something still so late
    assert n_dated >= least * 40 and np.mean(true) >= 0.9


def test_the_days_of_a_line_without_doubt_are_a_textbook_s():
    """Twenty-four readings 0.01 to either side of a line of 0.01, by turns, which no other shape explains: another library's least squares,
    and Student's t of the level by each day (derived here day for day)."""
    points = history(0.01 * np.arange(24.0) + 0.01 * (-1.0) ** np.arange(24))
    days, values = 30.0 * np.arange(24.0), np.array([one.value for one in points])
    line, ahead = linregress(days, values), days[-1] + np.arange(0.0, 400.0)
    left = values - line.intercept - line.slope * days
    se = np.sqrt((left**2).sum() / 22.0 * (1.0 / 24.0 + (ahead - days.mean()) ** 2 / ((days - days.mean()) ** 2).sum()))
    chances = student.cdf((line.intercept + line.slope * ahead - 0.3) / se, 22)
    crossing = threshold_crossing(fit_trend(points), 0.3)
    for found, chance in ((crossing.earliest, 0.05), (crossing.latest, 0.975)):
        assert (found - points[-1].date).days == pytest.approx(np.argmax(chances >= chance), abs=8)


def levelling(at, months):
    return lambda rng: lambda day: at * (1.0 - np.exp(-day / (30.4 * months)))


def two_steps(rng):
    one, other = rng.uniform(60.0, 420.0, 2)
    return lambda day: 0.11 * (day >= one) + 0.11 * (day >= other)


@pytest.mark.parametrize("make", [levelling(0.25, 6.0), two_steps])
def test_what_levels_off_or_came_in_two_steps_has_no_last_month(make):
    """Neither ever comes to 0.288, so every last month named is untrue: by the line alone 76 and 87 in 100 dates had one. A straight
    rise that is well read keeps its own (the test after this one)."""
    rng = np.random.default_rng(31)
    said = [one for _ in range(40) for _, one in crossings(monthly(rng, make(rng), scatter=0.03, baseline=0.02))]
    assert len(said) > 20 and np.mean([one.latest is not None for one in said]) <= 0.15


def test_a_straight_rise_well_read_has_a_last_month():
    rng = np.random.default_rng(32)
    said = [one for _ in range(15) for _, one in crossings(monthly(rng, lambda day: 0.02 * day / 30.4, scatter=0.02, baseline=0.01))]
    assert np.mean([one.latest is not None for one in said]) > 0.4


def test_wear_that_quickens_comes_no_earlier_than_is_said():
    """0.0012·t² a month squared is at 0.288 after 15.5 months (derived here). By the line alone 38 of 271 first months came after it."""
    rng, truth = np.random.default_rng(33), DAY_0 + timedelta(days=30.4 * (0.288 / 0.0012) ** 0.5)
    histories = [monthly(rng, lambda day: 0.0012 * (day / 30.4) ** 2, scatter=0.03, baseline=0.02) for _ in range(20)]
    said = [one for points in histories for _, one in crossings(points)]
    assert np.mean([one.earliest > truth and not one.may_be_past for one in said]) <= 0.05


def test_may_be_already_is_said_only_where_it_may():
    """At 0.02 a month with a scatter of 0.03 the threshold comes in the fifteenth month. By the ends of the line's interval it was said
    of 54 in 100 dates, of which 9 in 100 were past it."""
    rng, truth = np.random.default_rng(34), DAY_0 + timedelta(days=30.4 * 14.4)
    said = [pair for _ in range(20) for pair in crossings(monthly(rng, lambda day: 0.02 * day / 30.4, scatter=0.03, baseline=0.02))]
    assert np.mean([one.may_be_past for _, one in said]) < 0.4
    assert np.mean([one.may_be_past for day, one in said if day < truth - timedelta(days=120)]) <= 0.05
    assert np.mean([one.may_be_past or day < truth for day, one in said]) >= 0.95


def test_what_may_have_happened_is_not_put_into_the_future():
    """Twelve readings from 0 to 0.264, each ± 0.1, half of which at least is the baseline's: 0.288 is 0.024 away, and the level is not
    known to within 0.05."""
    points = [TrendPoint(one.date, one.value, 0.1) for one in history(0.024 * np.arange(12.0))]
    assert told(points, 0.288) == (
        "If it goes on as steadily as over 12 sweeps since January 2024, a quarter of its ring will be gone by August 2025, and may be "
        "already. "
        "Over less than a year and a half the season may have a part in it.")
    no_end = [TrendPoint(one.date, one.value, 0.04) for one in SIX_ON_A_LINE]
    assert told(no_end, 0.14).startswith("Going by 6 sweeps since January 2024, a quarter of its ring may be gone already. ")


def test_a_date_without_an_end_says_what_would_keep_it_away():
    """Eight readings about a line whose slower end, or a rise that levels off, never comes to 0.288."""
    points = [TrendPoint(one.date, one.value, 0.06) for one in history([0.03, 0.04, 0.09, 0.09, 0.11, 0.14, 0.15, 0.17])]
    assert told(points, 0.288).startswith("If it goes on as steadily as over 8 sweeps since January 2024, a quarter of its ring will be ")
    assert "at the earliest, or never if it slows down. " in told(points, 0.288)


def test_after_a_year_and_a_half_no_season_is_spoken_of():
    long, short = (told(history(0.24 / n * np.arange(n + 1.0)), 0.288) for n in (19, 18))  # 570 and 540 days
    assert "season" in short and long and "season" not in long


def test_order_of_the_readings_does_not_matter():
    points = history([0.02, 0.06, 0.08, 0.12, 0.14, 0.18])
    assert fit_trend(points[::-1]) == fit_trend(points)

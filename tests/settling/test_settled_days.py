"""The day on which strings of known law settle, found again through noise, retunings and weather."""

from datetime import timedelta

import numpy as np
import pytest
from sounds.checked_strings import PUT_ON, FlowString, LogString, SlippingString, play, play_daily, true_day
from sounds.heard_pitch import heard

from toneprobe.settling import PitchReading, judge_settling, usual_prior

# Material, A in cents per factor of e, τ in days: they settle (three cents in three days) after 0.5 to 8 days, as the trade says of
# wires (hours to two days) and of gut and nylon (days to a week or more): common practice.
LAWS = [("wire", 1.5, 0.01), ("wire", 2.0, 0.005), ("gut", 3.0, 0.01), ("gut", 4.0, 0.02), ("nylon", 5.0, 0.006), ("nylon", 6.5, 0.01),
        ("nylon", 8.0, 0.01)]


def judged(own, neighbours, material="gut"):
    return judge_settling(own, fitted_on=PUT_ON.date(), neighbours=neighbours, prior=usual_prior(material, cents_per_day=1.0))


def first_settled(own, neighbours, material):
    """The verdict at the first check at which the string is called settled."""
    for n in range(3, len(own) + 1):
        if (found := judged(own[:n], neighbours, material)).state == "settled":
            return found, own[n - 1].at
    return None, None


def trials(make, seeds, material, **options):
    """(days off, is the truth in the range, days from truth to verdict) for each seed."""
    rows = []
    for seed in seeds:
        string = make()
        own, neighbours = play(string, np.random.default_rng(seed), **options)
        found, at = first_settled(own, neighbours, material)
        truth = true_day(string)
        assert found is not None
        within = found.settled.early <= truth.date() <= found.settled.late
        rows.append(((found.settled_on - truth.date()).days, within, (at - truth).total_seconds() / 86400.0))
    return np.array(rows, dtype=float)


def test_settled_day_within_one_of_truth_in_nine_of_ten():
    rows = np.concatenate([trials(lambda a=a, tau=tau: LogString(a, tau), range(4), material) for material, a, tau in LAWS])
    assert len(rows) == 28
    assert np.mean(np.abs(rows[:, 0]) <= 1) >= 0.88  # nine in ten are 25.2 of 28
    assert abs(rows[:, 0].mean()) < 0.4
    assert np.mean(rows[:, 1]) >= 0.8  # an 80 % range, rounded outwards to days
    assert np.mean(rows[:, 2] < -1.0) < 0.1  # hardly ever called settled a day too early


def test_a_string_of_another_law_is_still_covered_by_the_range():
    """Flow with hardening is not the law that the package weighs: the range must allow for that."""
    rows = trials(lambda: FlowString(30.0, 4.0, 600.0), range(6), "gut")
    assert np.mean(rows[:, 1]) >= 0.75
    assert np.abs(rows[:, 0]).max() <= 3


def test_a_forecast_after_a_day_and_a_half_covers_the_truth():
    covered = []
    for seed in range(20):
        string = LogString((3.0, 4.0, 5.0, 6.0)[seed % 4])
        own, neighbours = play(string, np.random.default_rng(seed))
        early = [r for r in own if (r.at - PUT_ON).days < 2]
        found = judged(early, neighbours)
        covered.append(found.settled.early <= true_day(string).date() <= found.settled.late)
    assert np.mean(covered) >= 0.75


@pytest.mark.parametrize("rate", [1.5, 3.0])
def test_a_new_string_on_a_slipping_pin_is_not_called_stretch_for_ever(rate):
    own, neighbours = play(SlippingString(rate), np.random.default_rng(5), n_days=16)
    found = judged(own, neighbours)
    assert found.state == "slipping"
    assert "pin or a knot" in found.reasons[0] and "technician" in found.next_step
    assert found.settled is None and found.settled_on is None


def test_a_stretching_string_is_never_called_slipping():
    for seed in range(6):
        own, neighbours = play(LogString(6.0), np.random.default_rng(seed))
        for n in range(4, len(own) + 1, 4):
            assert judged(own[:n], neighbours).state in ("settling", "settled", "unsure")


@pytest.mark.parametrize("scatter", [0.3, 1.0])
def test_a_steady_fall_is_not_forecast_as_stretch_that_is_over(scatter):
    """Six cents a day, tuned and checked daily: over the three days of the tolerance it falls 18 cents, six times what is allowed."""
    for seed in range(8):
        own, neighbours = play_daily(SlippingString(6.0), np.random.default_rng(seed), scatter=scatter)
        for n in range(3, len(own) + 1):
            found = judged(own[:n], neighbours, "nylon")
            assert found.state in ("settling", "slipping"), (seed, n)
            assert "may have settled" not in found.reasons[0] or n < 5, (seed, n)


def test_three_cents_every_day_are_said_to_fall_on():
    """What a tester heard of one string: 3.3, 2.7, 3.3, 3.0, 2.7 cents in a day, each ± 0.6, tuned up every day."""
    falls = (3.3, 2.7, 3.3, 3.0, 2.7)
    days = [PUT_ON + timedelta(days=1 + k) for k in range(6)]
    checks = zip(days, (3.3, *falls), strict=True)
    own = [PitchReading("3C", "C5", at, heard(-fall, 0.42), heard(0.0, 0.42)) for at, fall in checks]
    still = {name: [PitchReading(name, "D5", at, heard(0.0, 0.1)) for at in days] for name in ("2E", "3D", "3B")}
    states = [judged(own[:n], still, "nylon") for n in range(2, 7)]
    assert {found.state for found in states} == {"settling"}
    assert not any("may have settled" in found.reasons[0] for found in states[1:])
    last = states[-1]
    assert last.settled is None and last.reasons[0].startswith("still falls, and has slowed down too little for stretch alone")
    # derived here: 15 cents in 5 days are 9 in 3; a share of it may still be taken for stretch
    assert 5.0 < -last.expected_drift_cents.value <= 10.0


def test_a_fall_that_slows_down_less_than_stretch_is_not_said_to_keep_its_pace():
    """12, 6, 4 and 2.9 cents in a day, each ± 0.9. Stretch that began two hours before the first check goes as ln((2 + 24·(d + 1))/(2 +
    24·d)): 12 cents, then 3, 1.8 and 1.3 (derived). Two cents a day are left."""
    days = [PUT_ON + timedelta(days=k) for k in range(5)]
    falls = (40.0, 12.0, 6.0, 4.0, 2.9)
    own = [PitchReading("3C", "C5", at, heard(-fall, 0.64), heard(0.0, 0.64)) for at, fall in zip(days, falls, strict=True)]
    still = {name: [PitchReading(name, "D5", at, heard(0.0, 0.1)) for at in days] for name in ("2E", "3D", "3B")}
    found = judged(own, still, "nylon")
    assert found.reasons[0].startswith("still falls, and has slowed down too little for stretch alone: −")
    assert found.settled is None

"""The damping law: given back where it holds, residuals where it does not."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import nnls
from sounds.changed_plucks import CHANGES, measured
from sounds.formula_plucks import REGISTERS, FormulaPluck, render

from toneprobe.measure.damping import LEAST_PARTIALS, fit_damping, law_delta
from toneprobe.measure.figure import Partial
from toneprobe.units import LN_1000

NOISES_DB = (60, 40, 20)

# Largest errors allowed of the law's decay rate at any partial it was fitted to, as shares of the true one, in all registers: what the
# string's decay time is allowed. Single partials of equal plucks of real strings differ by 12 %, and 43 % for 9 in 10 (measured).
LAW = (0.03, 0.04, 0.1)
AIR = FormulaPluck(261.6256, 2.6e-4, t60_s=3.0, n_partials=20, loss_power=0.5)  # δ ∝ √n: air alone


def partials_with(delta: np.ndarray, *, f1_hz: float = 261.6, se: float = 0.05) -> list[Partial]:
    return [Partial(n, n * f1_hz, 0.01, 0.0, 40.0, LN_1000 / d, se * LN_1000 / d, 0.0) for n, d in enumerate(delta, start=1)]


def law(board: float, air: float, inner: float, n: int = 16, f1_hz: float = 261.6) -> np.ndarray:
    """δ(f) = board + air·√(f/kHz) + inner·(f/kHz)."""
    khz = np.arange(1, n + 1) * f1_hz / 1000
    return board + air * np.sqrt(khz) + inner * khz


@pytest.mark.parametrize("board, air, inner", [(2.0, 0.0, 0.0), (0.5, 1.0, 2.0), (1.0, 0.0, 3.0), (0.0, 2.0, 0.0)])
def test_a_law_is_given_back(board, air, inner):
    delta = law(board, air, inner)
    found = fit_damping(partials_with(delta))
    assert [law_delta(found, n * 261.6) for n in range(1, 17)] == pytest.approx(delta, rel=0.02)
    assert found.log_misfit < 0.02 and min(found.board_per_s, found.air_per_s, found.inner_per_s) >= 0.0


def test_one_partial_on_a_resonance_of_the_board_stands_out():
    delta = law(1.0, 0.5, 1.0)
    delta[4] *= 3.0
    found = fit_damping(partials_with(delta))
    assert found.log_residual[4] == pytest.approx(np.log(3.0), abs=0.2)
    assert max(abs(one) for k, one in enumerate(found.log_residual) if k != 4) < 0.2
    a, b = np.polyfit(np.arange(1, 17), np.log(delta), 1)  # a plain line through the logarithms spreads it over all
    assert max(abs(np.log(delta) - a * np.arange(1, 17) - b)[[0, 1, 2, 3, 5, 6, 7]]) > 0.2


def test_scattered_decays_of_real_strings():
    """Single partials scatter by tens of per cent between takes; the law's middle does not."""
    rng, truth = np.random.default_rng(0), law(1.0, 0.5, 1.0)
    middles = [law_delta(fit_damping(partials_with(truth * np.exp(rng.normal(0, 0.25, 16)), se=0.25)), 1500.0) for _ in range(40)]
    assert np.std(np.log(middles)) < 0.12
    assert np.median(middles) == pytest.approx(1.0 + 0.5 * np.sqrt(1.5) + 1.5, rel=0.1)


@pytest.mark.parametrize("scatter", [0.1, 0.2, 0.3, 0.4])
def test_scatter_draws_the_law_neither_up_nor_down(scatter):
    """Rates drawn about a known law, as often too high as too low by the same factor: in the mean of 200 the log of the law over the truth
    is 0, here within 0.02. Divided by the measured rates it comes out at −0.05, −0.10 and −0.2 from 0.2 on; divided by the law's own and
    fitted to the rates, not to their logs, at +0.08 for 0.4 (half the square: derived here, a log-normal's mean)."""
    rng, truth = np.random.default_rng(3), law(0.8, 0.5, 0.6, n=12)
    freq_hz = 261.6 * np.arange(1, 13)
    drawn = [fit_damping(partials_with(truth * np.exp(rng.normal(0, scatter, 12)), se=scatter)) for _ in range(200)]
    off = [np.mean(np.log([law_delta(found, hz) for hz in freq_hz] / truth)) for found in drawn]
    assert np.mean(off) == pytest.approx(0.0, abs=0.02)


def test_from_a_pluck():
    pluck = FormulaPluck(261.6256, 2.6e-4, t60_s=4.0, n_partials=16, loss_power=0.5)  # δ ∝ √n: air alone
    found = measured(render(pluck, length_s=4.0), f1_hz=pluck.f1_hz).damping
    for n in (1, 4, 9, 16):
        assert law_delta(found, float(pluck.freq_hz[n - 1])) == pytest.approx(pluck.delta[n - 1], rel=0.05)


@pytest.mark.parametrize("snr_db", NOISES_DB)
@pytest.mark.parametrize("note", REGISTERS)
def test_known_truth(note, snr_db):
    """Loss by air alone, √f: one of the law's own terms, so that what it is off by is the measurement's."""
    register = REGISTERS[note]
    for seed in (0, 1):
        pluck = register.pluck(seed=seed, loss_power=0.5)
        sound = render(pluck, length_s=register.length_s, snr_db=snr_db)
        found = measured(sound, f1_hz=pluck.f1_hz, spec=register.spec).damping
        off = [abs(law_delta(found, float(pluck.freq_hz[n - 1])) / pluck.delta[n - 1] - 1.0) for n in found.n]
        assert len(off) >= LEAST_PARTIALS and max(off) < LAW[NOISES_DB.index(snr_db)]


@pytest.fixture(scope="module")
def plain_air():
    return measured(render(AIR), f1_hz=AIR.f1_hz).damping


@pytest.mark.parametrize("change", CHANGES)
def test_no_change_of_the_recording_counts(plain_air, change):
    after = CHANGES[change](AIR).damping
    for freq_hz in AIR.freq_hz[:16]:
        assert law_delta(after, float(freq_hz)) == pytest.approx(law_delta(plain_air, float(freq_hz)), rel=0.02)


@pytest.mark.parametrize("sound", [
    np.zeros(44100), np.random.default_rng(0).normal(0.0, 0.1, 88200), render(AIR, length_s=0.03), render(AIR)[:300]],
    ids=["silence", "noise alone", "too short", "hardly begun"])
def test_what_is_no_pluck_has_no_law_and_says_why(sound):
    found = measured(sound, f1_hz=261.6256)
    assert found.damping is None
    assert found.t60_s.value is None and found.t60_s.reason and found.flags


@pytest.mark.parametrize("wild, times", [(0, 8.0), (7, 8.0)])
def test_plain_least_squares_would_follow_a_wild_partial(wild, times):
    """The same as below by the same terms, each decay weighed by its own error alone: far off where the law stays within a tenth."""
    truth = law(1.0, 0.5, 1.0, n=8)
    delta = truth * np.where(np.arange(8) == wild, times, 1.0)
    khz = np.arange(1, 9) * 0.2616
    terms = np.stack([np.ones(8), np.sqrt(khz), khz], axis=1)
    plain = terms @ nnls(terms, delta)[0]
    assert max(abs(plain / truth - 1.0)[[k for k in range(8) if k != wild]]) > 0.5


def test_the_input_stays_as_it_was():
    partials = partials_with(law(1.0, 0.5, 1.0))
    before = list(partials)
    fit_damping(partials)
    assert partials == before


def test_too_few_partials_give_none():
    assert fit_damping(partials_with(law(1.0, 0.5, 1.0)[:3])) is None
    assert fit_damping([]) is None
    unknown = [Partial(n, n * 261.6, 0.01, 0.0, 40.0, None, None, 0.0) for n in range(1, 10)]
    assert fit_damping(unknown) is None


@pytest.mark.parametrize("wild, times", [(0, 8.0), (7, 8.0), (0, 1 / 8), (7, 1 / 8)])
def test_a_wild_partial_leaves_the_law_of_the_others(wild, times):
    """The lowest or the highest of eight dies eight times as fast, or as slowly; the law of the other seven stays within a tenth."""
    truth = law(1.0, 0.5, 1.0, n=8)
    delta = truth.copy()
    delta[wild] *= times
    found = fit_damping(partials_with(delta))
    others = [n for n in range(1, 9) if n != wild + 1]
    assert [law_delta(found, n * 261.6) for n in others] == pytest.approx([truth[n - 1] for n in others], rel=0.1)


def test_an_unsure_decay_counts_less():
    """Partial 8 of 16 dies twice as fast, known to a twentieth like the others: the law is bent there. Known to a half it counts a
    hundredth of one of these (derived: 1/se²), and bends nothing."""
    truth = law(1.0, 0.5, 1.0)
    partials = partials_with(np.where(np.arange(16) == 7, 2.0, 1.0) * truth)
    unsure = [replace(one, t60_se_s=0.5 * one.t60_s) if one.n == 8 else one for one in partials]
    bent, straight = (abs(law_delta(fit_damping(of), 8 * 261.6) / truth[7] - 1.0) for of in (partials, unsure))
    assert straight < 1e-3 < 3e-3 < bent


def test_how_well_it_fits_is_the_rms_of_what_is_left():
    found = fit_damping(partials_with(law(1.0, 0.5, 1.0) * np.exp(0.2 * np.cos(np.arange(16.0)))))
    assert found.log_misfit == pytest.approx(np.linalg.norm(found.log_residual) / 4.0) and found.n == tuple(range(1, 17))

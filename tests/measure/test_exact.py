"""One damped sinusoid at the limit that noise sets; refused where more than one is there."""

import bound
import numpy as np
import pytest
from scipy import stats
from sounds.formula_plucks import PRE_S, FormulaPluck, damped, render, time_grid_s

from toneprobe.measure.damped_line import open_spectrum
from toneprobe.measure.envelope import pluck_signal
from toneprobe.measure.exact import ExactPartial, chance_limit, exact_partials
from toneprobe.units import LN_1000


def exactly(sound: np.ndarray, freq_hz: float, delta: float, *, rate_hz: float = 44100) -> ExactPartial | None:
    signal = pluck_signal(sound, rate_hz=rate_hz, pre_s=PRE_S, f1_hz=freq_hz)
    spectrum = open_spectrum(sound, signal, skip_s=0.01)
    return exact_partials(spectrum, signal, freq_hz=np.array([freq_hz]), delta=np.array([delta]))[0]


def tone(freq_hz: float, tau_s: float, *, snr_db: float, length_s: float, rate_hz: float = 44100, seed: int = 0) -> np.ndarray:
    sound = damped(time_grid_s(rate_hz, length_s), freq_hz, 1 / tau_s, phase=0.4)
    return sound + np.random.default_rng(seed).normal(0.0, np.sqrt(0.5) * 10 ** (-snr_db / 20), len(sound))


@pytest.mark.parametrize("rate_hz", [44100, 48000])
@pytest.mark.parametrize("freq_hz, tau_s", [(32.703, 2.0), (261.626, 0.6), (1046.5, 0.15), (3136.0, 0.05)])
def test_known_truth(freq_hz, tau_s, rate_hz):
    sound = tone(freq_hz, tau_s, snr_db=60.0, length_s=4 * tau_s, rate_hz=rate_hz)
    found = exactly(sound, freq_hz * 1.0003, 1.2 / tau_s, rate_hz=rate_hz)  # from a rough start
    limit = bound.cramer_rao(bound.Cell(freq_hz, tau_s, 60.0, rate_hz), length_s=4 * tau_s)
    assert found.freq_hz == pytest.approx(freq_hz, abs=5 * limit.freq_hz)
    assert found.delta == pytest.approx(1 / tau_s, abs=5 * limit.delta)
    assert found.freq_se_hz == pytest.approx(limit.freq_hz, rel=0.5)
    assert found.log_delta_se == pytest.approx(limit.delta * tau_s, rel=0.5)


def listen(sound, cell):
    found = exactly(sound, cell.freq_hz * 1.0003, 1.2 / cell.tau_s)
    return (found.freq_hz, LN_1000 / found.delta) if found else (None, None)


@pytest.mark.parametrize("freq_hz, tau_s, snr_db", [(65.4, 1.0, 40), (261.6, 0.4, 40), (523.3, 0.3, 20), (2093.0, 0.08, 30)])
def test_it_reaches_the_bound(freq_hz, tau_s, snr_db):
    """Standard deviation within 1.5 × the Cramér–Rao bound, bias below a third of it (and its own doubt), of those that it takes on."""
    cell = bound.Cell(freq_hz, tau_s, snr_db)

    row = bound.run(cell, n_runs=60, listen=listen)
    assert row.n_lost <= 6
    for errors, limit in ((row.pitch_cents, row.bound.pitch_cents(cell)), (row.decay_share, row.bound.decay_share(cell))):
        assert np.std(errors) < 1.5 * limit
        assert abs(np.mean(errors)) < limit / 3 + 2 * limit / np.sqrt(len(errors))


def test_noise_alone_refuses_no_single_mode():
    """Both powers that are compared scatter: the residual's over 25 bins, and the noise's own."""
    cell = bound.Cell(3136.0, 0.03, 40.0)

    assert bound.run(cell, n_runs=500, listen=listen).n_lost == 0


@pytest.mark.parametrize("n_bins, n_noise", [(25, 60.0), (25, 140.0), (100, 60.0), (1000, 300.0)])
def test_the_limit_is_what_chance_exceeds_once_in_a_million(n_bins, n_noise):
    """Fisher's F as scipy.stats has it: 2 real numbers a bin less the 4 fitted, over the noise's."""
    freedom = 2 * n_bins - 4
    exact = stats.f.isf(1e-6, freedom, 2 * np.log(2) ** 2 * n_noise) * freedom / (2 * n_bins)
    assert chance_limit(n_bins, n_noise) == pytest.approx(exact, rel=1e-6)


@pytest.mark.parametrize("phantom_hz, phantom_delta", [(3172.4, 0.08), (1046.6, 3.0), (2616.5, 300.0)])
def test_a_phantom_beside_it_takes_nothing_off(phantom_hz, phantom_delta):
    """A place where only noise and the true partial's skirt are found leaves that partial at its bound."""
    limit = bound.cramer_rao(bound.Cell(523.3, 0.3, 60.0), length_s=1.2)
    for seed in range(6):
        sound = tone(523.3, 0.3, snr_db=60.0, length_s=1.2, seed=seed)
        signal = pluck_signal(sound, rate_hz=44100, pre_s=PRE_S, f1_hz=523.3)
        spectrum = open_spectrum(sound, signal, skip_s=0.01)
        found = exact_partials(spectrum, signal, freq_hz=np.array([523.3, phantom_hz]), delta=np.array([1 / 0.3, phantom_delta]))[0]
        assert found.freq_hz == pytest.approx(523.3, abs=5 * limit.freq_hz)
        assert found.delta == pytest.approx(1 / 0.3, abs=5 * limit.delta)


def test_partials_are_freed_of_each_others_skirts():
    """Twelve partials at once, each as well known as if it sounded alone."""
    pluck = FormulaPluck(220.0, n_partials=12, t60_s=3.0)
    sound = render(pluck, snr_db=60.0)
    signal = pluck_signal(sound, rate_hz=44100, pre_s=PRE_S, f1_hz=220.0)
    found = exact_partials(open_spectrum(sound, signal, skip_s=0.01), signal, freq_hz=pluck.freq_hz * 1.0001, delta=pluck.delta * 1.1)
    for i, one in enumerate(found):
        assert one.freq_hz == pytest.approx(pluck.freq_hz[i], abs=5 * one.freq_se_hz)
        assert np.log(one.delta / pluck.delta[i]) == pytest.approx(0.0, abs=5 * one.log_delta_se)
        power = pluck.amplitude[i] ** 2 / 2 / (np.sum(pluck.amplitude**2) / 2 * 1e-6)  # over the noise's, sample by sample
        limit = bound.cramer_rao(bound.Cell(pluck.freq_hz[i], 1 / pluck.delta[i], 10 * np.log10(power)), length_s=3.0)
        assert one.freq_se_hz == pytest.approx(limit.freq_hz, rel=0.6)


@pytest.mark.parametrize("faint_hz, ratio", [(1046.6, 1e-3), (560.0, 1e-2)])
def test_a_faint_partial_is_freed_of_the_skirt_of_a_strong_one_whichever_is_named_first(faint_hz, ratio):
    """Taken before the strong one, it would be fitted to that one's skirt, which is higher than itself, and be lost, or both."""
    strong = tone(523.3, 0.3, snr_db=60.0, length_s=1.2)
    sound = strong + damped(time_grid_s(44100, 1.2), faint_hz, 3.0, amplitude=ratio, phase=1.4)
    signal = pluck_signal(sound, rate_hz=44100, pre_s=PRE_S, f1_hz=523.3)
    spectrum, hz = open_spectrum(sound, signal, skip_s=0.01), np.array([523.3, faint_hz])
    found = exact_partials(spectrum, signal, freq_hz=hz, delta=np.array([3.5, 3.0]))
    again = exact_partials(spectrum, signal, freq_hz=hz[::-1], delta=np.array([3.0, 3.5]))
    assert found == again[::-1] and None not in found
    assert [abs(one.freq_hz - at_hz) < 4.0 * one.freq_se_hz for one, at_hz in zip(found, hz, strict=True)] == [True, True]


def test_two_modes_are_refused():
    second = damped(time_grid_s(44100, 3.0), 441.0, 2.0, amplitude=0.1)
    one = tone(440.0, 0.5, snr_db=60.0, length_s=3.0)
    assert exactly(one, 440.0, 2.0) is not None
    assert exactly(one + second, 440.0, 2.0) is None


def test_a_glide_is_refused():
    pluck = FormulaPluck(440.0, n_partials=1, t60_s=3.0, glide_cents=8.0)
    assert exactly(render(pluck), 440.0, pluck.delta[0]) is None


def test_silence_and_noise_are_no_partial():
    assert exactly(np.zeros(44100), 440.0, 2.0) is None
    for seed in range(5):
        found = exactly(np.random.default_rng(seed).normal(0.0, 0.1, 44100), 440.0, 2.0)
        assert found is None or found.log_delta_se > 0.15  # too unsure of its decay to be taken for it


def test_the_input_stays_as_it_was():
    sound = tone(440.0, 0.5, snr_db=40.0, length_s=2.0)
    before = sound.copy()
    exactly(sound, 440.0, 2.0)
    assert np.array_equal(sound, before)

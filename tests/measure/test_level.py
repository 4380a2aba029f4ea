"""How loud each partial begins, beside the strongest: as it was put in, whatever the recording, and however fast each of them falls."""

import numpy as np
import pytest
from sounds.changed_plucks import CHANGES, measured
from sounds.formula_plucks import REGISTERS, FormulaPluck, render

PLAIN_POWER = 1.0  # amplitudes fall as 1/n


def levels_of(found, upto):
    """dB beside the strongest partial, of partials 1 to `upto`."""
    by_n = {partial.n: partial.level_db for partial in found.partials}
    return np.array([by_n[n] for n in range(1, upto + 1)])


def put_in(upto, power=PLAIN_POWER):
    """Derived: an amplitude of 1/n^power lies 20·power·log n dB below the first."""
    return -20.0 * power * np.log10(np.arange(1, upto + 1))


@pytest.mark.parametrize("snr_db, allowed_db", [(60, 0.5), (40, 0.7), (20, 2.0)])
@pytest.mark.parametrize("note", ["C2", "C4", "C6"])
def test_known_truth(note, snr_db, allowed_db):
    pluck = REGISTERS[note].pluck(level_power=PLAIN_POWER, loss_power=0.0)  # all fall alike, so at no moment do they stand otherwise
    found = measured(render(pluck, length_s=2.0, snr_db=snr_db), f1_hz=pluck.f1_hz, spec=REGISTERS[note].spec)
    assert np.abs(levels_of(found, 5) - put_in(5)).max() < allowed_db


@pytest.mark.parametrize("snr_db", [60, 20])
@pytest.mark.parametrize("note", ["C1", "C4"])
def test_how_far_a_pluck_stands_out_of_the_noise(cases, note, snr_db):
    """Told is ΣA² of the partials over white noise up to a tenth above the highest of them, the test signal's is over that up to half the
    rate: so much more (derived)."""
    for case in cases(note, snr_db):
        heard = np.array([one.n for one in case.found.partials]) - 1
        share = np.sum(case.pluck.amplitude[heard] ** 2) / np.sum(case.pluck.amplitude**2)
        wide = 44100 / 2 / (1.1 * case.found.partials[-1].freq_hz)
        assert case.found.snr_db == pytest.approx(snr_db + 10.0 * np.log10(wide * share), abs=1.5)


@pytest.mark.parametrize("change", CHANGES)
def test_no_change_of_the_recording_counts(plain, plain_after, change):
    assert levels_of(plain_after(change), 8) == pytest.approx(levels_of(plain, 8), abs=0.3)


def test_the_height_of_a_spectrums_peaks_is_not_how_loud_a_partial_begins():
    """The naive way, peaks of one spectrum of two seconds: a partial that falls n times as fast has 1/n of the time to sound in, and seems
    20·log n dB weaker than it began (derived: the peak's height is the amplitude over the decay rate)."""
    pluck = FormulaPluck(261.6256, 2.6e-4, t60_s=3.0, n_partials=10, level_power=PLAIN_POWER, loss_power=1.0)
    sound = render(pluck, length_s=2.0)
    spectrum = np.abs(np.fft.rfft(sound))
    grid_hz = np.fft.rfftfreq(len(sound), 1 / 44100)
    peaks = np.array([spectrum[np.abs(grid_hz - hz) < 20.0].max() for hz in pluck.freq_hz[:5]])
    naive_db = 20.0 * np.log10(peaks / peaks.max())
    found_db = levels_of(measured(sound, f1_hz=pluck.f1_hz), 5)
    assert np.abs(found_db - put_in(5)).max() < 2.0 < 6.0 < np.abs(naive_db - put_in(5)).max()


def test_silence_has_no_levels():
    assert measured(np.zeros(88200), f1_hz=261.6256).partials == ()


def test_the_input_stays_as_it_was():
    sound = render(FormulaPluck(261.6256, 2.6e-4, t60_s=3.0, n_partials=10))
    before = sound.copy()
    measured(sound, f1_hz=261.6256)
    assert np.array_equal(sound, before)

"""Gain riding told by levels made by hand, frame by frame of a tenth: four bands of noise, and plucks that die away into it;
and by sounds whose gain was ridden here."""

import numpy as np
import pytest
import scipy.signal
import soundfile
from made_up_recording import RATE_HZ, decaying_tones, noise, ride_gain

from toneprobe.audio import open_recording, recording_from_samples
from toneprobe.audio.gain import rides_gain

EVERY, N_PLUCKS, NOISE_DB = 60, 8, -60.0  # a pluck every six seconds, the first after as many
RING = np.maximum(-20.0 - 2.0 * np.arange(EVERY), NOISE_DB)  # falls by 20 dB a second: in the noise after two


def bands(quiet_db=None, n_plucks=N_PLUCKS):
    """Levels of the bands, shape (n, 4). quiet_db: of the noise in each frame after a pluck, the last of them before the first too."""
    quiet_db = np.full(EVERY, NOISE_DB) if quiet_db is None else quiet_db
    frames = np.concatenate([np.full(EVERY, quiet_db[-1]), *[np.where(RING > NOISE_DB, RING, quiet_db)] * n_plucks])
    wobble = np.random.default_rng(2).normal(0.0, 0.15, (frames.size, 4))
    return frames[:, np.newaxis] + wobble


def from_to(first, stop, db):
    return np.where((np.arange(EVERY) >= first) & (np.arange(EVERY) < stop), db, NOISE_DB)


def judged(bands_db, *, still=None, level_db=None, lost=None, **more):
    none = np.zeros(len(bands_db), bool)
    level_db = bands_db.mean(axis=1) + 6.0 if level_db is None else level_db
    return rides_gain(level_db, bands_db, floor_db=NOISE_DB + 6.0, still=none if still is None else still,
                      lsb=2.0**-15, lost=none if lost is None else lost, **more)


def marked(*places, n_plucks=N_PLUCKS):
    """Frames so long after each pluck."""
    found = np.zeros(EVERY * (n_plucks + 1), bool)
    for pluck in range(1, n_plucks + 1):
        for first, stop in places:
            found[EVERY * pluck + first:EVERY * pluck + stop] = True
    return found


def test_noise_that_stays_as_it_was_tells_of_no_gain_and_two_plucks_tell_nothing():
    assert judged(bands()) is False and judged(bands(n_plucks=2)) is None


@pytest.mark.parametrize(("db", "told"), [(-66.0, True), (-62.0, False)])
def test_noise_that_is_turned_down_after_every_pluck_is_automatic_gain(db, told):
    """By 6 dB until it recovers, slowly; the chance minimum of three seconds of noise lies about 1 dB down (derived in the room)."""
    slowly = np.interp(np.arange(EVERY), [0, 20, 40, EVERY], [db, db, NOISE_DB, NOISE_DB])
    assert judged(bands(slowly)) is told


def only_after(how_many, changed, *, n_plucks=N_PLUCKS, others=None):
    """Changed after so many plucks, as it was or as `others` after the others."""
    both, stop = bands(n_plucks=n_plucks) if others is None else others, EVERY * (how_many + 1)
    return np.concatenate([changed[:stop], both[stop:]])


def test_what_happens_after_a_few_plucks_only_is_no_gain():
    """A gain does so after most (set: six of ten; a gate after three of ten)."""
    slowly = np.interp(np.arange(EVERY), [0, 20, 40, EVERY], [-66.0, -66.0, NOISE_DB, NOISE_DB])
    assert judged(only_after(3, bands(slowly))) is False and judged(only_after(6, bands(slowly))) is True
    shut = bands(from_to(40, EVERY, -80.0), n_plucks=12)
    assert judged(only_after(3, shut, n_plucks=12)) is not True and judged(only_after(5, shut, n_plucks=12)) is True


@pytest.mark.parametrize(("n_quick", "told"), [(15, True), (60, None)])
def test_three_plucks_of_many_that_come_out_of_a_steady_quiet_may_be_chance(n_quick, told):
    """The others ring into each other (set: a tenth must tell)."""
    slowly = np.interp(np.arange(EVERY), [0, 20, 40, EVERY], [-66.0, -66.0, NOISE_DB, NOISE_DB])
    quick = np.concatenate([RING[:16]] * n_quick)[:, np.newaxis] + np.zeros(4)
    assert judged(np.concatenate([quick, bands(slowly, n_plucks=3)])) is told


@pytest.mark.parametrize(("by_db", "told"), [(8.0, True), (4.0, False)])
def test_a_gate_shuts_by_more_than_noise_falls_by_itself(by_db, told):
    assert (judged(bands(from_to(40, EVERY, NOISE_DB - by_db))) is True) is told


def test_noise_that_is_shut_off_after_the_ring_is_a_gate_and_what_comes_back_before_the_next_pluck_is_not():
    assert judged(bands(from_to(40, EVERY, -80.0))) is True
    assert judged(bands(from_to(32, 45, -80.0))) is not True
    assert judged(only_after(4, bands(from_to(40, EVERY, -80.0)), others=bands(from_to(32, 45, -80.0)))) is not True  # as often by itself


def test_what_another_sound_or_a_drop_out_shut_off_is_no_gate():
    shut = bands(from_to(40, EVERY, -80.0))
    assert judged(shut, lost=marked((38, 44))) is not True
    few = marked((38, 44))
    few[EVERY * 4:] = False  # three of eight
    assert judged(shut, foreign=few) is True  # the other five are
    most = marked((38, 44))
    most[EVERY * 7:] = False  # six of eight
    for foreign in (most, marked((38, 44))):
        assert judged(shut, foreign=foreign) is True  # what sounds after most plucks may be the gain's own doing


def test_noise_that_sinks_as_much_without_a_pluck_tells_nothing():
    """It swells by itself, six seconds long, and plucks happen to fall where it is high; once more in the middle of the pauses."""
    sinks = np.interp(np.arange(EVERY), [0, 20, 30, 38, 48, 52, EVERY], [-66.0, -66.0, -60.0, -60.0, -66.0, -60.0, -60.0])
    assert judged(bands(sinks)) is None


@pytest.mark.parametrize(("before_db", "told"), [(-40.0, True), (-60.0, True), (-88.0, False)])
def test_a_ring_that_ends_in_exact_silence_is_a_gate(before_db, told):
    """16 bits have steps of −90 dBFS: noise of two of them may be still for a while."""
    still, bands_db = marked((10, EVERY)), bands()
    level_db = np.where(still, -200.0, bands_db.mean(axis=1) + 6.0)
    level_db[marked((8, 10))] = before_db
    assert (judged(bands_db, still=still, level_db=level_db) is True) is told
    if told:
        assert judged(bands_db, still=still, level_db=level_db, lost=still) is not True  # a drop-out's silence …
        most = still & (np.arange(still.size) < EVERY * 7)
        assert judged(bands_db, still=still, level_db=level_db, lost=most) is not True  # … and so are the other two, likely


def test_silence_where_all_was_level_cut_nothing_off():
    still, bands_db = marked((45, 50)), bands()
    level_db = np.where(still, -200.0, bands_db.mean(axis=1) + 6.0)
    assert judged(bands_db, still=still, level_db=level_db) is not True


def test_automatic_gain_is_told(sweep):
    quality = recording_from_samples(ride_gain(sweep), RATE_HZ).quality
    assert quality.gain_riding is True
    assert any("gain" in warning for warning in quality.warnings)


@pytest.mark.parametrize("closed_db", [-20, -200])
def test_noise_suppression_and_gates_are_told(sweep, closed_db):
    loud = scipy.signal.lfilter([1 - 0.9999], [1, -0.9999], np.abs(sweep)) > 0.0012
    gain = scipy.signal.lfilter([1 - 0.998], [1, -0.998], np.where(loud, 1.0, 10 ** (closed_db / 20)))
    gated = np.round(sweep * gain * 32768) / 32768 if closed_db < -100 else sweep * gain
    assert recording_from_samples(gated, RATE_HZ).quality.gain_riding is True


def test_eight_bits_are_told_and_not_taken_for_gain(sweep, tmp_path):
    """A step is 1/128 of full scale (definition): what rings on below it is gone, and no sign of the gain can be read from what is left."""
    soundfile.write(tmp_path / "coarse.wav", 0.5 * sweep, RATE_HZ, subtype="PCM_U8")
    quality = open_recording(tmp_path / "coarse.wav").quality
    assert quality.eight_bits and quality.gain_riding is None
    assert any("eight bits" in warning for warning in quality.warnings) and not any("gain" in warning for warning in quality.warnings)
    soundfile.write(tmp_path / "fine.wav", 0.5 * sweep, RATE_HZ, subtype="PCM_16")
    assert not open_recording(tmp_path / "fine.wav").quality.eight_bits


def test_a_few_long_strings_stopped_by_hand_are_no_suppressor():
    """Four strings of sixteen ring so long that they stand level until the hand falls, in all their bands at once."""
    tones = np.concatenate([decaying_tones(t60_s=90.0, n_plucks=4), decaying_tones(t60_s=4.0, n_plucks=12, lead_s=0.0)])
    since_s = np.maximum(np.arange(tones.size) / RATE_HZ - 1.0, 0.0) % 3.0
    damped = tones * np.minimum(1.0, np.exp(-(since_s - 1.8) / 0.03)) + noise(tones.size, db=-75)
    assert recording_from_samples(damped, RATE_HZ).quality.gain_riding is False


def test_hand_damped_plucks_over_a_drifting_background_are_not_called_ridden():
    tones = decaying_tones(t60_s=8.0, n_plucks=10)
    time_s = np.arange(tones.size) / RATE_HZ
    since_s = np.maximum(time_s - 1.0, 0.0) % 3.0
    damped = tones * np.minimum(1.0, np.exp(-(since_s - 1.8) / 0.03))  # the hand falls 1.8 s after each pluck
    drifting = noise(tones.size, db=-60) * (1.0 + 0.5 * np.sin(2 * np.pi * time_s / 17.0))
    assert recording_from_samples(damped + drifting, RATE_HZ).quality.gain_riding is False


@pytest.mark.parametrize("swell_hz", [0.4, 0.8, 1.5])
def test_noise_that_swells_and_fades_by_itself_is_no_gain(swell_hz):
    """A dishwasher (rates from memory): by a half up and down it sinks by 9.5 dB from its highest level (derived here), pluck or no pluck.
    Plucks do not keep step with it."""
    tones = decaying_tones(n_plucks=14, gap_s=3.1)
    swelling = noise(tones.size, db=-55) * (1.0 + 0.5 * np.sin(2 * np.pi * swell_hz * np.arange(tones.size) / RATE_HZ))
    assert recording_from_samples(tones + swelling, RATE_HZ).quality.gain_riding is not True

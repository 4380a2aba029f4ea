"""Drop-outs, of exact zeros and under hiss, planted here."""

import numpy as np
import pytest
from made_up_recording import RATE_HZ, noise

from toneprobe.audio import recording_from_samples
from toneprobe.audio.gaps import GapTally, find_gaps, lost_frames
from toneprobe.audio.hushes import HushTally, hushes


def test_exact_zeros_in_the_midst_of_sound_are_gaps_and_silence_is_none(sweep):
    """Four drop-outs of 5 to 100 ms, one of them over the end of the survey's own block; 1 ms of zeros may be chance, and what fades into
    digital silence, or begins out of it, has lost nothing."""
    x = 0.2 * np.sin(2 * np.pi * 220.0 * np.arange(8 * RATE_HZ) / RATE_HZ) + noise(8 * RATE_HZ, db=-70)
    broken = x.copy()
    starts = [(RATE_HZ, 0.005), (3 * RATE_HZ, 0.03), (RATE_HZ // 10 * (2**18 // (RATE_HZ // 10)) - 500, 0.03), (7 * RATE_HZ, 0.1)]
    for start, length_s in starts:
        broken[start:start + int(length_s * RATE_HZ)] = 0.0
    broken[2 * RATE_HZ:2 * RATE_HZ + 44] = 0.0
    recording = recording_from_samples(broken, RATE_HZ)
    assert recording.quality.n_gaps == 4 and any("4 gaps (drop-outs" in text for text in recording.quality.warnings)
    assert recording.gaps(0, 2 * RATE_HZ) == [(RATE_HZ, RATE_HZ + int(0.005 * RATE_HZ))]
    faded = np.concatenate([x[:RATE_HZ] * np.linspace(1.0, 0.0, RATE_HZ), np.zeros(RATE_HZ // 10), x[:RATE_HZ]])
    for whole in (x, sweep, faded):
        assert recording_from_samples(whole, RATE_HZ).quality.n_gaps == 0


def lost_under_hiss(samples, at_s, *, lost_s=0.06, hiss_db=-75):
    """What a wireless microphone lost, faded in 4 ms as its receiver does, and the hiss of the recorder over all of it."""
    heard, edge = samples.copy(), round(0.004 * RATE_HZ)
    for one in at_s:
        first, stop = round(one * RATE_HZ), round((one + lost_s) * RATE_HZ)
        heard[first:first + edge] *= np.linspace(1.0, 0.0, edge)
        heard[first + edge:stop - edge] = 0.0
        heard[stop - edge:stop] *= np.linspace(0.0, 1.0, edge)
    return heard + noise(heard.size, db=hiss_db, seed=9)


def test_sound_that_is_gone_for_a_moment_is_a_gap_though_hiss_lies_over_it(sweep):
    """Four holes of 60 ms, each soon after a pluck (at 1, 4, 7 and 10 s); one alone may be anything."""
    at_s = [1.4, 4.4, 7.5, 10.3]
    recording = recording_from_samples(lost_under_hiss(sweep, at_s), RATE_HZ)
    assert recording.quality.n_gaps == 4 and "4 gaps" in recording.quality.warnings[0]
    assert np.array(recording.gaps_at) / RATE_HZ == pytest.approx(np.array([(one, one + 0.06) for one in at_s]), abs=0.008)
    assert not recording_from_samples(lost_under_hiss(sweep, at_s[:1]), RATE_HZ).quality.n_gaps
    assert not recording_from_samples(lost_under_hiss(sweep, []), RATE_HZ).quality.n_gaps


@pytest.mark.parametrize("sound", ["beats", "ticks", "staccato", "bass"])
def test_what_sounds_by_itself_has_no_gaps(sound):
    """Two equal voices that beat to nothing, a clock, a string stopped within 40 ms and plucked again, a bass string of 31 Hz."""
    time_s = np.arange(10 * RATE_HZ) / RATE_HZ
    made = {"beats": 0.2 * (np.sin(2 * np.pi * 440.0 * time_s) + np.sin(2 * np.pi * 441.0 * time_s)),
            "ticks": 0.3 * np.sin(2 * np.pi * 2000.0 * time_s) * np.exp(-(time_s % 0.15) / 0.004),
            "staccato": 0.3 * np.sin(2 * np.pi * 440.0 * time_s) * np.clip((0.2 - time_s % 0.3) / 0.04, 0.0, 1.0),
            "bass": 0.3 * np.exp(-((time_s * 31.0) % 1.0) / 0.15)}[sound]
    assert recording_from_samples(made + noise(time_s.size, db=-80), RATE_HZ).quality.n_gaps == 0


def plucks_of_one_string(*, noise_db=-70):
    """Eight plucks 4 s apart that fall by 60 dB in 4 s, in steady noise."""
    time_s = np.arange(32 * RATE_HZ) / RATE_HZ
    return 0.3 * np.sin(2 * np.pi * 440.0 * time_s) * 10 ** (-60.0 / 20.0 / 4.0 * (time_s % 4.0)) + noise(time_s.size, db=noise_db)


def test_seconds_of_zeros_in_the_midst_of_rings_are_gaps_and_no_gain():
    """Two seconds lost in every other ring: by then it has fallen by 30 dB (derived here), and goes on from there."""
    broken = np.round(plucks_of_one_string() * 2**15) / 2**15
    lost = [(round((4 * k + 0.4) * RATE_HZ), round((4 * k + 2.4) * RATE_HZ)) for k in range(1, 8, 2)]
    for first, stop in lost:
        broken[first:stop] = 0.0
    recording = recording_from_samples(broken, RATE_HZ)
    assert recording.gaps(0, broken.size) == lost and recording.quality.n_gaps == len(lost)
    assert recording.quality.gain_riding is not True


def test_what_is_silenced_until_the_next_pluck_is_a_gate_and_no_gap():
    """The next pluck is louder than what was cut off; after 1.5 s a ring has fallen by 22 dB (derived here)."""
    gated = plucks_of_one_string()
    for k in range(8):
        gated[round((4 * k + 1.5) * RATE_HZ):round((4 * k + 4) * RATE_HZ)] = 0.0
    quality = recording_from_samples(gated, RATE_HZ).quality
    assert quality.n_gaps == 0 and quality.gain_riding is True


def test_silence_put_where_strings_had_died_away_is_no_gate():
    """As an editor does that pieces plucks together. A ring that fell by 57 dB lies 9 dB and more under the louder noise after 2.7 s
    (derived here), and noise is level."""
    edited = plucks_of_one_string(noise_db=-45)
    for k in range(8):
        edited[round((4 * k + 3.8) * RATE_HZ):round((4 * k + 4) * RATE_HZ)] = 0.0
    quality = recording_from_samples(edited, RATE_HZ).quality
    assert quality.n_gaps == 0 and quality.gain_riding is not True


def sounding(*stretches, rate_hz=1000):
    """One stretch after the other, of such a height and so many seconds: samples that change their sign, or zeros."""
    height = np.concatenate([np.full(round(length_s * rate_hz), float(high)) for high, length_s in stretches])
    return height * (-1.0) ** np.arange(height.size)


def gaps_s(*stretches, rate_hz=1000, lsb=2.0**-15):
    """Where drop-outs are found in them, s."""
    found = find_gaps(sounding(*stretches, rate_hz=rate_hz), rate_hz=rate_hz, lsb=lsb)
    return [(first / rate_hz, stop / rate_hz) for first, stop in found]


@pytest.mark.parametrize(("before", "zero_s", "after", "is_gap"), [
    (0.1, 0.0028, 0.1, False), (0.1, 0.0032, 0.1, True),  # three milliseconds: sound through zero rests there for a sample or two (set)
    (0.1, 0.05, 0.39, True), (0.1, 0.05, 0.41, False), (0.39, 0.05, 0.1, True), (0.41, 0.05, 0.1, False),  # 12 dB apart, not alike
    (0.1, 0.19, 0.11, True), (0.1, 0.21, 0.11, False), (0.1, 0.21, 0.1, True), (0.1, 1.0, 0.001, True),  # in a long one strings have fallen
    (6e-4, 0.05, 6e-4, True), (4e-4, 0.05, 6e-4, False), (6e-4, 0.05, 4e-4, False), (6e-4, 1.0, 6e-4, True), (4e-4, 1.0, 4e-4, False),
])
def test_zeros_are_a_gap_by_their_length_and_by_what_sounds_on_both_sides(before, zero_s, after, is_gap):
    """By the rules at the head of `gaps`: µ-law's finest step, 2 of 8192, twice over is 4.9e-4 of full scale."""
    found = gaps_s((before, 0.1), (0.0, zero_s), (after, 0.3), rate_hz=10_000)
    assert found == ([pytest.approx((0.1, 0.1 + zero_s))] if is_gap else [])


@pytest.mark.parametrize(("height", "is_gap"), [(0.07, True), (0.055, False)])
def test_beside_a_gap_stand_eight_steps_of_a_coarse_format(height, is_gap):
    """Of eight bits, 2/256 of full scale each: 0.0625."""
    assert bool(gaps_s((height, 0.1), (0.0, 0.05), (height, 0.1), lsb=2.0**-7)) is is_gap


@pytest.mark.parametrize(("stretches", "is_gap"), [
    ([(0.1, 0.1), (0.0, 1.0), (0.05, 0.12), (0.3, 0.1)], True),
    ([(0.1, 0.1), (0.0, 1.0), (0.05, 0.08), (0.3, 0.1)], False),  # a gate that opened a little before a pluck
    ([(0.1, 0.1), (0.001, 0.006), (0.0, 0.05), (0.1, 0.1)], False),  # faded, as by an editor
    ([(0.1, 0.1), (0.001, 0.002), (0.0, 0.05), (0.1, 0.1)], True),
    ([(0.1, 0.004), (0.0, 0.05), (0.1, 0.1)], False), ([(0.1, 0.1), (0.0, 0.05), (0.1, 0.004)], False),  # too little to tell by
    ([(0.1, 0.005), (0.0, 0.05), (0.1, 0.005)], True), ([(0.1, 0.1), (0.0, 1.0), (0.1, 0.09)], False),
    ([(0.1, 0.1), (0.0, 59.0), (0.1, 0.1)], True), ([(0.1, 0.1), (0.0, 61.0), (0.1, 0.1)], False),  # stopped, and begun again (set)
])
def test_what_lies_about_zeros_tells_whose_they_are(stretches, is_gap):
    assert bool(gaps_s(*stretches)) is is_gap


@pytest.mark.parametrize("n_block", [40, 777, 4000])
def test_block_by_block_the_same_gaps_are_found_once(n_block):
    lost = [(0.1, 1.0), (0.0, 0.05), (0.1, 1.0), (0.0, 0.3), (0.09, 0.5), (0.0, 3.0), (0.08, 0.5), (0.0, 0.1), (0.3, 0.1), (0.0, 0.2)]
    samples, tally = sounding(*lost), GapTally(rate_hz=1000, lsb=2.0**-15)
    for first in range(0, samples.size, n_block):
        tally.add(samples[first:first + n_block])
    assert tally.found == find_gaps(samples, rate_hz=1000, lsb=2.0**-15) == [(1000, 1050), (2050, 2350), (2850, 5850), (6350, 6450)]


def test_a_frame_that_a_gap_touches_is_lost():
    assert np.flatnonzero(lost_frames([(10, 20), (39, 41)], n_frame=10, n_frames=6)).tolist() == [1, 3, 4]


def powers(*stretches):
    """One stretch after the other, of such a power and so many pieces of 2.5 ms."""
    return np.concatenate([np.full(n, float(power)) for power, n in stretches])


def fading(share, n=12):
    """Each piece that share of the one before."""
    return share ** np.arange(1, n + 1)


SOUNDS, GONE = np.ones(20), np.full(20, 1e-4)


@pytest.mark.parametrize(("power", "is_found"), [
    (powers((1.0, 20), (1e-3, 3), (1.0, 20)), False), (powers((1.0, 20), (1e-3, 4), (1.0, 20)), True),  # 10 …
    (powers((1.0, 20), (1e-3, 80), (1.0, 20)), True), (powers((1.0, 20), (1e-3, 82), (1.0, 20)), False),  # … to 200 ms
    (powers((1.0, 20), (0.0099, 20), (1.0, 20)), True), (powers((1.0, 20), (0.0101, 20), (1.0, 20)), False),  # by 20 dB
    (powers((1.0, 20), (5e-4, 20), (15.0, 20)), True), (powers((1.0, 20), (5e-4, 20), (17.0, 20)), False),  # back within 12 dB
    (powers((1.0, 20), (5e-4, 20), (0.07, 20)), True), (powers((1.0, 20), (5e-4, 20), (0.05, 20)), False),
    (np.concatenate([SOUNDS, fading(0.9), GONE, SOUNDS]), True), (np.concatenate([SOUNDS, fading(0.75), GONE, SOUNDS]), False),
    (np.concatenate([SOUNDS, GONE, fading(0.9)[::-1], SOUNDS]), True), (np.concatenate([SOUNDS, GONE, fading(0.75)[::-1], SOUNDS]), False),
    (np.concatenate([SOUNDS, [0.005, 0.005], SOUNDS[:4], GONE, SOUNDS]), False),  # it had paused just before: ticks, as of a clock
    (np.concatenate([SOUNDS, GONE, SOUNDS[:4], [0.005, 0.005], SOUNDS]), False),
    (np.concatenate([SOUNDS, GONE[:10], [0.011], GONE[:9], SOUNDS]), False),  # something sounds in it
    (2.2e-7 * np.concatenate([SOUNDS, GONE, SOUNDS]), False), (2.8e-7 * np.concatenate([SOUNDS, GONE, SOUNDS]), True),  # −66 dBFS
    (powers((1.0, 20), (1e-4, 20), (1.0, 9)), False), (powers((1.0, 20), (1e-4, 20), (1.0, 10)), True),  # too little behind it to tell by
    (powers((1.0, 7), (1e-4, 4), (1.0, 8)), False), (np.zeros(100), False),
])
def test_sound_that_falls_and_returns_at_once_as_loud_was_lost(power, is_found):
    """By the rules at the head of `hushes`. A fade of 0.9 a piece falls by 3.7 dB in 20 ms, one of 0.75 by 10: a hand, or a damper."""
    assert bool(hushes(power)) is is_found


@pytest.mark.parametrize(("n_lost", "n_told"), [(2, 0), (3, 3)])
@pytest.mark.parametrize("n_block", [333, 10**6])
def test_three_such_are_a_fault_of_the_recorder_and_fewer_may_be_anything(n_lost, n_told, n_block):
    """Of 60 ms at 8 kHz, half a second apart, told to a few milliseconds, whatever the blocks are."""
    sounds, lost_s = np.sign(np.sin(np.arange(16000) * 2.5)) * 0.1, [0.5 * k for k in range(1, 1 + n_lost)]
    for at_s in lost_s:
        sounds[round(at_s * 8000):round((at_s + 0.06) * 8000)] *= 0.01
    tally = HushTally(rate_hz=8000)
    for first in range(0, sounds.size, n_block):
        tally.add(sounds[first:first + n_block])
    assert len(tally.found()) == n_told
    for (first, stop), at_s in zip(tally.found(), lost_s, strict=False):
        assert (first / 8000, stop / 8000) == (pytest.approx(at_s, abs=0.006), pytest.approx(at_s + 0.06, abs=0.006))

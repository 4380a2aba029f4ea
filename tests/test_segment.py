"""Onsets and spans: where they are, in noise and under ringing strings, and where there are none."""

import numpy as np
import pytest
import soundfile
from sounds.formula_plucks import FormulaPluck, render
from sounds.formula_sweeps import sweep_of

from toneprobe.audio import open_recording, recording_from_samples
from toneprobe.instrument import load_instrument
from toneprobe.segment import BLOCK_S, SHORTEST_GAP_S, Span, find_spans

RATE_HZ = 22050
HARP = load_instrument("pedal-47", tuning="naturals")
BASS = ("5G", "6E", "6C", "6A", "7E", "7C")
MIDDLE = ("3A", "3F", "4E", "4C", "4A", "5D")
TOP = ("0G", "0F", "1D", "1B", "1G", "2E")

# Largest error of an onset, s, by noise in dBFS, under plucks of about −20. Onsets within 10 ms are asked for.
ALLOWED_S = {BASS: {-75.0: 0.005, -55.0: 0.005, -40.0: 0.005, -30.0: 0.010},
             MIDDLE: {-75.0: 0.005, -55.0: 0.005, -40.0: 0.005, -30.0: 0.010},
             TOP: {-75.0: 0.005, -55.0: 0.005, -40.0: 0.010}}


def spans_of(samples: np.ndarray, rate_hz: int = RATE_HZ) -> tuple[Span, ...]:
    return find_spans(recording_from_samples(samples, rate_hz))


def errors_s(sweep, spans: tuple[Span, ...]) -> np.ndarray:
    """Of the nearest span to each true onset."""
    onsets_s = np.array([span.onset_s for span in spans])
    return np.array([np.abs(onsets_s - onset_s).min() for _, onset_s in sweep.truth])


@pytest.mark.parametrize("damped", [True, False])
@pytest.mark.parametrize("names", list(ALLOWED_S), ids=["bass", "middle", "top"])
def test_known_onsets(names, damped):
    for noise_db, allowed_s in ALLOWED_S[names].items():
        sweep = sweep_of(HARP, names, noise_db=noise_db, damped=damped)
        spans = spans_of(sweep.samples)
        assert errors_s(sweep, spans).max() < allowed_s
        assert len(spans) <= len(names) + 2  # this room is generous, but not endlessly


def test_spans_follow_each_other():
    sweep = sweep_of(HARP, MIDDLE)
    spans = spans_of(sweep.samples)
    assert [span.onset_s for span in spans] == sorted(span.onset_s for span in spans)
    for span, following in zip(spans, spans[1:], strict=False):
        assert span.onset_s < span.end_s <= span.next_s == following.onset_s
    assert spans[-1].next_s == pytest.approx(len(sweep.samples) / RATE_HZ)


def test_nothing_begins_where_the_recorder_lost_some_of_the_sound():
    """30 ms of exact zeros in every ring: the plucks are those of the whole recording; one right after such zeros counts."""
    sweep = sweep_of(HARP, MIDDLE)
    broken = sweep.samples.copy()
    for _, onset_s in sweep.truth:
        gap = round((onset_s + 0.6) * RATE_HZ)
        broken[gap:gap + round(0.03 * RATE_HZ)] = 0.0
    whole, found = spans_of(sweep.samples), spans_of(broken)
    assert recording_from_samples(broken, RATE_HZ).quality.n_gaps == len(MIDDLE)
    assert [span.onset_s for span in found] == pytest.approx([span.onset_s for span in whole], abs=0.003)
    before = round((sweep.truth[2][1] - 0.035) * RATE_HZ)
    late = sweep.samples.copy()
    late[before:before + round(0.03 * RATE_HZ)] = 0.0
    assert len(spans_of(late)) == len(whole)


@pytest.mark.parametrize("change", [lambda x: 0.1 * x, lambda x: 0.01 * x, lambda x: -x, lambda x: x + 0.01])
def test_volume_polarity_and_offset_do_not_count(change):
    sweep = sweep_of(HARP, MIDDLE)
    before, after = spans_of(sweep.samples), spans_of(change(sweep.samples))
    assert [span.onset_s for span in after] == pytest.approx([span.onset_s for span in before], abs=0.003)


def test_what_comes_before_only_shifts():
    sweep = sweep_of(HARP, MIDDLE)
    quiet = np.random.default_rng(1).normal(0.0, 10 ** (-75 / 20), 3 * RATE_HZ + 123)
    before, after = spans_of(sweep.samples), spans_of(np.concatenate([quiet, sweep.samples]))
    assert [span.onset_s - len(quiet) / RATE_HZ for span in after] == pytest.approx([span.onset_s for span in before], abs=0.005)
    assert len(spans_of(np.concatenate([sweep.samples, quiet]))) == len(before)


@pytest.mark.parametrize("f1_hz", [65.406, 220.0, 880.0])
@pytest.mark.parametrize("lead_s", [0.02, 0.04, 0.055, 0.07, 0.09])
def test_a_pluck_soon_after_the_start_is_found(f1_hz, lead_s):
    sound = render(FormulaPluck(f1_hz, 1e-4, t60_s=4.0), rate_hz=RATE_HZ, length_s=3.0, pre_s=lead_s, snr_db=60.0)
    (span,) = spans_of(sound)
    assert span.onset_s == pytest.approx(lead_s, abs=0.010)


def test_noise_that_begins_after_digital_silence_is_no_pluck_soon_after_the_start():
    noise = np.random.default_rng(2).normal(0.0, 1e-3, 3 * RATE_HZ)
    assert spans_of(np.concatenate([np.zeros(int(0.04 * RATE_HZ)), noise])) == ()


@pytest.mark.parametrize("rate_hz", [8000, 16000, 44100, 48000, 96000])
def test_any_sample_rate(rate_hz):
    sweep = sweep_of(HARP, MIDDLE[:4], rate_hz=rate_hz)
    spans = spans_of(sweep.samples, rate_hz)
    assert errors_s(sweep, spans).max() < 0.010 and len(spans) == 4


def test_a_soft_pluck_under_a_loud_ring():
    """Far softer than what still rings: hardly anything gets louder, yet something is new. A threshold on the level would miss it."""
    sweep = sweep_of(HARP, ("4C", "3A"), damped=False, gap_s=1.0, louder_db={1: -28.0})
    onset_s = sweep.truth[1][1]
    assert errors_s(sweep, spans_of(sweep.samples)).max() < 0.010
    at = round(onset_s * RATE_HZ)
    before, after = (np.sqrt(np.mean(sweep.samples[part] ** 2)) for part in (slice(at - 1100, at), slice(at, at + 1100)))
    assert 20 * np.log10(after / before) < 1.0


@pytest.mark.parametrize("n_partials", [1, 2])
def test_a_faint_pluck_of_few_partials_is_heard(n_partials):
    """Top strings whose strongest partial stands 14 dB over all of the noise, and so some 35 dB over what lies in its own band of 33 Hz
    (derived here): one or two such lines among four hundred places."""
    sweep = sweep_of(HARP, TOP, noise_db=-55.0, n_partials=n_partials, louder_db=dict.fromkeys(range(len(TOP)), -29.0))
    spans = spans_of(sweep.samples)
    assert errors_s(sweep, spans).max() < 0.010 and len(spans) <= len(TOP) + 2


@pytest.mark.parametrize("names", [MIDDLE, TOP], ids=["middle", "top"])
@pytest.mark.parametrize("before_s", [0.06, 0.1, 0.15, 0.2])
def test_a_pedal_that_thumps_right_before_a_pluck_is_not_its_beginning(names, before_s):
    """Planted: noise below 1 kHz that dies away within 10 ms by 20 dB, as loud as the pluck is soon after. Not of the lowest strings: these
    are all tone, without a finger's noise, and begin more softly than such a thump."""
    sweep = sweep_of(HARP, names)
    sound, n = sweep.samples.copy(), RATE_HZ // 20
    for place, (_, onset_s) in enumerate(sweep.truth):
        thump = np.convolve(np.random.default_rng(place).normal(size=n), np.hanning(round(RATE_HZ / 1000)), mode="same")
        thump *= np.exp(-np.arange(n) / RATE_HZ / 0.0043)
        at, begins = round((onset_s - before_s) * RATE_HZ), round(onset_s * RATE_HZ)
        sound[at:at + n] += thump * np.abs(sweep.samples[begins:begins + n]).max() / np.abs(thump).max()
    assert errors_s(sweep, spans_of(sound)).max() < 0.01


def test_beating_strings_are_no_onsets():
    beat = render(FormulaPluck(220.0, t60_s=12.0, split_hz=3.0, split_ratio=0.9, level_db=-12.0), rate_hz=RATE_HZ, length_s=5.0, pre_s=0.5)
    noise = np.random.default_rng(2).normal(0.0, 1e-4, len(beat))
    spans = spans_of(beat + noise)
    assert len(spans) == 1 and spans[0].onset_s == pytest.approx(0.5, abs=0.005)


def test_where_the_sound_is_looked_at_block_by_block_nothing_begins():
    """Half a minute in which always something rings, then one with silence in it: its noise is another, but nothing new sounds."""
    noise = np.random.default_rng(4).normal(0.0, 1e-4, round(2.0 * BLOCK_S * RATE_HZ))
    onsets_s = [0.5 + 2.25 * place for place in range(13)]  # the last at 27.5 s, damped at 33
    for place, onset_s in enumerate(onsets_s):
        length_s = 2.25 if onset_s < onsets_s[-1] else 5.5
        pluck = render(FormulaPluck(660.0 * 0.9**place, t60_s=8.0, level_db=-12.0), rate_hz=RATE_HZ, length_s=length_s, pre_s=0.0)
        pluck[-4000:] *= np.cos(np.linspace(0.0, np.pi / 2.0, 4000)) ** 2
        noise[int(onset_s * RATE_HZ):][: len(pluck)] += pluck
    found_s = [span.onset_s for span in spans_of(noise)]
    assert not [at_s for at_s in found_s if BLOCK_S - 0.2 < at_s < BLOCK_S + 0.3]
    assert all(min(abs(at_s - onset_s) for at_s in found_s) < 0.01 for onset_s in onsets_s)


@pytest.mark.parametrize("onset_s", [BLOCK_S - 10.0, BLOCK_S - 0.1, BLOCK_S + 0.02])
def test_the_last_wire_of_a_sweep_rings_to_the_end_of_the_recording(onset_s):
    """It has fallen by 24 dB of the 68 that it stands over the noise (T60 5 s, two of them heard): where what was heard of it last was
    looked at by itself, in which nothing but it sounds, it passed for the noise."""
    pluck = render(FormulaPluck(49.0, t60_s=5.0, level_db=-12.0), rate_hz=8000, length_s=2.0, pre_s=0.0)
    sound = np.random.default_rng(4).normal(0.0, 1e-4, round(onset_s * 8000) + len(pluck))
    sound[-len(pluck):] += pluck
    span, = spans_of(sound, 8000)
    assert span.end_s == pytest.approx(onset_s + 2.0, abs=0.02)


# Where a span ends

def test_a_span_ends_with_the_hand():
    sweep = sweep_of(HARP, ("4C", "4B"), gap_s=3.0, t60_s=8.0)
    silent = sweep.samples.copy()
    stop = round((sweep.truth[0][1] + 1.5) * RATE_HZ)
    start = round((sweep.truth[1][1] - 0.02) * RATE_HZ)
    silent[stop:start] = np.random.default_rng(3).normal(0.0, 10 ** (-75 / 20), start - stop)
    first = spans_of(silent)[0]
    assert first.end_s == pytest.approx(sweep.truth[0][1] + 1.5, abs=0.12)


def test_a_span_ends_with_the_next_pluck():
    sweep = sweep_of(HARP, ("4C", "4B"), gap_s=1.0, t60_s=8.0, damped=False)
    first = spans_of(sweep.samples)[0]
    assert sweep.truth[1][1] - 0.03 < first.end_s < sweep.truth[1][1]


# Where there is nothing

@pytest.mark.parametrize("level", [1e-4, 0.1])
def test_noise_has_no_onsets(level):
    assert spans_of(np.random.default_rng(4).normal(0.0, level, 10 * RATE_HZ)) == ()


def test_a_steady_tone_has_no_onsets():
    time_s = np.arange(5 * RATE_HZ) / RATE_HZ
    hum = 0.1 * np.cos(2 * np.pi * 50.0 * time_s) + 0.05 * np.cos(2 * np.pi * 440.0 * time_s)
    spans = spans_of(hum + np.random.default_rng(5).normal(0.0, 1e-3, len(time_s)))
    assert all(span.onset_s == 0.0 for span in spans)  # it may begin with the recording, but nothing begins in it


def test_a_recording_that_starts_within_a_pluck():
    sweep = sweep_of(HARP, ("4C", "4A"), damped=False)
    late = sweep.samples[round((sweep.truth[0][1] + 0.2) * RATE_HZ):]
    spans = spans_of(late)
    assert spans[0].onset_s == 0.0 and len(spans) == 2


@pytest.mark.parametrize("length_s", [0.3, 0.31, 0.5])
def test_the_shortest_recordings(length_s):
    sound = render(FormulaPluck(440.0), rate_hz=RATE_HZ, length_s=length_s - 0.1, pre_s=0.1, snr_db=50.0)
    span, = spans_of(sound[: round(length_s * RATE_HZ)])
    assert span.onset_s == pytest.approx(0.1, abs=0.005) and span.onset_s < span.end_s <= span.next_s + 1e-9


def eight_bits(samples: np.ndarray, path) -> tuple[Span, ...]:
    soundfile.write(path, samples, RATE_HZ, subtype="PCM_U8")
    return find_spans(open_recording(path))


def test_a_string_that_dies_away_among_the_steps_of_eight_bits_is_not_plucked_again(tmp_path):
    """Three plucks; two modes of each partial 2.5 cents apart, so that it falls below a step and comes back. Rounded without dither."""
    sweep, beside = (sweep_of(HARP, ("2E", "3A", "4C"), gap_s=8.0, noise_db=-120.0, t60_s=12.0, cents=cents) for cents in (0.0, 2.5))
    spans = eight_bits(sweep.samples + 0.9 * beside.samples + 0.05, tmp_path / "eight.wav")
    assert errors_s(sweep, spans).max() < 0.01
    assert len(spans) <= 3 + 2  # this room is generous; rounding alone makes some thirty


def test_soft_plucks_of_an_eight_bit_recording_are_heard(tmp_path):
    """Peaks of twelve steps at most, each when the one before has died away."""
    sweep = sweep_of(HARP, TOP, gap_s=2.5, noise_db=-120.0)
    spans = eight_bits(sweep.samples * 12.0 / 128.0 / np.abs(sweep.samples).max(), tmp_path / "soft.wav")
    assert errors_s(sweep, spans).max() < 0.02


def test_each_pluck_of_eight_bits_may_be_softer_than_what_sounded_before_it(tmp_path):
    """From sixty steps down to ten, a second apart: the ring of the one before still stands higher."""
    sweep = sweep_of(HARP, TOP, gap_s=1.0, noise_db=-120.0)
    softer = sweep.samples * 0.7 ** (np.arange(len(sweep.samples)) / RATE_HZ)
    assert errors_s(sweep, eight_bits(softer * 60.0 / 128.0 / np.abs(softer).max(), tmp_path / "softer.wav")).max() < 0.02


def test_two_plucks_nearer_than_can_be_told_are_one():
    def plucks(gap_s):
        one = render(FormulaPluck(440.0, t60_s=2.0, level_db=-12.0), rate_hz=RATE_HZ, length_s=2.0, pre_s=0.5, snr_db=60.0)
        second = FormulaPluck(587.3, t60_s=2.0, level_db=-12.0, seed=2)
        other = render(second, rate_hz=RATE_HZ, length_s=2.0, pre_s=0.5 + gap_s, snr_db=None)
        return one + other[: len(one)]

    assert len(spans_of(plucks(0.5 * SHORTEST_GAP_S))) == 1
    assert len(spans_of(plucks(3.0 * SHORTEST_GAP_S))) == 2


def test_the_input_stays_as_it_was():
    sweep = sweep_of(HARP, MIDDLE[:2])
    before = sweep.samples.copy()
    sweep.samples.flags.writeable = False
    spans_of(sweep.samples)
    assert np.array_equal(sweep.samples, before)

"""Shared ripple from envelopes of known swing: depth and rate come out, and what only single partials do stays out."""

from functools import cache

import numpy as np
import pytest
from sounds.changed_plucks import measured
from sounds.formula_plucks import PRE_S, FormulaPluck, render

from toneprobe.measure.envelope import Envelope
from toneprobe.measure.ripple import MOST_ERROR_DB, NOT_TOLD, RATES_HZ, SPLITS_CENTS, shared_ripple, shared_swing

RATE_HZ = 60.0
N = tuple(range(1, 11))
F1_HZ = 220.0
WAVERING = FormulaPluck(261.6256, 2.6e-4, t60_s=4.0, n_partials=12)


def envelopes(swing_db, *, length_s=3.0, tau_s=1.2, noise_power=1e-9, f1_hz=F1_HZ):
    """Partials that decay with tau_s, their levels swung by swing_db(n, t), its imaginary part turning them; |z|² starts at 1."""
    t = np.arange(int(length_s * RATE_HZ)) / RATE_HZ
    return [Envelope((10 ** (swing_db(n, t) / 20) * np.exp(-t / tau_s)).astype(complex), RATE_HZ, n * f1_hz, 0.02, noise_power) for n in N]


def swings_of(made, numbers=N):
    """Complex, None where not told."""
    found = shared_ripple(numbers, made)
    return [None if re is None else re + 1j * im for re, im in zip(found.in_phase_db, found.quadrature_db, strict=True)]


def depths_of(made, numbers=N):
    return [None if swing is None else abs(swing) for swing in swings_of(made, numbers)]


def at_rate(depths, hz):
    return depths[int(np.argmin(np.abs(np.array(RATES_HZ) - hz)))]


def at_split(depths, cents):
    return depths[len(RATES_HZ) + SPLITS_CENTS.index(cents)]


@pytest.mark.parametrize("depth_db", [0.5, 2.0, 4.0])
def test_a_swing_of_all_partials_comes_out_with_its_depth(depth_db):
    found = depths_of(envelopes(lambda n, t: 0.5 * depth_db * np.cos(2 * np.pi * 3.0 * t)))
    assert at_rate(found, 3.0) == pytest.approx(depth_db, rel=0.12)  # derived: half the depth is the amplitude; the grid is 8 % wide
    assert at_rate(found, 8.0) < 0.15 * depth_db


@pytest.mark.parametrize("turn", [0.0, 0.25, 0.6])
def test_where_in_its_swing_a_string_begins_is_kept(turn):
    hz = RATES_HZ[20]
    found = at_rate(swings_of(envelopes(lambda n, t: np.cos(2 * np.pi * (hz * t + turn)))), hz)
    assert np.exp(1j * np.angle(found)) == pytest.approx(np.exp(2j * np.pi * turn), abs=0.1)  # derived: cos(ωt + φ) = Re[exp(iφ)·exp(iωt)]


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_second_voice_so_many_cents_above_or_below_comes_out_at_its_split(side):
    cents = side * abs(SPLITS_CENTS[9])
    ratio = (10 ** (2.0 / 20) - 1) / (10 ** (2.0 / 20) + 1)  # derived: check-value formula of ripple, 20·log((1 + r)/(1 − r)) = 2 dB

    def beat(n, t):
        return 20 * np.log10(1 + ratio * np.exp(2j * np.pi * n * F1_HZ * (2 ** (cents / 1200) - 1) * t))  # complex: the phase too

    found = depths_of(envelopes(beat))
    assert at_split(found, cents) == pytest.approx(2.0, rel=0.15)
    assert at_split(found, -cents) < 1.0  # the other side
    assert max(d for d in found[: len(RATES_HZ)] if d is not None) < 1.0  # no one rate fits all partials


@pytest.mark.parametrize("f1_hz, beats_a_second", [(220.0, 2.5), (174.6, 2.5), (87.3, 1.5), (82.4, 2.0), (65.4, 1.5)])
def test_a_low_strings_second_voice_is_found_where_it_beats_as_fast_as_a_high_ones(f1_hz, beats_a_second):
    """Derived: F2 with another voice that beats 1.5 times a second has it 1200·log2(1 + 1.5/87.3) = 29.5 cents off."""
    cents = 1200 * np.log2(1 + beats_a_second / f1_hz)
    ratio = (10 ** (2.0 / 20) - 1) / (10 ** (2.0 / 20) + 1)  # derived: 2 dB from dip to swell
    found = depths_of(envelopes(lambda n, t: 20 * np.log10(1 + ratio * np.exp(2j * np.pi * n * beats_a_second * t)), f1_hz=f1_hz))
    depth, best = max((depth, split) for depth, split in zip(found[len(RATES_HZ):], SPLITS_CENTS, strict=True) if depth is not None)
    assert best == pytest.approx(cents, rel=0.02)
    assert depth > 1.4  # derived: half a step of 1.2 % is half a turn off after 40 swings, which leaves 0.64 of the mean or more


def test_a_pitch_that_wanders_swings_both_sides_and_the_level_of_neither():
    """Derived: a clock that runs ahead by A·sin(ωt) turns partial n by 2π·n·f1·A·sin(ωt), which is i·½(e^iωt·(−i) + e^−iωt·i) = both sides
    alike; at the split of the fourth partial its own ω is met, and c(ω) = −c(−ω)*. A second voice is on one side alone (above)."""
    cents, sides = SPLITS_CENTS[9], (len(RATES_HZ) + 9, len(RATES_HZ) + SPLITS_CENTS.index(-SPLITS_CENTS[9]))

    def turned(n, t):
        hz = n * F1_HZ * (2 ** (cents / 1200) - 1)
        return 1j * np.sin(2 * np.pi * hz * t)

    swings = swings_of(envelopes(turned))
    up, down = (swings[side] for side in sides)
    assert abs(up) == pytest.approx(1.0, rel=0.2) and abs(down) == pytest.approx(1.0, rel=0.2)
    assert abs(up + np.conj(down)) < 0.2 < 0.5 < abs(up - np.conj(down))


def test_what_comes_up_again_long_after_a_partial_is_gone_is_not_its_own():
    """A tick in the last tenth of a second, when the partials have long sunk into the noise."""
    alone = envelopes(lambda n, t: 0.0, tau_s=0.12, noise_power=1e-4)
    rng, struck = np.random.default_rng(3), []
    for one in alone:
        z = one.z + rng.normal(0.0, 0.007, (len(one.z), 2)) @ (1.0, 1.0j)
        z[-4:] += 0.5
        struck.append(Envelope(z, one.rate_hz, one.centre_hz, one.settle_s, one.noise_power))
    assert max((d for d in depths_of(struck) if d is not None), default=0.0) < 1.0
    told = sum(d is not None for d in depths_of(struck))
    assert told <= sum(d is not None for d in depths_of(alone)) + 3  # it is not followed through the noise to the tick


def test_beats_of_single_partials_at_rates_of_their_own_average_out():
    rng = np.random.default_rng(1)
    rate, turn = rng.uniform(1, 8, 11), rng.uniform(0, 2 * np.pi, 11)
    found = depths_of(envelopes(lambda n, t: 3.0 * np.cos(2 * np.pi * rate[n] * t + turn[n])))
    assert max(d for d in found if d is not None) < 2.0  # each partial alone swings by 6 dB
    alone = depths_of(envelopes(lambda n, t: 3.0 * np.cos(2 * np.pi * 3.0 * t)))
    assert at_rate(alone, 3.0) > 3.0  # the same swing shared is seen: the assertion above can fail


def test_the_error_covers_what_partials_do_of_their_own():
    rng, over = np.random.default_rng(2), []
    for _ in range(20):
        walk = {n: np.cumsum(rng.normal(0, 0.15, 400)) for n in N}  # dB: a walk of its own in each partial, as untouched strings show
        found = shared_ripple(N, envelopes(lambda n, t, walk=walk: walk[n][: len(t)]))
        over += [abs(re + 1j * im) / se for re, im, se in zip(found.in_phase_db, found.quadrature_db, found.se_db, strict=True) if se]
    assert len(over) > 500 and np.mean(np.array(over) > 3.0) < 0.011  # derived: of a Rayleigh variable 1 in 90 exceeds three errors


@pytest.mark.parametrize(("n_sure", "least_db", "most_db"), [(2, 0.0, 0.5), (3, 3.9, 4.0)])
def test_no_two_partials_say_alone_what_a_string_does(n_sure, least_db, most_db):
    """Of five partials two or three swing by 4 dB peak to peak, known a hundred times better than that the others do not (set: none counts
    more than the third surest)."""
    sure = np.arange(5)[:, None] < n_sure
    swing, _ = shared_swing(np.where(sure, 2.0 + 0j, 0.0), np.where(sure, 4e-6, 0.04), most_error=MOST_ERROR_DB)
    assert least_db <= abs(swing[0]) <= most_db


@pytest.mark.parametrize(("off", "se_db"), [(0.5, np.sqrt(2.0 / 8.0) * 0.4), (1.2, np.sqrt(2.0 / 8.0) * 0.4 * 1.2)])
def test_the_error_is_what_the_partials_claim_or_what_they_scatter_by_where_that_is_more(off, se_db):
    """Eight partials of variance 0.16 about one swing, all off by so many of their errors: of either part twice the variance of the mean
    (derived)."""
    side = np.exp(0.5j * np.pi * np.arange(8))[:, None]
    swing, se = shared_swing(1.0 + 0.4 * off * side, np.full((8, 1), 0.16), most_error=MOST_ERROR_DB)
    assert swing[0] == pytest.approx(2.0) and se[0] == pytest.approx(se_db)


def test_high_partials_have_no_say():
    """Above the fourteenth bands are wide and hold what is not the string's (set)."""
    made = envelopes(lambda n, t: np.cos(2 * np.pi * 3.0 * t))
    assert shared_ripple(range(15, 25), made) == NOT_TOLD != shared_ripple(range(5, 15), made)


def test_what_rings_after_five_seconds_does_not_count():
    long, longer = (envelopes(lambda n, t: np.cos(2 * np.pi * 3.0 * t), length_s=length_s, tau_s=8.0) for length_s in (5.1, 8.0))
    assert shared_ripple(N, long) == shared_ripple(N, longer)


@pytest.mark.parametrize("scale", [1e-3, 10.0])
def test_volume_and_polarity_do_not_count(scale):
    plain = envelopes(lambda n, t: np.cos(2 * np.pi * 3.0 * t))
    scaled = [Envelope(-scale * e.z, e.rate_hz, e.centre_hz, e.settle_s, scale**2 * e.noise_power) for e in plain]
    assert shared_ripple(N, scaled) == pytest.approx(shared_ripple(N, plain), nan_ok=True, abs=1e-6)


def swung(*, rate_hz=RATE_HZ, late_s=0.0, silence_s=0.0):
    """All partials swing by 2 dB at 3 Hz from the onset on and have died away after 3 s; the bands have that rate, begin so much later, and
    are zero at the end."""
    t = np.arange(int(3.0 * rate_hz)) / rate_hz + late_s
    z = np.concatenate([10 ** (np.cos(2 * np.pi * 3.0 * t) / 20) * np.exp(-t / 0.6), np.zeros(int(silence_s * rate_hz))]).astype(complex)
    return [Envelope(z.copy(), rate_hz, n * F1_HZ, 0.02, 1e-9, late_s) for n in N]


@pytest.mark.parametrize("how", [{"rate_hz": 90.0}, {"rate_hz": 240.0}, {"late_s": 0.006}, {"late_s": -0.006}, {"silence_s": 2.0}])
def test_rate_start_and_silence_of_the_bands_do_not_count(how):
    """The swing keeps its depth and where it begins: 2 dB, in phase with the onset (derived: as it was put in; the grid is 8 % wide)."""
    found = at_rate(swings_of(swung(**how)), 3.0)
    assert found == pytest.approx(2.0, rel=0.12) and abs(found - at_rate(swings_of(swung()), 3.0)) < 0.1


@pytest.fixture(scope="module")
def wavering():
    """A pluck of a formula whose loudness swings by 2 dB at 3 Hz from its onset on, measured whole."""

    @cache
    def measure(rate_hz=44100, silence_s=0.0, late_s=0.0):
        sound = render(WAVERING, rate_hz=rate_hz, late_s=late_s)
        t = np.arange(len(sound)) / rate_hz - PRE_S - late_s
        swinging = np.concatenate([sound * 10 ** (np.cos(2 * np.pi * 3.0 * t) / 20), np.zeros(int(silence_s * rate_hz))])
        found = measured(swinging, f1_hz=WAVERING.f1_hz, rate_hz=rate_hz).ripple
        return [None if re is None else re + 1j * im for re, im in zip(found.in_phase_db, found.quadrature_db, strict=True)]

    return measure


@pytest.mark.parametrize("how", [{}, {"rate_hz": 22050}, {"rate_hz": 96000}, {"silence_s": 1.0}, {"late_s": 0.37 / 44100}])
def test_rate_time_and_silence_of_the_recording_do_not_count(wavering, how):
    found = at_rate(wavering(**how), 3.0)
    assert found == pytest.approx(2.0, abs=0.3)  # derived: as it was put in, less what the width of the bands takes
    assert abs(found - at_rate(wavering(), 3.0)) < 0.1


def test_a_plain_mean_of_the_partials_levels_is_dragged_away_by_one_that_beats():
    """The naive way: the swing at one rate in the mean of the levels in dB, straight line taken off. One partial of ten that beats by 20 dB
    there makes 2 dB of it (derived: 20/10); the shared ripple gives it no say."""
    made = envelopes(lambda n, t: (10.0 if n == 4 else 0.0) * np.cos(2 * np.pi * 3.0 * t))
    level_db = np.mean([20 * np.log10(np.abs(one.z)) for one in made], axis=0)
    t = np.arange(len(level_db)) / RATE_HZ
    level_db = level_db - np.polyval(np.polyfit(t, level_db, 1), t)
    naive = 4.0 * abs(np.mean(level_db * np.exp(-2j * np.pi * 3.0 * t)))
    assert at_rate(depths_of(made), 3.0) < 0.5 < 1.8 < naive


@pytest.mark.parametrize("case", ["silence", "short", "stopped", "few", "none"])
def test_what_cannot_be_told_is_none(case):
    """Stopped after a quarter of a second: three swings in the 0.2 s that are read were 15 a second, more than RATES_HZ have and than a
    quarter tone makes of any of these partials (derived)."""
    made = {
        "silence": lambda: [Envelope(np.zeros(100, complex), RATE_HZ, n * F1_HZ, 0.02, 1e-9) for n in N],
        "short": lambda: envelopes(lambda n, t: 0 * t, length_s=0.2),
        "stopped": lambda: envelopes(lambda n, t: 0 * t, length_s=0.25, tau_s=8.0, f1_hz=40.0),
        "few": lambda: envelopes(lambda n, t: 0 * t)[:2],
        "none": list,
    }[case]()
    found = depths_of(made, N[: len(made)])
    assert len(found) == len(RATES_HZ) + len(SPLITS_CENTS)
    assert all(depth is None for depth in found)


def test_rates_slower_than_the_ring_allows_are_not_told():
    found = depths_of(envelopes(lambda n, t: 0 * t, tau_s=0.25, noise_power=1e-3))  # rings for well under a second
    assert at_rate(found, RATES_HZ[0]) is None
    assert at_rate(found, 6.0) is not None


def test_of_a_ring_that_is_cut_two_swings_are_not_told():
    """Derived: 3 s hold 2.4 swings of 0.8 Hz. With tau 0.85 s the level falls by 8.686·3/0.85 = 31 dB and is heard to its end; with
    tau 8 s by 3 dB, and the hand cuts it."""
    slow, fast = RATES_HZ[0], 4.0
    whole, cut = (depths_of(envelopes(lambda n, t: np.cos(2 * np.pi * slow * t), tau_s=tau_s)) for tau_s in (0.85, 8.0))
    assert at_rate(whole, slow) > 1.0 and at_rate(cut, slow) is None
    assert at_rate(cut, fast) is not None


@pytest.mark.parametrize("lag_s", [0.5 / RATE_HZ, -0.5 / RATE_HZ])
def test_a_swing_is_timed_from_the_onset_and_not_from_the_first_value(lag_s):
    """A band's first value may lie half a value before or after the onset, at 10 swings a second half a radian of the swing. Were that
    not told apart, a string's own swing would seem another in each pluck, and be taken for chance."""
    hz, t = RATES_HZ[36], np.arange(180) / RATE_HZ + lag_s
    made = [Envelope((10 ** (np.cos(2 * np.pi * hz * t) / 20) * np.exp(-t / 1.2)).astype(complex), RATE_HZ, n * F1_HZ, 0.02, 1e-9, lag_s)
            for n in N]
    assert np.angle(at_rate(swings_of(made), hz)) == pytest.approx(0.0, abs=0.1)  # derived: it begins at its greatest
    assert 2 * np.pi * hz * abs(lag_s) > 0.5


def test_envelopes_are_left_as_they_were():
    made = envelopes(lambda n, t: np.cos(2 * np.pi * 3.0 * t))
    before = [e.z.copy() for e in made]
    shared_ripple(N, made)
    assert all(np.array_equal(a, e.z) for a, e in zip(before, made, strict=True))

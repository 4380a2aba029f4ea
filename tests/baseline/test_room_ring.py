"""Strings heard in a room, their falls convolved with the room's here, by number, and what is made of them."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.signal import fftconvolve

from toneprobe.baseline import room_ring
from toneprobe.baseline.decay_change import decay_change
from toneprobe.baseline.longer_room import longer_room_s, room_loss
from toneprobe.baseline.pairing import pair_partials
from toneprobe.baseline.room_ring import _likeliest, _Room, heard_share, room_ring_s
from toneprobe.baseline.scatter import Scatter
from toneprobe.units import LN_1000

SMALL = Scatter(0.05, 0.02)
ROOM_S = 0.35
RATE_HZ = 2000.0


@cache
def heard_t60_s(own_s, room_s):
    """Of the first 30 dB of the backward integral of two exponential energies convolved; derived here, without the program's formula."""
    time_s = np.arange(0.0, 3.0 * max(own_s, room_s), 1.0 / RATE_HZ)
    energy = fftconvolve(*(np.exp(-2.0 * LN_1000 * time_s / t60_s) for t60_s in (own_s, room_s)))[: len(time_s)]
    level_db = 10.0 * np.log10(np.maximum(np.cumsum(energy[::-1])[::-1] / energy.sum(), 1e-12))
    first = level_db > -30.0
    return float(-60.0 / np.polyfit(time_s[first], level_db[first], 1)[0])


def decays(freq_hz, *, law=1.0, at_1_khz_s=0.8, ring=1.0, room_s=None):
    """ln δ of partials that lose in proportion to a power of their frequency."""
    own_s = [ring * at_1_khz_s * (1000.0 / f) ** law for f in freq_hz]
    return np.log([LN_1000 / (heard_t60_s(round(t, 3), room_s) if room_s else t) for t in own_s])


@pytest.fixture
def sweep(reading, series):
    """Sixteen strings from 500 Hz up, each partial 15 % off its law (at random), every third string at so much of its ring."""

    def make(ring=1.0, **how):
        rng, found = np.random.default_rng(4), []
        for k in range(16):
            f = series(500.0 * 2 ** (k / 7), 3e-4, 7)
            off = rng.normal(0.0, 0.15, 7)
            one = reading(f, log_decay=decays(f, ring=ring if k % 3 == 0 else 1.0, **how) + off)
            found.append(replace(one, string=f"s{k}"))
        return found

    return make


@pytest.mark.parametrize("ring", [1.0, 0.5])
@pytest.mark.parametrize("room_s", [0.2, 0.35, 0.5])
def test_the_room_is_known_by_the_one_time_in_which_high_partials_end(sweep, ring, room_s):
    assert room_ring_s(sweep(ring, room_s=room_s)) == pytest.approx(room_s, rel=0.2)  # as convolved above


@pytest.mark.parametrize("law", [0.5, 0.75, 1.0])
@pytest.mark.parametrize("ring", [1.0, 0.5])
def test_no_room_is_made_up_where_strings_alone_die(sweep, law, ring):
    assert room_ring_s(sweep(ring, law=law)) is None


def test_a_room_hardly_seen_is_believed_where_the_fresh_sweep_shows_it(sweep, monkeypatch):
    """Of 16 strings in noise so few partials tell that less of a gain is left; the room is in both sweeps."""
    now, fresh = sweep(room_s=ROOM_S), sweep(room_s=0.36)
    monkeypatch.setattr(room_ring, "_likeliest", lambda readings: _Room(ROOM_S, 0.03) if readings is now else _likeliest(readings))
    assert room_ring_s(now) is None and room_ring_s(now, fresh) == ROOM_S
    assert room_ring_s(now, sweep(room_s=0.2)) is None  # another room's time tells nothing of this one's
    assert room_ring_s(now, sweep(room_s=0.6)) is None
    assert room_ring_s(now, sweep()) is None


def test_a_room_of_the_fresh_sweep_is_none_of_a_dry_one(sweep):
    assert room_ring_s(sweep(), sweep(room_s=ROOM_S)) is None


@pytest.mark.parametrize(("snr_db", "is_told"), [(35.0, True), (25.0, False), (None, False)])
def test_partials_whose_fall_noise_cuts_short_tell_of_no_room(sweep, snr_db, is_told):
    """The first 30 dB of a fall are compared: of what stands less out of the noise the end is the noise's."""
    found = [replace(one, partials=tuple(replace(p, snr_db=snr_db) for p in one.partials)) for one in sweep(room_s=ROOM_S)]
    assert (room_ring_s(found) is not None) == is_told


def test_few_strings_tell_of_no_room(sweep):
    assert room_ring_s(sweep(room_s=ROOM_S)[:4]) is None


@pytest.mark.parametrize("own_s", [0.2, 0.35, 0.7, 1.4, 2.8])
def test_what_is_heard_of_a_half_ring_is_what_two_convolved_falls_leave_of_it(own_s):
    """Derived here: the fall of string and room convolved, before and after the string lost half of its own."""
    fresh_s = heard_t60_s(own_s, ROOM_S)
    seen = np.log(fresh_s / heard_t60_s(0.5 * own_s, ROOM_S)) / np.log(2.0)
    assert heard_share(np.array([fresh_s]), ROOM_S)[0] == pytest.approx(max(seen, 0.1), abs=0.02)  # a tenth at least; 0.04 off by 2.5


def test_far_above_the_room_all_of_a_loss_is_heard():
    assert heard_share(np.array([20.0 * ROOM_S]), ROOM_S)[0] == pytest.approx(1.0, abs=0.01)


def changed(reading, f, ring, heard_in_s, **known):
    now, then = (reading(f, log_decay=decays(f, ring=part, room_s=heard_in_s)) for part in (ring, 1.0))
    return decay_change(pair_partials(now, then), SMALL, n_now=3, n_fresh=3, **known)


def test_a_half_ring_is_told_in_a_room_by_the_partials_that_outring_it(reading, series):
    """Two partials of eight ring longer than the room, at 700 Hz 1.1 s; all together they seem to have lost a fifth."""
    f = series(700.0, 3e-4, 8)
    blind, told = (changed(reading, f, 0.5, ROOM_S, **known).all for known in ({}, {"room_s": ROOM_S}))
    assert blind.value < 0.35 and told.value == pytest.approx(np.log(2.0), abs=0.2)  # definition
    assert told.se > blind.se


def test_an_untouched_string_lost_nothing_in_a_room_either(reading, series):
    f = series(700.0, 3e-4, 8)
    assert changed(reading, f, 1.0, ROOM_S, room_s=ROOM_S).all.value == pytest.approx(0.0, abs=1e-9)


def test_a_string_that_rings_no_longer_than_the_room_is_known_to_be_unknown(reading, series):
    """At 2.5 kHz 0.32 s and less, in a room of 0.5 s: half of it changes nothing, so no error within a halved ring may be told."""
    f = series(2500.0, 3e-4, 4)
    change = changed(reading, f, 0.5, 0.5, room_s=0.5)
    assert change.heard_share < 0.4 and 3.0 * change.all.se > np.log(2.0)


@pytest.mark.parametrize(("first_hz", "room_s", "told_by_one"), [(1660.0, 0.25, True), (700.0, 0.25, False), (1660.0, None, False)])
def test_where_one_partial_alone_outrings_the_room_it_is_told(reading, series, first_hz, room_s, told_by_one):
    """Own rings of 0.48, 0.24, 0.16 s and of 1.14, 0.57, 0.38 s; the strongest partial tells most, as in any string."""
    f, level = series(first_hz, 3e-4, 6), -8.0 * np.arange(6)
    now, then = (reading(f, log_decay=decays(f, ring=part, room_s=room_s), level_db=level) for part in (0.5, 1.0))
    change = decay_change(pair_partials(now, then), SMALL, n_now=3, n_fresh=3, room_s=room_s)
    assert ("low" in change.told_by_one) == told_by_one


def test_where_the_room_is_not_known_nothing_is_changed(reading, series):
    f = series(700.0, 3e-4, 8)
    assert changed(reading, f, 0.5, None, room_s=None).heard_share == 1.0


@pytest.mark.parametrize("ring", [0.4, 0.6])
def test_a_fade_that_ends_all_sounds_alike_hides_no_loss(reading, series, ring):
    """Derived: a fade multiplies, and the decay rates add; a room cannot but lengthen. With the loss of 40 % taken for what a room lets
    through, the upper partials had lost 99 %."""
    f, fade = series(1500.0, 3e-4, 8), LN_1000 / ROOM_S
    own = np.exp(decays(f, at_1_khz_s=1.2))
    now, then = (reading(f, log_decay=np.log(own / part + fade)) for part in (ring, 1.0))
    assert max(LN_1000 / (own + fade)) < ROOM_S  # as the sweep would tell it
    change = decay_change(pair_partials(now, then), SMALL, n_now=3, n_fresh=3, room_s=ROOM_S)
    assert change.heard_share == 1.0 and np.exp(-change.high.value) >= ring


@pytest.mark.parametrize("ring", [1.0, 0.5, 0.25])
def test_no_string_in_a_room_outfalls_it(reading, series, ring):
    """Of one that rings no longer than the room nothing is heard, however much it lost."""
    assert changed(reading, series(2500.0, 3e-4, 8), ring, 0.5, room_s=0.5).heard_share < 0.6


@pytest.fixture
def two_sweeps(reading, series):
    """Pairs of sixteen strings from 110 Hz to 2.4 kHz, twelve partials each and 15 % off their law in each sweep: `losses`, by the string's
    place from the bottom, turns frequencies into shares of the ring that is left."""

    def make(*, losses=None, fresh_s=None, now_s=None):
        rng, found = np.random.default_rng(4), []
        for k in range(16):
            f = series(110.0 * 2 ** (k / 3.4), 1e-4, 12)
            left = (losses or {}).get(k, np.ones_like)(f)
            now, fresh = (decays(f, room_s=room_s) + rng.normal(0.0, 0.15, 12) for room_s in (now_s, fresh_s))
            found.append(pair_partials(reading(f, log_decay=now - np.log(left)), reading(f, log_decay=fresh)))
        return found

    return make


def at_half(f):
    return np.full(len(f), 0.5)


def dirty(f):
    """Loss that grows with the square of frequency: half the ring at 2 kHz."""
    return 1.0 / (1.0 + (f / 2000.0) ** 2)


@pytest.mark.parametrize("losses", [{}, dict.fromkeys((1, 4, 7, 10, 13), at_half)])
@pytest.mark.parametrize(("fresh_s", "now_s"), [(0.35, None), (0.7, 0.25)])
def test_a_longer_room_of_the_fresh_sweep_is_told_by_the_partials_of_all_strings(two_sweeps, losses, fresh_s, now_s):
    """As convolved above; of two rooms the difference of their powers counts, and 0.25 s is little beside 0.7."""
    assert longer_room_s(two_sweeps(losses=losses, fresh_s=fresh_s, now_s=now_s)) == pytest.approx(fresh_s, rel=0.25)


@pytest.mark.parametrize("losses", [{}, dict.fromkeys(range(16), at_half), dict.fromkeys(range(10, 16), at_half),
                                    dict.fromkeys(range(6), at_half), dict.fromkeys(range(2, 16, 3), dirty)])
def test_strings_that_aged_tell_of_no_longer_room(two_sweeps, losses):
    """All of them, a register, or the windings of every third: quick partials of other strings lost nothing, or the slow ones as much."""
    assert longer_room_s(two_sweeps(losses=losses)) is None


def test_a_room_in_both_sweeps_a_livelier_one_now_or_few_strings_tell_of_no_longer_room(two_sweeps):
    assert longer_room_s(two_sweeps(fresh_s=0.5, now_s=0.5)) is None
    assert longer_room_s(two_sweeps(now_s=0.5)) is None
    assert longer_room_s(two_sweeps(fresh_s=0.5)[2:]) is None


def test_a_longer_room_made_of_each_part_what_two_convolved_falls_are_longer_than_one(reading, series):
    """At 220 Hz twelve partials ring 3.6 to 0.3 s, the upper half less than the room: they, and not the lowest, seem to have lost ring."""
    f = series(220.0, 1e-4, 12)
    now, fresh = (decays(f, room_s=room_s) for room_s in (None, 0.5))
    found = room_loss(pair_partials(reading(f, log_decay=now), reading(f, log_decay=fresh)), 0.5)
    lost = now - fresh
    assert found == {"all": pytest.approx(lost.mean(), abs=0.03), "low": pytest.approx(lost[:6].mean(), abs=0.03),
                     "high": pytest.approx(lost[6:].mean(), abs=0.03)}
    assert found["low"] < 0.15 < 0.4 < found["high"] and room_loss(pair_partials(reading(f), reading(f)), None) == {}

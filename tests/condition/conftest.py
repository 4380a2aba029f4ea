"""Sweeps drawn from the bench's statistical model of a string, which knows nothing of the program's thresholds."""

from dataclasses import replace
from functools import cache

import pytest
from sounds import drawn_plucks

from toneprobe.baseline import fresh_baseline
from toneprobe.condition.judgement import judge
from toneprobe.instrument import Instrument, load_instrument
from toneprobe.session.sweep import read_sweep


@pytest.fixture(scope="session")
def drawn():
    return drawn_plucks


@pytest.fixture(scope="session")
def harp():
    """Every other string of a pedal harp: 24 strings of three materials."""
    whole = load_instrument("pedal-47")
    return Instrument(whole.name, whole.a4_hz, whole.tuning, whole.strings[::2], whole.kind)


@pytest.fixture(scope="session")
def judged(drawn, harp):
    """Judge a later sweep of a drawn harp. change: string name, drawn string → what it has become; born: the same,
    of fresh and later alike; heard: a pluck of the later sweep → as it was measured. Other keywords go to `judge`."""

    fresh_of = cache(lambda seed, how: fresh_baseline([drawn.draw_sweep(drawn.draw_harp(harp, seed), how, 100 + seed)]))

    def run(change=lambda name, string: string, *, seed=1, n_fresh=3, how=None, fresh_how=None, leave_out=(), without=(),
            born=None, heard=None, snr_db=None, **asked):
        strings, first = drawn.draw_harp(harp, seed), fresh_how or drawn.DrawnSweep(n_each=n_fresh)
        if born:
            strings = {name: born(name, string) for name, string in strings.items()}
        fresh = fresh_baseline([drawn.draw_sweep(strings, first, 100 + seed)]) if born else fresh_of(seed, first)
        later = {name: change(name, string) for name, string in strings.items() if name not in leave_out}
        plucks = drawn.draw_sweep(later, how or drawn.DrawnSweep(), 200 + seed)
        plucks = [replace(pluck, snr_db=snr_db) for pluck in plucks] if snr_db else plucks
        plucks = [heard(pluck) for pluck in plucks] if heard else plucks
        sweep = read_sweep(plucks)
        known = {name: one for name, one in fresh.items() if name not in without}
        return judge(sweep, known, **{"instrument": harp, **asked})

    return run

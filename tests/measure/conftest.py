"""Plucks from formulas, measured once for all tests of a run."""

from dataclasses import dataclass
from functools import cache

import pytest
from sounds.changed_plucks import CHANGES, measured
from sounds.formula_plucks import REGISTERS, FormulaPluck, Register, render

from toneprobe.measure.figure import PluckMeasurement

SEEDS = (0, 1)
PLAIN = FormulaPluck(261.6256, 2.6e-4, t60_s=3.0, n_partials=20)


@dataclass(frozen=True)
class Case:
    """What is true of a pluck, and what was measured of it."""

    pluck: FormulaPluck
    register: Register
    found: PluckMeasurement


@pytest.fixture(scope="session")
def cases():
    """The plucks of one register at one signal-to-noise ratio."""

    @cache
    def measure(note: str, snr_db: int) -> tuple[Case, ...]:
        register = REGISTERS[note]
        plucks = [register.pluck(seed=seed) for seed in SEEDS]
        sounds = [render(pluck, length_s=register.length_s, snr_db=snr_db) for pluck in plucks]
        return tuple(Case(pluck, register, measured(sound, f1_hz=pluck.f1_hz, spec=register.spec))
                     for pluck, sound in zip(plucks, sounds, strict=True))

    return measure


@pytest.fixture(scope="session")
def plain():
    """An ordinary pluck, as it is."""
    return measured(render(PLAIN), f1_hz=PLAIN.f1_hz)


@pytest.fixture(scope="session")
def plain_after():
    """The same pluck after a change that must change no figure."""
    return cache(lambda change: CHANGES[change](PLAIN))

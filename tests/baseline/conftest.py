"""Readings of one string put together by hand."""

import numpy as np
import pytest

from toneprobe.measure.figure import FIGURES, Figure
from toneprobe.session.reading import PartialReading, Reading

UNKNOWN = Figure(None, None, "not given")


@pytest.fixture
def reading():
    def make(freq_hz, *, log_decay=None, level_db=None, n_plucks=2, snr_db=50.0, b=None, glide_cents=None, ripples=(), spread=None,
             heard_s=None):
        n = np.arange(1, len(freq_hz) + 1)
        decay = np.zeros(len(n)) if log_decay is None else log_decay
        level = np.zeros(len(n)) if level_db is None else level_db
        rows = tuple(PartialReading(int(k), Figure(float(f), 1e-3), Figure(float(d), 0.05), Figure(float(lv)), n_plucks, spread, 60.0,
                                    heard_s=heard_s)
                     for k, f, d, lv in zip(n, freq_hz, decay, level, strict=True))
        figures = {name: UNKNOWN for name in FIGURES} | {"pitch_hz": Figure(float(freq_hz[0]), 0.05)}
        figures |= {"inharmonicity": Figure(b, 0.01 * b)} if b else {}
        figures |= {"glide_cents": Figure(glide_cents, 0.5)} if glide_cents is not None else {}
        return Reading("3A", "A4", n_plucks, snr_db, figures, rows, decay_spread=spread, ripples=ripples)

    return make


@pytest.fixture
def series():
    """Partials 1 to k of a stiff string, Hz."""
    return lambda f0, b, k: f0 * np.arange(1, k + 1) * np.sqrt(1.0 + b * np.arange(1, k + 1) ** 2)

"""A made-up sweep of six plucks in quiet noise."""

import pytest
from made_up_recording import decaying_tones, noise


@pytest.fixture(scope="session")
def sweep():
    tones = decaying_tones()
    return tones + noise(tones.size, db=-60)

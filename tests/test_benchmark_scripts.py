"""Scripts that print figures of the pages for developers: each is named beside its figures, and its little helpers are right."""

import importlib
from pathlib import Path

import numpy as np
import pytest
from sounds.checked_strings import LogString

ROOT = Path(__file__).parents[1]
SCRIPTS = sorted((ROOT / "tests/benchmarks").glob("*.py"))
PAGES = [" ".join(page.read_text(encoding="utf-8").split()) for page in (ROOT / "DEVELOPERS.md", *(ROOT / "tests/benchmarks").glob("*.md"))]


@pytest.mark.parametrize("name", [script.stem for script in SCRIPTS])
def test_each_script_can_be_run_says_how_and_stands_beside_its_figures(name):
    script, command = importlib.import_module(name), f"python tests/benchmarks/{name}.py"
    assert command in script.__doc__ and callable(script.main)
    assert sum(command in page for page in PAGES) == 1


def test_their_small_helpers_do_what_they_say():
    """Expected values derived here, by hand."""
    drop_outs, leaping_players, slips_in_jumps = map(importlib.import_module, ("drop_outs", "leaping_players", "slips_in_jumps"))
    strings = [f"{k}" for k in range(9)]  # downwards
    assert leaping_players.octaves(strings) == ["7", "0", "8", "1"]
    assert leaping_players.outwards(strings) == ["4", "3", "5", "2", "6", "1", "7", "0", "8"]
    assert leaping_players.order_of("octave pairs, upwards", strings, 0) == ["8", "1", "7", "0"]
    lost = drop_outs.holes(60 * 44100, 20, (0.5, 0.5))
    assert len(lost) == 20 and all(end - first == 22050 for first, end in lost)
    assert all(end < first for (_, end), (first, _) in zip(lost[:-1], lost[1:], strict=True))
    kept = drop_outs.without(np.ones(60 * 44100), lost)
    assert kept.sum() == 60 * 44100 - 20 * 22050
    string = slips_in_jumps.JumpingString(LogString(0.0), ((1.5, 5.0), (2.5, 2.0), (4.0, 4.0)))
    assert string.fall(1.0, 3.0) == 7.0 and string.fall(3.0, 3.5) == 0.0 and string.n_slips(4.0) == 2

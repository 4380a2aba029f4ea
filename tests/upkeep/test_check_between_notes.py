"""A new string less than a semitone flat, plucked with two neighbours, one of them a semitone below: its plucks are its own, in a check as
in a sweep. How far it lies off was decided here."""

import json

import pytest
import soundfile
from sounds.formula_sweeps import sweep_of

from toneprobe.book.opening import open_book
from toneprobe.book.pitch_checks import pitch_checks
from toneprobe.instrument import load_instrument
from toneprobe.units import cents_between, hz_of_note

HARP = load_instrument("lever-22", tuning="Eb")


@pytest.fixture
def wren(run, tmp_path):
    """3E, a semitone above 3D, was put on on 1 March."""
    for words in (("new", "Wren", "--preset", "lever-22", "--tuning", "Eb"), ("restring", "3E", "--why", "dead", "--date", "2026-03-01")):
        result = run(*words)
        assert result.exit_code == 0, result.stderr
    return tmp_path


def played(path, order, cents):
    sweep = sweep_of(HARP, [name for name in order for _ in range(2)], cents={"3E": cents}, gap_s=2.0)
    soundfile.write(path, sweep.samples, sweep.rate_hz, subtype="PCM_24")
    return path


@pytest.mark.parametrize("cents, order", [(-30.0, ("3D", "3E", "3F")), (-60.0, ("3E", "3D", "3F")), (-60.0, ("3E", "3C", "2F")),
                                          (-90.0, ("3D", "3E", "3F"))])
def test_the_string_that_is_named_is_found(run, wren, cents, order):
    result = run("settle", "3E", played(wren / "check.wav", order, cents), "--date", "2026-03-07")
    assert result.exit_code == 0, result.stderr
    checks = {one.string: one for one in pitch_checks(open_book(wren / "book"), 1)}
    assert set(checks) == set(order)
    off = {name: cents_between(one.found_hz.value, hz_of_note(one.note)) for name, one in checks.items()}
    assert off == pytest.approx(dict.fromkeys(order, 0.0) | {"3E": cents}, abs=1.0)


def test_in_a_sweep_the_string_that_was_just_put_on_is_the_flat_one(run, wren):
    result = run("sweep", played(wren / "few.wav", ("3E", "3C", "2F"), -60.0), "--date", "2026-03-07", "--json", "-")
    assert result.exit_code == 0, result.stderr
    verdicts = {one["string"]: one["verdict"] for one in json.loads(result.stdout)["strings"]}
    assert (verdicts["3E"], verdicts["3D"]) == ("settling", "unheard")

"""Strings without a baseline: only what a player would hear is noted."""

from __future__ import annotations

import pytest

from toneprobe.condition.without_baseline import standing_notes
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.measure.figure import FIGURES, Figure
from toneprobe.session.reading import Reading

UNKNOWN = Figure(None, None, "not given")


@pytest.mark.parametrize(("usual_cents", "cents", "said"), [
    (0.3, 3.0, None),  # ten times as far as the neighbours', but musicians hear 2 to 5 cents (from memory)
    (1.0, 10.0, "10 times"),
    (4.0, 10.0, None),  # the neighbours' lie far off too
])
def test_partials_off_their_places_are_noted_where_they_are_heard(usual_cents, cents, said):
    specs = tuple(StringSpec(f"s{i}", "A4", 440.0 * 2.0 ** (-i / 7.0), "gut") for i in range(11))
    astray = {spec.name: cents if spec.name == "s5" else usual_cents for spec in specs}
    readings = {spec.name: Reading(spec.name, spec.note, 2, 50.0, {name: UNKNOWN for name in FIGURES} | {
        "pitch_hz": Figure(spec.expected_hz, 0.1), "trueness_cents": Figure(astray[spec.name], 0.1)}, ()) for spec in specs}
    notes = standing_notes(readings, readings, Instrument("Wren", 440.0, None, specs))
    assert set(notes) == ({"s5"} if said else set())
    assert not said or f"{said} as far off" in notes["s5"]

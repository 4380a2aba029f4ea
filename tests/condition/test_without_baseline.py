"""Strings without a baseline: only what a player would hear is noted."""

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


def noted(octaves_up, t60_s, *, wires=frozenset(), asked=None):
    """Notes of strings so many octaves above 110 Hz that ring so long; None: not measured. All of gut but the wires, all asked of."""
    specs = tuple(StringSpec(f"s{i}", "A4", 110.0 * 2.0**up, "steel" if i in wires else "gut") for i, up in enumerate(octaves_up))
    readings = {spec.name: Reading(spec.name, spec.note, 2, 50.0, {name: UNKNOWN for name in FIGURES} | {
        "pitch_hz": Figure(spec.expected_hz, 0.1), "t60_s": Figure(ring_s, 0.01) if ring_s else UNKNOWN}, ())
        for spec, ring_s in zip(specs, t60_s, strict=True)}
    return standing_notes(asked or readings, readings, Instrument("Wren", 110.0, None, specs))


UP = [i / 7.0 for i in range(28)]  # four octaves, from the lowest string up


def test_a_string_is_held_against_those_near_to_it():
    """The lower half rings 8 s throughout, above each octave halves it (worked by hand): all healthy, though from the lower half alone the
    top string should ring six times as long as it does. One that rings a third of what it ought to is noted."""
    healthy = [8.0 * 0.5 ** max(0.0, up - 1.3) for up in UP]
    assert noted(UP, healthy) == {}
    dull = [ring_s / 3.0 if i == 20 else ring_s for i, ring_s in enumerate(healthy)]
    assert set(noted(UP, dull)) == {"s20"} and "67 % shorter" in noted(UP, dull)["s20"]
    assert noted(UP, dull, asked=("s19",)) == {}
    assert noted(UP, [3.0 * ring_s if i == 20 else ring_s for i, ring_s in enumerate(healthy)]) == {}  # no fault


def test_where_neighbours_ring_now_longer_now_shorter_none_stands_out():
    """Every other string rings 1.65 times as long as the smooth run, the others as much shorter: one that rings a third is no news."""
    rings = [4.0 * (1.65 if i % 2 else 1.0 / 1.65) for i in range(len(UP))]
    assert noted(UP, [ring_s / 3.0 if i == 14 else ring_s for i, ring_s in enumerate(rings)]) == {}


@pytest.mark.parametrize(("n", "is_told"), [(5, False), (6, True)])
def test_a_line_is_laid_through_five_others_of_the_same_material(n, is_told):
    """Two of them a line has to itself. Wires ring longer than gut by nature: a gut string beside five of them stands out from none."""
    rings = [4.0 / 3.0 if i == 2 else 4.0 for i in range(n)]
    assert bool(noted(UP[:n], rings)) == is_told
    assert noted(UP[:n], rings, wires={0, 1, 3, 4, 5}) == {}


def test_a_string_whose_ring_is_not_known_is_no_news():
    assert noted(UP, [None if i == 13 else 4.0 for i in range(len(UP))]) == {}

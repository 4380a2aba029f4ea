"""Sounds between the notes of two strings, of which a few were plucked: D 40 cents sharp sounds as E flat 60 cents flat does (a semitone
is 100 cents). Which string was plucked is known, for each sweep is made here."""

import numpy as np
import pytest
from sounds.formula_sweeps import sweep_of

from toneprobe.audio import recording_from_samples
from toneprobe.identify.between_notes import NOTHING_KNOWN, Known
from toneprobe.identify.named import BETWEEN, Identification
from toneprobe.identify.whole_sweep import identify
from toneprobe.instrument import load_instrument
from toneprobe.segment import find_spans

RATE_HZ = 22050
NATURALS, LEVER = load_instrument("pedal-47", tuning="naturals"), load_instrument("lever-22", tuning="Eb")


def heard(harp, names, cents, known=NOTHING_KNOWN) -> Identification:
    recording = recording_from_samples(sweep_of(harp, names, cents=cents).samples, RATE_HZ)
    return identify(recording, find_spans(recording), harp, known=known)


def names_of(found: Identification) -> list[str]:
    return [one.string.name for one in found.named]


@pytest.mark.parametrize("n_plucks", [1, 2])
@pytest.mark.parametrize("harp, off, order", [
    (LEVER, {"3E": -45.0}, ("3E", "3D", "2F")), (LEVER, {"3E": -60.0}, ("3D", "3C", "3E")), (LEVER, {"3E": -60.0}, ("3E", "3D", "3C")),
    (NATURALS, {"3F": -60.0}, ("3F", "4E", "4C")), (NATURALS, {"4E": 60.0}, ("4D", "3F", "4E")),
    (NATURALS, {"4C": -70.0}, ("4B", "4E", "4C")), (NATURALS, {"4B": 45.0}, ("4A", "4B", "4C"))])
def test_two_pitches_are_two_strings(harp, off, order, n_plucks):
    """A string does not move by 40 cents between its plucks; by pitch alone both were one string's."""
    names = [name for name in order for _ in range(n_plucks)]
    assert names_of(heard(harp, names, off)) == names


@pytest.mark.parametrize("harp, off, order, strings", [
    (LEVER, {"3E": -60.0}, ("3E", "3C", "2F"), ("3D", "3E")), (LEVER, {"3D": 45.0}, ("3F", "3D", "2G"), ("3D", "3E")),
    (NATURALS, {"3F": -55.0}, ("3G", "3F", "4D"), ("4E", "3F")), (NATURALS, {"4B": 40.0}, ("4B",), ("4B", "4C"))])
def test_where_nothing_tells_neither_string_is_named(harp, off, order, strings):
    found, place = heard(harp, order, off), order.index(next(iter(off)))
    assert names_of(found) == [name for name in order if name not in off]
    (left,) = found.rejected
    assert (left.reason, left.between) == (BETWEEN, strings)
    assert left.span.onset_s == pytest.approx(sweep_of(harp, order, cents=off).truth[place][1], abs=0.010)
    assert {"3D": "3E", "4E": "3F", "4B": "4C"}[strings[0]] == strings[1] and set(strings) <= {string.name for string in found.unheard}


@pytest.mark.parametrize("known", [Known(frozenset({"3E"})), Known(asked="3E")], ids=["new", "asked for"])
@pytest.mark.parametrize("cents", [-40.0, -60.0, -78.0])
def test_of_two_it_is_the_one_that_is_known_to_move(known, cents):
    """D, which has settled, does not stand 22 to 60 cents sharp; a new E flat is so flat after a day (common practice: two semitones)."""
    order = ("3E", "3E", "3C", "3C", "2F", "2F")
    assert names_of(heard(LEVER, order, {"3E": cents}, known)) == list(order)


def test_both_new_and_nothing_tells():
    assert names_of(heard(LEVER, ("3E", "3C", "2F"), {"3E": -55.0}, Known(frozenset({"3E", "3D"})))) == ["3C", "2F"]


@pytest.mark.parametrize("cents", [-60.0, -45.0])
def test_a_string_that_is_asked_for_may_be_tuned_between_its_plucks(cents):
    """F flat of its note, then at it: asked for, both are F's, and no E is invented."""
    parts = [("3G", 0.0), ("3F", cents), ("3F", cents), ("3F", 0.0), ("3F", 0.0), ("4D", 0.0)]
    recording = recording_from_samples(_joined(parts), RATE_HZ)
    found = identify(recording, find_spans(recording), NATURALS, known=Known(asked="3F"))
    assert names_of(found) == ["3G", "3F", "3F", "3F", "3F", "4D"]


def _joined(parts):
    pieces = [sweep_of(NATURALS, (name,), cents=off, lead_s=0.3, gap_s=1.5).samples[: round(1.8 * RATE_HZ)] * (1.0 + 0.01 * place)
              for place, (name, off) in enumerate(parts)]
    return np.concatenate(pieces)


@pytest.mark.parametrize("cents", [-60.0, 60.0])
def test_three_strings_of_a_harp_that_is_out_of_tune_as_a_whole(cents):
    """All lie alike off their notes: that is the harp's pitch, and no name is in question."""
    order = ("3G", "3F", "4D")
    assert names_of(heard(NATURALS, order, cents)) == list(order)


def test_a_string_that_stands_between_is_named_in_a_whole_sweep():
    octave = ("3E", "3D", "3C", "3B", "3A", "3G", "3F", "4E", "4D", "4C")
    assert names_of(heard(NATURALS, octave, {"3F": -60.0, "3C": -45.0})) == list(octave)

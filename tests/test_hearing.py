"""What is left out, or given to another string, once it is measured."""

from __future__ import annotations

import pytest
from formula_sweeps import sweep_of

from toneprobe.audio import recording_from_samples
from toneprobe.hearing import DROWNED, hear, without_drowned
from toneprobe.identify import Identification, NamedSpan
from toneprobe.instrument import load_instrument
from toneprobe.measure.figure import FIGURES, Figure, PluckMeasurement
from toneprobe.segment import Span

NOT_ASKED = dict.fromkeys(FIGURES, Figure(None, None, "not asked here"))


@pytest.mark.parametrize(("string", "snr_db", "other_db", "is_out"), [
    ("5A", -19.4, 45.0, True),  # a word of 0.1 s before the string that it names, as a recording had it
    ("5A", 1.0, 45.0, False),  # faint, and for the sweep's reading to weigh
    ("5A", -19.4, 0.0, False),  # a noisy room: so are all
    ("5G", -19.4, 45.0, False),  # all there is of its string
])
def test_what_drowns_in_the_noise_beside_its_strings_other_plucks_is_no_pluck(string, snr_db, other_db, is_out):
    """Power of its partials below that of the noise, a negative level, is no onset of a string that stands 25 dB higher in another pluck:
    soft and firm plucks differ by 22 dB at the most (measured)."""
    harp = {spec.name: spec for spec in load_instrument("lever-34").strings}
    heard = [(string, 1.0, snr_db), ("5A", 2.0, other_db)]
    named = tuple(NamedSpan(Span(at_s, at_s + 0.9, at_s + 0.9), harp[name], 0.99, 0.0, 110.0) for name, at_s, _ in heard)
    plucks = [PluckMeasurement(name, "A2", at_s, 0.1, 0.99, db, **NOT_ASKED, partials=(), flags=()) for name, at_s, db in heard]
    identification, left = without_drowned(Identification(named, (), ()), plucks)
    assert [pluck.onset_s for pluck in left] == [one.span.onset_s for one in identification.named] == ([2.0] if is_out else [1.0, 2.0])
    assert [(one.span.onset_s, one.reason) for one in identification.rejected] == [(1.0, DROWNED)] * is_out


NATURALS = load_instrument("pedal-47", tuning="naturals")
RUN = ("3E", "3D", "3C", "3B", "3A", "3G", "3F", "4E", "4D", "4C")


@pytest.mark.parametrize("down", [True, False], ids=["down", "up"])
@pytest.mark.parametrize(("cents", "is_told"), [(-185.0, True), (-212.0, True), (-202.0, False)])
def test_a_string_that_fell_to_its_neighbours_note_is_told_by_the_number_and_the_pitch_of_the_plucks(cents, is_told, down):
    """A and G are a whole tone apart, 200 cents (theory of music). Two takes of one string differ by 5.6 cents at the most (measured): 15
    and 12 cents beside G lies another string, 2 cents beside it perhaps the same."""
    names = [name for name in (RUN if down else RUN[::-1]) for _ in range(2)]
    sweep = sweep_of(NATURALS, names, cents={"3A": cents})
    found = hear(recording_from_samples(sweep.samples, sweep.rate_hz), NATURALS)
    told = names if is_told else ["3G" if name == "3A" else name for name in names]
    assert [one.string for one in found.plucks] == [one.string.name for one in found.identification.named] == told
    assert ("3A" in [spec.name for spec in found.identification.unheard]) is not is_told
    own = [one.cents_off.value for one in found.plucks if one.string == "3A"]
    assert own == pytest.approx([cents, cents] if is_told else [], abs=3.0)


def test_a_string_plucked_twice_as_often_beside_one_that_was_left_out_keeps_its_plucks():
    """The same string four times: all four lie at one pitch."""
    names = [name for name in RUN if name != "3A" for _ in range(4 if name == "3G" else 2)]
    sweep = sweep_of(NATURALS, names, cents=dict.fromkeys(["3G"], 15.0))
    found = hear(recording_from_samples(sweep.samples, sweep.rate_hz), NATURALS)
    assert [one.string for one in found.plucks] == names

"""What is left out once it is measured."""

from __future__ import annotations

import pytest

from toneprobe.hearing import DROWNED, without_drowned
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

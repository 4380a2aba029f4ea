"""Plucks that another string sounded with, or was plucked in the place of, are left out."""

from functools import partial

from toneprobe.audio import Recording
from toneprobe.identify.likeness import LONGEST_S, LOW_HZ, LOW_S, new_lines
from toneprobe.identify.named import OCTAVE_BELOW, Identification, NamedSpan, Rejected, identified
from toneprobe.identify.octave import is_octave_above, is_octave_below
from toneprobe.identify.octave_leaps import why_above
from toneprobe.identify.together import second_string
from toneprobe.instrument import Instrument, string_expected_b
from toneprobe.workers import Each

THUMP_HZ, THUMP_S, LOW_THUMP_S = 500.0, 0.15, 0.35  # above that frequency the body's thump is over by the first time, below by the second


def alone(found: Identification, instrument: Instrument, each: Each) -> Identification:
    """Without the plucks that another string sounded with, or that are another string's, an octave higher."""
    why_not = list(each(partial(_why_not_alone, instrument=instrument), found.named))
    named = [one for one, why in zip(found.named, why_not, strict=True) if why is None]
    rejected = [*found.rejected, *filter(None, why_not)]
    return identified(named, sorted(rejected, key=lambda one: one.span.onset_s), instrument.strings)


def _why_not_alone(recording: Recording, one: NamedSpan, instrument: Instrument) -> Rejected | None:
    """None where no other string was plucked with this one, or in its place. Another string rings on, while the body's thump, which may
    look like low partials, does not."""
    longest_s = LOW_S if one.string.expected_hz < LOW_HZ else LONGEST_S
    lines = new_lines(recording, one.span, longest_s=longest_s)
    named = one.pitch_hz, string_expected_b(one.string)[0]
    if is_octave_above(lines, *named):
        return Rejected(one.span, why_above(one.pitch_hz, instrument))
    if is_octave_below(lines, *named):
        return Rejected(one.span, OCTAVE_BELOW)
    other = second_string(lines, one.string, one.pitch_hz, instrument.strings)
    if other is not None:
        skip_s = THUMP_S if other.expected_hz > THUMP_HZ else LOW_THUMP_S
        lines = new_lines(recording, one.span, longest_s=longest_s, skip_s=skip_s)
        other = second_string(lines, one.string, one.pitch_hz, instrument.strings)
    if other is None:
        return None
    return Rejected(one.span, f"{one.string.name} and {other.name} sound at once", one.string.name, other.name)

"""Another instrument that played beside the sweep, or a radio: its tones are taken for plucks of the harp's strings.

A string has one pitch in a sweep. Where several were heard at pitches a semitone or more apart, something else plays the notes between.
What it left in the readings of other strings cannot be told, and its own stiffness or none looks like a false string; it cannot make a ring
shorter. So no string is called false then.
"""

from toneprobe.phrases import listed
from toneprobe.session.reading import SweepReading

HELD_BACK = "Another instrument seems to have played beside the sweep, which may make a string seem false: pluck it again when it is quiet."
LEAST_STRINGS = 3  # one may have been tuned in between, a second have slipped (set)


def is_beside(sweep: SweepReading) -> bool:
    return len(sweep.at_two_pitches) >= LEAST_STRINGS


def warning(sweep: SweepReading) -> str:
    return (f"Another instrument, or a radio, seems to have played beside the sweep: {listed(list(sweep.at_two_pitches))} were heard at "
            "two pitches a semitone apart or more. No string is called false by this recording: sweep again when it is quiet.")

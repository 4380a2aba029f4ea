"""The plucks of one sweep become one reading per string, and what the whole sweep has in common.

From top to bottom, a file imports only files above it:

    reading.py           the values handed on: one string in one sweep, and the sweep
    tuned_between.py     a string that was tuned between its plucks
    pitch_steps.py       how far each pluck lay below the one before
    place_spread.py      how far plucks of one string differ in a partial's place and beat
    pooling.py           several plucks' values of one figure into one
    partial_pooling.py   … and their partials
    sweep.py             all strings of a sweep: the way in
"""

from toneprobe.session.reading import PartialReading, Reading, SweepReading

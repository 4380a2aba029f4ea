"""The plucks of one sweep become one reading per string, and what the whole sweep has in common (`sweep.read_sweep`)."""

from toneprobe.session.reading import PartialReading, Reading, SweepReading

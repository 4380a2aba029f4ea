"""What a fitting measured when fresh, with its spread, and how far a later reading has moved from it.

From top to bottom, a file imports only files above it:

    fresh.py               the baseline: one reading of one or more fresh sweeps
    robust.py              means and fits that a few wrong members cannot drag away
    scatter.py             how far single plucks of untouched strings differ
    pull.py                how a partial's frequency goes with the pull
    near_node.py           which partials were plucked near a node of theirs …
    sum_tone_places.py     … and which may be a sum tone of two lower ones
    pairing.py             the partials that a string shows both now and when fresh
    hand.py                was it plucked harder or softer than then?
    room_ring.py           how long the room rings
    place_in_room.py       how much of a partial's place is the room's
    level_curve.py         the microphone: one curve of levels for all strings
    decay_tilt.py          a moving gain: slow and fast partials against each other
    decay_change.py        how much faster it dies away
    longer_room.py         did the fresh sweep's room ring longer?
    slow_plane.py          does what each partial ends with die as slowly as then?
    brightness_change.py   how much duller it is
    series_change.py       pitch, stiffness, partials astray
    lost_partials.py       partials that are no longer there
    beats_change.py        a second voice: partials that beat at one rate
    ripple_change.py       a waver that was not there
    wave_change.py         a pitch that goes up and down and did not
    sinking.py             does it sink in pitch while it rings?
    pitch_fall.py          … or from pluck to pluck?
    change.py              all of this of one string: the way in
"""

from toneprobe.baseline.fresh import Baseline, fresh_baseline

"""Which string each pluck of a recording is, how sure that is, and which sounds are no plucks.

From top to bottom, a file imports only files above it:

    likeness.py           one onset against every string of the instrument
    evidence.py           what one event tells for each string, slipped ones too
    together.py           was a second string plucked with the named one?
    octave.py             … or one an octave above or below, in its place?
    over_ringing.py       … or the one an octave or a twelfth above, while the named one still rings?
    steadiness.py         a string or a voice
    touch.py              stopped, or ringing on
    sweep_order.py        what a player does next in a sweep
    leaps.py              a player who does not run along the harp: octave pairs, two hands in turn
    beside_sweep.py       what only fell into the sweep, by its order and level: a tone from next door
    neighbours_note.py    two strings of one note, where a lever or pedal was forgotten or one fell to it, told by how many plucks each has
    missed_repeats.py     further plucks of a string that still rang, told by how many plucks each string has
    between_notes.py      of a few strings, which of two a sound between their notes is, if anything tells
    candidates.py         what may be plucks, without what only follows one
    as_played.py          the tuning that a sweep was played in, where it is not the one told
    named.py              a recording whose plucks have names, and why other sounds are none
    solution.py           what may be plucks, and what each was taken for
    octave_leaps.py       an octave above the string before: plucked over its ring, in pairs, or as a harmonic
    solve.py              the whole sweep at once, as a hidden Markov chain
    collected.py          the solved sweep told: each pluck with all that it rings, and why each other sound is none
    alone.py              without what another string sounded with
    whole_sweep.py        all of this in turn: the way in
"""

"""One identified pluck in, its figures out.

From top to bottom, a file imports only files above it:

    figure.py          the values that a measurement hands on: a figure with its error, a partial, all of one pluck
    envelope.py        a narrow band of the sound, moved down to 0 Hz
    poles.py           damped exponentials in it: what rings in a band
    series.py          which of them are the string's own
    two_families.py    … where their sum tones pass for them
    refusal.py         what cannot be measured of a pluck, and why
    ring.py            how long it can be measured
    knocks.py          other sounds meanwhile, bridged
    glide.py           a hard pluck starts sharp
    damped_line.py     one damped sinusoid in the bins around it
    exact.py           … at the limit that noise sets, where a single one is all there is
    partials.py        all partials, found once for every figure below
    inharmonicity.py   pitch, inharmonicity, trueness
    two_modes.py       two close modes against one
    beats.py           their rate and depth in a partial
    decay.py           how fast each partial dies away, and the string
    bend.py            does it fall ever faster?
    steps.py           does it sink among the steps between sample values?
    damping.py         what the string loses over frequency
    ripple.py          a waver that all partials share
    pitch_wave.py      a pitch that goes up and down
    brightness.py      the spectral centroid
    other_lines.py     what else rings
    pluck.py           all of this in turn: the way in
    pull.py            how hard it was pulled
    answers.py         of a whole sweep: which beats and lines are another string's answer
    stiffness_run.py   of a whole sweep: whose stiffness falls out of the harp's run
"""

"""Plucks and sweeps whose truth is known, for benchmarks and tests.

    formula_plucks.py, formula_sweeps.py   sums of damped partials; changed_plucks.py  one of them in many dresses
    drawn_plucks.py                        no sound: measurements drawn from a statistical model
    model_plucks.py, model_truth.py        the string model's harp, and how long it truly rings
    real_plucks.py, real_sweeps.py         recorded ones, alone and put together; heard_sweeps.py  heard and judged
    diatonic_harp.py                       a whole harp made of them
    digital_faults.py, disturbances.py, knocks.py   what is done to a pluck, to a recording, and what falls into it
    checked_strings.py, heard_pitch.py     no sound either: new strings of known law, and pitches as checks read them
    pluck_cache.py                         measurements kept on disk
"""

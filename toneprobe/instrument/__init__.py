"""A preset's name or an owner's file becomes an `Instrument`: which strings there are, and what each should sound like.

    tunings.py   which accidental each letter carries
    file.py      an owner's file or a preset read, with clear errors
    rows.py      from the fields of such files to the rows of single strings
    strings.py   the instrument and its strings, in a tuning
    loading.py   by preset or file: the way in
    presets/     a file for each usual harp
"""

from toneprobe.instrument.loading import load_instrument, preset_names, preset_words
from toneprobe.instrument.strings import Instrument, StringSpec, find_string, respelled, retune, string_expected_b

"""The string log: what was on which position, from when to when, how old each string is, and where strings keep breaking.

A fitting without a first day has been on since before the log began. A position carries one string at a time. A row of a notebook
(`notebook.rows.LogRow`) may stand for a `Fitting` here, before it has a number of its own.

    fitting.py       one string on one position
    log.py           what is on, what was on some day, what came before and after
    ages.py          how old strings are, and where they keep breaking
    strung.py        the instrument as its owner strings it
    corrections.py   an entry put right or withdrawn, and what an entry may say
"""

from toneprobe.fittings.ages import OctaveAge, RepeatedBreak, StringAge, octave_ages, repeated_breaks, string_ages, unknown_age_words
from toneprobe.fittings.corrections import (
    BEGUN,
    CORRECTABLE,
    SUPPOSED,
    WITHDRAWN,
    Correction,
    check_fitting,
    check_gauge,
    correct,
    withdraw,
)
from toneprobe.fittings.fitting import Fitting, NewFitting, Removal, age_days, first_day_text, is_placeholder, material_of, material_on
from toneprobe.fittings.log import changes_after, first_after, history_of, known_on, known_when_heard, last_before, on_now
from toneprobe.fittings.strung import as_strung, kept_words

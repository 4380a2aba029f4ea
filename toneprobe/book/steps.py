"""One function for each step of the schema: `STEPS[n]` takes a book of schema n to n + 1.

A step states in its own words what the tables were and become; it never looks at `schema.py`, which goes on changing. It may create tables,
add columns (`new_columns.add_columns`), fill them, and copy a table into another form; it never drops what was recorded. How to add one,
and the small book of each schema that tests keep: DEVELOPERS.md (`Adding a measurement`).
"""

from collections.abc import Callable, Mapping

from sqlalchemy import Connection

from toneprobe.book.step_to_2 import add_string_life
from toneprobe.book.step_to_3 import add_withdrawals
from toneprobe.book.step_to_4 import add_step_kinds
from toneprobe.book.step_to_5 import keep_what_words_told
from toneprobe.book.step_to_6 import let_unknown_be_empty
from toneprobe.book.step_to_7 import add_supposed_days

STEPS: Mapping[int, Callable[[Connection], None]] = {
    1: add_string_life,
    2: add_withdrawals,
    3: add_step_kinds,
    4: keep_what_words_told,
    5: let_unknown_be_empty,
    6: add_supposed_days,
}

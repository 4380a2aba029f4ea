"""A paper log typed into a spreadsheet, offered to the string log and written back out of it.

From top to bottom, a file imports only files above it:

    rows.py          what a notebook becomes: rows that are offered, and rows that are refused
    columns.py       which column holds what
    cells.py         which string, what material, how thick, why it came off
    dates.py         days in the ways in which people write them
    exported.py      the table of `toneprobe export` in place of a log
    differences.py   what a row says otherwise than the log
    same_string.py   which string of the log a row tells of, where it knows a day that the log does not
    chain.py         the rows of one position in order of time
    doubts.py        words that the log has not
    reading.py       all of this in turn: the way in
    writing.py       the log as CSV: the way out
"""

from toneprobe.notebook.doubts import lines_words
from toneprobe.notebook.reading import decode_notebook, read_notebook
from toneprobe.notebook.rows import LogRow, Notebook, NotebookError
from toneprobe.notebook.writing import write_log

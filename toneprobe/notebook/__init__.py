"""A paper log typed into a spreadsheet, offered to the string log and written back out of it."""

from toneprobe.notebook.doubts import lines_words
from toneprobe.notebook.reading import decode_notebook, read_notebook
from toneprobe.notebook.rows import LogRow, Notebook, NotebookError
from toneprobe.notebook.writing import write_log

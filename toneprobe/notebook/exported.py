"""The table `fittings.csv` of `toneprobe export` in place of a log: with what was withdrawn, the book's own numbers, and all harps."""

from collections.abc import Sequence
from dataclasses import replace

from toneprobe.notebook.columns import Columns
from toneprobe.notebook.rows import NotebookError
from toneprobe.phrases import count_of, was_or_were

ID, HARP, WITHDRAWN = "id", "harp_id", "withdrawn_on"  # its headings that no log has
OWN = (ID, HARP, WITHDRAWN)

Line = tuple[int, list[str]]  # its number in the file, its cells


def as_log(columns: Columns, body: Sequence[Line]) -> tuple[Columns, list[Line], list[str]]:
    """Such a table without what is no part of a log, and a remark on that; any other as it is. NotebookError where it has several harps."""
    if not set(OWN) <= columns.others.keys():
        return columns, list(body), []

    def cell(row: Sequence[str], heading: str) -> str:
        k = columns.others[heading]
        return row[k].strip() if k < len(row) else ""

    if len({cell(row, HARP) for _, row in body}) > 1:
        raise NotebookError("this is the export's table of all harps: write the log of one by 'toneprobe log export FILE.csv --harp NAME'")
    valid = [(number, row) for number, row in body if not cell(row, WITHDRAWN)]
    n_withdrawn = len(body) - len(valid)
    told = [f"{count_of(n_withdrawn, 'row')} {was_or_were(body[:n_withdrawn])} withdrawn from the log and left out"] if n_withdrawn else []
    return replace(columns, others={name: k for name, k in columns.others.items() if name not in OWN}), valid, told

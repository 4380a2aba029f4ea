"""What other programs read: documents as JSON and tables as CSV, with a schema's name in each document.

    plain.py          figures as JSON values: null where unknown, never 0 or NaN
    measurement.py    `toneprobe.measure/1`, the plucks of one recording
    pluck_rows.py     the same plucks as CSV
    condition.py      `toneprobe.condition/1`, the verdicts of one sweep
    life.py           log, settling, spares, plans and events, an object each
    writing.py        a document to a file, whole or not at all, or to standard output

Keys may be added within a schema's number; those there keep their meaning.
"""

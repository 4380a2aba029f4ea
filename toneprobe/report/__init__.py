"""What people look at and listen to. Nothing here measures; everything passes through one frozen value, `view.SweepView`.

    glossary.py   the words of the trade as people read them: verdicts, remedies, cautions
    words.py      the sentences that all outputs share: headlines, changes, notes
    series.py     numbers ready to be drawn: partials now and fresh, changes against fresh, history over months
    outlook.py    where a string is heading, in a sentence
    rows.py       the figures of one string as lines of a table: now, fresh, change
    attention.py  what comes first, and what was not judged
    spoilt.py     what to do where a recording is at fault
    mended.py     strings that are fine again though several sweeps condemned them
    octaves.py    strings grouped as harpists count them
    string_view.py   one string of it
    view.py       one sweep, ready to be shown: `sweep_view(SweepFacts(...), backgrounds) -> SweepView`
    compare.py, life.py, season.py, technician.py   the views behind the other pages
    off_since.py  which strings of a sweep have come off since
    fitting_words.py, picture_words.py   a line of the log, and what each picture shows, in words
    like_plucks.py   which two plucks are heard beside each other
    loudness.py, clips.py   the sound of a string now and fresh, level-matched and compressed
    figures/      matplotlib pictures; the only place that loads matplotlib
    picture_files.py   the harp's and a string's in files of their own
    tables.py     tables for a terminal of 80 columns
    for_harp.py   a terminal on which every command names its harp, for a book with several
    sheet.py      the same as CSV
    marks.py, panels.py, page.py, templates/   one self-contained HTML file
    shelf.py      all pages of a harp into one folder

To add a page: a view of its own (a frozen value and the pure function that makes it), a template, a function in `page.py`, a test file.
To add a picture of a string: a `PartialFigure` in `figures/partials.py` or a drawer of its own, its entry in `figures/small.py`, its title
and words in `picture_words.PICTURES`.
"""

"""What people look at and listen to. Nothing here measures; everything passes through one frozen value, `view.SweepView`.

    words.py      the words that all outputs share: verdicts, headlines, changes, dates, notes, cautions
    series.py     numbers ready to be drawn: partials now and fresh, changes against fresh, history over months
    rows.py       the figures of one string as lines of a table: now, fresh, change
    view.py       one sweep, ready to be shown: `sweep_view(SweepFacts(...), evidence) -> SweepView`
    clips.py      the sound of a string now and fresh, level-matched and compressed
    figures/      matplotlib pictures; the only place that loads matplotlib
    page.py       one self-contained HTML file
    tables.py     tables for a terminal of 80 columns
    sheet.py      the same as CSV
    compare.py, life.py, season.py, technician.py   the views behind the other pages
    shelf.py      all pages of a book into one folder
"""

"""The book: a folder that holds everything about one or more instruments. The only room that knows SQL.

    place.py      where the book lies (no database library is loaded for that)
    opening.py    make a book, open one
    entries.py    the values that go in and come out
    filing.py     a measured recording as the book files it, and the sweep that has it already
    stringing.py, other_strings.py   harps and the strings fitted to them; other strings of a harp than were told
    begun.py      a string that a sweep heard before all that the log knows
    write.py      store a sweep, judge it again, mark it fresh
    read.py       everything back
    pitch_checks.py, spare_box.py, diary.py, settings.py   settling, spares, events, the owner's own figures
    corrections.py, log_import.py   the string log put right, and a typed notebook into it
    withdrawals.py, taken_out.py    a string change that never happened; sweeps, checks and notes that don't belong here
    clips.py      the sound of a pluck as 24-bit FLAC
    leftovers.py  what a power failure left half done
    export.py     all of it as CSV and JSON
    check.py      is the book whole?
    damage.py     which rows cannot be read, and how they are named
    disk.py       written whole, and really on the disk
    schema.py, migrate.py, steps.py, step_to_2.py to step_to_7.py, new_columns.py   tables, their versions
    connect.py, faults.py, convert.py, rows.py, columns.py   transactions, rows, what each kind of column may hold
"""

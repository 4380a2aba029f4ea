"""The string's life through the book: changes and checks of strings, and what follows from them.

From top to bottom, a file imports only files above it:

    holdings.py        how many spares to hold, from the owner's own lives of strings
    fresh_sweep.py     what speaks against a sweep as a fresh baseline
    check_plucks.py    which plucks of a pitch check are the string that is named
    unsettled.py       which strings are still open
    checked.py         what the pitch checks say by now
    noted_in_order.py  and what they said then, whatever was entered first
    string_change.py   a string comes off and another goes on
    log_entries.py     the string log put right or filled in
    pitch_check.py     a recording of one
    fresh_start.py     from settled to fresh
    engagement.py      what is known on the day of planning
    taking_back.py     a sweep or a check taken back
"""

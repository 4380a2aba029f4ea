"""A made-up harp over a year: the whole job done on computed sound whose truth is known.

    story.py    the harp, the days on which it is swept, and what goes wrong with which string
    year.py     its sweeps played, and the year through the same functions as the commands
    score.py    what was planted against what was found
    facts.py    what is known at the end of the year, as values and JSON (values.py)
    samples.py  the sample pages in `reports/`, made of those facts
"""

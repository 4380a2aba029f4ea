"""A made-up harp over a year, to see the whole job done on sound whose truth is known. Nobody's harp; every sound is computed.

    story.py    the harp, the days on which it is swept, and what goes wrong with which string
    playing.py  one sweep of the story as a sound file
    year.py     the year through the same functions as the commands
    score.py    what was planted against what was found
    facts.py    what is known at the end of the year, as values and JSON (values.py)
    samples.py  the sample pages in `reports/`, made of those facts
"""

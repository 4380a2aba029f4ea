"""A sweep judged by what the book knows of the harp on its day.

    past.py           what its strings are compared with: baselines, how those were recorded, what earlier sweeps said
    fresh_choice.py   of which strings it is the fresh baseline itself
    verdicts.py       every string against its own; and again, where the book has learnt something since
"""

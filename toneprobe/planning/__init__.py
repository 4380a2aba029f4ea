"""Planning: a date becomes what to change, order, check and pack by which day. It reads settling, the log and the spares.

From top to bottom, a file imports only files above it:

    deadlines.py   how long before the day a string must be on
    situation.py   what a plan is made from, and what it is made of
    heard.py       what the sweeps so far have heard
    changes.py     strings to change
    watched.py     … and those that are only watched
    bag.py         what to order and to pack
    bare.py        new strings that wait for their baseline
    also_due.py    strings still settling, the last sweep, the technician
    ready.py       all of this in turn: the way in
    reminders.py   the plan as entries of a calendar
"""

from toneprobe.planning.also_due import checked_together
from toneprobe.planning.changes import Need, find_needs
from toneprobe.planning.ready import make_plan
from toneprobe.planning.situation import Plan, Situation, Task

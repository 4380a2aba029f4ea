"""Planning: a date becomes what to change, order, check and pack by which day. It reads settling, the log and the spares."""

from toneprobe.planning.also_due import checked_together
from toneprobe.planning.changes import Need, find_needs
from toneprobe.planning.ready import make_plan
from toneprobe.planning.situation import Plan, Situation, Task

"""Planning: a date becomes what to change, order, check and pack by which day. It reads settling, the log and the spares."""

from __future__ import annotations

from toneprobe.planning.deadlines import SettleTime, own_settle_days, settle_time
from toneprobe.planning.ready import make_plan
from toneprobe.planning.situation import KINDS, Plan, Situation, Task

__all__ = ["KINDS", "Plan", "SettleTime", "Situation", "Task", "make_plan", "own_settle_days", "settle_time"]

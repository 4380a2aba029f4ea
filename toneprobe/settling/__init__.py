"""Settling: pitch checks of a new string over days become a drift rate, a verdict, and the day from which it can be trusted."""

from __future__ import annotations

from toneprobe.settling.creep import CreepPrior, prior_from, usual_prior
from toneprobe.settling.harp import SettledRecord, check_of_sweep, judge_on_harp, neighbours_of, record_settled
from toneprobe.settling.judge import judge_settling
from toneprobe.settling.readings import PitchReading
from toneprobe.settling.tone import BaselineAdvice, ToneState, advise_baseline, judge_tone
from toneprobe.settling.verdict import USUAL_TOLERANCE, DateRange, Settling, Tolerance
from toneprobe.settling.words import slips_again, when_settled

__all__ = [
    "USUAL_TOLERANCE", "BaselineAdvice", "CreepPrior", "DateRange", "PitchReading", "SettledRecord", "Settling", "Tolerance",
    "ToneState", "advise_baseline", "check_of_sweep", "judge_on_harp", "judge_settling", "judge_tone", "neighbours_of", "prior_from",
    "record_settled", "slips_again", "usual_prior", "when_settled",
]

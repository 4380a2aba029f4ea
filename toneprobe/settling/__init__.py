"""Settling: pitch checks of a new string over days become a drift rate, a verdict, and the day from which it can be trusted."""

from toneprobe.settling.creep import CreepPrior, prior_from, usual_prior
from toneprobe.settling.harp import SettledRecord, check_of_sweep, judge_on_harp, neighbours_of, record_settled
from toneprobe.settling.judge import judge_settling
from toneprobe.settling.readings import PitchReading
from toneprobe.settling.tone import BaselineAdvice, ToneState, advise_baseline, judge_tone
from toneprobe.settling.verdict import USUAL_TOLERANCE, DateRange, Settling, Tolerance
from toneprobe.settling.words import slips_again, when_settled

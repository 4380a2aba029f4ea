"""Lives of strings from the owner's own log, with strings still on counted for what they have lived so far."""

from toneprobe.lives.demand import Demand, foresee_demand
from toneprobe.lives.kaplan_meier import Life, LifeSpan, kaplan_meier, median_life
from toneprobe.lives.registers import FEWEST_ENDS, PositionEnds, RegisterLife, register_lives
from toneprobe.lives.weibull import Weibull, fit_weibull

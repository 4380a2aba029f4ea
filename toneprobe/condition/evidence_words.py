"""One piece of evidence as a sentence: what it means, the two or three figures that decided, and the doubt, in a player's words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.condition.evidence import Evidence
from toneprobe.measure.figure import Figure


@dataclass(frozen=True)
class Told:
    """What sentences are made from."""

    change: Change
    now: Mapping[str, Figure]
    fresh: Mapping[str, Figure]


def evidence_sentence(evidence: Evidence, told: Told) -> str:
    return _SENTENCES[evidence.kind](evidence, told)


def percent_lost(change: float) -> float:
    """Percent lost for a log change: 0.69 gives 50."""
    return 100.0 * (1.0 - exp(-change))


def shift_words(change: float) -> str:
    if abs(change) < 0.02:
        return "no difference"
    return f"{abs(percent_lost(change)):.0f} % {'shorter' if change > 0 else 'longer'}"


def _decay(evidence: Evidence, told: Told) -> str:
    """ "Rings 52 % shorter than fresh: 2.1 s, was 4.4 s. Surely 47 to 57 %." """
    times = [figures.get("t60_s") for figures in (told.now, told.fresh)]
    seconds = f": {times[0].value:.1f} s, was {times[1].value:.1f} s" if all(f and f.known for f in times) else ""
    if evidence.change <= 0:
        return f"Rings no shorter than fresh{seconds}."
    return f"Rings {percent_lost(evidence.change):.0f} % shorter than fresh{seconds}. {_between(evidence)}{_doubt(evidence)}"


def _low(evidence: Evidence, told: Told) -> str:
    """Where the lowest partials say more than all together."""
    return (f"Its ring is shorter: the low partials that carry it die {percent_lost(evidence.change):.0f} % sooner than fresh. "
            f"{_between(evidence)}{_doubt(evidence)}")


def _high(evidence: Evidence, told: Told) -> str:
    return (f"Its colour fades early, as from dirt or wear: the upper partials die {percent_lost(evidence.change):.0f} % sooner than "
            f"fresh. {_between(evidence)}{_doubt(evidence)}")


def _brightness(evidence: Evidence, told: Told) -> str:
    return f"Sounds {percent_lost(evidence.change):.0f} % duller than fresh. Plucks alone make {percent_lost(evidence.se):.0f} %."


def _astray(evidence: Evidence, told: Told) -> str:
    """The picture of the partials shows which ones; here only those that are gone are named."""
    gone = [k for k, share in told.change.series.lost if share >= 0.5][:3]
    lost = f" Partial {' and '.join(map(str, gone))} {'is' if len(gone) == 1 else 'are'} no longer near its place." if gone else ""
    claim = "is" if evidence.strength >= limits.DECIDED else "may be"
    return (f"It {claim} uneven at some place: its partials have moved by {evidence.change:.1f} cents since it was fresh."
            f"{_doubt(evidence) or f' Plucks alone make {2.0 * evidence.se:.1f}.'}{lost}")


def _beat(evidence: Evidence, told: Told) -> str:
    rate = told.change.ripple.beat_hz
    at = f" {rate:.1f} times a second" if rate else ""
    claim = "wavers" if evidence.strength >= limits.DECIDED else "may waver"
    return (f"It {claim}: all its partials swell and fade{at}, {evidence.change:.1f} dB deeper than fresh."
            f"{_doubt(evidence) or f' Plucks alone make {2.0 * evidence.se:.1f} dB.'}")


def _stretch(evidence: Evidence, told: Told) -> str:
    stretch = told.change.series.stretch.value
    low, high = (exp(stretch + k * evidence.se) for k in (-2.0, 2.0))
    kind = "thicker" if stretch > 0.0 else "thinner"
    return (f"It may not be the string that was fitted: its stiffness is {exp(stretch):.2f} times the fresh one, as of a {kind} string. "
            f"Surely {low:.2f} to {high:.2f} times.{_doubt(evidence)}")


def _fallen(evidence: Evidence, told: Told) -> str:
    semitones = -evidence.change / 100.0
    below = "an octave" if abs(semitones - 12.0) < 0.7 else f"{semitones:.1f} semitones"
    thud = (" and has lost its ring: a loosened winding, or the string is going" if evidence.strength >= limits.DECIDED
            else ", but rings: a slipped pin, a pedal or lever, or another string than this")
    return f"Sounds {below} too low against the others{thud}."


def _between(evidence: Evidence) -> str:
    low, high = (percent_lost(evidence.change + k * evidence.se) for k in (-2.0, 2.0))
    return f"Surely {max(0.0, low):.0f} to {high:.0f} %."


def _doubt(evidence: Evidence) -> str:
    """Said only where there is some: what is beyond it has its range or what plucks alone make."""
    if evidence.strength >= limits.DECIDED:
        return ""
    if evidence.doubt < limits.WATCHED:
        return " But its plucks might differ by that much."
    return " That is little more than its plucks differ by." if evidence.doubt < limits.DECIDED else ""


_SENTENCES = {
    "decay": _decay,
    "decay_low": _low,
    "decay_high": _high,
    "brightness": _brightness,
    "astray_cents": _astray,
    "beat_db": _beat,
    "stretch": _stretch,
    "fallen": _fallen,
}

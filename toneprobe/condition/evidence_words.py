"""One piece of evidence as a sentence: what changed, by how much, and how sure that is."""

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
    """"Rings 52 % shorter than when fresh (2.1 s, was 4.4 s), surely between 47 and 57 %, …"."""
    times = [figures.get("t60_s") for figures in (told.now, told.fresh)]
    seconds = f" ({times[0].value:.1f} s, was {times[1].value:.1f} s)" if all(f and f.known for f in times) else ""
    if evidence.change <= 0:
        return f"Rings no shorter than when fresh{seconds}."
    return f"Rings {percent_lost(evidence.change):.0f} % shorter than when fresh{seconds}, {_between(evidence)}{_sure(evidence)}."


def _low(evidence: Evidence, told: Told) -> str:
    """Where the lowest partials say more than all together."""
    high = told.change.decay.high
    beside = f" (the upper ones: {shift_words(high.value)})" if high.known else ""
    return (f"Its lowest partials, which carry the ring, die {percent_lost(evidence.change):.0f} % sooner than when fresh{beside}, "
            f"{_between(evidence)}{_sure(evidence)}.")


def _high(evidence: Evidence, told: Told) -> str:
    low = told.change.decay.low
    beside = f" (the lowest: {shift_words(low.value)})" if low.known else ""
    return (f"Its upper partials die {percent_lost(evidence.change):.0f} % sooner than when fresh{beside}, {_between(evidence)}"
            f"{_sure(evidence)}: dirt or wear takes the highs first.")


def _brightness(evidence: Evidence, told: Told) -> str:
    return (f"Sounds {percent_lost(evidence.change):.0f} % duller, what all strings share taken out; plucks alone make "
            f"{percent_lost(evidence.se):.0f} %.")


def _astray(evidence: Evidence, told: Told) -> str:
    series = told.change.series
    n, cents, _ = max(series.pattern, key=lambda row: abs(row[1]) / row[2], default=(0, 0.0, 1.0))
    worst = f"partial {n} by {cents:+.0f} cents; " if n else ""
    gone = [k for k, share in series.lost if share >= 0.5]
    lost = f"; no longer near its place: partial {' and '.join(map(str, gone[:3]))}" if gone else ""
    return (f"Its partials lie {evidence.change:.1f} cents off the places that they had when fresh ({worst}plucks alone make "
            f"{2.0 * evidence.se:.1f}{lost}){_sure(evidence)}: the string is uneven at some place.")


def _beat(evidence: Evidence, told: Told) -> str:
    rate = told.change.ripple.beat_hz
    at = f" {rate:.1f} times a second" if rate else ""
    return (f"Its tone swells and fades{at} in all its partials, {evidence.change:.1f} dB deeper than when fresh (plucks alone make "
            f"{2.0 * evidence.se:.1f} dB){_sure(evidence)}: it wavers.")


def _stretch(evidence: Evidence, told: Told) -> str:
    ratio = exp(told.change.series.stretch.value)
    kind = "stiffer or thicker" if ratio > 1.0 else "thinner or less stiff"
    return f"Its inharmonicity is {ratio:.2f} times the fresh one{_sure(evidence)}, as of a {kind} string: is it the one that was fitted?"


def _fallen(evidence: Evidence, told: Told) -> str:
    semitones = -evidence.change / 100.0
    below = "an octave" if abs(semitones - 12.0) < 0.7 else f"{semitones:.1f} semitones"
    thud = (" and has lost its ring: a loosened winding, or the string is going" if evidence.strength >= limits.DECIDED
            else ", but rings: a slipped pin, a pedal or lever, or another string than this")
    return f"Sounds {below} too low against the others{thud}."


def _between(evidence: Evidence) -> str:
    low, high = (percent_lost(evidence.change + k * evidence.se) for k in (-2.0, 2.0))
    return f"surely between {max(0.0, low):.0f} and {high:.0f} %"


def _sure(evidence: Evidence) -> str:
    if evidence.strength >= limits.DECIDED:
        return ", beyond what its plucks differ by" if evidence.doubt < 2.0 else ", far beyond what its plucks differ by"
    if evidence.doubt < limits.WATCHED:
        return ", but its plucks might differ by that much"
    return ", a little more than its plucks differ by"


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

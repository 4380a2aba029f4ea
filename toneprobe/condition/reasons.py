"""What decided, in words that a player uses: one sentence for each figure, with its size and its doubt."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.condition.dead_score import Case
from toneprobe.condition.evidence import Evidence
from toneprobe.measure.figure import Figure

MOST_REASONS = 3
SUPPORTS = 0.4  # strength from which a figure is worth naming beside the deciding one


def case_reasons(cases: tuple[Case, ...], change: Change, *, now: Mapping[str, Figure], fresh: Mapping[str, Figure]) -> list[str]:
    """Sentences of the strongest evidence, at most MOST_REASONS; the deciding one first."""
    ranked = sorted((e for case in cases for e in case.evidence), key=lambda e: -e.strength)
    told = [e for i, e in enumerate(ranked) if i == 0 or e.strength >= SUPPORTS][:MOST_REASONS]
    return [evidence_sentence(e, change, now=now, fresh=fresh) for e in told]


def evidence_sentence(evidence: Evidence, change: Change, *, now: Mapping[str, Figure], fresh: Mapping[str, Figure]) -> str:
    words = {
        "decay": lambda: _decay(evidence, now, fresh),
        "decay_low": lambda: _low(evidence, change, now, fresh),
        "decay_high": lambda: _high(evidence, change),
        "brightness": lambda: f"Sounds {_percent(evidence.change):.0f} % duller, the microphone taken out; plucks alone make "
                              f"{_percent(evidence.se):.0f} %.",
        "astray_cents": lambda: _astray(evidence, change),
        "beat_db": lambda: _beat(evidence, now),
        "stretch": lambda: _stretch(evidence, change),
        "fallen": lambda: _fallen(evidence),
    }
    return words[evidence.kind]()


def sound_reasons(change: Change, dead: Case, false: Case) -> list[str]:
    """What was found unchanged, and how finely that could be told."""
    found = []
    decay = next((e for e in dead.evidence if e.kind == "decay"), None)
    if decay:
        found.append(f"Rings as when fresh: {_shift(decay.change)}, and plucks alone make {_percent(2 * decay.se):.0f} %.")
    if change.series.astray_cents.known:
        astray = change.series.astray_cents
        found.append(f"Its partials lie where they lay, within {max(astray.value, 2 * astray.se):.1f} cents.")
    elif false.strength is None:
        found.append("Too few partials to tell whether it is true.")
    return found


def doubt_sentence(dead: Case, n_plucks: int) -> str:
    """Why a string is measured and yet not judged."""
    plucks = "one pluck" if n_plucks == 1 else f"{n_plucks} plucks"
    decay = next((e for e in dead.evidence if e.kind == "decay"), None)
    if decay is None:
        return f"Its decay could not be compared from {plucks}."
    return f"From {plucks} its ring is known only within {_percent(2 * decay.se):.0f} %, so a dead string might pass for a sound one."


def _decay(evidence: Evidence, now: Mapping[str, Figure], fresh: Mapping[str, Figure]) -> str:
    """"Rings 52 % shorter than when fresh (2.1 s, was 4.4 s), between 47 and 57 %: …"""
    low, high = (_percent(evidence.change + k * evidence.se) for k in (-2.0, 2.0))
    times = [figures.get("t60_s") for figures in (now, fresh)]
    seconds = f" ({times[0].value:.1f} s, was {times[1].value:.1f} s)" if all(f and f.known for f in times) else ""
    if evidence.change <= 0:
        return f"Rings no shorter than when fresh{seconds}."
    between = f"surely between {max(0.0, low):.0f} and {high:.0f} %"
    return f"Rings {_percent(evidence.change):.0f} % shorter than when fresh{seconds}, {between}{_sure(evidence)}."


def _low(evidence: Evidence, change: Change, now: Mapping[str, Figure], fresh: Mapping[str, Figure]) -> str:
    """Where the lowest partials say more than all together."""
    beside = f" The upper ones: {_shift(change.decay.high.value)}." if change.decay.high.known else ""
    return _decay(evidence, now, fresh).replace("Rings", "Its lowest partials, which carry the ring, sound", 1) + beside


def _high(evidence: Evidence, change: Change) -> str:
    low = change.decay.low
    beside = f", the lower ones {_shift(low.value)}" if low.known else ""
    return (f"Its upper partials die {_percent(evidence.change):.0f} % sooner than when fresh{beside}{_sure(evidence)}: dirt or wear takes "
            "the highs first.")


def _astray(evidence: Evidence, change: Change) -> str:
    worst = max(change.series.pattern, key=lambda row: abs(row[1]) / row[2])
    return (f"Its partials lie {evidence.change:.1f} cents off the places that they had when fresh (partial {worst[0]} by {worst[1]:+.0f} "
            f"cents; plucks alone make {2 * evidence.se:.1f}){_sure(evidence)}: the string is uneven at some place.")


def _beat(evidence: Evidence, now: Mapping[str, Figure]) -> str:
    rate = now.get("beat_hz")
    at = f" about {rate.value:.1f} times a second" if rate and rate.known else ""
    return (f"Its partials swing{at}, {evidence.change:.1f} dB more than when fresh (plucks alone make {2 * evidence.se:.1f} dB)"
            f"{_sure(evidence)}: a wavering tone.")


def _stretch(evidence: Evidence, change: Change) -> str:
    ratio = float(np.exp(change.series.stretch.value))
    kind = "stiffer or thicker" if ratio > 1 else "thinner or less stiff"
    return f"Its inharmonicity is {ratio:.2f} times the fresh one{_sure(evidence)}, as of a {kind} string: is it the one that was fitted?"


def _fallen(evidence: Evidence) -> str:
    semitones = -evidence.change / 100.0
    below = "an octave" if abs(semitones - 12.0) < 0.7 else f"{semitones:.1f} semitones"
    thud = " and has lost its ring: a loosened winding, or a string about to go" if evidence.strength >= limits.DECIDED else \
        ", but rings: a slipped pin, a pedal or lever, or another string than this"
    return f"Sounds {below} too low against the others{thud}."


def _sure(evidence: Evidence) -> str:
    if evidence.strength >= limits.DECIDED:
        return ", beyond what its plucks differ by" if evidence.doubt < 2.0 else ", far beyond what its plucks differ by"
    if evidence.doubt < limits.WATCHED:
        return ", but its plucks might differ by that much"
    return ", a little more than its plucks differ by"


def _percent(change: float) -> float:
    """Percent lost for a log change: 0.69 gives 50."""
    return 100.0 * (1.0 - float(np.exp(-change)))


def _shift(change: float) -> str:
    if abs(change) < 0.02:
        return "no difference"
    percent = 100.0 * abs(1.0 - float(np.exp(-change)))
    return f"{percent:.0f} % {'shorter' if change > 0 else 'longer'}"

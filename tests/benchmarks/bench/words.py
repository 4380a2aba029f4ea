"""Verdicts to be read aloud: one of each kind that the bench met, chosen by the first of the case in the bench's order."""

from collections.abc import Sequence

from bench.sweeps import Outcome
from toneprobe.condition.evidence import score_text

WANTED = (  # (case, strength begins with, verdict)
    ("decay shorter", "to 50%", "dead"),
    ("dirt in the windings", "8 /s", "dead"),
    ("dead winding", "6 cents", "dead"),
    ("partials astray", "8 cents", "false"),
    ("mass", "1.0% at 0.5", "false"),
    ("heard beat, split", "4 dB", "false"),
    ("wrong gauge", "x 1.2", "false"),
    ("fallen and thudding", "4 semitones", "dead"),
    ("whole set aged", "to 60%", "dead"),
    ("decay shorter", "to 70%", "watch"),
    ("played softly, fresh firm", "", "unsure"),
    ("gain riding, known", "", "unsure"),
    ("nothing", "", "sound"),
)


def spoken(outcomes: Sequence[Outcome]) -> list[str]:
    lines = []
    for name, strength, verdict in WANTED:
        fits = [o for o in outcomes if o.case.name == name and o.case.strength.startswith(strength) and o.condition.verdict == verdict
                and (o.faulty or not o.case.names) and o.n_plucks == 2]
        if fits:
            c, planted = fits[0].condition, f"{name} {strength}".strip()
            scores = " and ".join(score_text(s) or "-" for s in (c.dead_score, c.false_score))
            lines += [f"[{planted}] {c.string}: {c.verdict} (dead and false score {scores})", *(f"    {text}" for text in c.reasons)]
            lines += [f"    → {c.next_step}"] if c.next_step else []
    return lines

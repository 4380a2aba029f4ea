"""What decided, in words that a player uses: the two or three figures that weigh most, each with its size and its doubt."""

from __future__ import annotations

from collections.abc import Sequence

from toneprobe import limits
from toneprobe.condition.dead_score import Case
from toneprobe.condition.evidence import Evidence
from toneprobe.condition.evidence_words import Told, evidence_sentence, percent_lost, shift_words

MOST_REASONS = 3
SUPPORTS = 0.4  # strength from which a figure is worth naming beside the deciding one
OF_THE_RING = ("decay", "decay_low")  # two views of one thing: only the stronger is told


def case_reasons(cases: Sequence[Case], told: Told) -> list[str]:
    """Sentences of the strongest evidence, at most MOST_REASONS; the deciding one first; a fallen pitch explains the rest."""
    ranked = sorted((e for case in cases for e in case.evidence), key=lambda e: (e.kind != "fallen", -e.strength))
    chosen: list[Evidence] = []
    for evidence in ranked:
        repeats = evidence.kind in OF_THE_RING and any(e.kind in OF_THE_RING for e in chosen)
        if not chosen or (evidence.strength >= SUPPORTS and not repeats):
            chosen.append(evidence)
    return [evidence_sentence(e, told) for e in chosen[:MOST_REASONS]]


def sound_reasons(dead: Case, false: Case, told: Told) -> list[str]:
    """What was found unchanged, and how finely that could be told."""
    found, decay, astray = [], _ring(dead), told.change.series.astray_cents
    if decay:
        found.append(f"Rings as when fresh ({shift_words(decay.change)}; plucks alone make {percent_lost(2 * decay.se):.0f} %).")
    if astray.known:
        found.append(f"Its partials lie where they lay, within {max(astray.value, 2.0 * astray.se):.1f} cents.")
    elif false.strength is None:
        found.append("Too few partials to tell whether it is true.")
    return found


def unsure_reasons(dead: Case, false: Case, told: Told) -> list[str]:
    """Why a string is measured and yet not judged."""
    plucks = "one pluck" if told.change.n_now == 1 else f"{told.change.n_now} plucks"
    decay, found = _ring(dead), []
    if decay is None:
        found.append(told.change.decay.all.reason or f"Its decay could not be compared from {plucks}.")
    large = [e for case in (dead, false) for e in case.evidence if e.size >= limits.DECIDED and e.kind != "brightness"]
    found.extend(evidence_sentence(e, told) for e in sorted(large, key=lambda e: -e.strength)[:1])
    if decay and not dead.could_tell:
        found.append(f"From {plucks} its ring is known only within {percent_lost(2 * decay.se):.0f} %, so a dead string might pass for a "
                     "sound one.")
    if not false.could_tell:
        found.append(f"From {plucks} its partials are not known finely enough, so a false string might pass for a true one.")
    return [f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}" for text in found]


def _ring(dead: Case) -> Evidence | None:
    return next((e for e in dead.evidence if e.kind == "decay"), None)

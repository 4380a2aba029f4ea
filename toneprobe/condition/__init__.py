"""What a sweep says of each string against its own fresh baseline: scores, verdicts, reasons.

This front has the verdict alone: whoever shows one loads nothing that judges. From top to bottom, a file imports only files above it:

    context.py            how two sweeps were recorded, and so in what they can be compared
    verdict.py            the value handed on
    evidence.py           how large one figure's change is, and how far beyond doubt
    doubt_words.py        … in words
    sweep_noise.py        how far the untouched strings of this sweep scatter
    links.py              room and microphone between the fresh sweep of a few strings and this one
    fresh_level.py        … and the level of pitch on its day
    sweep_change.py       the change of every string that can be compared
    bent_falls.py         noise suppression: falls that bend in all strings
    moved_gain.py         a gain that moved on one side
    room.py               a livelier room on one side
    common_cause.py       what the whole sweep has in common
    common_words.py       … in words
    fallen.py             a string semitones below its place
    dead_score.py         has it lost its ring?
    between_notches.py    a lever, disc or pedal between two notches
    few_astray.py         one partial or two out of their places
    false_score.py        is it false?
    evidence_words.py     each piece of evidence in a sentence
    semitone.py           a lever, disc or pedal a notch off
    other_name.py         plucks that may be another string's
    other_instrument.py   another instrument beside the sweep
    other_strings.py      another harp, or another set of strings, than when fresh
    next_steps.py         what the player does now
    judged_before.py      what was said in another pedal or lever position
    swapped.py            two neighbours in each other's place
    unjudged.py           strings on which no verdict is passed, and why
    without_baseline.py   strings without one that stand out
    reasons.py            why a string is called what it is
    with_baseline.py      one string against its baseline: scores, verdict, reasons
    judgement.py          all strings of a sweep: the way in
"""

from toneprobe.condition.verdict import CHANGES, SILENT, VERDICTS, Condition

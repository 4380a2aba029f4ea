"""The words of the trade and of this program, as people read them: verdicts, states without one, remedies. Plain text."""

from toneprobe.condition import next_steps
from toneprobe.condition.verdict import CONDEMNING

NEEDS_ATTENTION = (*CONDEMNING, "watch")
JUDGED = (*CONDEMNING, "watch", "sound")
PARTIALS = "the tones that a string sounds at once: the first is its pitch, the higher ones, its overtones, make its colour"

MEANINGS = {
    "false": "Its partials have drifted apart or waver together, or its pitch goes up and down, so that it cannot be tuned true.",
    "dead": "It rings much shorter than when it was fresh.",
    "watch": "It has changed, but not so much that it must come off.",
    "settling": "New and still stretching: not judged yet.",
    "unsure": "Heard, but not well enough to judge.",
    "unrated": "It has no fresh baseline to be compared with. Where it is called fresh, this sweep is that baseline.",
    "unheard": "No pluck of it could be used: see its row.",
    "sound": "As fresh, as far as this recording can tell.",
}
OWN_DOUBT = "The figure after ± is how much two plucks of one healthy string may differ"
TWO_PLUCKS = f"{OWN_DOUBT}: a change within it means nothing."
PLUS_MINUS = (f"{TWO_PLUCKS} As fresh: a change of ring or brightness that a listener notices would have been heard, and none "
              "was.")
WORDS_HERE = {
    "A sweep": "is one recording in which every string is plucked in turn.",
    "The baseline": "is what a string measured when it was new and settled: its fresh self, the only thing that it is compared with.",
    "The book": "is the folder in which toneprobe keeps sweeps, baselines and string log.",
}
# States of strings without a verdict; the others have the names of verdicts.
STAND_IN, FRESH, LEFT_OUT, OTHER_NOTE, OTHER_SET = "stand-in", "fresh", "left out", "other note", "other strings"
NOT_JUDGED = {
    STAND_IN: "with a stand-in",
    "settling": "still settling",
    "unsure": "not sure",
    OTHER_NOTE: "tuned otherwise than when fresh",
    next_steps.JUDGED_BEFORE: "with an earlier verdict at another note",
    OTHER_SET: "not compared, because most strings are not those of the fresh sweep",
    "unrated": "without a fresh baseline",
    LEFT_OUT: "heard, but another string rang along",
    "unheard": "not heard",
}
OPEN_STATES = tuple(NOT_JUDGED)
TOGETHER = "give that recording to 'toneprobe sweep' together with those of this sweep: measured as one, they take its place."
REMEDIES = {
    STAND_IN: "Put the right string on when you have it. A stand-in is never judged and never becomes a baseline.",
    "unsure": f"Pluck these again, three times each, with the neighbours damped, and {TOGETHER}",
    OTHER_NOTE: "At another note a string has another length or another pull: set it as for the fresh sweep and record these again. To "
                "have them compared at this note too, make such a sweep with --fresh, and --tuning for the key.",
    next_steps.JUDGED_BEFORE: "Their baseline in this position is younger than that verdict, so it cannot show what they had lost before: "
                              "pluck them in the position in which that was said. It stands until they are judged otherwise there, or "
                              "changed.",
    OTHER_SET: "Make sure what was recorded, and which strings are on it. What can be done is said in the notes on this recording.",
    LEFT_OUT: f"Damp {{}} and pluck these again; {TOGETHER}",
    "settling": "Check every day or two until the pitch holds: such a string is judged once it has settled.",
    "unrated": "Record each when it is new and settled, and keep that sweep as its fresh baseline: 'toneprobe sweep' with --fresh-for and "
               "the name of each.",
    "unheard": f"Record these strings and {TOGETHER}",
}
A_FEW_AGAIN = f"What was last said of these stands. If you meant to sweep them too, record them and {TOGETHER}"
OTHER_ROOM = ("Make another sweep, in the usual room or close to the strings: this room hides how long {} ring, so plucking again in it "
              "does not help. Keep this sweep as it is, and give no recording from another room together with it.")
FIRST_SWEEP = ("If the strings are new and settled, give the same recording again with --fresh, "
               "'toneprobe sweep RECORDING --fresh', and it becomes their baseline. Old strings may have it as their reference too: what "
               "they lose from now on will be heard, what they have lost already never will. If not, it is the first entry of their "
               "record; each string gets its baseline when it is changed and the new one has settled.")
RECORD_AGAIN = ("The noise hid them: record the whole sweep again, nearer to the strings or where it is quieter, and take this one back "
                "with 'toneprobe withdraw {}'.")
FINE_BUT_FELL = "Fine, but fallen out of tune"


def verdict_word(state: str) -> str:
    """A verdict or state as people read it; JSON and CSV keep the verdict's own name."""
    return "fine" if state == "sound" else state

"""What an event tells for each string, worked out by hand from the costs at the head of `evidence`."""

import numpy as np
import pytest

from toneprobe.identify.evidence import FULL_EVIDENCE_DB, no_pluck_evidence, pitch_cost, with_far_strings
from toneprobe.identify.likeness import Likeness
from toneprobe.units import hz_of_note

NOTES = ("G5", "E5", "A4", "F4", "E4", "D4", "C4", "E3")
HARP_HZ = np.array([hz_of_note(note) for note in NOTES])
E4, SURE = NOTES.index("E4"), 0.8


def like(scores, *, under=(0.0, 0.0), evidence_db=200.0):
    score = np.array([scores.get(note, 0.05) for note in NOTES])
    return Likeness(score, np.zeros(len(NOTES)), evidence_db, -30.0, *under)


def far(likeness):
    """Notes of the strings that may have slipped to what sounds."""
    naming = with_far_strings(likeness, HARP_HZ)
    return [note for note, is_far in zip(NOTES, naming.is_far, strict=True) if is_far], naming


def test_a_string_may_have_slipped_by_an_octave_and_a_little_or_a_whole_tone_up():
    """What sounds as E4 lies 15 semitones below G5, an octave below E5, 5 below A4 and 1 below F4, 2 over D4, 4 over C4."""
    found, naming = far(like({"E4": SURE, "F4": 0.1}))
    assert found == ["E5", "A4", "D4"]
    assert naming.offset_cents[[NOTES.index(note) for note in found]] == pytest.approx([-1200.0, -500.0, 200.0], abs=0.1)
    assert naming.score[NOTES.index("A4")] == pytest.approx(SURE * np.exp(-0.75))  # three units of cost at a sharpness of four
    assert naming.score[E4] == SURE and naming.offset_cents[E4] == 0.0


def test_what_is_about_as_like_near_its_own_note_has_not_slipped_there():
    """A quarter of that cost is asked: exp(−0.1875) of 0.8 is 0.66."""
    assert far(like({"E4": SURE, "A4": 0.6}))[0] == ["E5", "A4", "D4"] and far(like({"E4": SURE, "A4": 0.7}))[0] == ["E5", "D4"]


def test_what_is_most_like_a_string_an_octave_lower_that_nobody_has_sounds_there():
    """E3 is there, and an octave under D4 is none: what sounds at 147 Hz is 2 semitones under E3 and 10 under C4."""
    found, naming = far(like({"D4": 0.5}, under=(0.7, 146.832)))
    assert found == ["D4", "C4", "E3"] and naming.offset_cents[-1] == pytest.approx(-200.0, abs=0.1)
    assert far(like({"D4": 0.75}, under=(0.7, 146.832)))[0] == ["A4", "F4", "E4", "C4"]  # as D4 itself: E5 lies 14 semitones over it


def test_a_string_off_its_note_costs_by_the_square_up_to_a_semitone():
    """Half a unit at the spread of 40 cents, two at twice that and from there on; what the whole harp is off costs nothing."""
    assert pitch_cost(np.array([0.0, 40.0, -40.0, 80.0, 300.0]), 0.0) == pytest.approx([0.0, 0.5, 0.5, 2.0, 2.0])
    assert pitch_cost(np.array([30.0, 70.0]), 30.0) == pytest.approx([0.0, 0.5])


@pytest.mark.parametrize(("evidence_share", "others", "score"), [
    (0.3, 0.0, 0.09), (0.3, 0.5, 0.09),  # of little evidence nothing less like than 0.09 is a pluck …
    (1.0, 0.0, 0.04), (5.0, 0.0, 0.04),  # … of much, where all other strings are far less like it, down to 0.04 …
    (1.0, 0.03, 0.075), (1.0, 0.5, 0.09),  # … but 2.5 times as like as these it must be
    (0.75, 0.0, 0.065), (0.5, 0.0, 0.09),  # half way between
])
def test_how_unlike_all_strings_a_sound_must_be_to_be_no_pluck(evidence_share, others, score):
    scores = dict.fromkeys(NOTES, others) | {"E4": 0.9}
    none = no_pluck_evidence(like(scores, evidence_db=evidence_share * FULL_EVIDENCE_DB))
    assert none == pytest.approx(4.0 * np.log(score))

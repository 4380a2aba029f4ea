"""What may be plucks: decided on events made by hand, by how loud, how soon and how like a string each is.

What listens to the sound, whether a string was struck, stopped or plucked anew, is told here (its own tests: test_touch.py).
"""

import numpy as np
import pytest

from toneprobe.audio import recording_from_samples
from toneprobe.identify import candidates as room
from toneprobe.identify.candidates import AGAIN, PART_OF_IT, candidates
from toneprobe.identify.likeness import Likeness
from toneprobe.identify.touch import Course, Rise
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.segment import Span
from toneprobe.units import hz_of_note

HARP = Instrument("three", 440.0, None, tuple(StringSpec(str(n), note, hz_of_note(note)) for n, note in enumerate(("A4", "G4", "F4"))))
A, G, F = range(3)
RECORDING = recording_from_samples(np.random.default_rng(1).normal(0.0, 0.01, 8000), 8000)
RINGS_ON, STRUCK, STOPPED = Course(-30.0, -31.0, -32.0), Course(-30.0, -31.0, -20.0), Course(-30.0, -31.0, -60.0)
OLD, ANEW = Rise(0.0, 0.0), Rise(20.0, 0.0)


def like(string, power_db=-30.0, evidence_db=200.0):
    return Likeness(np.where(np.arange(3) == string, 0.8, 0.1), np.zeros(3), evidence_db, power_db)


@pytest.fixture
def heard(monkeypatch):
    """Candidates of (onset in s, likeness) each; all that sounds together is like the string `whole`."""

    def told(*events, whole=A, course=RINGS_ON, rise=OLD, since=None, again=False):
        ends = [*(onset_s for onset_s, _ in events[1:]), events[-1][0] + 9.0]
        spans = [Span(onset_s, round(next_s - 0.01, 6), next_s) for (onset_s, _), next_s in zip(events, ends, strict=True)]
        likes = dict(zip(spans, (one for _, one in events), strict=True))
        monkeypatch.setattr(room, "liken", lambda recording, span, instrument: like(whole))
        monkeypatch.setattr(room, "course_at", lambda *_, **__: course)
        monkeypatch.setattr(room, "partials_rise", lambda *_, since_s, **__: rise if since_s is None else since)
        monkeypatch.setattr(room, "is_plucked_again", lambda *_, **__: again)
        return candidates(RECORDING, spans, HARP, lambda _, of: [likes[span] for span in of])

    return told


@pytest.mark.parametrize(("wait_s", "second", "whole", "is_one"), [
    (0.3, like(G, -35.0), A, True),  # the finger coming off
    (0.3, like(G, -33.0), A, False),  # hardly weaker: another string
    (0.3, like(A, -25.0), A, True),  # a bass string that swells
    (0.3, like(A, -23.0), A, False),  # louder by more than any swells
    (0.3, like(A, -25.0), G, False),  # both together are like another string
    (0.4, like(G, -35.0), A, False),  # a string may be plucked by then
])
def test_what_comes_at_once_is_a_part_of_the_pluck_where_it_is_weaker_or_the_same_string(heard, wait_s, second, whole, is_one):
    found = heard((1.0, like(A)), (1.0 + wait_s, second), whole=whole, course=STRUCK)
    assert [one.span.onset_s for one in found] == [1.0] if is_one else [1.0, 1.0 + wait_s]
    if is_one:
        (one,) = found
        assert one.span == Span(1.0, 10.29, 10.3) and one.best == whole
        assert one.left_out == ((Span(1.3, 10.29, 10.3), PART_OF_IT),)


def test_of_a_string_plucked_twice_at_once_the_second_counts_unless_the_two_cannot_be_told_apart(heard):
    (one,) = heard((1.0, like(A)), (1.25, like(A)), again=True)
    assert one.span == Span(1.25, 10.24, 10.25) and one.left_out == ((Span(1.0, 1.25, 1.25), AGAIN),)
    (one,) = heard((1.0, like(A)), (1.15, like(A)), again=True)
    assert one.span == Span(1.0, 10.14, 10.15) and one.left_out == ()


FAINT = like(A, -50.0)


def test_a_far_weaker_sound_is_the_hand_on_the_string_that_rings(heard):
    """Its pluck ended there, as where anything new sounds."""
    (one,) = heard((1.0, like(A)), (3.0, FAINT), course=STOPPED)
    assert one.span == Span(1.0, 2.99, 3.0)


@pytest.mark.parametrize(("course", "rise", "faint", "is_pluck"), [
    (STRUCK, OLD, FAINT, True),
    (RINGS_ON, ANEW, FAINT, True),
    (RINGS_ON, OLD, FAINT, False),  # the lines of what rings only seem new
    (STOPPED, OLD, like(G, -50.0), False),  # the hand, but not on the loudest string
], ids=["struck", "anew", "neither", "hand"])
def test_a_far_weaker_sound_is_a_pluck_where_its_string_was_struck(heard, course, rise, faint, is_pluck):
    first, second = heard((1.0, like(A)), (3.0, faint), course=course, rise=rise, since=Rise(-20.0, 0.0))
    told = second.likeness
    assert first.span.onset_s == 1.0 and (told.evidence_db, told.score.max()) == ((200.0, 0.8) if is_pluck else (0.0, 0.0))


def test_a_string_stopped_and_plucked_again_as_strongly_is_a_pluck_though_little_of_it_is_new(heard):
    assert len(heard((1.0, like(A)), (3.0, FAINT), course=STOPPED, rise=ANEW, since=Rise(0.0, 0.0))) == 2
    assert len(heard((1.0, like(A)), (3.0, FAINT), course=STOPPED, rise=ANEW, since=Rise(-20.0, 0.0))) == 1  # too weak for that


@pytest.mark.parametrize(("since_db", "power_db"), [(-8.0, -38.0), (-30.0, -50.0), (5.0, -30.0)])
def test_how_strong_a_repeat_is_its_partials_tell_beside_the_last_pluck_of_its_string(heard, since_db, power_db):
    """What is new of it lacks the lines that still rang: −50 dB of −30. Never weaker than that, nor stronger than the pluck before."""
    found = heard((0.5, like(A, -45.0)), (1.0, like(A)), (3.0, FAINT), rise=ANEW, since=Rise(since_db, 0.0))
    assert found[-1].power_db == power_db


@pytest.mark.parametrize(("events", "n_found"), [
    ([(1.0, like(A)), (3.0, like(A, -43.0))], 2),  # 13 dB weaker: a soft pluck
    ([(1.0, like(A)), (12.0, FAINT)], 2),  # nothing rings any more
    ([(1.0, like(A)), (3.0, like(A, -50.0, 0.0))], 2),  # nothing new: it is told otherwise
    ([(1.0, like(A, -30.0)), (2.0, like(G, -45.0)), (3.0, like(A, -50.0))], 2),  # the loudest that rings is meant, not the last
], ids=["soft", "later", "nothing new", "loudest"])
def test_only_what_is_far_weaker_than_the_loudest_that_still_rings_may_be_a_hand(heard, events, n_found):
    assert len(heard(*events, course=STOPPED)) == n_found

"""What a comparison of two recordings can rest on, by how each was made."""

from dataclasses import replace

import pytest

from toneprobe.audio.recording import Quality
from toneprobe.condition.context import FRESH, NOW, Capture, compare_captures, shared_warnings

GOOD = Quality(-6.0, 0.0, -80.0, None, None, None, None, False, ())
PLAIN = Capture(GOOD, 44100.0)


def of(**made):
    return Capture(replace(GOOD, **made), 44100.0)


def both_ways(one):
    """Of this sweep in such a recording, and of one that was fresh in such a recording."""
    return compare_captures((PLAIN, one), (PLAIN,)), compare_captures((PLAIN,), (PLAIN, one))


@pytest.mark.parametrize("captures", [(PLAIN,), (), (Capture(),), (Capture(None, 44100.0),)])
def test_of_good_recordings_and_of_what_is_not_known_everything_is_compared(captures):
    found = compare_captures(captures, captures)
    assert (found.why_no_decay, found.why_no_brightness, found.why_no_weak, found.warnings, found.spoilt_by) == (None, None, None, (), ())
    assert not found.band.is_codecs


@pytest.mark.parametrize(("made", "says"), [
    ({"gain_riding": True}, "gain moves by itself"), ({"eight_bits": True}, "eight bits"),
    ({"gain_riding": True, "codec_kbit_s": 24.0}, "hard compression makes it seem so"),
])
def test_what_bends_decays_refuses_them_and_brightness_and_says_what_mends_it(made, says):
    """Another recording of this sweep mends what is wrong with this one, and nothing that is wrong with the fresh one."""
    now, fresh = both_ways(of(**made))
    for found, which in ((now, NOW), (fresh, FRESH)):
        why = found.why_no_decay
        assert found.spoilt_by == (which,) and why.startswith(f"{which} recording") and says in why
        assert why in found.warnings and found.why_no_brightness and ("compression" in why) == ("codec_kbit_s" in made)
    assert "record again" in now.why_no_decay and "another fresh sweep does" in fresh.why_no_decay
    assert now.said_of_now and not fresh.said_of_now


def test_what_the_strings_themselves_show_of_a_recording_is_refused_beside_what_was_before():
    refused = both_ways(of(clipped_s=0.06))[0].without_decay("its gain moves", NOW)
    assert refused.why_no_decay == "its gain moves" and "overloaded" in refused.why_no_brightness and len(refused.warnings) == 2
    assert compare_captures((PLAIN,), (PLAIN,)).without_decay("its gain moves", FRESH).why_no_brightness == "its gain moves"


def test_of_an_overloaded_recording_brightness_alone_is_not_compared():
    """Only a new fresh sweep mends a fresh one that was overloaded. A twentieth of a second in all is no harm (set)."""
    now, fresh = both_ways(of(clipped_s=0.06))
    assert now.warnings == ("This recording is overloaded: brightness is not compared. Record again at a lower level.",)
    assert fresh.warnings == ("The fresh recording is overloaded: brightness is not compared. Recording this sweep again does not help, "
                              "another fresh sweep does: set a lower level before that.",)
    for found in (now, fresh):
        assert (found.why_no_brightness,) == found.warnings and found.why_no_decay is None and found.why_no_weak is None
    assert both_ways(of(clipped_s=0.04))[0].why_no_brightness is None


@pytest.mark.parametrize(("made", "is_crushed"), [
    ({"codec_kbit_s": 48.0}, True), ({"codec_kbit_s": 64.0}, False), ({"coarse_codec": "µ-law"}, True)])
def test_a_codec_with_few_bits_leaves_loud_partials_to_compare(made, is_crushed):
    for found, which in zip(both_ways(of(**made)), (NOW, FRESH), strict=True):
        assert found.band.is_codecs == bool(found.why_no_weak) == bool(found.why_no_brightness) == is_crushed
        assert found.crushed_by == ((which,) if is_crushed else ()) and found.why_no_decay is None
        assert (", and sweep again" in (found.why_no_weak or "")) == (is_crushed and which == NOW)
        assert ("another fresh sweep" in (found.why_no_weak or "")) == (is_crushed and which == FRESH)


@pytest.mark.parametrize(("made", "says"), [
    ({"low_cut_hz": 200.0}, "Partials below 230 Hz are not compared"), ({"high_cut_hz": 6900.0}, "Partials above 6000 Hz are not compared"),
    ({"high_cut_hz": 12000.0}, None),  # 10.4 kHz: more than is asked
])
def test_what_one_of_the_two_does_not_carry_is_said(made, says):
    """15 % inside the corner: 200·1.15 and 6900/1.15."""
    for found in both_ways(of(**made)):
        assert found.warnings == ((f"{says}: one of the two recordings has nothing there.",) if says else ())


def test_a_warning_that_is_of_some_strings_says_of_which():
    bad, good = both_ways(of(clipped_s=0.06))[0], compare_captures((PLAIN,), (PLAIN,))
    assert shared_warnings({"3A": bad, "3B": bad}) == bad.warnings
    assert shared_warnings({"3A": bad, "3B": good, "3C": bad}) == (f"Of 3A and 3C: {bad.warnings[0]}",)

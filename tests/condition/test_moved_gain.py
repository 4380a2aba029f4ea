"""A gain that moved on one side only, told by slow and fast partials against each other, and what must not be taken for it."""

from dataclasses import replace

import numpy as np
import pytest

from toneprobe.baseline.change import Change
from toneprobe.baseline.decay_change import DecayChange
from toneprobe.baseline.decay_tilt import DecayTilt
from toneprobe.baseline.ripple_change import RippleChange
from toneprobe.baseline.series_change import NOTHING_PAIRED
from toneprobe.baseline.sinking import Sinking
from toneprobe.condition.context import FRESH, NOW, Comparable
from toneprobe.condition.moved_gain import side_of_moved_gain
from toneprobe.condition.sweep_change import as_supported
from toneprobe.measure.figure import Figure

RISE_PER_S = 6.0 / 8.686  # amplitude rate of a gain that rises by 6 dB a second
MOST_OF_FALL = 0.7  # of what the sound falls by, the gain makes up for so much at the most


def under_gain(name, string):
    """Decays as automatic gain leaves them (derived here): its rise is taken off each partial's own rate."""
    rate = np.exp(string.log_decay)
    return replace(string, log_decay=np.log(rate - np.minimum(RISE_PER_S, MOST_OF_FALL * rate)))


def suppressed(name, string):
    """The same, and noise suppression behind it that breaks off what rings for less than 1.5 s, the shorter the sooner."""
    gained = under_gain(name, string)
    fast = 6.908 / np.exp(gained.log_decay) < 1.5
    return replace(gained, log_decay=gained.log_decay + np.where(fast, 0.3, 0.0))


@pytest.mark.parametrize("recorder", [under_gain, suppressed])
def test_decays_under_a_gain_that_moves_are_not_compared(judged, recorder):
    judgement = judged(recorder)
    assert not any(one.verdict in ("sound", "dead") for one in judgement.conditions)
    assert all(one.dead_score is None for one in judgement.conditions)
    assert all(sides == (NOW,) for sides in judgement.spoilt_by.values())
    assert any("Switch automatic gain and noise suppression off and record again." in text for text in judgement.warnings)


def test_a_fresh_sweep_that_a_phone_recorded_condemns_no_string(judged):
    """Its slow strings seem to have lost half their ring since; no string of this harp has changed."""
    plain = {}

    def gained(name, string):
        plain[name] = string
        return suppressed(name, string)

    judgement = judged(lambda name, string: plain[name], born=gained)
    assert not any(one.verdict == "dead" for one in judgement.conditions)
    assert all(sides == (FRESH,) for sides in judgement.spoilt_by.values()) and judgement.spoilt_by
    assert any("Recording this sweep again does not help" in text for text in judgement.warnings)


def test_under_one_and_the_same_gain_strings_are_compared(judged, drawn):
    judgement = judged(lambda name, string: drawn.shorten(string, 0.4) if name in ("4D", "2G") else string, born=under_gain)
    assert not judgement.spoilt_by and {one.string for one in judgement.conditions if one.verdict == "dead"} == {"4D", "2G"}


@pytest.mark.parametrize("change", [
    lambda name, string: string,
    lambda name, string: replace(string, log_decay=string.log_decay - np.log(0.6)),  # all of the set aged
    lambda name, string: replace(string, log_decay=string.log_decay + 0.05 * string.n),  # in its matter: the fast ones lose most
    lambda name, string: under_gain(name, string) if name[0] in "02" else string,  # a few strings, whatever did it
    lambda name, string: replace(string, log_decay=np.log(np.exp(string.log_decay) + RISE_PER_S)),  # the same rate on all
], ids=["nothing", "aged", "wear", "few strings", "losses at the ends"])
def test_what_strings_do_is_no_gain(judged, change):
    assert not judged(change).spoilt_by


def test_where_no_ring_is_compared_no_string_is_said_to_sink():
    """A real string glided by 3 cents when fresh, by 8 when half its ring was taken, by 13 through automatic gain (measured)."""
    unknown = Figure(None, None, "not measured")
    halved = Change("5F", 2, 2, DecayChange(Figure(0.7, 0.1), unknown, unknown), unknown, NOTHING_PAIRED,
                    RippleChange(unknown), unknown, 0.0, 92.5, 60.0, sinking=Sinking(Figure(1.1, 0.2), 13.4, 3.1))
    assert as_supported(halved, Comparable()).sinking == halved.sinking
    refused = as_supported(halved, Comparable(why_no_decay="the gain moves"))
    assert not refused.sinking.log_ratio.known and not refused.decay.all.known


@pytest.mark.parametrize(("found", "side"), [
    (DecayTilt(0.18, 24, 1.0, -0.38, 0.03), NOW),  # real strings under a made-up gain (measured), and the other way about
    (DecayTilt(-0.18, 24, 1.0, 0.38, -0.03), FRESH),
    (DecayTilt(0.21, 24, 0.92, 0.04, 0.21), None),  # fresh in a room of 0.6 s: the slow ones ring as long
    (DecayTilt(-0.09, 24, 0.92, 0.53, 0.49), None),  # a set that aged to 60 %
    (DecayTilt(0.11, 24, 0.83, 0.13, 0.09), None),  # soft against firm
    (DecayTilt(0.18, 24, 1.0, -0.38, 0.03, slow_se=0.2), None),  # plucks that scatter so wildly tell of no gain
    (DecayTilt(0.18, 11, 1.0, -0.38, 0.03), None),  # too few strings: their own doing
])
def test_all_signs_must_be_there(found, side):
    assert side_of_moved_gain(found) == side

"""A livelier room, or another pull: what may be its doing is doubt, by hand-worked losses."""

from dataclasses import replace

import pytest

from toneprobe.baseline.change import Change
from toneprobe.baseline.decay_change import DecayChange
from toneprobe.baseline.fresh import Baseline
from toneprobe.baseline.ripple_change import RippleChange
from toneprobe.baseline.series_change import NOTHING_PAIRED
from toneprobe.condition.common_cause import CommonCause
from toneprobe.condition.next_steps import FIRST_ROOM
from toneprobe.condition.room import room_doubt
from toneprobe.condition.sweep_noise import SweepNoise
from toneprobe.condition.with_baseline import Surroundings, judge_rated
from toneprobe.measure.figure import FIGURES, Figure
from toneprobe.session.reading import Reading

UNKNOWN = Figure(None, None, "not given")


def reading(string, t60_s):
    return Reading(string, "A4", 2, 50.0, {name: UNKNOWN for name in FIGURES} | {"t60_s": Figure(t60_s, 0.1 * t60_s)}, ())


def lost(string, figure, high=UNKNOWN):
    decay = DecayChange(figure, figure, high)
    return Change(string, 2, 3, decay, UNKNOWN, NOTHING_PAIRED, RippleChange(UNKNOWN), UNKNOWN, 0.0, 440.0, 60.0)


def judged(change, *, t60_s):
    """A string of that ring, in a sweep in which three errors are asked and nothing is common."""
    around = Surroundings(SweepNoise(3.0, UNKNOWN), CommonCause(), UNKNOWN, False)
    own = reading(change.string, t60_s)
    return judge_rated(own, Baseline(own), change, around)


def test_what_the_long_strings_lost_too_is_no_room_s():
    """Eighteen strings, from the longest ring to the shortest: six lost 0.10, six 0.20, six 0.50. All aged by 0.10, the rest may be the
    room's (worked by hand: 0, 0.10, 0.40; where two of the steps meet, between them)."""
    rings_s = {f"s{i}": 12.0 / 1.2**i for i in range(18)}
    losses = {f"s{i}": (0.10, 0.20, 0.50)[i // 6] for i in range(18)}
    changes = {name: lost(name, Figure(loss, 0.05)) for name, loss in losses.items()}
    fresh = {name: Baseline(reading(name, ring_s)) for name, ring_s in rings_s.items()}
    found = room_doubt(changes, fresh)
    doubt = {name: of_it["all"] for name, of_it in found.items()}
    assert {of_it["high"] for of_it in found.values()} == {max(doubt.values())}  # upper partials ring no longer than the shortest string
    inside = {name: doubt[name] for name in ("s1", "s2", "s3", "s8", "s9", "s14", "s15", "s16")}
    assert inside == pytest.approx({"s1": 0.0, "s2": 0.0, "s3": 0.0, "s8": 0.1, "s9": 0.1, "s14": 0.4, "s15": 0.4, "s16": 0.4})
    assert max(doubt.values()) == pytest.approx(0.4)


def test_a_room_s_doubt_adds_to_an_error_as_errors_add():
    """Independent errors add as squares: 0.03 and 0.04 make 0.05, and for the upper partials, which ring no longer than the shortest
    strings do, 0.05 and those strings' 0.12 make 0.13 (worked by hand). The loss itself stays as it was measured."""
    common = CommonCause(room_doubt={"3A": {"all": 0.04, "low": 0.04, "high": 0.12}})
    around = Surroundings(SweepNoise(3.0, UNKNOWN), common, UNKNOWN, False)
    found = judge_rated(reading("3A", 5.0), Baseline(reading("3A", 5.0)), lost("3A", Figure(0.1, 0.03), Figure(0.1, 0.05)), around)
    assert [found.changes[key].value for key in ("decay", "decay_low", "decay_high")] == [0.1, 0.1, 0.1]
    errors = [found.changes[key].se for key in ("decay", "decay_low", "decay_high")]
    assert errors == pytest.approx([0.05, 0.05, 0.13])


def test_what_the_partials_tell_of_the_room_goes_before_what_the_strings_do():
    """A room that all partials tell of made so much of each part; the strings' own losses would say nothing here."""
    change = replace(lost("3A", Figure(0.5, 0.05), Figure(0.7, 0.05)), room_loss={"all": 0.2, "low": 0.05, "high": 0.6})
    assert room_doubt({"3A": change}, {"3A": Baseline(reading("3A", 5.0))}) == {"3A": {"all": 0.2, "low": 0.05, "high": 0.6}}


def test_where_trebles_and_middle_lost_alike_and_the_wires_nothing_no_room_did_it():
    """Twelve of eighteen lost 45 % of their ring, ln(1/0.55) = 0.6, the six that ring longest nothing. A room lengthens rings of its own
    length most (head of condition/room): gut and nylon aged, and wires do so later (common practice)."""
    changes = {f"s{i}": lost(f"s{i}", Figure(0.6 if i >= 6 else 0.0, 0.05)) for i in range(18)}
    fresh = {name: Baseline(reading(name, 12.0 / 1.2**i)) for i, name in enumerate(changes)}
    assert room_doubt(changes, fresh) == {}


@pytest.mark.parametrize(("long_lost", "doubt"), [(0.0, 0.5), (0.3, None)])
def test_what_only_the_short_strings_lost_may_be_the_room_s_or_their_age(long_lost, doubt):
    """Six strings of half a second lost ln(1/0.6) = 0.5, as the nylon of a harp does that aged by itself (common practice: it is changed as
    a register) or was fresh in a livelier room: so much is doubt for them, and none is taken off. Eight that ring for seconds lost
    nothing, or so much that all aged."""
    losses = {f"s{i}": 0.5 if i < 6 else long_lost for i in range(14)}
    changes = {name: lost(name, Figure(loss, 0.05)) for name, loss in losses.items()}
    fresh = {name: Baseline(reading(name, 0.5 if loss == 0.5 else 4.0)) for name, loss in losses.items()}
    doubted = room_doubt(changes, fresh)
    assert {name: of_it["all"] for name, of_it in doubted.items() if of_it["all"]} == ({f"s{i}": doubt for i in range(6)} if doubt else {})
    around = Surroundings(SweepNoise(3.0, UNKNOWN), CommonCause(room_doubt=doubted), UNKNOWN, False)
    found = judge_rated(reading("s0", 0.3), fresh["s0"], changes["s0"], around)
    assert (found.verdict, found.changes["decay"].value) == ("unsure" if doubt else "dead", 0.5)
    assert any("or they aged together" in reason for reason in found.reasons) is bool(doubt)
    assert (found.step_kind == FIRST_ROOM) is bool(doubt)
    assert not (doubt and any("plucks" in reason for reason in found.reasons))  # no number of them would tell it


@pytest.mark.parametrize(("se", "kind"), [(0.05, FIRST_ROOM), (0.4, "")])
def test_a_string_is_sent_back_to_the_first_room_only_where_more_plucks_would_not_tell(se, kind):
    """A loss of 0.5 of which as much may be the room's: known to 0.05 by itself, or to 0.4, of which three could hide a halved ring."""
    common = CommonCause(room_doubt={"0G": {"all": 0.5, "low": 0.5, "high": 0.5}})
    own = reading("0G", 0.3)
    found = judge_rated(own, Baseline(own), lost("0G", Figure(0.5, se)), Surroundings(SweepNoise(3.0, UNKNOWN), common, UNKNOWN, False))
    assert (found.verdict, found.step_kind) == ("unsure", kind)


@pytest.mark.parametrize(("se", "verdict"), [(0.2, "unsure"), (0.1, "dead")])
def test_a_loss_larger_than_a_listener_notices_is_never_called_fine(se, verdict):
    """A third of the ring gone, ln 1.5 = 0.41 where ln(4/3) = 0.29 is noticed, at two errors where three are asked (in doubt) or at four.
    A ring known so well could not hide a half, ln 2 = 0.69 (three errors, 0.6): only the size of what is seen keeps it from being sound."""
    found = judged(lost("3A", Figure(0.41, se)), t60_s=5.0)
    assert found.verdict == verdict


@pytest.mark.parametrize(("share", "hidden"), [(0.3, True), (1.0, False)])
def test_where_the_room_hides_a_loss_it_is_said_and_what_to_do(share, hidden):
    """A ring known to within a third is not known finely enough: a half would be two such errors, and three are asked."""
    change = lost("1B", Figure(0.05, 0.33))
    change = replace(change, decay=replace(change.decay, heard_share=share))
    found = judged(change, t60_s=0.5)
    assert found.verdict == "unsure"
    assert any("The room rings about as long as this string" in reason for reason in found.reasons) is hidden
    assert ("close to the strings" in found.next_step) is hidden


@pytest.mark.parametrize(("keeps", "verdict"), [(True, "watch"), (False, "dead")])
def test_a_string_that_another_pull_may_have_shortened_is_to_be_plucked_as_then(keeps, verdict):
    """Half the ring gone beyond doubt, ln 2 at seven errors, but both planes may be as they were: nobody is told to change it."""
    change = lost("6C", Figure(0.69, 0.1))
    change = replace(change, decay=replace(change.decay, keeps_slow_plane=keeps))
    found = judged(change, t60_s=9.0)
    assert found.verdict == verdict
    assert any("Pluck it again as you did then" in reason for reason in found.reasons) is keeps
    assert ("change" in found.next_step) is not keeps

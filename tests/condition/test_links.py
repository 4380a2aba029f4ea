"""Strings whose fresh sweep was their own, as of every string restrung singly: the other strings heard in it tell what room and microphone
did between it and now. Drawn plucks, whose truth is put in here."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from toneprobe.baseline import decay_change, fresh_baseline
from toneprobe.condition.context import HeardBeside, SweepContext
from toneprobe.condition.judgement import judge
from toneprobe.condition.links import own_room
from toneprobe.session.sweep import read_sweep
from toneprobe.units import LN_1000

RESTRUNG_ON = date(2025, 12, 6)
DULLER = 0.7
ROOM_S = 1.2


@pytest.fixture
def linked(drawn, harp):
    """Judge a harp of which the strings `restrung` were fresh in a later sweep than the others. then, now: string name, drawn string → how
    it was heard in that sweep, and in the one that is judged."""

    def run(restrung, *, seed, then=lambda name, s: s, now=lambda name, s: s, then_how=None, now_how=None, heard_then=None, is_linked=True):
        strings = drawn.draw_harp(harp, seed)
        old = {name: one for name, one in strings.items() if name not in restrung}
        first = fresh_baseline([drawn.draw_sweep(old, drawn.DrawnSweep(n_each=3), 100 + seed)], capture="sweeps 1")
        heard = {name: then(name, one) for name, one in strings.items() if name in (heard_then or strings)}
        second = drawn.draw_sweep(heard, then_how or drawn.DrawnSweep(), 200 + seed)
        own = fresh_baseline([[pluck for pluck in second if pluck.string in restrung]], capture="sweeps 2")
        others = read_sweep([pluck for pluck in second if pluck.string not in restrung]).readings
        later = {name: now(name, one) for name, one in strings.items()}
        sweep = read_sweep(drawn.draw_sweep(later, now_how or drawn.DrawnSweep(), 300 + seed))
        context = SweepContext(beside={"sweeps 2": HeardBeside((RESTRUNG_ON,), others)} if is_linked else {})
        judgement = judge(sweep, first | own, instrument=harp, context=context)
        return {one.string: one for one in judgement.conditions}, judgement.warnings

    return run


def duller(string):
    """Its levels tilted so that the power-weighted mean of its partials' frequencies is DULLER times what it was."""
    def mean_n(db_per_octave):
        power = 10.0 ** ((string.level_db + db_per_octave * np.log2(string.n)) / 10.0)
        return float(np.sum(power * string.n) / np.sum(power))

    tilts = np.linspace(0.0, -40.0, 4001)
    return replace(string, level_db=string.level_db + next(t for t in tilts if mean_n(t) <= DULLER * mean_n(0.0)) * np.log2(string.n))


def in_a_room(string):
    """Each partial as a room of ROOM_S lets it be heard: T^p = own^p + room^p, p = 2.5, which lengthens more than `room_ring.POWER`."""
    own_s = LN_1000 / np.exp(string.log_decay)
    return replace(string, log_decay=np.log(LN_1000 / (own_s**2.5 + ROOM_S**2.5) ** 0.4))


def test_a_string_restrung_singly_is_duller_by_what_it_is_whatever_the_microphone(linked, drawn, harp):
    """Another microphone, 3 dB per octave brighter with a bump of 8 dB at 2 kHz, would hide what one string lost; the other lost nothing.
    The mean over eight harps is known to within a third of one harp's error (1/√8), three of these are allowed."""
    dull, same = harp.strings[8].name, harp.strings[14].name
    brighter = drawn.DrawnSweep(recorder=drawn.Recorder(3.0, 8.0))
    errors = {dull: [], same: []}
    for seed in range(8):
        found, _ = linked({dull, same}, seed=seed, now=lambda name, s: duller(s) if name == dull else s, now_how=brighter)
        for name, truth in ((dull, -np.log(DULLER)), (same, 0.0)):
            change = found[name].changes["brightness"]
            errors[name].append((change.value - truth) / change.se)
    assert {name: np.mean(off) for name, off in errors.items()} == pytest.approx({dull: 0.0, same: 0.0}, abs=3.0 / np.sqrt(8))
    assert max(abs(off) for off in errors[same]) < 3.0


@pytest.mark.parametrize(("heard_then", "is_linked"), [(None, False), ({"restrung"}, True), ({"restrung", "few"}, True)])
def test_without_others_in_its_fresh_sweep_a_brightness_is_not_known(linked, harp, heard_then, is_linked):
    string, few = harp.strings[8].name, [spec.name for spec in harp.strings[9:16]]  # seven: eight make a curve
    heard = heard_then and {name for word in heard_then for name in ({"restrung": [string], "few": few}[word])}
    found, _ = linked({string}, seed=1, heard_then=heard, is_linked=is_linked)
    change = found[string].changes["brightness"]
    assert change.value is None
    assert "too few other strings were heard both now and in its fresh sweep" in change.reason


def test_a_string_fresh_in_a_livelier_room_is_not_called_dead_at_home(linked, harp):
    """Six strings of the treble were fresh in a hall, the others at home, where all are judged; none lost anything. Unlinked, a third and
    more of them are called or watched."""
    restrung = {spec.name for spec in harp.strings[:12:2]}
    verdicts = {}
    for is_linked in (False, True):
        runs = [linked(restrung, seed=seed, then=lambda name, s: in_a_room(s), is_linked=is_linked) for seed in range(6)]
        verdicts[is_linked] = [found[name].verdict for found, _ in runs for name in restrung]
    assert sum(one in ("dead", "watch") for one in verdicts[False]) >= 12
    assert verdicts[True].count("dead") == 0
    assert verdicts[True].count("watch") <= 2
    found, warnings = runs[0]
    told = [text for text in warnings if "6 December 2025" in text]
    assert len(told) == 1
    assert "livelier room" in told[0]
    unsure = [found[name] for name in restrung if found[name].verdict == "unsure"]
    assert all(any("Its fresh sweep, 6 December 2025, was made in a livelier room" in text for text in one.reasons) for one in unsure)


def test_a_string_that_lost_two_thirds_of_its_ring_is_dead_in_whatever_room_it_was_fresh(linked, drawn, harp):
    dead = harp.strings[16].name
    for seed in range(4):
        found, _ = linked({dead}, seed=seed, then=lambda name, s: in_a_room(s),
                          now=lambda name, s: drawn.shorten(s, 0.33) if name == dead else s)
        assert found[dead].verdict == "dead"


@pytest.mark.parametrize(("harp_then", "wires_then", "is_told"), [(8.0, 8.0, False), (0.0, 8.0, True), (8.0, 0.0, True)])
def test_wires_fresh_on_a_day_when_the_whole_harp_was_sharp_have_not_fallen(linked, harp, harp_then, wires_then, is_told):
    """All strings stand where they belong now and in the first sweep; the wires were fresh when all stood 8 cents high. Where the wires
    alone were high, or the others alone, as weather does it, the materials did move otherwise."""
    wires = {spec.name for spec in harp.strings if spec.material == "wire"}

    def then(name, one):
        return replace(one, cents=wires_then if name in wires else harp_then)

    _, warnings = linked(wires, seed=5, then=then)
    told = [text for text in warnings if "together since the fresh sweep" in text]
    assert bool(told) == (is_told and wires_then != 0.0)


def test_strings_that_aged_together_since_are_no_room(linked, drawn, harp):
    """All lost 40 % since the day on which one was new and the others as good as new: it is the set, and no doubt."""
    string = harp.strings[8].name
    for is_linked in (False, True):
        found, warnings = linked({string}, seed=3, now=lambda name, s: drawn.shorten(s, 0.6), is_linked=is_linked)
        assert found[string].verdict == "dead"
        assert not any("6 December" in text for text in warnings)


def test_a_livelier_room_is_told_when_a_baseline_is_made_in_it(judged, harp):
    """The sweep that shall be one string's baseline, judged like any other: the strings around ring longer than when they were fresh. In
    the room of those they don't."""
    new = harp.strings[6]
    for change, is_livelier in ((lambda name, s: in_a_room(s), True), (lambda name, s: s, False)):
        conditions = judged(change, seed=5, without={new.name}).conditions
        assert own_room(new.expected_hz, conditions, RESTRUNG_ON).is_said is is_livelier


def test_of_the_linked_strings_only_what_is_used_is_reckoned(linked, monkeypatch):
    """An old harp's strings were nearly all restrung singly, and each has a dozen others linked with it: their decays cut to lesser losses,
    which nothing asks for, took half of the judging. Derived here: as many are cut as where nothing is linked, each string's own."""
    counts, cuts = [], decay_change.lesser_losses
    for is_linked in (True, False):
        called = []
        monkeypatch.setattr(decay_change, "lesser_losses", lambda *arguments, called=called: called.append(1) or cuts(*arguments))
        linked(["3C"], seed=1, is_linked=is_linked)
        counts.append(len(called))
    assert counts[0] == counts[1] > 0

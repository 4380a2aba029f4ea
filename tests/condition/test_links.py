"""Strings whose fresh sweep was their own, as of every string restrung singly: the other strings heard in it tell what room and microphone
did between it and now. Drawn plucks, whose truth is put in here."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from toneprobe.baseline import fresh_baseline
from toneprobe.condition import SweepContext, judge
from toneprobe.condition.context import HeardBeside
from toneprobe.session import read_sweep

RESTRUNG_ON = date(2025, 12, 6)
DULLER = 0.7


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

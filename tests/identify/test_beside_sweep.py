"""Sounds that fell into a sweep: told by its order and their level. Paths and levels are made here, and what fell in is known."""

import numpy as np
import pytest
from sounds.formula_sweeps import sweep_of

from toneprobe.audio import recording_from_samples
from toneprobe.identify.beside_sweep import fallen_in
from toneprobe.identify.whole_sweep import identify
from toneprobe.instrument import load_instrument
from toneprobe.segment import find_spans

SOFT_DB, FIRM_DB, NEXT_DOOR_DB = -41.0, -30.0, -48.0  # soft under firm by 11 dB, as on the lever harp


def swept(n_strings=12, *, soft_first=True):
    hands = (SOFT_DB, FIRM_DB) if soft_first else (FIRM_DB, SOFT_DB)
    return [string for string in range(n_strings) for _ in hands], list(hands) * n_strings


@pytest.mark.parametrize("soft_first", [True, False])
def test_soft_plucks_in_their_place_are_the_sweeps_own(soft_first):
    assert fallen_in(*swept(soft_first=soft_first)) == ()


def test_all_strings_softly_and_back_again_firmly_are_the_sweeps_own():
    path = [*range(12), *range(11, -1, -1)]
    assert fallen_in(path, [SOFT_DB] * 12 + [FIRM_DB] * 12) == ()


@pytest.mark.parametrize("at", [2, 5, 9, 16, 22])
@pytest.mark.parametrize("string", [2, 9])
def test_a_faint_tone_out_of_its_place_fell_in(at, string):
    path, power_db = swept()
    is_in_place = {string * 2 - 1, string * 2, string * 2 + 1, string * 2 + 2} & {at}
    path.insert(at, string)
    power_db.insert(at, NEXT_DOOR_DB)
    assert fallen_in(path, power_db) == (() if is_in_place else (at,))


def test_two_that_fell_in_together_do_not_cover_each_other():
    path, power_db = swept()
    path[10:10], power_db[10:10] = [9, 11], [NEXT_DOOR_DB, NEXT_DOOR_DB]
    assert fallen_in(path, power_db) == (10, 11)


def test_a_string_that_is_plucked_again_later_counts():
    path, power_db = swept()
    assert fallen_in([*path[:12], 2, *path[12:]], [*power_db[:12], FIRM_DB - 3.0, *power_db[12:]]) == ()


def test_a_string_that_was_never_plucked_is_not_heard_in_a_far_fainter_tone():
    path, power_db = swept()
    kept = [(string, db) for string, db in zip(path, power_db, strict=True) if string != 9]
    path, power_db = (list(row) for row in zip(*kept, strict=True))
    assert fallen_in([*path[:6], 9, *path[6:]], [*power_db[:6], NEXT_DOOR_DB, *power_db[6:]]) == (6,)
    assert fallen_in([*path[:6], 9, *path[6:]], [*power_db[:6], FIRM_DB - 10.0, *power_db[6:]]) == ()  # forgotten, and plucked late


@pytest.mark.parametrize(("levels_db", "falls_in"), [
    ({string: FIRM_DB for string in range(6, 13)}, True),
    ({string: FIRM_DB for string in range(5)}, False),
    ({10: FIRM_DB}, False),  # one of six
], ids=["near", "far", "one"])
def test_a_string_that_was_never_plucked_is_compared_with_those_near_it(levels_db, falls_in):
    """Of 14 strings without the tenth from the top (9) some are plucked firmly, the others as softly as the tone sounds."""
    path = [0, 1, 2, 3, 9, None, *range(4, 9), *range(10, 14)]
    assert fallen_in(path, [levels_db.get(string, NEXT_DOOR_DB) if string != 9 else NEXT_DOOR_DB for string in path]) == (4,) * falls_in


@pytest.mark.parametrize("path", [[*range(7), 9, 7, 8, *range(10, 14)], [0, 1, 2, 3, 9, 4, 5, 13]], ids=["near the run", "none near it"])
def test_a_faint_string_near_the_run_or_without_strings_near_it_is_one(path):
    """Two strings ahead of the run a player may be who plucks it softly; with no string near it nothing is known of its level."""
    assert fallen_in(path, [NEXT_DOOR_DB if string == 9 else FIRM_DB for string in path]) == ()


@pytest.mark.parametrize(("after", "falls_in"), [(5, True), (6, True), (7, False)])
def test_the_sweep_goes_on_around_it_with_the_next_string_or_past_one(after, falls_in):
    """A tone of the second string, after the fifth (4): where the player then leaps she may have gone back to hear it."""
    path = [0, 1, 2, 3, 4, 1, *range(after, 14)]
    assert fallen_in(path, [FIRM_DB] * 5 + [NEXT_DOOR_DB] + [FIRM_DB] * (14 - after)) == (5,) * falls_in


@pytest.mark.parametrize(("is_plucked", "why"), [(True, "its string's own plucks"), (False, "the plucks of the strings near it")])
def test_a_tone_from_next_door_is_no_pluck_of_the_string(is_plucked, why):
    """Ten strings in a row, and a tone of the fifth's pitch and partials while the eighth rings, 30 dB under it (from memory of walls).
    Where the fifth was not plucked at all there are no plucks of its own to be fainter than."""
    harp = load_instrument("pedal-47", tuning="naturals")
    names = ("3E", "3D", "3C", "3B", "3A", "3G", "3F", "4E", "4D", "4C")
    tone_of, names = names[4], names if is_plucked else (*names[:4], *names[5:])
    sweep, rate_hz = sweep_of(harp, names, noise_db=-90.0, gap_s=2.0), 22050
    late_s = sweep.truth[7][1] + 1.0
    f1_hz = next(string.expected_hz for string in harp.strings if string.name == tone_of)
    time_s = np.arange(round(0.9 * rate_hz)) / rate_hz
    swell = np.minimum(1.0, np.minimum(time_s / 0.05, (0.9 - time_s) / 0.1))
    tone = swell * sum(np.sin(2 * np.pi * n * f1_hz * time_s) / n**1.5 for n in range(1, 8))
    samples, first = sweep.samples.copy(), round(late_s * rate_hz)
    samples[first:first + len(tone)] += 10 ** (-30 / 20) * np.abs(samples).max() * tone / np.abs(tone).max()
    recording = recording_from_samples(samples, rate_hz)
    found = identify(recording, find_spans(recording), harp)
    assert [one.string.name for one in found.named] == list(names)
    assert [one.reason for one in found.rejected if abs(one.span.onset_s - late_s) < 0.1] == [
        f"it is far fainter than {why}, and the sweep goes on around it"]

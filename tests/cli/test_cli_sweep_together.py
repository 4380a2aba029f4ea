"""Recordings measured together with those of an earlier sweep take its place: what the screens advise, done as a player would.

The kept book: fresh on 2 March 2024 (sweep 1), swept again on 7 September (sweep 2); `june` has 3E, 3D and 3C, two plucks each, once more.
"""

import json
import re
import shlex

import pytest
import soundfile
from command_line import say

from toneprobe.book import read
from toneprobe.book.check import check_book
from toneprobe.book.diary import events_of
from toneprobe.book.opening import open_book
from toneprobe.book.pitch_checks import pitch_checks

AGAIN = ("3E", "3D", "3C")


def sweeps_of(book):
    return {one.id: one.date.isoformat() for one in read.sweeps(open_book(book), 1)}


def n_plucks(book, sweep_id):
    return {one.condition.string: one.condition.n_plucks for one in read.conditions_of(open_book(book), sweep_id)}


def test_plucked_again_and_measured_together_is_one_sweep_in_the_place_of_the_first(run, book, played):
    """Without a day it is that of the sweep whose place it takes."""
    told = say(run, "sweep", played.later, played.june)
    assert "In place of sweep 2." in told and "withdrawn" in told and "Sweep 3 is in the book" in told
    assert sweeps_of(book) == {1: "2024-03-02", 3: "2024-09-07"}
    assert n_plucks(book, 3) == {name: 4 if name in AGAIN else 2 for name in played.names}
    kept = json.loads((book / "withdrawn" / "sweep-2.json").read_text(encoding="utf-8"))
    assert (kept["why"], len(kept["tables"]["plucks"])) == ("sweep 3 is in its place", 24)  # 12 strings, two plucks
    assert check_book(open_book(book)) == ()


@pytest.mark.parametrize(("beside", "judged"), [("later", 3), ("fresh", 2)])  # sweep 3 is the new one, 2 is judged by it anew
def test_a_recording_of_eight_bits_makes_only_its_own_strings_unsure(run, book, played, tmp_path, beside, judged):
    samples, rate_hz = soundfile.read(played.june)
    soundfile.write(tmp_path / "coarse.wav", samples, rate_hz, subtype="PCM_U8")
    say(run, "sweep", getattr(played, beside), tmp_path / "coarse.wav")
    refused = {one.condition.string for one in read.conditions_of(open_book(book), judged)
               if any("eight bits" in text for text in one.condition.reasons)}
    assert refused == set(AGAIN)


def test_what_was_noted_with_it_goes_over(run, book, played):
    say(run, "sweep", played.whole, "--date", "2024-10-05", "--as-found", "--humidity", "45")
    opened = open_book(book)
    before = [(one.string, one.at, one.found_hz) for one in pitch_checks(opened, 1)]
    say(run, "sweep", played.whole, played.june)
    assert [(one.string, one.at, one.found_hz) for one in pitch_checks(opened, 1)] == before
    assert {one.sweep_id for one in pitch_checks(opened, 1)} == {4} == {one.sweep_id for one in events_of(opened, 1)}


def test_a_baseline_stays_one_and_later_sweeps_are_judged_by_it(run, book, played):
    told = say(run, "sweep", played.fresh, played.june)
    assert "In place of sweep 1." in told and "Taken as fresh baseline: 12 strings." in told
    opened = open_book(book)
    assert {one.condition.verdict for one in read.conditions_of(opened, 3)} == {"unrated"}  # never compared with the sweep that left
    (fitting,) = read.fitting_log(opened, 1, "3E")
    assert [one.sweep_id for one in read.fresh_plucks(opened, fitting.id)] == [3] * 4
    verdicts = {one.condition.string: one.condition for one in read.conditions_of(opened, 2)}
    assert verdicts[played.dead].verdict == "dead" and verdicts["3E"].fresh != {}


def test_it_can_be_taken_back_and_the_first_measured_again(run, book, played):
    say(run, "sweep", played.later, played.june)
    say(run, "withdraw", "3")
    say(run, "sweep", played.later, "--date", "2024-09-07")
    assert sweeps_of(book) == {1: "2024-03-02", 4: "2024-09-07"} and set(n_plucks(book, 4).values()) == {2}


def test_taken_back_it_says_where_the_first_one_lies(run, book, played):
    say(run, "sweep", played.whole, "--date", "2024-10-05", "--humidity", "45")
    say(run, "sweep", played.whole, played.june)
    told = "".join(say(run, "withdraw", "4").split())  # a long path is broken where the line ends
    assert "stoodinplaceofanothersweep,whichdoesnotcomebackwiththis" in told
    assert f"{book / 'withdrawn' / 'sweep-3.json'}.Thecheck,theclimate" in told
    assert events_of(open_book(book), 1) == ()
    noted = json.loads((book / "withdrawn" / "sweep-4.json").read_text(encoding="utf-8"))["tables"]["events"]
    assert [row["humidity_pct"] for row in noted] == [45.0]
    assert "stood in place" not in say(run, "withdraw", "2")


def test_a_sweep_of_a_day_before_the_last_one_is_said(run, book, played):
    """As a clock that was set back would have it; the last of the book is of 7 September 2024."""
    told = say(run, "sweep", played.whole, "--date", "2024-05-01")
    assert "It is of 1 May 2024: filed before the last sweep of 7 September 2024." in told
    assert "filed before" not in say(run, "sweep", played.june, "--date", "2024-10-05")


def test_two_sweeps_of_one_day_become_one(run, book, played):
    """What was left out once, as the screen used to ask, made a sweep of its own."""
    say(run, "sweep", played.june, "--date", "2024-09-07")
    assert "In place of sweeps 2 and 3." in say(run, "sweep", played.later, played.june)
    assert sweeps_of(book) == {1: "2024-03-02", 4: "2024-09-07"}


# --- refused, with the command that works

def named_command(told):
    return shlex.split(re.search(r"toneprobe ((?:sweep|withdraw) .*)", told)[1])


def test_only_some_of_its_recordings(run, book, played):
    say(run, "sweep", played.part_one, played.part_two, "--date", "2024-05-01")
    told = say(run, "sweep", played.part_one, played.june, code=1)
    assert "'part one.wav' is in sweep 3 of 1 May 2024 already: leave it out, or measure its whole sweep again" in told
    command = [str(played.part_two) if word == "part two.wav" else word for word in named_command(told)]  # it lies elsewhere here
    assert str(played.part_two) in command
    assert "In place of sweep 3." in say(run, *command)
    assert sweeps_of(book) == {1: "2024-03-02", 2: "2024-09-07", 4: "2024-05-01"}


def test_another_day_than_its_own(run, book, played):
    told = say(run, "sweep", played.later, played.june, "--date", "2024-10-05", code=1)
    assert sweeps_of(book) == {1: "2024-03-02", 2: "2024-09-07"}
    assert "In place of sweep 2." in say(run, *named_command(told))


def test_sweeps_of_two_days_are_never_joined(run, book, played):
    for more in ([], ["--date", "2024-03-02"]):
        told = say(run, "sweep", played.fresh, played.later, *more, code=1)
        assert "'later.flac' is in sweep 2 of 7 September 2024 already" in told and named_command(told) == ["withdraw", "2"]
    assert sweeps_of(book) == {1: "2024-03-02", 2: "2024-09-07"} and not (book / "withdrawn").exists()
    say(run, *named_command(told))
    say(run, "sweep", played.fresh, played.later, "--date", "2024-03-02")


def test_a_string_changed_on_the_day_stays_the_one_that_was_heard(run, book, played):
    """Swept in the morning, restrung at noon; in the evening other strings were plucked again."""
    old = {one.id for one in read.fitting_log(open_book(book), 1, "2C")}
    say(run, "restring", "2C", "--why", "planned", "--date", "2024-09-07")
    say(run, "sweep", played.later, played.june)
    assert {one.fitting_id for one in read.plucks_of(open_book(book), 3) if one.measurement.string == "2C"} == old

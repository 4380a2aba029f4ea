"""`withdraw`: a sweep or a check that should not be in the book, taken back as a player would."""

import json
from datetime import date

import pytest
from command_line import say
from year_workshop import Workshop

from toneprobe.book import read
from toneprobe.book.opening import open_book
from toneprobe.book.pitch_checks import pitch_checks


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    return Workshop(tmp_path_factory.mktemp("shop"))


def verdicts(book, sweep_id):
    return {one.condition.string: one.condition.verdict for one in read.conditions_of(open_book(book), sweep_id)}


def fresh_days(book, string):
    (fitting,) = read.fitting_log(open_book(book), 1, string)
    return {one.date for one in read.fresh_plucks(open_book(book), fitting.id)}


def test_a_worn_harp_kept_as_fresh_by_mistake(run, book, played):
    """Named as fresh by mistake the dead string is part of its own baseline; taken out and swept again, all is as it was."""
    before, baseline = verdicts(book, 2), fresh_days(book, played.dead)
    assert (before[played.dead], before[played.false]) == ("dead", "false")
    say(run, "sweep", played.later, "--fresh-for", played.dead)
    assert fresh_days(book, played.dead) == {*baseline, date(2024, 9, 7)}
    said = say(run, "withdraw", "2", "--because", "--fresh-for was a mistake")
    assert "Taken out: sweep 2" in said and "withdrawn/sweep-2.json" in said.replace(" ", "") and "can be measured again" in said
    assert [one.id for one in read.sweeps(open_book(book), 1)] == [1]
    say(run, "sweep", played.later, "--date", "2024-09-07")
    assert verdicts(book, 3) == before and fresh_days(book, played.dead) == baseline
    assert json.loads((book / "withdrawn" / "sweep-2.json").read_text())["why"] == "--fresh-for was a mistake"


def test_the_first_baseline_taken_out_leaves_the_rest_unrated(run, book, played):
    """By which the later sweep judges all of them: it is asked about first, for 1 may be a slip of 11, and what was meant is not."""
    asked = run("withdraw", "1")
    names = f"{', '.join(played.names[:7])} and {len(played.names) - 7} more"
    assert (asked.exit_code, asked.stdout) == (0, "Nothing was changed.\n")
    assert f"Sweep 1 is the only fresh baseline of {names}: without it no sweep can judge them." in asked.stderr
    assert [one.id for one in read.sweeps(open_book(book), 1)] == [1, 2]
    said = say(run, "withdraw", "1", "--yes")
    assert f"Without a fresh baseline now: {', '.join(played.names)}" in said
    assert "does not become their fresh baseline by itself" in said and "sweep RECORDING --fresh" in said and "--fresh-for" not in said
    assert set(verdicts(book, 2).values()) == {"unrated"}


def test_a_check_by_the_wrong_recording(run, shop, tmp_path):
    """3D is checked twice on one day, the second time by a recording of before it was tuned."""
    say(run, "new", "Plover", "--from", shop.harp_file)
    say(run, "restring", "3D", "--broke-at", "knot", "--date", "2025-02-10")
    say(run, "settle", "3D", shop.check("right", -20.0), "--date", "2025-02-11", "--time", "09:00")
    alone = say(run, "settle", "3D")
    say(run, "settle", "3D", shop.check("wrong", -90.0), "--date", "2025-02-11", "--time", "18:30")
    said = say(run, "withdraw", "--check", "2025-02-11", code=2)
    assert "say which with --time" in said and "09:00 (" in said and "18:30 (" in said and "3D" in said
    said = say(run, "withdraw", "--check", "2025-02-11", "--time", "6.30 pm", "--because", "the wrong file")
    assert "Taken out: the check of 2025-02-11 18:30" in said
    assert {one.at.hour for one in pitch_checks(open_book(tmp_path / "book"), 1)} == {9}
    assert say(run, "settle", "3D") == alone
    say(run, "settle", "3D", shop.check("wrong", -90.0), "--date", "2025-02-10", "--time", "18:30")  # the day it belongs to


@pytest.mark.parametrize("arguments, why", [
    ((), "say which: the number of a sweep"), (("2", "--check", "2024-09-07"), "say which"), (("7",), "no sweep 7"),
    (("--check", "2024-09-07"), "no check of 2024-09-07"), (("--check", "yesterday"), "yesterday")])
def test_wrong_use_is_told_in_a_line_and_changes_nothing(run, book, arguments, why):
    before = (book / "book.sqlite").read_bytes()
    assert why in say(run, "withdraw", *arguments, code=2)
    assert (book / "book.sqlite").read_bytes() == before and not (book / "withdrawn").exists()


def test_a_string_that_a_sweep_of_a_wrong_day_began_goes_with_it(run, book, played):
    """3E is on since February, says its log; a sweep that June heard was given the January before."""
    say(run, "log", "correct", "3E", "--fitted", "2024-02-01")
    say(run, "sweep", played.june, "--date", "2024-01-06")
    told = say(run, "log", "3E")
    assert "until 1 February 2024: nylon." in told
    assert "no. 13 was on before all that the log knew: heard in a sweep of 6 January 2024" in told
    told = say(run, "withdraw", "3")
    assert "Taken out of the log too: the string that was on 3E before its first known one. Only this sweep had heard it." in told
    assert "no. 13" not in say(run, "log", "3E")


def test_sweeps_of_no_string_are_judged_as_those_of_the_one_that_a_sweep_begins(run, book, played):
    """By a slip in the log March and September heard no string; another of those days puts one there, whose baseline is that of March."""
    say(run, "log", "correct", "3C", "--fitted", "2024-10-01")
    assert verdicts(book, 2)["3C"] == "unrated"
    say(run, "sweep", played.june, "--date", "2024-06-01")
    assert verdicts(book, 2)["3C"] == verdicts(book, 3)["3C"] == "sound"

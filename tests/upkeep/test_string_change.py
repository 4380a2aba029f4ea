"""A string change told twice at once: only one of the two goes into the log."""

import time
from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest

from toneprobe.book import read
from toneprobe.book.connect import writing
from toneprobe.book.opening import open_book
from toneprobe.errors import UsageError
from toneprobe.upkeep.string_change import StringChange, change_string

NOT_YET_S = 0.5  # in which the second asks all that it asks before it must wait for the first


def test_of_two_programs_that_log_one_change_at_once_the_second_is_refused(run, tmp_path):
    """As it is where one follows the other: one string went on, and a second one must be said to be --another (README)."""
    assert run("new", "Wren", "--preset", "lever-22").exit_code == 0
    first, second = open_book(tmp_path / "book"), open_book(tmp_path / "book")
    harp, change = read.harp(first), StringChange("4C", date(2026, 11, 3), why="dead")
    with ThreadPoolExecutor(1) as other_program:
        with writing(first):
            waiting = other_program.submit(change_string, second, harp, change)
            time.sleep(NOT_YET_S)
            change_string(first, harp, change)
        with pytest.raises(UsageError, match="nothing was logged"):
            waiting.result()
    assert [one.fitted_on for one in read.fitting_log(first, harp.id, "4C")] == [None, date(2026, 11, 3)]

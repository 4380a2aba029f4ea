"""`restring` and `ready` on the bag: a spare that was not taken, one past its best, and one thing or several."""

from __future__ import annotations

import pytest

from toneprobe.book import read, spare_box
from toneprobe.book.opening import open_book
from toneprobe.instrument import load_instrument


@pytest.fixture
def book(run, tmp_path):
    """A pedal harp with spares: 3C and an old wire 6D in the bag, 3D at home."""
    assert run("new", "Wren", "--preset", "pedal-47", "--tuning", "naturals").exit_code == 0
    for arguments in (["3C", "--bought", "2026-01-05", "--lead-time", "10"], ["3D", "--in", "home", "--bought", "2026-01-05"],
                      ["6D", "--bought", "2024-01-10", "--lead-time", "10"]):
        assert run("spares", "add", *arguments).exit_code == 0
    return tmp_path / "book"


def told(run, *arguments):
    result = run(*arguments)
    assert result.exit_code == 0, result.stderr
    return " ".join(result.stdout.split())


@pytest.mark.parametrize(("string", "place", "number"), [("3C", "in the bag", 1), ("3D", "at home", 2)])
def test_a_fitting_spare_that_was_not_taken_is_named_with_how_to_take_it(run, book, string, place, number):
    said = told(run, "restring", string, "--date", "2026-03-01")
    assert f"There is a spare {string} {place}, number {number}. If that is what went on: 'toneprobe log withdraw {string}'" in said
    assert "log the change again with --from-spares" in said


def test_what_is_said_of_such_a_spare_works(run, book):
    told(run, "restring", "3C", "--date", "2026-03-01")
    told(run, "log", "withdraw", "3C")
    assert "There is a spare" not in told(run, "restring", "3C", "--date", "2026-03-01", "--from-spares")
    spare = next(one for one in spare_box.spares_of(open_book(book), 1) if one.string == "3C")
    on = read.fitting_log(open_book(book), 1, "3C")[-1]
    assert (on.removed_on, spare.fitting_id) == (None, on.id)


@pytest.mark.parametrize("arguments", [
    ["3E"], ["3C", "--from-spares"], ["3C", "--spare", "1"], ["3C", "--material", "nylon"], ["3C", "--stand-in"],
    ["3C", "--date", "2026-01-02"],  # before it was bought
])
def test_nothing_is_said_where_no_such_spare_can_have_been_meant(run, book, arguments):
    day = [] if "--date" in arguments else ["--date", "2026-03-01"]
    assert "There is a spare" not in told(run, "restring", *arguments, *day)


@pytest.mark.parametrize("how", [["--from-spares"], ["--spare", "3"]])
def test_a_spare_past_its_best_is_told_when_it_goes_on(run, book, how):
    """Wires keep two years (common practice): 730 days from 10 January 2024, a leap year."""
    assert "Spare 3 has been past its best on the shelf since 9 January 2026." in told(run, "restring", "6D", *how, "--date", "2026-03-01")
    assert "past its best" not in told(run, "restring", "3C", "--from-spares", "--date", "2026-03-01")


def test_one_order_of_one_day_is_told_as_one(run, book):
    told(run, "spares", "add", "3E", "--bought", "2026-01-05", "--lead-time", "1")
    said = told(run, "spares", "order", "--date", "2026-02-01")
    assert "takes 10 days" in said
    told(run, "habits", "--lead-time", "1")
    said = told(run, "spares", "order", "--date", "2026-02-01")
    assert "assumed to take 1 day." in said and "1 days" not in said


def test_a_single_thing_too_late_is_told_as_one(run, book):
    """On the eve, with a full bag: only the sweep is missing, and no string could be changed after it."""
    for spec in load_instrument("pedal-47").strings:
        told(run, "spares", "add", spec.name, "--bought", "2026-10-01")
    said = told(run, "ready", "--on", "2026-11-02", "--date", "2026-11-01")
    assert "1 day left" in said and "1 thing to do, and it is too late for it: see what to do instead." in said

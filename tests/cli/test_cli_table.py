"""Tables of a terminal, however narrow: no word but the last column's is torn, and nothing is cut off. Widths are counted by hand."""

import io

import pytest
from rich.console import Console

from toneprobe.cli.table import print_table

HEADINGS = ("no.", "string", "bought", "from")
ROWS = [(2, "3D", "20 Apr 2026", "4,50 EUR"), (13, "5G", None, "a friend of the house")]


def printed(width, headings=HEADINGS, rows=ROWS):
    console = Console(file=io.StringIO(), width=width)
    print_table(console, headings, rows, right=("no.",))
    return [line.rstrip() for line in console.file.getvalue().splitlines()]


def test_a_row_is_a_line_where_it_fits():
    assert printed(80) == ["no.  string  bought       from",
                           "  2  3D      20 Apr 2026  4,50 EUR",
                           " 13  5G      –            a friend of the house"]


def test_the_last_column_gives_way_first_and_then_the_others_between_words():
    assert printed(36)[1:4] == ["  2  3D      20 Apr 2026  4,50 EUR",
                                " 13  5G      –            a friend",
                                "                          of the"]
    assert printed(25)[1:4] == ["  2  3D      20 Apr  4,50",
                                "             2026    EUR",
                                " 13  5G      –       a"]


def test_where_words_would_be_torn_each_row_is_a_paragraph():
    """3, 6, 6 and 4 letters and three gaps of 2 are 25."""
    assert printed(24) == ["no. 2; string 3D; bought",
                           "    20 Apr 2026; from",
                           "    4,50 EUR",
                           "no. 13; string 5G; from",
                           "    a friend of the",
                           "    house"]


@pytest.mark.parametrize("width", [12, 20, 30, 80])
def test_nothing_is_cut_off(width):
    told = "".join("".join(printed(width)).split())
    letters = sorted("".join("".join(str(cell) for row in ROWS for cell in row if cell).split()))
    assert not [one for one in set(letters) if told.count(one) < letters.count(one)]


@pytest.mark.parametrize(("width", "lines"), [(80, ["no.  string  bought  from"]), (12, [])])
def test_a_table_without_rows_has_its_headings_where_these_fit(width, lines):
    assert printed(width, rows=[]) == lines


def test_a_long_word_of_the_last_column_is_folded():
    lines = printed(40, ("no.", "note"), [(1, "x" * 60)])
    assert [line.count("x") for line in lines] == [0, 35, 25] and lines[0].split() == ["no.", "note"]

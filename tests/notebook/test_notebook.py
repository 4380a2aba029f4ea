"""A paper log typed into a spreadsheet: what is right is offered, what is wrong is listed with its line. Expected values read by hand."""

import csv
import io
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from toneprobe.book.schema import fittings
from toneprobe.fittings import Fitting
from toneprobe.instrument import load_instrument
from toneprobe.notebook import LogRow, NotebookError, decode_notebook, lines_words, read_notebook, write_log
from toneprobe.notebook.dates import find_day_first, read_date, read_typed_day
from toneprobe.notebook.rows import RowError

HARP = load_instrument("pedal-47")
TODAY = date(2024, 6, 1)
PAPER_LOG = (Path(__file__).parent / "paper_log.csv").read_bytes()


def read(text, **options):
    return read_notebook(text, HARP, **({"today": TODAY} | options))


def of_string(notebook, string):
    return [row for row in notebook.offered if row.string == string]


# --- the messy log: 60 rows, headings in odd order under a title, semicolons, decimal commas, many kinds of dates

REFUSED = {  # line of the file: what is wrong with it
    13: "no day of the calendar", 14: "lies ahead", 15: "has no date", 16: "is not a date", 17: "has no day", 18: "day number",
    19: "too long ago", 23: "write 5C or 3C", 24: "not a string name", 25: "names no string", 26: "not a string name",
    28: "it broke at the knot", 29: "gauge of 25", 30: "gauge of 0,032", 33: "neither yes nor no", 39: "repeats line 38", 47: "10 cells",
    55: "no day of the calendar", 56: "names no month", 61: "is a note", 63: "has no date",
}


@pytest.fixture(scope="module")
def paper_log():
    return read(decode_notebook(PAPER_LOG))


def test_the_messy_log_has_sixty_rows():
    rows = [row for row in csv.reader(io.StringIO(PAPER_LOG.decode(), newline=""), delimiter=";") if any(row)]
    assert len(rows) == 60 + 2  # title and heading


def test_each_bad_row_is_listed_with_its_line(paper_log):
    assert {r.line: REFUSED[r.line] in r.reason for r in paper_log.refused} == dict.fromkeys(REFUSED, True)
    by_line = {r.line: r for r in paper_log.refused}
    assert by_line[16].text.startswith("broke | soon after Easter | 3D | gut")
    assert all("\n" not in r.reason and len(r.reason) < 200 for r in paper_log.refused)


def test_each_good_row_is_offered(paper_log):
    good = set(range(4, 65)) - set(REFUSED) - {53}  # the row on line 52 runs over two lines
    assert len(good) == 60 - len(REFUSED)
    assert {row.line for row in paper_log.offered} == good


def test_changes_become_strings_with_first_and_last_day(paper_log):
    before, first, second = of_string(paper_log, "3C")
    assert (before.fitted_on, before.removed_on, before.why_removed, before.broke_at) == (None, date(2021, 2, 3), "broke", "knot")
    assert (first.fitted_on, first.removed_on, first.why_removed, first.broke_at) == (date(2021, 2, 3), date(2022, 3, 14), "broke", "knot")
    assert (first.gauge_mm, first.material, first.supplier) == (1.0, "gut", "corner shop")
    assert (second.fitted_on, second.removed_on, second.why_removed) == (date(2022, 3, 14), None, None)
    assert [row.fitted_on for row in of_string(paper_log, "4D")] == [None, date(2022, 3, 1), date(2022, 3, 2)]  # typed the other way round


def test_every_way_of_writing_one_date(paper_log):
    wires = [row for row in paper_log.offered if row.string[0] == "6" and row.fitted_on]
    assert len(wires) == 7 and {row.fitted_on for row in wires} == {date(2021, 5, 9)}
    assert of_string(paper_log, "3E")[1].fitted_on == date(2021, 8, 17)
    assert of_string(paper_log, "3F")[1].fitted_on == date(2021, 9, 3)  # 03/09/2021: line 21 shows that the day comes first
    assert of_string(paper_log, "5A")[1].fitted_on == date(2022, 2, 6)
    assert any("day first" in remark for remark in paper_log.remarks)


def test_stand_ins_are_known_from_the_reason_or_their_column(paper_log):
    _, stand_in, right = of_string(paper_log, "4G")
    assert stand_in.is_stand_in and stand_in.why_removed == "stand-in" and not right.is_stand_in
    _, stand_in, right = of_string(paper_log, "4A")
    assert stand_in.is_stand_in and stand_in.material == "nylon" and stand_in.removed_on == date(2021, 11, 2) and not right.is_stand_in


def test_nothing_written_is_lost(paper_log):
    old, new = of_string(paper_log, "1A")
    assert old.note == "why: broke, with a bang" and new.supplier == 'shop "by the bridge"'
    assert of_string(paper_log, "1E")[0].note == "why: cat" and of_string(paper_log, "1E")[0].why_removed is None
    assert of_string(paper_log, "2C")[1].note == "gauge: medium; Player: M"
    assert of_string(paper_log, "5B")[1].note == "Player: two lines"
    assert of_string(paper_log, "1F")[1].note == "Player: =SUM(1)"
    assert of_string(paper_log, "2D")[1].gauge_mm == pytest.approx(0.762)  # 0.030 in × 25.4
    assert "column 'Player' is kept as a remark" in paper_log.remarks


# what a diameter is: 0.1 to 10 mm (instrument/file); 0.045 would be an inch figure, which is not said
def test_a_gauge_that_is_no_number_is_kept_and_told():
    """A thickness is never less than nothing, and "medium" is none."""
    notebook = read("string,fitted,gauge\n3C,2020-05-13,-5\n3D,2020-05-13,0.8\n3E,2020-05-13,medium\n3F,2020-05-13,-5\n")
    assert [(row.gauge_mm, row.note) for row in notebook.offered] == [
        (None, "gauge: medium"), (0.8, ""), (None, "gauge: -5"), (None, "gauge: -5")]  # an octave runs E, D, C, B, A, G, F from the top
    assert 'lines 2, 5: "-5" is no gauge and is kept as a remark' in notebook.remarks
    assert 'line 4: "medium" is no gauge and is kept as a remark' in notebook.remarks and len(notebook.remarks) == 2


@pytest.mark.parametrize("heading", ["Date put on", "Put on", "put on date", "Day put on", "fitted (date)", "Date on", "date: strung"])
def test_a_date_is_what_it_is_the_date_of(heading):
    notebook = read(f"{heading};String;What;Thickness;Remark\n13.5.2020;3C;new;1,0;sounds well\n")
    assert [(row.string, row.fitted_on, row.gauge_mm, row.note) for row in notebook.offered] == [
        ("3C", date(2020, 5, 13), 1.0, "sounds well; What: new")]
    assert "column 'What' is kept as a remark" in notebook.remarks


def test_a_day_beside_the_one_of_putting_on_is_kept_as_a_remark():
    """Of two columns of days the one that says what it is the day of counts (the README); nothing that was written down is lost."""
    notebook = read("String,Date,Put on\n3C,4 May 2020,1 May 2020\n")
    assert [(row.string, row.fitted_on, row.note) for row in notebook.offered] == [("3C", date(2020, 5, 1), "Date: 4 May 2020")]
    assert "column 'Date' is kept as a remark" in notebook.remarks


@pytest.mark.parametrize(("heading", "told"), [
    ("Put it on at;String;What;Thickness;Remark",
     "line 1 lacks a column for a day, such as fitted, removed, date. What is 'Put it on at', 'What'?"),
    ("Fitted;Removed;Wire or not", "line 1 lacks a column for the string. What is 'Wire or not'?"),
    ("My harp\n\nmaterial;why", "line 3 lacks a column for the string and a column for a day, such as fitted, removed, date"),
])
def test_a_heading_that_will_not_do_is_told_what_it_lacks_and_what_was_not_understood(heading, told):
    with pytest.raises(NotebookError) as error:
        read(f"{heading}\n13.5.2020;3C;new;1,0;well\n")
    assert str(error.value) == f"no heading found: {told}"


@pytest.mark.parametrize(("cells", "material", "gauge_mm"), [
    ('"nylon 1,1",', "nylon", 1.1), ("Pedal gut 1.02 mm,", "pedal gut", 1.02), ('"gut, .040 in",', "gut", 1.016), ("gut 2 mm,", "gut", 2.0),
    ("gut 14,", "gut 14", None), ("nylon .045,", "nylon .045", None), ("3.5 wire,", "3.5 wire", None),
    ("nylon 1.1,1.1", "nylon", 1.1), ("nylon 1.1,1.2", "nylon 1.1", 1.2), ("nylon 1.1,thick", "nylon 1.1", None)])
def test_a_gauge_behind_the_material_is_a_gauge(cells, material, gauge_mm):
    notebook = read(f"string,fitted,material,gauge\n3C,2020-05-13,{cells}\n")
    assert [(row.material, row.gauge_mm) for row in notebook.offered] == [(material, gauge_mm)]


@pytest.mark.parametrize(("cell", "gauge_mm"), [
    ("0.1 cm", 1.0), ("0,05 cm", 0.5), ("0.05 mm", 0.05), ("10 mm", 10.0), ("0.049 mm", None), ("10.001 mm", None), ("1.1 cm", None)])
def test_a_gauge_has_its_unit_and_lies_between_the_thinnest_and_the_thickest_string(cell, gauge_mm):
    """A centimetre is ten millimetres. From 0.05 to 10 mm, both ends too (as the message says); what lies beyond is told."""
    notebook = read(f'string,fitted,gauge\n3C,2020-05-13,"{cell}"\n')
    assert [row.gauge_mm for row in notebook.offered] == ([] if gauge_mm is None else [gauge_mm])
    assert [f"a gauge of {cell} lies outside 0.05 to 10 mm" in one.reason for one in notebook.refused] == [True] * (gauge_mm is None)


@pytest.mark.parametrize(("n_letters", "is_taken"), [(400, True), (401, False)])
def test_a_cell_of_four_hundred_letters_is_the_longest_that_is_taken(n_letters, is_taken):
    notebook = read(f"string,fitted,supplier\n3C,2020-05-13,{'x' * n_letters}\n")
    assert [row.supplier for row in notebook.offered] == (["x" * 400] if is_taken else [])
    assert [one.reason for one in notebook.refused] == ([] if is_taken else ["a cell of 401 characters is too long"])


def test_signs_that_turn_a_line_are_left_out_of_cells_and_of_what_is_refused():
    notebook = read("string,fitted,remark\n3C,2020-01-01,\u202efrom the shop\n9X,2020-01-01,\u202efrom the shop\n")
    assert [row.note for row in notebook.offered] == ["from the shop"]
    assert [one.text for one in notebook.refused] == ["9X | 2020-01-01 | from the shop"]


def test_strings_written_out_are_understood(paper_log):
    assert all(len(of_string(paper_log, name)) == 2 for name in ("1D", "1C", "1B", "0G", "4C"))


# --- one row for one string

LEDGER = """string,put on,taken off,material,gauge (in),why,where
3C,2020-01-10,2021-03-01,gut,0.040,broke,knot
3C,2021-03-01,,gut,.040,,
3D,2020-05-01,,gut,,,
3D,2022-05-01,,gut,,,
4E,,2021-02-02,gut,,dead,
5A,2022-01-01,2021-01-01,gut,,,
5B,2020-01-01,2022-01-01,gut,,,
5B,2021-01-01,,gut,,,
5C,2021-01-01,,gut,,broke,
5D,,,gut,,,
6C,2021-01-01,still on,wire,,,
"""


def test_rows_that_tell_of_one_string():
    notebook = read(LEDGER)
    assert [(r.fitted_on, r.removed_on, r.why_removed, r.broke_at, r.gauge_mm) for r in of_string(notebook, "3C")] == [
        (date(2020, 1, 10), date(2021, 3, 1), "broke", "knot", 1.016), (date(2021, 3, 1), None, None, None, 1.016)]  # 0.040 × 25.4
    assert of_string(notebook, "4E") == [LogRow(6, "4E", None, date(2021, 2, 2), "gut", why_removed="dead")]
    assert of_string(notebook, "6C")[0].removed_on is None
    assert {r.line: r.reason for r in notebook.refused} == {
        7: "it cannot come off on 2021-01-01, it went on only on 2022-01-01",
        9: "another string was on from 2020-01-01 to 2022-01-01",
        10: "says why it came off, but not when",
    }
    assert of_string(notebook, "5D") == [LogRow(11, "5D", None, None, "gut")]  # on since before the log


def test_the_next_string_ends_the_one_before():
    notebook = read(LEDGER)
    assert [row.removed_on for row in of_string(notebook, "3D")] == [date(2022, 5, 1), None]
    assert "line 4: 3D is taken to have come off on 2022-05-01, when the next went on" in notebook.remarks


def test_what_the_log_has_is_not_taken_twice():
    known = [Fitting(1, 1, "3C", date(2020, 1, 10), date(2021, 3, 1), "gut", 1.016, why_removed="broke", broke_at="knot"),
             Fitting(2, 1, "3D", material="gut"),  # placeholder: on since before the book
             Fitting(3, 1, "6C", date(2020, 6, 1), material="wire")]
    notebook = read(LEDGER, known=known)
    reasons = {r.line: r.reason for r in notebook.refused}
    assert notebook.known == (2,) and reasons[12] == "another string was on from 2020-06-01 to today"
    assert len(of_string(notebook, "3D")) == 2 and len(of_string(notebook, "3C")) == 1


@pytest.mark.parametrize(("row", "heard_on", "told"), [
    ("2023-07-01,2023-08-01", date(2023, 3, 2), [(None, date(2023, 7, 1)), (date(2023, 7, 1), date(2023, 8, 1)), (date(2023, 8, 1), None)]),
    ("2023-07-01,2023-08-01", date(2023, 7, 9), [(date(2023, 7, 1), date(2023, 8, 1)), (date(2023, 8, 1), None)]),
    (",2023-08-01", date(2023, 3, 2), [(None, date(2023, 8, 1)), (date(2023, 8, 1), None)]),
    ("2023-07-01,2023-08-01", date(2023, 9, 1), [(date(2023, 7, 1), date(2023, 8, 1)), (date(2023, 8, 1), None)]),
    ("2023-07-01,2023-08-01", None, [(date(2023, 7, 1), date(2023, 8, 1)), (date(2023, 8, 1), None)]),  # a sweep before it may come yet
])
def test_what_was_on_before_a_string_came_off_is_not_the_one_that_is_on(row, heard_on, told):
    """One position carries one string at a time: else the log's own, on since nobody knows when, is judged by another's baseline,
    whether a sweep of those days is in the book already or is filed later."""
    known = [Fitting(39, 1, "6D", material="wire")]
    notebook = read(f"string,put on,taken off\n6D,{row}\n", known=known, heard_on={"6D": heard_on} if heard_on else {})
    assert [(one.fitted_on, one.removed_on) for one in notebook.offered] == told
    dated = ("line 2: no. 39 of the log, on 6D from before the log, is taken to date from 2023-08-01, when the one before it came off"
             in notebook.remarks)
    assert dated == (told[-1][1] is None)


@pytest.mark.parametrize(("heard_on", "told"), [
    (date(2024, 1, 3), [(None, date(2024, 3, 3), "wire", None), (date(2024, 3, 3), date(2024, 4, 7), None, 39)]),
    (date(2024, 3, 20), [(date(2024, 3, 3), date(2024, 4, 7), None, 39)])])
def test_what_a_sweep_heard_before_the_first_day_that_a_row_fills_in_was_another(heard_on, told):
    """As where the row is in the log before the sweep is stored: else the sweep would be of no string at all."""
    known = [Fitting(39, 1, "6D", None, date(2024, 4, 7), material="wire"), Fitting(40, 1, "6D", date(2024, 4, 7), material="wire")]
    notebook = read("string,put on,taken off\n6D,2024-03-03,2024-04-07\n", known=known, heard_on={"6D": heard_on})
    assert [(one.fitted_on, one.removed_on, one.material, one.completes) for one in notebook.offered] == told
    assert ("another string was on until then" in " ".join(notebook.remarks)) is (len(told) == 2)


SINCE_AUGUST = Fitting(39, 1, "6D", date(2023, 8, 1), material="wire", is_supposed=True)


@pytest.mark.parametrize(("row", "told"), [
    ("2023-09-05,", (date(2023, 9, 5), None, 39, None)), ("2023-08-01,", (date(2023, 8, 1), None, 39, None)),
    ("2023-09-05,2024-02-01", (date(2023, 9, 5), date(2024, 2, 1), 39, None)),
    (",2024-02-01", (date(2023, 8, 1), date(2024, 2, 1), None, 39)),
])
def test_the_day_that_a_notebook_tells_takes_the_place_of_the_one_that_was_supposed(row, told):
    """Derived here: the log has one string on 6D since July ended, so a row of a string that went on later, and of none beside it, is that.
    A row of what came off alone says nothing of when it went on."""
    before = replace(SINCE_AUGUST, id=12, fitted_on=date(2020, 1, 1), removed_on=date(2023, 8, 1), is_supposed=False)
    notebook = read(f"string,put on,taken off\n6D,{row}\n", known=[before, SINCE_AUGUST])
    (one,) = notebook.offered
    assert (one.fitted_on, one.removed_on, one.completes, one.ends) == told and notebook.refused == ()
    assert one.is_supposed == (told[2] is None)
    if told[2]:
        assert notebook.remarks == (f"line 2: this is no. 39 of the log, on 6D since 2023-08-01, as was supposed: it gets {told[0]} as its "
                                    "first day",)


@pytest.mark.parametrize("rows", ["6D,2023-07-05,", "6D,2023-09-05,2023-10-01\n6D,2023-09-20,"])
def test_of_two_strings_one_alone_can_be_the_one_that_was_supposed(rows):
    before = replace(SINCE_AUGUST, id=12, fitted_on=date(2020, 1, 1), removed_on=date(2023, 8, 1), is_supposed=False)
    (refused,) = read(f"string,put on,taken off\n{rows}\n", known=[before, SINCE_AUGUST]).refused
    assert refused.reason.startswith("another string was on from ")


HEADED = "string,from,to,material,gauge,shop,why,where,stand in,remark\n"


def test_a_row_typed_again_and_again_is_told_once():
    """5000 rows alike and one that names no string, twice: one is offered, 4999 repeat it, in one entry with the first six lines."""
    notebook = read("string,from,material\n" + "3D,2020-01-03,gut\n" * 5000 + "H9,2020-01-03,gut\n" * 2)
    assert len(notebook.offered) == 1 and len(notebook.refused) == 4999 + 2
    (repeats, first), (strange, _) = notebook.refused_alike
    assert repeats == tuple(range(3, 5002)) and first.reason == "repeats line 2" and strange == (5002, 5003)
    assert lines_words(repeats) == "lines 3, 4, 5, 6, 7, 8 and 4993 more" and lines_words((3,)) == "line 3"


@pytest.mark.parametrize(("cells", "told", "options"), [
    ("gut,1.016,Corner Shop,broke,knot,,first", None, ""), (",,,,,,", None, ""), ("GUT,,,broke,,,irst", None, ""),
    ("nylon,1.1,,dead,,yes,second remark", 'material gut, here nylon; gauge 1.016 mm, here 1.1 mm; why it came off broke, here dead; '
     'remark "first", here "second remark"; no stand-in, here one',
     "--material nylon --gauge 1.1 --why dead --note 'second remark' --stand-in"),
    (",,,,,,second remark", 'remark "first", here "second remark"', "--note 'second remark'"),
    (",,,broke,bridge pin,,", "where it broke knot, here bridge pin", "--broke-at 'bridge pin'"),
    (",1.0164,,,,,", None, ""), (",1.0166,,,,,", "gauge 1.016 mm, here 1.0166 mm", "--gauge 1.0166"),
    (",1.04,,,,,", "gauge 1.016 mm, here 1.04 mm", "--gauge 1.04"),
])
def test_what_a_row_says_otherwise_than_the_log_is_named_and_not_lost(cells, told, options):
    """Same days, other words: by hand, cell by cell. A row that says less, or the same in other letters, says nothing else. The command has
    all that differs, by the options that its help names."""
    known = [Fitting(7, 1, "3D", date(2020, 1, 3), date(2021, 1, 5), "gut", 1.016, "corner shop", None, "broke", "knot", False, "first")]
    notebook = read(f"{HEADED}3D,2020-01-03,2021-01-05,{cells}\n", known=known)
    assert notebook.offered == () and notebook.known == (() if told else (2,))
    reason = f"is no. 7 of the log, where it differs: {told}. If the row is right: toneprobe log correct 3D --entry 7 {options}"
    assert [(one.line, one.reason) for one in notebook.refused] == ([(2, reason)] if told else [])


def test_a_long_remark_is_whole_in_the_command_that_puts_it_right():
    """In the words beside it its middle is left out."""
    remark = " ".join(["second"] * 30)
    known = [Fitting(7, 1, "3D", date(2020, 1, 3), date(2021, 1, 5), "gut")]
    (refused,) = read(f"{HEADED}3D,2020-01-03,2021-01-05,,,,,,,{remark}\n", known=known).refused
    assert refused.reason.endswith(f"--note '{remark}'") and refused.reason.count(remark) == 1


def test_a_stand_in_is_not_the_string_that_the_log_has_on_from_before():
    """Neither has a day. The log's is no stand-in, so a row that says one tells of another string; a row that says none says no more than a
    log that has one."""
    def known(is_stand_in):
        return [Fitting(2, 1, "3D", material="gut", is_stand_in=is_stand_in)]

    def row(mark):
        return f"{HEADED}3D,,,gut,,,,,{mark},\n"

    other = read(row("yes"), known=known(False))
    assert (other.known, other.refused) == ((), ()) and [one.is_stand_in for one in other.offered] == [True]
    for mark, is_stand_in in (("yes", True), ("", False), ("", True)):
        assert read(row(mark), known=known(is_stand_in)).known == (2,)


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_any_delimiter_and_column_order(mark):
    text = mark.join(["Notes", "Made of", "Date fitted", "String"]) + "\n" + mark.join(["first", "Gut", "2020-02-03", "4f"]) + "\n"
    row, = read(text).offered
    assert (row.string, row.fitted_on, row.material, row.note) == ("4F", date(2020, 2, 3), "gut", "first")


def test_octave_and_letter_in_two_columns():
    row, = read("Octave,Letter,On\n4,F,2020-02-03\n").offered
    assert row.string == "4F"


@pytest.mark.parametrize("text, complaint", [
    ("", "the file is empty"), (" \n\n", "the file is empty"), ("a,b\n1,2\n", "no heading"), ("string,material\n3C,gut\n", "no heading"),
    ("string,fitted,put on\n3C,2020-01-01,2020-01-02\n", "two columns mean the same"),
    ("string,from,from\n3C,2020-01-01,2020-01-02\n", "two columns mean the same: number 2, 'from', and number 3, 'from'"),
    ('string,fitted,notes\n3C,2020-01-01,"open\n3D,2020-01-01,x\n', "never closed"),
])
def test_files_that_are_no_notebook_are_refused_in_one_line(text, complaint):
    with pytest.raises(NotebookError, match=complaint):
        read(text)


@pytest.mark.parametrize(("row", "n_letters"), [
    (f"3C,2020-01-01,{'x' * 4_000_000}", 4_000_014),  # 4 million and what stands before them
    (f"3C{',' * 200_000}", 200_002), ('3C,2020-01-01,"' + "x\n" * 140_000 + '"', 280_014)])
def test_a_row_that_is_far_too_long_is_refused_and_the_others_are_offered(row, n_letters):
    notebook = read(f"string,fitted,notes\n{row}\n3D,2020-01-01,fine\n")
    assert [(one.line, one.reason) for one in notebook.refused] == [(2, f"has {n_letters} letters: no row of a typed log has as many")]
    assert [(one.string, one.note) for one in notebook.offered] == [("3D", "fine")]


def test_bytes_of_spreadsheets():
    text = "string,fitted,supplier\n3C,2020-01-01,Müller\n"
    for raw in (text.encode(), text.encode("utf-8-sig"), text.encode("utf-16"), text.encode("cp1252")):
        assert read(decode_notebook(raw)).offered[0].supplier == "Müller"
    for raw in (b"PK\x03\x04rest", b"\xd0\xcf\x11\xe0", b"a\0b"):
        with pytest.raises(NotebookError):
            decode_notebook(raw)


# --- dates

@pytest.mark.parametrize("cell", [
    "2024-05-01", "2024/5/1", "2024.05.01", "20240501", "2024-05-01 00:00:00", "1.5.2024", "01. 05. 2024", "1.5.24", "1 May 2024",
    "1st of May 2024", "May 1, 2024", "may 1st 2024", "1-May-24", "01-MAY-2024", "Wed, 1 May 2024", "1 May, 2024", "1 may '24",
    "1.5.2024 00:00", "1.5.24, 00:00:00",
])
def test_usual_ways_of_writing_a_date(cell):
    assert read_date(cell, today=TODAY, day_first=None) == date(2024, 5, 1)


def test_which_comes_first_is_decided_by_the_file():
    assert find_day_first(["1/5/2024", "13/5/2024"]) is True and find_day_first(["1/5/2024", "5/13/2024"]) is False
    assert find_day_first(["1/5/2024", "2024-05-13"]) is None
    assert find_day_first(["13/14/2024"]) is None  # no day either way: it decides nothing, and stands in nobody's way
    assert find_day_first(["13/14/2024", "5/13/2024"]) is False and find_day_first(["13/14/2024", "13/5/2024"]) is True
    with pytest.raises(RowError):
        find_day_first(["13/5/2024", "5/13/2024"])
    assert read_date("1/5/2024", today=TODAY, day_first=True) == date(2024, 5, 1)
    assert read_date("1/5/2024", today=TODAY, day_first=False) == date(2024, 1, 5)
    assert {read_date(cell, today=TODAY, day_first=None) for cell in ("5/5/2024", "05/5/24")} == {date(2024, 5, 5)}  # either way the same
    with pytest.raises(RowError, match="can be"):
        read_date("1/5/2024", today=TODAY, day_first=None)


def test_dates_that_could_mean_two_days_are_refused_with_both():
    notebook = read("string,fitted\n3C,1/5/2020\n3D,2/5/2020\n")
    assert notebook.refused[0].reason == ("1/5/2020 can be 1 May 2020 or 5 January 2020: write 2020-05-01 or 2020-01-05, "
                                          "or say which comes first with --day-first or --month-first")
    assert notebook.offered == () and len(notebook.refused) == 2
    assert [row.fitted_on for row in read("string,fitted\n3C,1/5/2020\n", day_first=True).offered] == [date(2020, 5, 1)]
    mixed = read(text := "string,fitted\n3C,13/5/2020\n3D,5/13/2020\n3E,3/4/2020\n")
    assert any("day first and some the month" in remark for remark in mixed.remarks)
    assert {row.string: row.fitted_on for row in mixed.offered} == dict.fromkeys(("3C", "3D"), date(2020, 5, 13))  # can be no other day
    assert [one.reason.partition(":")[0] for one in mixed.refused] == ["3/4/2020 can be 3 April 2020 or 4 March 2020"]
    told = read(text, day_first=True)
    assert {row.string: row.fitted_on for row in told.offered} == {"3C": date(2020, 5, 13), "3E": date(2020, 4, 3)}
    assert [one.reason for one in told.refused] == [
        "5/13/2020 can only be 13 May 2020, but is to be read with the day first: write 2020-05-13"]


def test_years_of_two_digits_never_lie_ahead():
    assert read_date("1.7.24", today=date(2024, 7, 1), day_first=None) == date(2024, 7, 1)
    assert read_date("1.7.98", today=TODAY, day_first=None) == date(1998, 7, 1)


@pytest.mark.parametrize("cell", ["", " ", "?", "n/a", "-", "still on", "unknown"])
def test_empty_dates(cell):
    assert read_date(cell, today=TODAY, day_first=None) is None


@pytest.mark.parametrize(("text", "day"), [
    ("2026-05-03", date(2026, 5, 3)), (" 3.5.2026 ", date(2026, 5, 3)), ("3 May 2026", date(2026, 5, 3)), ("13/5/2026", date(2026, 5, 13)),
    ("5/13/2026", date(2026, 5, 13)), ("3.5.27", date(2027, 5, 3)), ("3.5.98", date(1998, 5, 3)), ("Sun, May 3rd 2026", date(2026, 5, 3))])
def test_a_day_typed_alone_is_read_as_in_a_file_and_may_lie_ahead(text, day):
    """The days were read by hand."""
    assert read_typed_day(text, today=date(2026, 11, 26)) == day


@pytest.mark.parametrize(("text", "is_taken"), [("1950-01-01", True), ("1949-12-31", False), ("31.12.1949", False), ("0203-01-01", False)])
def test_no_string_in_use_is_older_than_1950(text, is_taken):
    """Of a typed day as of one in a file; a slip of the finger makes a year of long ago."""
    today = date(2026, 11, 26)
    if is_taken:
        assert read_typed_day(text, today=today) == read_date(text, today=today, day_first=None) == date(1950, 1, 1)
        return
    with pytest.raises(RowError, match="is too long ago: look at the year"):
        read_typed_day(text, today=today)
    with pytest.raises(RowError, match="is too long ago for a string"):
        read_date(text, today=today, day_first=None)


@pytest.mark.parametrize(("text", "words"), [
    ("soon", "write it as 2026-05-03 for 3 May 2026"), ("3/5/2026", "3 May 2026 or 5 March 2026: write 2026-05-03 or 2026-03-05$"),
    ("30.2.2026", "no day of the calendar"), ("May 2026", "has no day"), ("", "is not a date"),
    ("29 Nov", "29 Nov has no year: write the whole date"), ("29th of November", "has no year"), ("Nov. 29", "has no year"),
    ("29.11.", "has no year"), ("29/11", "has no year"), ("3rd hand", "is not a date"), ("7. März 2024", "names no month: write it as")])
def test_what_is_no_day_is_refused_with_an_example_that_is_not_today(text, words):
    with pytest.raises(RowError, match=words):
        read_typed_day(text, today=date(2026, 11, 26))


# --- the log's own string without a first day

def log_entry(number, string, fitted, removed, why=None, broke_at=None):
    return Fitting(number, 1, string, fitted, removed, "gut", why_removed=why, broke_at=broke_at)


CHANGED = (log_entry(18, "3D", None, date(2024, 3, 10), "broke", "knot"), log_entry(48, "3D", date(2024, 3, 10), None))


def spans(notebook, string="3D"):
    return [(row.fitted_on, row.removed_on, row.completes) for row in of_string(notebook, string)]


def test_older_changes_give_the_logs_own_string_its_first_day():
    """What was on when the book was begun is the last that the notebook tells of; it came off in March, as the log says."""
    notebook = read("String,Date,Material,Why\n3D,3.4.2019,gut,broke\n3D,5.6.2023,gut,false\n", known=CHANGED)
    assert notebook.refused == () and spans(notebook) == [
        (None, date(2019, 4, 3), None), (date(2019, 4, 3), date(2023, 6, 5), None), (date(2023, 6, 5), date(2024, 3, 10), 18)]
    own = of_string(notebook, "3D")[-1]
    assert (own.why_removed, own.broke_at) == ("broke", "knot")  # as in the log
    assert notebook.remarks == ("line 3: this is no. 18 of the log, on 3D from before the log to 2024-03-10: "
                                "it gets 2023-06-05 as its first day",)


@pytest.mark.parametrize("removed", ["", "10.3.2024"])
def test_a_row_that_came_off_on_its_day_is_the_logs_own_string(removed):
    assert spans(read(f"string,fitted,removed\n3D,5.6.2023,{removed}\n", known=CHANGED)) == [(date(2023, 6, 5), date(2024, 3, 10), 18)]


def test_the_logs_own_string_follows_the_last_older_one():
    notebook = read("string,fitted,removed,why\n3D,3.4.2019,5.6.2023,false\n", known=CHANGED)
    assert spans(notebook) == [(date(2019, 4, 3), date(2023, 6, 5), None), (date(2023, 6, 5), date(2024, 3, 10), 18)]
    assert any("taken to date from 2023-06-05" in remark for remark in notebook.remarks)


@pytest.mark.parametrize(("rows", "words"), [
    ("3D,3.4.2019,,false", "came off for another reason, broke: if this is an older one, say when"),
    ("3D,3.4.2019,1.4.2024,", "another string was on from before the log to 2024-03-10"),
    ("3D,1.4.2024,,", "another string was on from 2024-03-10 to today")])
def test_rows_that_do_not_fit_leave_the_logs_own_string_alone(rows, words):
    notebook = read(f"string,fitted,removed,why\n{rows}\n", known=CHANGED)
    assert notebook.offered == () and words in notebook.refused[0].reason


def test_where_the_notebook_contradicts_the_log_no_first_day_is_guessed():
    notebook = read("string,fitted,removed,why\n3D,3.4.2019,5.6.2023,false\n3D,5.6.2023,10.3.2024,dead\n", known=CHANGED)
    assert spans(notebook) == [] and [one.line for one in notebook.refused] == [2, 3]


def test_a_string_without_a_last_day_came_off_when_the_logs_next_one_went_on():
    known = (log_entry(18, "3D", date(2023, 6, 5), date(2024, 3, 10)), log_entry(48, "3D", date(2024, 3, 10), None))
    assert spans(read("string,fitted,why\n3D,3.4.2019,false\n", known=known)) == [(date(2019, 4, 3), date(2023, 6, 5), None)]


# --- another harp's notebook

@pytest.mark.parametrize(("names", "told"), [
    (("3C", "3D", "6E", "6C", "6D", "6E", "0G"), '5 of 7 rows are of strings that this harp does not have (6E, 6C, 6D and 0G)'),
    (("3C", "3D", "3E", "6C", "6D"), None),  # two are typed wrong, perhaps
    (("3C", "3D", "3E", "x", "y", "z", "C5"), None)])  # what is no string of any harp tells of none
def test_a_notebook_of_strings_that_the_harp_has_not_is_asked_about(names, told):
    """A lever harp of 26 strings goes from 1G to 5C (presets/lever-26.toml)."""
    text = "string,fitted\n" + "".join(f"{name},2020-01-0{day}\n" for day, name in enumerate(names, 1))
    found = [one for one in read_notebook(text, load_instrument("lever-26"), today=TODAY).remarks if "this harp does not have" in one]
    assert [told in one and one.endswith("is this the notebook of another harp?") for one in found] == ([True] if told else [])


# --- a notebook that has grown since the log took it

@pytest.mark.parametrize(("first", "then"), [
    ("string,fitted,removed,why\n3D,2023-05-01,,\n", "3D,2024-03-01,,\n"),
    ("string,date,why\n3D,2023-05-01,\n", "3D,2024-03-01,broke\n")])
def test_a_notebook_that_has_grown_ends_the_string_that_the_log_has_on(first, then):
    """Taken, grown by a change and taken again: the string of May came off on the day of that change. By hand."""
    log = [replace(log_entry(k, one.string, one.fitted_on, one.removed_on), why_removed=one.why_removed, broke_at=None)
           for k, one in enumerate(of_string(read(first), "3D"), 1)]
    on = log[-1].id
    grown = read(first + then, known=log)
    assert grown.refused == () and [(row.fitted_on, row.removed_on, row.ends) for row in of_string(grown, "3D")] == [
        (date(2023, 5, 1), date(2024, 3, 1), on), (date(2024, 3, 1), None, None)]
    assert grown.n_told == (1 if "date" in first else 2)  # one change, which ends an entry and begins another
    assert f"line 2: this is no. {on} of the log, on 3D since 2023-05-01: it came off on 2024-03-01" in grown.remarks
    assert of_string(grown, "3D")[0].why_removed == ("broke" if "date" in first else None)
    taken = [*log[:-1], log_entry(on, "3D", date(2023, 5, 1), date(2024, 3, 1)), log_entry(9, "3D", date(2024, 3, 1), None)]
    again = read(first + then, known=taken)
    assert again.offered == () and 3 in again.known


def test_a_notebook_typed_year_by_year_is_taken_in_its_order():
    """Each file tells of the changes of a year: what came off was what the log has on, since the change before. By hand. Taken again, each
    file has nothing that the log lacks."""
    years = ("3D,2021-04-01,broke", "3D,2022-06-05,dead\n3C,2022-06-15,broke", "3D,2023-06-05,false")
    texts = [f"string,date,why\n{rows}\n" for rows in years]
    log = []
    for text in texts:
        found = read(text, known=log)
        assert found.refused == ()
        log = [one for one in log if one.id not in {row.ends for row in found.offered}]
        log += [replace(log_entry(100 * len(log) + k, row.string, row.fitted_on, row.removed_on), why_removed=row.why_removed,
                        broke_at=None) for k, row in enumerate(found.offered)]
    days = [None, date(2021, 4, 1), date(2022, 6, 5), date(2023, 6, 5), None]
    assert sorted((one.fitted_on or date.min, one.removed_on, one.why_removed) for one in log if one.string == "3D") == [
        (on or date.min, off, why) for on, off, why in zip(days, days[1:], ("broke", "dead", "false", None), strict=False)]
    again = [read(text, known=log) for text in (*texts, "string,date,why\n" + "\n".join(years) + "\n")]
    assert all(one.offered == one.refused == () for one in again) and [len(one.known) for one in again] == [1, 2, 1, 4]


@pytest.mark.parametrize(("cells", "told"), [
    ("2024-03-01,broke,gut", None), ("2024-03-01,,nylon", "material gut, here nylon"), ("2023-05-01,,gut", None)])
def test_a_string_that_came_off_is_the_logs_own_where_no_more_is_said_otherwise(cells, told):
    """With the last day typed. A row of a single day is another string, which was on for no day: the log's own stays on."""
    known = [replace(log_entry(5, "3D", date(2023, 5, 1), None), why_removed=None, broke_at=None)]
    notebook = read(f"string,fitted,removed,why,material\n3D,2023-05-01,{cells}\n", known=known)
    assert [told in one.reason for one in notebook.refused] == ([True] if told else [])
    assert [row.ends for row in notebook.offered] == ([] if told else [None if "2023-05-01" in cells else 5])


# --- what the log has no word for

def test_a_material_that_is_not_known_is_asked_about_and_kept():
    notebook = read("string,fitted,material\n3C,2020-01-01,gtu\n3D,2020-01-01,GTU\n3E,2020-01-01,pedal gut\n3F,2020-01-01,xyzzy\n")
    asked = [remark for remark in notebook.remarks if "no material" in remark]
    assert len(asked) == 2 and asked[0].startswith('lines 2, 3: "gtu" is no material that is known here') and "is it gut?" in asked[0]
    assert asked[1].startswith('line 5: "xyzzy"') and "is it right? It is kept" in asked[1]
    assert {row.string: row.material for row in notebook.offered} == {"3C": "gtu", "3D": "gtu", "3E": "pedal gut", "3F": "xyzzy"}


def test_a_material_that_belongs_on_other_strings_is_asked_about_and_kept():
    """Nylon to 1F, gut to 5A, wire from 5G on (common practice). Silk is no known material, and a stand-in may be of any."""
    notebook = read("string,fitted,removed,material,temporary\n5A,2020-01-01,2021-01-01,steel wire,\n5A,2021-01-01,,Wire,\n5G,2020-01-01,,"
                    "bronze,\n4C,2020-01-01,,silk,\n3C,2020-01-01,,nylon,yes\n3D,2020-01-01,,nylon,\n")
    asked = [remark for remark in notebook.remarks if "belongs" in remark]
    assert asked == ["line 2: steel wire on 5A, where gut belongs. Is it right? It is kept as it is written",
                     "line 3: wire on 5A, where gut belongs. Is it right? It is kept as it is written",
                     "line 7: nylon on 3D, where gut belongs. Is it right? It is kept as it is written"]
    assert [row.material for row in of_string(notebook, "5A")] == ["steel wire", "wire"]


def test_a_reason_of_ones_own_is_told_as_a_remark():
    notebook = read("string,date,why\n4C,2021-11-12,old\n4D,2021-11-12,broken\n4E,never,cat\n")
    assert [remark for remark in notebook.remarks if "remark" in remark] == [
        'line 2: "why: old" is none of broke, dead, false, planned, stand-in and is kept as a remark']
    assert of_string(notebook, "4C")[0].note == "why: old"


@pytest.mark.parametrize(("why", "note"), [
    ("Broke at the knot.", ""), ("snapped at knot", ""), ("broke at knot, twice", "why: broke at knot, twice")])
def test_a_reason_that_names_the_place_too_is_no_remark_besides(why, note):
    old, _ = of_string(read(f'string,date,why\n4C,2021-11-12,"{why}"\n'), "4C")
    assert (old.why_removed, old.broke_at, old.note) == ("broke", "knot", note)


def test_changes_are_counted_as_changes():
    changes = read("string,date\n4C,2021-11-12\n4D,2021-11-12\n4D,2022-11-12\n")
    assert (len(changes.offered), changes.n_told, changes.tells_of) == (5, 3, "change")
    strings = read("string,fitted\n4C,2021-11-12\n4D,2021-11-12\n")
    assert (len(strings.offered), strings.n_told, strings.tells_of) == (2, 2, "string")


DAYLESS = """string,put on,what
3C,March 2025,gut
3D,03/2025,gut
3E,2023,Gut
3F,spring 2024,gut
5A,2022,gut
9X,30.2.2025,gut
"""


def test_a_month_or_a_year_alone_is_kept_as_a_remark_of_a_string_from_before_the_log():
    notebook = read(DAYLESS, known=[Fitting(1, 1, "5A", date(2022, 5, 1), material="gut")])
    assert {(row.string, row.fitted_on, row.removed_on, row.note) for row in notebook.offered} == {
        ("3C", None, None, "put on: March 2025"), ("3D", None, None, "put on: 03/2025"), ("3E", None, None, "put on: 2023"),
        ("3F", None, None, "put on: spring 2024")}
    assert any(text.startswith('line 4: "2023" names no day: the string counts as on since before the log') for text in notebook.remarks)
    reasons = {one.line: one.reason for one in notebook.refused}
    assert reasons[6] == ("has no first day, so it would have been on since before the log, but another string was on from 2022-05-01 to "
                          "today. Write a whole day, the likeliest where nobody knows it")
    assert "9X" in reasons[7] and "30.2.2025 is no day of the calendar" in reasons[7]  # all that is wrong with a row at once


def test_a_column_what_is_the_material_where_it_holds_nothing_else():
    assert {row.material for row in read(DAYLESS).offered} == {"gut"}
    told = read("string,put on,what\n3C,2024-05-01,gut\n3D,2024-05-01,broke at church\n")
    assert [row.note for row in told.offered] == ["what: broke at church", "what: gut"]


def test_strings_of_one_day_are_taken_as_often_as_they_are_told():
    """One position changed three times on one day in equal words: two strings were on for no day. What the log has is not taken again."""
    log = [Fitting(k, 1, "3C", *days, "gut", None, None, None, *(("broke", "knot") if days[1] else (None, None)), False, "")
           for k, days in enumerate([(None, date(2024, 5, 1)), *[(date(2024, 5, 1), date(2024, 5, 1))] * 2, (date(2024, 5, 1), None)], 1)]
    text = write_log(log, HARP)
    first = read(text)
    assert first.refused == () and [(row.fitted_on, row.removed_on) for row in first.offered] == [
        (one.fitted_on, one.removed_on) for one in log]
    again, half = read(text, known=log), read(text, known=[log[0], log[1], log[3]])
    assert (again.offered, again.refused, again.known) == ((), (), (2, 3, 4, 5))
    assert [row.removed_on for row in half.offered] == [date(2024, 5, 1)] and half.refused == ()


# --- export

def test_export_is_read_back_as_it_was():
    log = [
        Fitting(1, 1, "3C", None, date(2021, 2, 3), why_removed="broke", broke_at="knot"),
        Fitting(2, 1, "3C", date(2021, 2, 3), None, "gut", 1.016, 'shop "by the bridge"; second', "B-7", None, None, False, "two\nlines"),
        Fitting(3, 1, "0G", date(2020, 1, 1), date(2020, 1, 1), "nylon", 0.5, "=1+1", "-7", "stand-in", None, True, "@home"),
        SINCE_AUGUST,
    ]
    text = write_log(log, HARP)
    assert text.splitlines()[0] == "string,fitted,removed,material,gauge (mm),supplier,batch,why,broke at,stand-in,notes,day supposed"
    assert text.count("\r\n") == 5 and "\n0G,2020-01-01" in text and text.index("0G") < text.index("3C")
    assert "'=1+1" in text and "'-7" in text  # a spreadsheet must not reckon with them
    notebook = read(text)
    assert notebook.refused == ()
    fields = ("string", "fitted_on", "removed_on", "material", "gauge_mm", "supplier", "batch", "why_removed", "broke_at", "is_stand_in",
              "is_supposed")
    back = [tuple(getattr(row, f) for f in fields) for row in notebook.offered]
    assert sorted(back, key=str) == sorted((tuple(getattr(one, f) for f in fields) for one in log), key=str)
    assert {row.note for row in notebook.offered} == {"", "two lines", "@home"}


@pytest.mark.parametrize(("fitted_on", "is_heard", "told"), [
    (None, False, [(None, date(2021, 2, 3), 39)]), (date(2020, 1, 1), False, [(date(2020, 1, 1), date(2021, 2, 3), 39)]),
    (None, True, [(None, date(2021, 2, 3), None), (date(2021, 2, 3), None, None)]),
])
def test_a_position_that_is_empty_by_an_exported_log_is_empty_in_another_book(fitted_on, is_heard, told):
    """In that a string is supposed on it since nobody knows when; where a sweep has heard it one is on. Of a typed log it is open."""
    text = write_log([Fitting(1, 1, "3C", fitted_on, date(2021, 2, 3), why_removed="broke")], HARP)
    notebook = read(text, known=[Fitting(39, 1, "3C", material="gut")], heard_on={"3C": date(2021, 2, 3)} if is_heard else {})
    assert [(row.fitted_on, row.removed_on, row.completes) for row in notebook.offered] == told
    assert ("line 2: no string has been on 3C since 2021-02-03" in notebook.remarks) is not is_heard


# --- any file at all

@settings(max_examples=100, deadline=None)
@given(st.text(max_size=200))
def test_no_text_makes_a_traceback(text):
    for given_text in (text, "date,string\n2020-01-01," + text):
        try:
            notebook = read(given_text)
        except NotebookError as error:
            assert "\n" not in str(error)
        else:
            assert all(isinstance(row, LogRow) for row in notebook.offered)


# What stands in a paper log, and now and then anything at all, in one line.
ANY_CELL = st.text(st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp")), max_size=12)
CELLS = {
    "string": st.sampled_from([*(string.name for string in HARP.strings), "octave 3 c", "3c", "C5", "9Z", ""]),
    "fitted": st.one_of(st.dates(date(1940, 1, 1), date(2030, 1, 1)).map(str), st.dates(date(2010, 1, 1), TODAY).map("{:%d.%m.%y}".format),
                        st.sampled_from(["", "?", "1/5/2020", "13 May 2020", "May 2020", "43952", "30.2.2020"])),
    "gauge": st.one_of(st.floats(0.01, 20.0).map("{:.3g} mm".format), st.sampled_from(["", "0,8", ".040 in", "medium", "0.1 cm"])),
    "why": st.sampled_from(["", "broke", "dead", "stand-in", "planned", "cat", "snapped at the knot"]),
    "where": st.sampled_from(["", "", "knot", "tuning pin", "stage left"]), "stand-in": st.sampled_from(["", "", "yes", "no", "perhaps"]),
    "material": st.sampled_from(["", "gut", "nylon 1,1", "wire", "cheese"]), "supplier": st.sampled_from(["", "corner shop"]),
}
HEADS = {"string": ["string", "String", "position"], "fitted": ["fitted", "Date put on", "from"], "removed": ["removed", "to", "came off"],
         "gauge": ["gauge", "Thickness"], "why": ["why", "Reason"], "where": ["where", "broke at"], "stand-in": ["stand-in"],
         "material": ["material", "Made of"], "supplier": ["supplier", "shop"], "notes": ["notes", "Remark", "Player"]}


@st.composite
def paper_logs(draw):
    """A heading in any order of columns, its rows, and what parts them."""
    columns = draw(st.permutations(["string", "fitted", *draw(st.sets(st.sampled_from(sorted(set(HEADS) - {"string", "fitted"}))))]))
    cells = [CELLS.get("fitted" if name == "removed" else name, ANY_CELL) for name in columns]
    rows = draw(st.lists(st.tuples(*(st.one_of(cell, cell, cell, cell, ANY_CELL) for cell in cells)), min_size=1, max_size=6))
    return [[draw(st.sampled_from(HEADS[name])) for name in columns], *rows], draw(st.sampled_from(",;\t"))


def test_every_row_of_a_paper_log_is_offered_or_told_why_not():
    """Whatever is offered is of this harp and can have been; no line is passed over in silence. Of all logs drawn many offer something."""
    n_offering = 0

    @settings(max_examples=200, deadline=None, derandomize=True)
    @given(paper_logs())
    def tried(log):
        nonlocal n_offering
        rows, mark = log
        body = io.StringIO()
        csv.writer(body, delimiter=mark).writerows(rows)
        try:
            notebook = read(body.getvalue())
        except NotebookError as error:
            assert "\n" not in str(error)
            return
        names = {string.name for string in HARP.strings}
        for row in notebook.offered:
            days = [day for day in (row.fitted_on, row.removed_on) if day is not None]
            assert row.string in names and days == sorted(days) and all(date(1950, 1, 1) <= day <= TODAY for day in days)
            assert row.gauge_mm is None or 0.05 <= row.gauge_mm <= 10.0
            assert row.why_removed in (None, "stand-in", "broke", "dead", "false", "planned")
            assert row.broke_at is None or row.why_removed == "broke"
        told = {row.line for row in notebook.offered} | {one.line for one in notebook.refused} | set(notebook.known)
        written = {line for line, row in enumerate(rows, start=1) if line > 1 and any(cell.strip() for cell in row)}
        assert told == written, body.getvalue()
        n_offering += bool(notebook.offered)

    tried()
    assert n_offering > 50


# --- the export's own table

EXPORTED = ",".join(fittings.columns.keys()) + "\n"  # fittings.csv begins so


def test_what_was_withdrawn_does_not_come_back_with_the_exports_table():
    """3E was never changed on 23 November: of its two rows the one that stands is offered, and the book's own numbers are no remark."""
    notebook = read(EXPORTED + "57,1,3E,2023-11-23,2023-11-23,gut,,,,,,False,,2023-11-23,False\n"
                               "12,1,3E,2023-03-07,,gut,,,,,,False,from the shop,,True\n")
    (row,) = notebook.offered
    assert (row.string, row.fitted_on, row.removed_on, row.note, row.is_supposed) == ("3E", date(2023, 3, 7), None, "from the shop", True)
    assert notebook.refused == () and notebook.remarks == ("1 row was withdrawn from the log and left out",)


def test_the_exports_table_of_two_harps_is_no_log_of_one():
    with pytest.raises(NotebookError, match="toneprobe log export FILE.csv --harp NAME"):
        read(EXPORTED + "1,1,3E,2023-11-23,,gut,,,,,,False,,,False\n2,2,3E,2023-03-07,,gut,,,,,,False,,,False\n")


def test_numbers_of_ones_own_are_a_remark():
    (row,) = read("id,string,fitted\n7,3E,2023-03-07\n").offered
    assert row.note == "id: 7"


# --- a weekday that is another's

def test_a_row_whose_weekday_contradicts_its_day_is_refused():
    """10 May 2023 was a Wednesday, by the calendar."""
    notebook = read("string,fitted\n3C,Fri 10 May 2023\n3D,\"Wed, 10 May 2023\"\n3E,wednesday 10.5.2023\n")
    assert [(one.line, one.reason.partition(":")[2].partition(".")[0]) for one in notebook.refused] == [(2, " 10 May 2023 is a Wednesday")]
    assert {row.string: row.fitted_on for row in notebook.offered} == {"3D": date(2023, 5, 10), "3E": date(2023, 5, 10)}


def test_a_month_alone_is_refused_where_others_were_on_with_what_to_write_instead():
    """2E is in the log already: a string of unknown day cannot have been on before it and still be on."""
    known = (log_entry(18, "2E", None, date(2023, 3, 10)), log_entry(48, "2E", date(2023, 3, 10), None))
    (one,) = read('string,fitted\n2 E,Oct. 2023\n', known=known).refused
    assert "another string was on" in one.reason and one.reason.endswith("Write a whole day, the likeliest where nobody knows it")
    assert read('string,fitted\n2 E,15 Oct. 2023\n', known=known[:1]).refused == ()


def test_the_reason_of_a_change_is_that_of_the_string_before():
    """A log of changes, typed under the heading of one of strings: what to call its column is said; so called it is taken."""
    row = "3C,1 May 2023,broke\n"
    (one,) = read(f"string,put on,why\n{row}").refused
    assert one.reason.startswith("says why it came off, but not when") and one.reason.endswith("call the column of the day Date")
    for heading in ("why", "Old one off because"):
        before, new = read(f"string,Date,{heading}\n{row}").offered
        assert (before.why_removed, new.why_removed, new.fitted_on) == ("broke", None, date(2023, 5, 1))

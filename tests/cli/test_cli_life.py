"""`restring`, `settle`, `log`, `spares`, `ready`, `note`, `habits`: what each says and stores, and its one-line refusals."""

import csv
import io
import os
import shutil
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from command_line import say
from typer.testing import CliRunner

from toneprobe.book import diary, pitch_checks, read, spare_box
from toneprobe.book.entries import OwnerSettings
from toneprobe.book.opening import open_book
from toneprobe.book.settings import keep_settings
from toneprobe.cli import app
from toneprobe.cli.ready import plan_counts
from toneprobe.events import Event
from toneprobe.planning import Plan
from toneprobe.planning.situation import Task
from toneprobe.practice import USUAL_HABITS

PAPER_LOG = Path(__file__).parents[1] / "notebook" / "paper_log.csv"
N_REFUSED = 21  # counted by hand, one by one, in tests/notebook
N_ROWS = 60


@pytest.fixture
def book(begun):
    """A pedal harp with spares: 3C twice, 3D at home, an old gut 4C."""
    return begun(["new", "Wren", "--preset", "pedal-47", "--tuning", "naturals"],
                 ["spares", "add", "3C", "--count", "2", "--bought", "2026-01-05", "--lead-time", "10"],
                 ["spares", "add", "3D", "--in", "home", "--bought", "2026-01-05"], ["spares", "add", "4C", "--bought", "2020-01-05"])


def fittings(book, string):
    return read.fitting_log(open_book(book), 1, string)


# --- refusals, each one line

@pytest.mark.parametrize(("arguments", "code", "word"), [
    (["restring", "C5"], 2, "write 5C or 3C"), (["restring", "9Z"], 2, "9Z"), (["restring", "3C", "--date", "2099-01-01"], 2, "not come"),
    (["restring", "1E", "--from-spares"], 1, "there is no spare 1E"), (["restring", "3C", "--spare", "77"], 2, "number 77"),
    (["restring", "3E", "--spare", "1"], 2, "--stand-in"), (["restring", "3C", "--why", "dead", "--broke-at", "knot"], 2, "--why is broke"),
    (["settle"], 2, "--all"), (["settle", "3C", "missing.wav"], 1, "missing.wav"), (["settle", "3C", "--time", "noon"], 2, "noon"),
    (["settle", "--all", "a.wav", "b.wav"], 2, "not both"), (["log", "C5"], 2, "write 5C or 3C"),
    (["log", "import", "missing.csv"], 1, "missing.csv"), (["log", "correct", "3C"], 2, "say what to correct"),
    (["log", "correct", "3C", "--entry", "999", "--batch", "x"], 2, "no entry number 999"),
    (["log", "withdraw", "3C"], 2, "no change that could be withdrawn"), (["log", "withdraw", "C5"], 2, "write 5C or 3C"),
    (["log", "correct", "3C", "--fitted", "2099-01-01"], 2, "lies ahead"), (["log", "correct", "3C", "--gauge", "thick"], 2, "thick"),
    (["log", "correct", "3C", "--broke-at", "knot"], 2, "did not come off because it broke"),
    (["spares", "add", "C5"], 2, "write 5C or 3C"), (["spares", "add", "3C", "--bought", "2099-01-01"], 2, "lies ahead"),
    (["restring", "3C", "--gauge", "0.04"], 2, "3C: a gauge of 0.04 mm lies outside 0.05 to 10"),
    (["restring", "3C", "--gauge", "0"], 2, "of 0 mm"),
    (["spares", "add", "3C", "--gauge", "10.1"], 2, "3C: a gauge of 10.1 mm"), (["spares", "add", "3C", "--gauge", "0"], 2, "of 0 mm"),
    (["log", "correct", "3C", "--gauge", "0.04"], 2, "3C: a gauge of 0.04 mm"),
    (["spares", "use", "99"], 2, "number 99"), (["spares", "remove", "1E"], 1, "no spare 1E"), (["spares", "move", "1"], 2, "--to"),
    (["ready"], 2, "--on"), (["ready", "--on", "2020-01-01"], 2, "is over"), (["ready", "--on", "6 Nay 2030"], 2, "names no month"),
    (["ready", "--on", "Fryday"], 2, "'Fryday' names no day: write it as 2026-05-03 for 3 May 2026, 'Friday' for the next one"),
    (["ready", "--on", "9999-12-31", "--ics", "z.ics"], 2, "31 December 9999 is more than a hundred years ahead: look at the year"),
    (["note", "climate"], 2, "needs a temperature"), (["note", "flood"], 2, "flood"), (["note", "climate", "--humidity", "140"], 2, "140"),
    (["habits", "--shelf-life", "silk=3"], 2, "wound nylon, fluorocarbon, nylon, gut, wire"),
    (["habits", "--shelf-life", "wood=3"], 2, "wood=3"), (["habits", "--shelf-life", "gut"], 2, "gut=365"),
    (["sweep", "x.wav", "--humidity", "140"], 2, "140"),
    (["restring", "3C", "--date", "1066-10-14"], 2, "at the year"), (["sweep", "x.wav", "--date", "1026-05-02"], 2, "at the year"),
    (["habits", "--log-began", "2099-01-01"], 2, "has not come yet"), (["note", "other", "a bell\a"], 2, "one line"),
    (["restring", "3C", "--note", "\x1b[31mred"], 2, "one line"), (["withdraw", "9" * 20], 2, "999999999"),
    (["note", "--withdraw", "9" * 20], 2, "999999999"), (["new", "X", "--preset", "pedal-47", "--from", "x.toml"], 2, "not both"),
    (["report", "--out", ""], 2, "does not end in"), (["new", "n" * 5000, "--preset", "pedal-47"], 2, "at most 80 letters"),
    (["settle", "--all", "x.flac", "--retuned"], 2, "needs the STRING"), (["settle", "3D", "--retuned"], 2, "needs the STRING"),
    (["settle", "3D", "x.flac", "--retuned", "--as-left", "y.flac"], 2, "give one of the two"),
])
def test_refusals_give_one_line_and_the_right_code(run, book, tmp_path, arguments, code, word):
    before = (book / "book.sqlite").read_bytes()
    result = run(*arguments)
    told = result.stderr
    assert (result.exit_code, result.stdout) == (code, "") and word in told and "Traceback" not in told
    if not told.startswith("Usage"):  # what the command line itself cannot read is told with the way to use it
        assert told.startswith("toneprobe: ") and told.count("\n") == 1
    assert (book / "book.sqlite").read_bytes() == before


def test_the_thinnest_string_that_a_notebook_may_name_can_be_put_on_and_into_the_bag(run, book):
    """0.06 mm: in the range of an instrument file (0.05 to 10), which `log import` takes; derived here."""
    assert "0.06 mm" in say(run, "restring", "3C", "--gauge", "0.06", "--date", "2026-03-01")
    assert "0.06 mm" in say(run, "spares", "add", "3C", "--gauge", "0.06")


# --- restring and spares

def test_the_first_bought_spare_goes_on_and_off_the_list(run, book):
    told = say(run, "restring", "3C", "--from-spares", "--why", "dead", "--date", "2026-03-01")
    assert "3C (C5): a new string since 1 March 2026 (gut)" in told and "Spares left for 3C: 1" in told and "eye protection" in told
    first, second = [one for one in spare_box.spares_of(open_book(book), 1) if one.string == "3C"]
    assert (first.used_on, first.fitting_id, second.used_on) == (date(2026, 3, 1), fittings(book, "3C")[-1].id, None)
    assert fittings(book, "3C")[0].why_removed == "dead"


@pytest.fixture
def patient(run, book):
    """Gut keeps for a year as a rule (common practice); this owner says four. Numbers of spares of 2024 and 2026, by string."""
    for string in ("3F", "3A"):
        say(run, "spares", "add", string, "--bought", "2024-09-01")
    for string in ("3F", "3B"):
        say(run, "spares", "add", string, "--bought", "2026-02-01")
    say(run, "habits", "--shelf-life", "gut=1500")
    return {(one.string, one.bought_on.year): one.id for one in spare_box.spares_of(open_book(book), 1)}


def test_the_owners_own_shelf_life_tells_which_spare_goes_on(run, patient):
    for year, another in ((2024, []), (2026, ["--another"])):
        told = say(run, "restring", "3F", "--from-spares", "--date", "2026-03-01", *another)
        assert f"Taken from the bag: spare {patient['3F', year]}." in told


@pytest.mark.parametrize("how", ["--from-spares", "--spare"])
def test_the_owners_own_shelf_life_tells_which_spare_stands_in(run, patient, how):
    """3A is nearer to 3G than 3B is; by the usual year it would be past its best."""
    assert "3G G4 gut no spare the spare 3A" in say(run, "spares", "check", "--date", "2026-03-01")
    number = [patient["3A", 2024]] if how == "--spare" else []
    told = say(run, "restring", "3G", "--stand-in", how, *number, "--date", "2026-03-01")
    assert f"spare {patient['3A', 2024]} made for 3A" in told and "past its best" not in told.lower()


def test_how_long_it_settles_is_told_by_the_owners_own_figure(run, book):
    day = date.today() - timedelta(days=1)
    assert "It settles in 5 to 7 days" in say(run, "restring", "4D", "--date", day)  # gut, common practice
    habits = replace(USUAL_HABITS, settle_days={**USUAL_HABITS.settle_days, "gut": (9.0, 14.0)})
    keep_settings(open_book(book), 1, OwnerSettings(habits=habits))
    assert "It settles in 9 to 14 days" in say(run, "restring", "4D")


def test_a_stand_in_leaves_no_trace_in_the_string_that_follows(run, book):
    told = say(run, "restring", "4D", "--stand-in", "--from-spares", "--date", "2026-03-01", code=1)
    assert "can stand in for 4D" in told
    say(run, "restring", "4D", "--stand-in", "--material", "nylon", "--gauge", "0.9", "--date", "2026-03-01")
    say(run, "restring", "4D", "--date", "2026-03-09")
    stand_in, right = fittings(book, "4D")[1:]
    assert (stand_in.is_stand_in, stand_in.why_removed, stand_in.material) == (True, "stand-in", "nylon")
    assert (right.is_stand_in, right.material, right.gauge_mm) == (False, "gut", None)


def test_another_material_is_cautioned(run, book):
    told = say(run, "restring", "4D", "--material", "nylon", "--date", "2026-03-01")
    assert "Gut belongs on 4D" in told and "Ask a harp technician" in told


def test_spares_are_moved_used_and_removed_but_never_lost(run, book):
    assert "is in the bag" in say(run, "spares", "move", "3D", "--to", "bag")
    assert "off the list on 1 March 2026: lent" in say(run, "spares", "use", "3D", "--note", "lent", "--date", "2026-03-01")
    assert "thrown away" in say(run, "spares", "remove", "4", "--date", "2026-03-01")
    assert len(spare_box.spares_of(open_book(book), 1)) == 4
    assert "2 spares on" in say(run, "spares")


def test_the_bag_is_checked_against_the_harp(run, book):
    told = say(run, "spares", "check", "--date", "2026-02-01")
    assert "No: 1 of 47 has a good spare in the bag" in told  # 3C; 3D lies at home, the gut 4C of 2020 is past its year
    assert "at home, not in the bag its own, from home" in told and told.count(" wire no spare") == 12
    assert "past its best on the shelf" in told
    move = told.partition("What lies at home goes into the bag: toneprobe ")[2].split()[:5]  # 3D alone lies there
    assert move == ["spares", "move", "3D", "--to", "bag"] and "is in the bag" in say(run, *move)
    assert "at home" not in say(run, "spares", "check", "--date", "2026-02-01")


def test_orders_count_back_by_the_lead_time(run, book, strict_json):
    result = run("spares", "order", "--by", "2026-06-30", "--date", "2026-02-01", "--json", "-")
    orders = {one["string"]: one for one in strict_json(result.stdout)["orders"]}
    assert orders["3E"]["order_by"] == "2026-06-20" and not orders["3E"]["lead"]["is_assumed"]  # gut, 10 days as noted for the 3C
    assert orders["7C"]["order_by"] == "2026-06-09" and orders["7C"]["lead"]["is_assumed"]  # 21 days
    assert "to order on 1 February 2026" in result.stderr


# --- the log

def test_a_paper_log_is_shown_and_stored_only_when_confirmed(run, book):
    before = (book / "book.sqlite").read_bytes()
    for typed in ("", "n\n"):
        result = CliRunner().invoke(app, ["log", "import", str(PAPER_LOG)], input=typed)
        assert result.exit_code == 0 and "Nothing was stored" in result.stdout
        assert (book / "book.sqlite").read_bytes() == before
    assert f"Refused: {N_REFUSED} rows" in result.stdout and "line 23: " in result.stdout
    assert "write 5C or 3C" in " ".join(result.stdout.split())
    assert max(len(line.rstrip()) for line in result.stdout.splitlines()) <= 80
    confirmed = CliRunner().invoke(app, ["log", "import", str(PAPER_LOG)], input="y\n")
    assert confirmed.exit_code == 0 and f"{N_REFUSED} rows were refused" in confirmed.stdout
    log = fittings(book, "3C")
    assert [(one.fitted_on, one.removed_on, one.why_removed) for one in log] == [
        (None, date(2021, 2, 3), "broke"), (date(2021, 2, 3), date(2022, 3, 14), "broke"), (date(2022, 3, 14), None, None)]
    changes = [one for one in read.fitting_log(open_book(book), 1) if one.fitted_on]
    assert len(changes) == N_ROWS - N_REFUSED
    assert "3C broke 2 times at the knot" in say(run, "log")


def test_what_was_imported_is_not_offered_again(run, book):
    say(run, "log", "import", PAPER_LOG, "--yes")
    before = read.fitting_log(open_book(book), 1)
    result = run("log", "import", PAPER_LOG, "--yes")
    assert result.exit_code == 1 and f"Already in the log of Wren: {N_ROWS - N_REFUSED} rows" in " ".join(result.stdout.split())
    assert read.fitting_log(open_book(book), 1) == before


def test_lives_are_told_in_whole_words(run, tmp_path):
    """A lever harp with a median and, for two registers, only a reason: at 80 columns no word is cut."""
    assert run("new", "Wren", "--preset", "lever-22").exit_code == 0
    rows = [f"{name},{2015 + k}-01-01,{2016 + k}-01-01,broke" for k in range(4) for name in ("3C", "3D", "3E")]
    (tmp_path / "paper.csv").write_text("\n".join(["string,fitted,removed,why", *rows]), encoding="utf-8")
    say(run, "log", "import", tmp_path / "paper.csv", "--yes")
    lines = run("log", "lives", "--date", "2026-01-01").stdout.splitlines()
    assert max(map(len, lines)) <= 80 and any("nylon" in line and "12 months" in line for line in lines)
    told = " ".join(map(str.strip, lines))
    assert "wound nylon, octaves 3-5: none with a known first day." in told and "without a reason" not in told


def test_strings_that_came_off_without_a_reason_are_said_to_have(run, book, tmp_path):
    """Six gut strings with both days, whose remarks nobody reads as a reason; and in words that its heading makes one."""
    rows = [f"{name},2023-01-01,2025-01-01,old" for name in ("3A", "3B", "4A", "4B", "4D", "4E")]
    (tmp_path / "paper.csv").write_text("\n".join(["string,fitted,removed,notes", *rows]), encoding="utf-8")
    say(run, "log", "import", tmp_path / "paper.csv", "--yes")
    told = say(run, "log", "lives", "--date", "2026-01-01")
    assert "gut, octaves 3-5: none ended so far, and 6 came off without a reason in the log: how long" in told
    assert "6 strings came off without a reason in the log, and count as having served" in told and "--entry NUMBER --why broke" in told


def test_of_lives_that_few_were_watched_through_the_age_is_told_from_which_half_are_counted(run, tmp_path):
    """Six strings on since 2022 ended in 2025, when the log began to miss nothing; one put on in March broke in March, alone at risk,
    for stand-ins followed. Half of the six: the third, 3E, on for 1186 days."""
    assert run("new", "Wren", "--preset", "lever-22").exit_code == 0
    rows = [f"{name},2022-01-01,2025-{k + 2:02d}-01,broke," for k, name in enumerate(("3C", "3D", "3E", "3F", "3G", "3A"))]
    since = [f"{name},2025-{k + 3:02d}-01,,,yes" for k, name in enumerate(("3D", "3E", "3F", "3G", "3A"))]  # no lives of their own
    rows += ["3C,2025-02-01,2025-03-01,,yes", "3C,2025-03-01,2025-03-31,broke,", "3C,2025-03-31,,,yes", *since]
    (tmp_path / "paper.csv").write_text("\n".join(["string,fitted,removed,why,stand-in", *rows]), encoding="utf-8")
    say(run, "log", "import", tmp_path / "paper.csv", "--yes")
    say(run, "habits", "--log-began", "2025-01-01")
    told = " ".join(run("log", "lives", "--date", "2026-01-01").stdout.split())
    assert "too few were watched before the age of 30 days, so half of those that reach it." in told and "3.2 years" in told


def test_positions_that_surely_differ_are_told_with_their_counts(run, tmp_path):
    """Of 3C twelve strings broke, one a month; of each of four others one broke after 200 days and the next is on: counted in the rows."""
    assert run("new", "Wren", "--preset", "lever-22").exit_code == 0
    worn = [f"3C,2024-{k:02d}-01,2024-{k:02d}-28,broke" for k in range(1, 13)]
    held = [row for name in ("3D", "3E", "3F", "3G") for row in (f"{name},2024-01-01,2024-07-19,broke", f"{name},2024-07-19,,")]
    (tmp_path / "paper.csv").write_text("\n".join(["string,fitted,removed,why", *worn, *held]), encoding="utf-8")
    say(run, "log", "import", tmp_path / "paper.csv", "--yes")
    told = " ".join(run("log", "lives", "--date", "2025-01-01").stdout.split())
    assert "its positions differ by more than chance. Of 3C 12 ended, of 3" in told and " 1; were all alike it would be " in told


def test_the_exported_log_is_read_back_as_it_was(run, book, tmp_path):
    say(run, "log", "import", PAPER_LOG, "--yes")
    result = run("log", "export")
    rows = list(csv.DictReader(io.StringIO(result.stdout, newline="")))
    assert len(rows) == len(read.fitting_log(open_book(book), 1)) and "entries written" in result.stderr
    say(run, "log", "export", tmp_path / "log.csv")
    dated = {(one.string, one.fitted_on, one.removed_on, one.gauge_mm) for one in read.fitting_log(open_book(book), 1)
             if one.fitted_on or one.removed_on}
    assert run("new", "Finch", "--preset", "pedal-47").exit_code == 0
    say(run, "log", "import", tmp_path / "log.csv", "--yes", "--harp", "Finch")
    again = {(one.string, one.fitted_on, one.removed_on, one.gauge_mm) for one in read.fitting_log(open_book(book), 2)
             if one.fitted_on or one.removed_on}
    assert again == dated


def test_a_correction_leaves_a_trace(run, book):
    say(run, "restring", "3C", "--date", "2026-03-01")
    told = say(run, "log", "correct", "3C", "--fitted", "2026-03-02", "--supplier", "the shop", "--because", "found the bill")
    assert "put on: was 1 March 2026, now 2 March 2026" in told
    told = say(run, "log", "3C")
    assert "Since 2 March 2026" in told and "Corrected" in told and "supplier: was blank, now the shop: found the bill" in told
    assert "nothing was changed" in say(run, "log", "correct", "3C", "--supplier", "the shop")


def test_a_change_on_the_wrong_string_is_withdrawn(run, book):
    """It was 3C that broke: 3D is what it was, its spare is in the bag again, and the log says what had been written."""
    before = fittings(book, "3D")
    say(run, "restring", "3D", "--from-spares", "--broke-at", "knot", "--date", "2026-03-01")
    told = say(run, "log", "withdraw", "3D", "--because", "it was 3C")
    assert "In its place: 3D no. 18. On since before" in told and "Spare 3 (3D) is on the list again" in told
    assert "toneprobe restring STRING --date 2026-03-01" in told
    assert fittings(book, "3D") == before
    assert [one.used_on for one in spare_box.spares_of(open_book(book), 1)] == [None] * 4
    told = say(run, "log", "3D")
    assert "no. 48 (1 March 2026 to today) was withdrawn: it was 3C" in told and "where it broke: was knot, now blank" in told
    assert "No. 48" not in told and "broke at" not in told.split("Corrected")[0]
    told = say(run, "log", "withdraw", "3D", code=2)  # once is enough
    assert "no change that could be withdrawn" in told
    say(run, "restring", "3C", "--from-spares", "--broke-at", "knot", "--date", "2026-03-01")
    assert len(fittings(book, "3C")) == 2


# --- settle, sweep, ready, note, habits

def test_without_recordings_settle_tells_how_things_stand(run, book):
    assert "No string is settling" in say(run, "settle", "--all")
    say(run, "restring", "3C", "--date", (date.today() - timedelta(days=2)).isoformat())
    assert "3C (C5, gut, on since" in say(run, "settle", "--all")


def test_a_check_keeps_the_string_and_its_neighbours(run, kept, played, tmp_path, strict_json):
    shutil.copytree(kept, tmp_path / "book")
    say(run, "restring", "3D", "--date", "2024-09-08")
    told = say(run, "settle", "3D", played.part_one, "--date", "2024-09-09", code=1)  # it is not in that part
    assert "cannot be told from the others" in told and pitch_checks.pitch_checks(open_book(tmp_path / "book"), 1) == ()
    result = run("settle", "3D", played.part_two, "--date", "2024-09-09", "--json", "-")
    assert result.exit_code == 0, result.stderr
    (one,) = strict_json(result.stdout)["strings"]
    assert one["string"] == "3D" and one["state"] in ("settling", "unsure")
    checks = pitch_checks.pitch_checks(open_book(tmp_path / "book"), 1)
    assert {one.string for one in checks} == set(played.names[6:])  # the lower half, 3D its top
    again = run("settle", "3D", played.part_two, "--date", "2024-09-10")
    assert again.exit_code == 1 and "in the check of 2024-09-09" in again.stderr


def test_climate_is_noted_and_advised(run, book):
    assert "dry for a harp" in say(run, "note", "climate", "--humidity", "30", "--temperature", "21", "--date", "2026-03-01")
    say(run, "note", "moved", "to the hall", "--date", "2026-03-05")
    told = say(run, "note")
    assert "2 noted" in told and "21 °C 30 %" in told and "to the hall" in told
    assert [one.kind for one in diary.events_of(open_book(book), 1)] == ["climate", "moved"]


def test_a_remark_that_turns_its_line_is_refused_and_an_older_one_shown_without_the_sign(run, kept, tmp_path):
    """A book may have one from before it was refused."""
    book = shutil.copytree(kept, tmp_path / "book")
    turned = run("note", "moved", "\u202eto the hall", "--date", "2026-03-05")
    assert turned.exit_code == 2 and "what a screen cannot show" in turned.stderr
    opened = open_book(book)
    diary.add_event(opened, 1, Event(date(2025, 3, 5), "moved", "\u202eto the hall"))
    say(run, "report", "--technician", "--out", tmp_path / "technician.html")
    for told in (run("note").stdout, (tmp_path / "technician.html").read_text(encoding="utf-8")):
        assert "to the hall" in told and "\u202e" not in told


def test_a_hall_at_nought_degrees_is_told(run, book):
    """Nought is a temperature as any; only what was not given is left out."""
    told = say(run, "note", "climate", "--temperature", "0", "--humidity", "30", "--date", "2026-03-01")
    assert "climate on 1 March 2026, 0 °C, 30 % humidity." in told
    assert "0 °C 30 %" in say(run, "note")
    assert "climate on 2 March 2026, 21 °C." in say(run, "note", "climate", "--temperature", "21", "--date", "2026-03-02")


def plan_of(n_in_time, n_late, n_after=0, n_overdue=0):
    def task(is_late, kind="change", overdue=False):
        return Task(kind, date(2026, 6, 1), ("3C",), "change 3C", "it is dead", is_late=is_late, awaits_overdue=overdue)

    tasks = [task(True)] * n_late + [task(False)] * n_in_time + [task(True, "stock")] * n_after + [task(False, overdue=True)] * n_overdue
    return Plan(date(2026, 7, 1), date(2026, 6, 1), tuple(tasks), (), ())


@pytest.mark.parametrize(("plan", "told"), [
    (plan_of(0, 0), "Nothing to do: all is in order."), (plan_of(1, 0), "1 thing to do, all in time."),
    (plan_of(1, 0, 0, 1), "2 things to do, all in time if what is overdue comes soon."),
    (plan_of(0, 1), "1 thing to do, and it is too late for it: see what to do instead."),
    (plan_of(2, 1), "3 things to do; for 1 of them it is too late, see what to do instead."),
    (plan_of(0, 2), "2 things to do; for 2 of them it is too late, see what to do instead."),
    (plan_of(2, 1, 2), "3 things to do; for 1 of them it is too late, see what to do instead. "
                       "2 orders for the bag come only after it."),
])
def test_a_plan_says_how_much_there_is_to_do_and_for_how_much_it_is_too_late(plan, told):
    """Counted by hand."""
    assert plan_counts(plan) == told


def test_own_figures_change_what_is_advised(run, book):
    assert "an order takes 5 days" in say(run, "habits", "--lead-time", "5", "--tolerance", "2", "--shelf-life", "gut=3650")
    assert "2 cents in 3 days" in say(run, "habits")
    assert "past its best" not in say(run, "spares", "check", "--date", "2026-02-01")


@pytest.mark.parametrize("on, is_far", [("2036-09-30", False), ("2096-12-24", True)])
def test_a_plan_for_a_day_years_ahead_asks_for_a_look_at_the_year(run, book, on, is_far):
    assert ("look at the year" in say(run, "ready", "--on", on, "--date", "2026-10-01")) == is_far


def test_a_plan_for_a_bare_book_says_what_is_not_known(run, book, tmp_path):
    told = say(run, "ready", "--on", "2026-12-24", "--date", "2026-10-01", "--ics", tmp_path / "x.ics")
    assert "No sweep is in the book" in told and "No regulation is noted" in told and "No verdicts yet" in told
    assert (tmp_path / "x.ics").read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")  # RFC 5545
    assert run("ready", "--on", "2026-12-24", "--ics", tmp_path / "missing" / "x.ics").exit_code == 1


@pytest.mark.parametrize("arguments", [["log"], ["log", "3C"], ["log", "lives"], ["spares"], ["spares", "check"], ["spares", "order"],
                                       ["settle", "--all"], ["ready", "--on", "2099-12-24"], ["note"], ["habits"], ["log", "--help"],
                                       ["spares", "--help"], ["log", "correct", "--help"], ["log", "import", "--help"],
                                       ["log", "withdraw", "--help"],
                                       ["spares", "add", "--help"]])
def test_every_screen_fits_80_columns(run, book, arguments):
    result = run(*arguments)
    assert result.exit_code == 0 and max(len(line.rstrip()) for line in result.stdout.splitlines()) <= 80


def test_help_shows_that_a_log_takes_a_string_and_spares_alone_are_enough(run):
    """As both are typed most (README): without a command."""
    assert "log [OPTIONS] [STRING | COMMAND [ARGS]...]\n" in run("log", "--help").stdout
    assert "spares [OPTIONS] [COMMAND [ARGS]...]\n" in run("spares", "--help").stdout


def test_json_says_what_the_screen_says(run, book, strict_json):
    for arguments, key in ((["log"], "strings"), (["log", "3C"], "history"), (["log", "lives"], "lives"), (["spares"], "spares"),
                           (["spares", "check"], "checks"), (["ready", "--on", "2099-12-24"], "tasks"), (["note"], "events")):
        result = run(*arguments, "--json", "-")
        document = strict_json(result.stdout)
        assert document["schema"].startswith("toneprobe.") and isinstance(document[key], list) and result.stderr


# --- what is easily mistyped, told twice or cannot be meant

def test_a_note_is_told_as_json_when_it_is_made_and_when_it_is_taken_back(run, book, strict_json):
    made = run("note", "climate", "--temperature", "21", "--humidity", "45", "--json", "-")
    (event,) = strict_json(made.stdout)["events"]
    assert (event["temperature_c"], event["humidity_pct"]) == (21.0, 45.0) and "Noted as no." in made.stderr
    back = run("note", "--withdraw", event["id"], "--json", "-")
    assert strict_json(back.stdout)["withdrawn"] == event and "Taken back" in back.stderr


def test_a_new_string_that_was_never_checked_has_its_name_in_the_json_and_a_reason_for_each_figure_that_is_null(run, book, strict_json):
    say(run, "restring", "3C", "--why", "dead")
    (one,) = strict_json(run("settle", "3C", "--json", "-").stdout)["strings"]
    assert (one["string"], one["checked_on"]) == ("3C", None)
    figures = {name.removesuffix("_se") for name in one if name.endswith("_se")}
    assert figures == {"rate_cents_per_day", "expected_drift_cents", "creep_cents"}  # as `Settling` has them
    assert set(one["unmeasured"]) == {name for name in figures if one[name] is None} != set()
    assert all(len(why.split()) > 2 for why in one["unmeasured"].values())


def test_since_when_the_log_misses_nothing_is_said_and_can_be_taken_back(run, book):
    for typed, since in (((), "from its first entry on"), (("--log-began", "1.5.2020"), "since 1 May 2020"),
                         (("--log-began", "none"), "from its first entry on")):
        assert f"every change is in the log {since}" in say(run, "habits", *typed)


def test_a_first_entry_with_nothing_before_it_is_not_withdrawn(run, book):
    """Else no string at all would be on; what is meant is that it was on before the log began."""
    say(run, "log", "correct", "3C", "--fitted", "2024-01-01")
    assert "--fitted none" in say(run, "log", "withdraw", "3C", code=2)
    say(run, "log", "correct", "3C", "--fitted", "none")
    assert fittings(book, "3C")[-1].fitted_on is None


def test_the_same_change_told_twice_is_logged_once_unless_it_is_another(run, book):
    """One string came off, and one spare of two went on; the second spare goes only with a second string."""
    change = ("restring", "3C", "--from-spares", "--date", "2026-03-01")
    say(run, *change, "--why", "dead")
    once = fittings(book, "3C")
    refused = say(run, *change, "--why", "dead", code=2)
    assert f"no. {once[-1].id} of the log: nothing was logged" in refused and "--another" in refused
    assert fittings(book, "3C") == once and "Spares left for 3C: 0" in say(run, *change, "--why", "broke", "--another")
    assert [one.fitted_on for one in fittings(book, "3C")][-2:] == [date(2026, 3, 1)] * 2
    say(run, *change[:2], "--date", "2026-03-01", "--stand-in", "--material", "gut")  # in need, the second broke too
    say(run, *change[:2], "--date", "2026-03-01")  # and the right one that evening


def test_a_file_that_leads_back_to_itself_is_told_in_one_line(run, book, tmp_path):
    loop = tmp_path / "loop.wav"
    loop.symlink_to(loop)
    told = say(run, "sweep", loop, code=1)
    assert "loop.wav" in told and "unexpectedly" not in told


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("arguments", [["log", "import"], ["sweep"], ["settle", "3D"]])
def test_what_never_ends_or_begins_is_refused_at_once(run, book, tmp_path, arguments):
    os.mkfifo(tmp_path / "pipe.csv")
    for path in (tmp_path / "pipe.csv", "/dev/zero"):
        result = run(*arguments, path)
        assert result.exit_code == 1 and result.stderr.count("\n") == 1 and "not a file" in result.stderr


def test_an_endless_log_is_not_read(run, book, tmp_path):
    with open(tmp_path / "log.csv", "wb") as file:
        file.truncate(10_000_001)
    result = run("log", "import", tmp_path / "log.csv")
    assert result.exit_code == 1 and "larger than 10 MB" in result.stderr

"""`log` in the hands of a player: dates corrected again and again, an old notebook taken in late, days in any spelling."""

import re
import shlex
from datetime import date, datetime, time, timedelta

import pytest
from book_tables import tables_of
from command_line import say
from typer.testing import CliRunner

from toneprobe.book import diary, read
from toneprobe.book.entries import NewCheck
from toneprobe.book.opening import open_book
from toneprobe.book.pitch_checks import add_checks
from toneprobe.book.stringing import replace_fitting
from toneprobe.cli import app
from toneprobe.cli.rejudged import tell_rejudged
from toneprobe.cli.screen import screen
from toneprobe.days import day_text
from toneprobe.fittings import NewFitting, Removal
from toneprobe.judging.verdicts import JudgedAgain, Rejudged
from toneprobe.measure.figure import Figure
from toneprobe.settling import PitchReading
from toneprobe.units import shift_hz

TYPED = """String,Date,Material,Why,Remark
3D,3.4.2019,gut,broke,
4C,12/11/2021,gut,old,
5G,13/5/2020,wire,dead,first set
3g,2022-5-3,gtu,broke,
3D,5.6.2023,gut,false,
"""


@pytest.fixture
def wren(begun, tmp_path):
    """A pedal harp whose 3D broke in June 2026, and the notebook that was kept before."""
    (tmp_path / "log.csv").write_text(TYPED, encoding="utf-8")
    return begun(["new", "Wren", "--preset", "pedal-47", "--tuning", "naturals"],
                 ["restring", "3D", "--broke-at", "knot", "--date", "10.6.2026"])


def verdicts(book, string):
    return {one.sweep_id: one.condition.verdict for one in read.condition_history(open_book(book), 1, string)}


def test_a_harp_with_a_record_gets_other_strings_only_when_its_owner_says_so(run, wren):
    """`agrees` takes a closed standard input for no. What is recorded of it stays."""
    other = ("new", "Wren", "--preset", "pedal-46", "--tuning", "naturals")
    asked = run(*other)
    said = " ".join(asked.stdout.split())
    assert "with 47 strings from 0G (G7) to 7C (C1)" in said and "recorded of it: that stays. From now on it would have 46 strings" in said
    assert "No more there: 7C" in said and "nothing was changed" in asked.stderr and asked.exit_code == 2
    assert read.harp(open_book(wren)).preset == "pedal-47"
    log = read.fitting_log(open_book(wren), 1, "3D")
    assert "Wren has them from now on" in say(run, *other, "--yes") and read.fitting_log(open_book(wren), 1, "3D") == log
    assert "7C" not in say(run, "log") and "The strings are the same." in say(run, *other, "--yes")


# --- dates corrected

def test_three_corrections_that_end_where_they_began_leave_every_verdict_as_it_was(run, book):
    """Between both sweeps, after both, not known: only in the middle has the string no baseline in the later sweep."""
    before = verdicts(book, "2F")
    assert before == {1: "unrated", 2: "sound"}  # the first is its baseline; nothing was done to it before the second: tests/conftest
    seen = []
    for day in ("2024-05-01", "2024-10-01", "none"):
        told = say(run, "log", "correct", "2F", "--fitted", day)
        assert ("The sweep of 2 March 2024 heard 2F before that day: by the log it is of no string now." in told) is (day != "none")
        seen.append(verdicts(book, "2F")[2])
    assert seen == ["unrated", "unrated", "sound"] and verdicts(book, "2F") == before


def test_a_change_of_before_the_last_one_is_refused_with_both_ways_on(run, wren, tmp_path):
    said = say(run, "restring", "3D", "--why", "dead", "--date", "2026-06-01", code=2)
    new = read.fitting_log(open_book(wren), 1, "3D")[-1].id
    assert f"toneprobe log correct 3D --entry {new} --fitted 2026-06-01;" in said and said.endswith("CSV file: toneprobe log import")
    (tmp_path / "one.csv").write_text("String,Date,Why\n3D,2026-06-01,dead\n", encoding="utf-8")
    say(run, "log", "import", tmp_path / "one.csv", "--yes")
    assert sorted((one.removed_on, one.why_removed) for one in read.fitting_log(open_book(wren), 1, "3D") if one.removed_on) == [
        (date(2026, 6, 1), "dead"), (date(2026, 6, 10), "broke")]


@pytest.mark.parametrize(("day", "told_of"), [("2026-06-01", True), ("2026-06-10", False)])
def test_a_string_said_to_have_come_off_earlier_leaves_the_position_empty_and_that_is_said(run, wren, day, told_of):
    say(run, "restring", "3C", "--date", "2026-06-10")
    old, new = read.fitting_log(open_book(wren), 1, "3C")
    said = say(run, "log", "correct", "3C", "--entry", str(old.id), "--removed", day, "--why", "dead")
    assert (f"no string was on 3C from 1 June 2026 to 10 June 2026. If no. {new.id} went on earlier: toneprobe log correct 3C --entry "
            f"{new.id} --fitted 2026-06-01" in said) == told_of
    assert ("By the log no string" in said) == told_of
    said = say(run, "log", "correct", "3C", "--removed", "2026-06-20")
    assert "no string has been on 3C since 20 June 2026. What went on: toneprobe restring 3C --date 2026-06-20" in said


def test_a_corrected_stand_in_is_told_in_words(run, wren):
    assert "stand-in: was no, now yes." in say(run, "log", "correct", "3G", "--stand-in")
    assert "stand-in: was no, now yes" in say(run, "log", "3G")


def test_a_notebook_that_takes_a_baseline_away_tells_whose(run, book, tmp_path):
    """3E was changed two days after the fresh sweep of 2 March 2024: what was on in September had never been heard fresh."""
    before = verdicts(book, "3E")[2]
    (tmp_path / "log.csv").write_text("String,Date\n3E,4.3.2024\n", encoding="utf-8")
    said = say(run, "log", "import", tmp_path / "log.csv", "--yes")
    assert verdicts(book, "3E")[2] == "unrated" != before
    assert re.search(r"Stored in the log of Wren: 1 \w+\. The sweep of 7 September 2024, judged again: .*\b3E unrated \(was ", said)


def test_a_day_that_is_only_supposed_is_told_so_and_restring_says_what_to_type_instead(run, wren, tmp_path):
    log = tmp_path / "log.csv"
    log.write_text("string,put on,taken off,day supposed\n3C,2020-01-01,2026-05-01,\n3C,2026-05-01,,yes\n", encoding="utf-8")
    assert "1 May 2026, supposed" in say(run, "log", "import", log, "--yes")
    assert re.search(r"3C .* 1 May 2026, supposed ", say(run, "log")) and "Since 1 May 2026 (supposed): " in say(run, "log", "3C")
    said = say(run, "restring", "3C", "--date", "2026-05-01", code=2)
    confirm = re.search(r"That day is supposed; to say that it is right: toneprobe (log correct 3C --entry \d+ --fitted 2026-05-01),",
                        said)[1]
    said = say(run, "restring", "3C", "--date", "2026-05-09")
    assert "was only supposed to have gone on on 1 May 2026" in said and "If the string of 9 May 2026 is that very one" in said
    true_day = re.search(r"toneprobe (log correct 3C --entry \d+ --fitted 2026-05-09)", said)[1]
    say(run, "log", "withdraw", "3C")
    assert "put on: was supposed 1 May 2026, now 9 May 2026" in say(run, *true_day.split())
    assert "(supposed)" not in say(run, "log", "3C") and true_day.split()[4] == confirm.split()[4]


def test_why_a_string_came_off_is_never_dropped(run, wren):
    """Told with the new string, where by the log nothing was on any more; and told of a string that is said to be on."""
    say(run, "log", "correct", "4E", "--removed", "2026-06-10")
    change = ("restring", "4E", "--why", "broke", "--broke-at", "playing area", "--date", "2026-06-12")
    said = say(run, *change, code=2)
    assert "no string has been on 4E since 10 June 2026. Say first why the last one came off" in said
    (old,) = read.fitting_log(open_book(wren), 1, "4E")
    way = shlex.split(said.partition("came off: toneprobe ")[2].partition(";")[0])
    assert way == ["log", "correct", "4E", "--entry", str(old.id), "--why", "broke", "--broke-at", "playing area"]
    say(run, *way)
    say(run, *change)  # it says so already: nothing is lost
    before, new = read.fitting_log(open_book(wren), 1, "4E")
    assert (before.removed_on.day, before.why_removed, before.broke_at, new.fitted_on.day) == (10, "broke", "playing area", 12)
    assert "give the day instead" in say(run, "log", "correct", "2C", "--removed", "none", "--why", "planned", code=2)
    assert "says why it came off, but not when" in say(run, "log", "correct", "2C", "--why", "planned", code=2)


def test_a_reason_for_a_string_that_is_on_names_the_one_that_came_off(run, wren):
    """3D broke on 10 June; that it was dead already is said of its own entry, which the latest is not."""
    old, new = read.fitting_log(open_book(wren), 1, "3D")
    said = say(run, "log", "correct", "3D", "--why", "dead", code=2)
    assert f"3D: no. {new.id}, the latest, is on. If no. {old.id} is meant, which came off on 10 June 2026: " in said
    said = say(run, "log", "correct", "3D", "--why", "broke", "--broke-at", "bridge pin", code=2)
    way = shlex.split(said.partition(": toneprobe ")[2])
    assert way == ["log", "correct", "3D", "--entry", str(old.id), "--why", "broke", "--broke-at", "bridge pin"]
    say(run, *way)
    assert read.fitting_log(open_book(wren), 1, "3D")[0].broke_at == "bridge pin"


def test_a_change_moved_to_a_later_day_leaves_the_position_empty_until_then_and_says_how_to_mend_it(run, wren):
    say(run, "restring", "3C", "--date", "2026-06-10")
    said = say(run, "log", "correct", "3C", "--fitted", "2026-06-12")
    assert "no string was on 3C from 10 June 2026 to 12 June 2026" in said
    assert "By the log no string" not in say(run, "log", "correct", "3C", "--batch", "17")  # said once, where the days change
    mend = re.search(r"toneprobe (log correct 3C --entry \d+ --removed 2026-06-12)", said)[1]
    assert "came off: was 10 June 2026, now 12 June 2026" in say(run, *mend.split())
    assert "In its place" in say(run, "log", "withdraw", "3C")  # nothing is empty in between, so the one before is on again


def test_after_a_gap_a_withdrawn_change_leaves_the_position_empty_and_says_how_to_fill_it(run, wren):
    """What came off days before may have broken: whether it is on again only its owner knows."""
    say(run, "restring", "3C", "--date", "2026-06-10")
    say(run, "log", "correct", "3C", "--fitted", "2026-06-12")
    said = say(run, "log", "withdraw", "3C")
    assert "no string has been on 3C since 10 June 2026" in said
    row = next(line.split() for line in run("log").stdout.splitlines() if line.split()[:1] == ["3C"])
    assert row == ["3C", "C5", "gut", "–", "–", "no", "string", "is", "on"]
    mend = re.search(r"toneprobe (log correct 3C --entry \d+ --removed none)", said)[1]
    say(run, *mend.split())
    assert "By the log no string" not in say(run, "log")


def test_taken_back_twice_an_older_change_is_asked_about(run, wren):
    """3D really broke on 10 June; one written on it by mistake is taken back, and the command is given again by mistake."""
    say(run, "restring", "3D", "--why", "dead", "--date", "2026-06-20")
    (_, june, wrong) = read.fitting_log(open_book(wren), 1, "3D")
    assert f"Withdrawn: 3D no. {wrong.id}" in say(run, "log", "withdraw", "3D")
    result = CliRunner().invoke(app, ["log", "withdraw", "3D"], input="n\n")
    assert f"3D no. {june.id} is not what was put into the log last: Since 10 June 2026" in result.stderr
    assert "Nothing was changed" in result.stdout
    say(run, "restring", "4D", "--date", "2026-06-21")
    say(run, "restring", "3D", "--why", "dead", "--date", "2026-06-10", code=2)  # refused, and so nothing that could be taken back
    assert "Nothing was changed" in say(run, "log", "withdraw", "3D")  # nobody answered
    assert [one.id for one in read.fitting_log(open_book(wren), 1, "3D")][-1] == june.id
    assert f"Withdrawn: 3D no. {june.id}" in say(run, "log", "withdraw", "3D", "--yes")
    assert "no change that could be withdrawn" in say(run, "log", "withdraw", "3D", code=2)  # and no question before
    say(run, "restring", "4C", "--date", "2026-06-21")
    (_, fourth) = read.fitting_log(open_book(wren), 1, "4D")
    assert "Withdrawn" in say(run, "log", "withdraw", "4D", "--entry", fourth.id)  # who names the entry means it


@pytest.mark.parametrize("heading", ["Put on", "Date"])
def test_what_a_sweep_heard_before_the_day_of_a_string_was_another(run, book, tmp_path, heading):
    """The sweeps of 2 March and 7 September heard what was on before: they stay its own, whatever the heading."""
    before = verdicts(book, "2F")
    (tmp_path / "log.csv").write_text(f"string,{heading}\n2F,2024-10-01\n", encoding="utf-8")
    said = say(run, "log", "import", tmp_path / "log.csv", "--yes")
    assert "earlier 1 Oct 2024" in said and "verdict" not in said
    if heading == "Put on":
        assert "line 2: 2F was heard in a sweep before 2024-10-01, so another string was on until then" in said
    old, new = read.fitting_log(open_book(book), 1, "2F")
    assert (old.fitted_on, old.removed_on, new.fitted_on, new.removed_on) == (None, date(2024, 10, 1), date(2024, 10, 1), None)
    assert verdicts(book, "2F") == before and before[2] not in ("unrated", "unheard")
    assert {one.date for one in read.fresh_plucks(open_book(book), old.id)} == {date(2024, 3, 2)}
    assert say(run, "log", "import", tmp_path / "log.csv", "--yes", code=1).endswith("offers nothing new to the log; nothing was stored")


def test_a_change_that_by_this_clock_is_still_to_come_is_told(run, wren):
    """Logged on a computer of another time zone, where it is tomorrow: until then the old string is shown, and why."""
    day = date.today() + timedelta(days=1)
    replace_fitting(open_book(wren), 1, NewFitting("3C", day), Removal(day, "dead"))
    words = f"The log holds a change of 3C on {day_text(day)}, which by this computer's clock is still to come"
    for arguments in (["log"], ["log", "3C"], ["settle", "--all"], ["settle", "3C"], ["ready", "--on", "2099-12-24"]):
        assert words in say(run, *arguments)
    assert "still to come" not in say(run, "log", "3D")


def test_a_sweep_that_by_this_clock_is_still_to_come_is_told_where_no_plan_goes_by_it(run, book):
    """A clock that was set back: without a word a plan would say that no sweep is in the book."""
    assert "still to come" not in say(run, "ready", "--on", "2099-12-24", "--date", "2024-01-01")  # asked for by its owner
    day = date.today() + timedelta(days=1)
    with tables_of(book) as tables:
        tables.execute("UPDATE sweeps SET date = ? WHERE id = 2", (day.isoformat(),))
    assert say(run, "ready", "--on", "2099-12-24").endswith(
        f"By this computer's clock still to come, and so not counted here: sweep 2 of {day_text(day)}. Is the clock right?")


def test_sweeps_of_years_that_changed_alike_are_told_in_one_line(capsys):
    """Ten months in which 3D lost its baseline, in one of which 4A changed too."""
    days = [date(2025, month, 7) for month in range(1, 11)]
    changed = [Rejudged(day, "3D", "sound", "unrated") for day in days]
    tell_rejudged(screen(), JudgedAgain((*changed[:3], Rejudged(days[2], "4A", "watch", "sound"), *changed[3:])))
    assert " ".join(capsys.readouterr().out.split()) == (
        "The sweeps of 2 days from 7 January 2025 to 7 February 2025, judged again: 3D unrated (was fine). The sweep of 7 March 2025, "
        "judged again: 3D unrated (was fine), 4A fine (was watch). The sweeps of 7 days from 7 April 2025 to 7 October 2025, judged again: "
        "3D unrated (was fine).")


def check_of(at, cents=0.0):
    """4A, 220 Hz in equal temperament (ISO 16), so far off."""
    return NewCheck(PitchReading("4A", "A3", at, Figure(shift_hz(220.0, cents), 0.02)), at.isoformat().ljust(64, "0"))


def test_a_pitch_check_that_by_this_clock_is_still_to_come_is_told(run, wren):
    """A clock that was set back: without a word an older check would be told as the last."""
    day = datetime.combine(date.today(), time(12)) + timedelta(days=1)
    add_checks(open_book(wren), 1, [check_of(day)])
    words = f"By this computer's clock still to come, and so not counted here: the pitch check of {day_text(day.date())}."
    assert words in say(run, "settle", "4A") and words in say(run, "settle", "--all") and words not in say(run, "settle", "3C")


@pytest.mark.parametrize(("options", "is_told"), [((), True), (("--time", "06:07"), False)])
def test_a_check_made_in_another_time_zone_on_one_day_is_told_of_its_place(run, wren, monkeypatch, tmp_path, options, is_told):
    """Checked at 22:39, then seventeen zones to the west, where it is 6:07 of the same day; whoever gives the time means it."""
    now = datetime(2026, 7, 28, 6, 7)
    add_checks(open_book(wren), 1, [check_of(datetime(2026, 7, 28, 22, 39), -40.0)])
    monkeypatch.setattr("toneprobe.upkeep.checked.moment_of", lambda *_, **__: now)
    monkeypatch.setattr("toneprobe.upkeep.pitch_check.hear_check", lambda *_, **__: (check_of(now, -20.0),))
    told = say(run, "settle", "4A", tmp_path / "found.wav", *options)
    assert ("This check, of 06:07 by this computer's clock, is taken to come before that of 22:39." in told) is is_told
    assert ("toneprobe withdraw --check 2026-07-28 --time 06:07" in told) is is_told


# --- an old notebook

def test_a_notebook_gives_what_came_off_since_its_first_day(run, wren, tmp_path):
    """Five changes: two on 3D, which was changed since, one each on three strings that are on still. Lines counted by hand."""
    result = run("log", "import", tmp_path / "log.csv", "--yes")
    assert result.exit_code == 0, result.stderr
    said = " ".join(result.stdout.split())
    assert "Offered to the log of Wren: 5 changes (9 entries on 4 strings)" in said and "Refused" not in said
    assert "Stored in the log of Wren: 5 changes." in said
    assert "line 6: this is no. 18 of the log, on 3D from before the log to 2026-06-10: it gets 2023-06-05 as its first day" in said
    assert 'line 5: "gtu" is no material that is known here' in said and "is it gut?" in said
    assert 'line 3: "why: old" is none of' in said
    assert max(map(len, result.stdout.splitlines())) <= 80
    log = sorted(read.fitting_log(open_book(wren), 1, "3D"), key=lambda one: one.fitted_on or date.min)
    assert [(one.fitted_on, one.removed_on, one.why_removed) for one in log] == [
        (None, date(2019, 4, 3), "broke"), (date(2019, 4, 3), date(2023, 6, 5), "false"), (date(2023, 6, 5), date(2026, 6, 10), "broke"),
        (date(2026, 6, 10), None, None)]
    assert "put on: was blank, now 5 June 2023: from the notebook, line 6" in say(run, "log", "3D")


def test_the_question_counts_changes(run, wren, tmp_path):
    result = CliRunner().invoke(app, ["log", "import", str(tmp_path / "log.csv")], input="n\n")
    assert "Put 5 changes into the log of Wren? [y/N]" in result.stderr and "Nothing was stored" in result.stdout


@pytest.mark.parametrize(("text", "words"), [("", "the file is empty"), ("a,b\n1,2\n", "no heading found")])
def test_files_that_hold_no_notebook(run, wren, tmp_path, text, words):
    (tmp_path / "bare.csv").write_text(text, encoding="utf-8")
    assert words in say(run, "log", "import", tmp_path / "bare.csv", code=1)


def test_one_is_one(run, wren, tmp_path):
    (tmp_path / "one.csv").write_text("string,fitted\n4C,2021-11-12\n4D,soon\n", encoding="utf-8")
    said = say(run, "log", "import", tmp_path / "one.csv", "--yes")
    assert "Refused: 1 row line 3" in said and "Stored in the log of Wren: 1 entry. 1 row was refused and not stored." in said


# --- days

@pytest.mark.parametrize("day", ["2026-03-04", "4.3.2026", "4 March 2026", "Mar 4, 2026"])
def test_every_command_takes_the_days_that_the_import_takes(run, wren, day):
    assert "4 March 2026" in say(run, "note", "moved", "--date", day)
    assert "now 4 March 2026" in say(run, "log", "correct", "4C", "--fitted", day)
    assert "ready for Thursday 24 December 2026: 295 days left from 4 March 2026" in say(run, "ready", "--on", "24.12.2026", "--date", day)


@pytest.mark.parametrize(("day", "words"), [("3/4/2026", "3 April 2026 or 4 March 2026: write 2026-04-03 or 2026-03-04"),
                                            ("soon", "write it as 2026-05-03 for 3 May 2026"), ("31.2.2026", "no day of the calendar")])
def test_a_day_that_cannot_be_read_is_refused_with_one_that_is_not_today(run, wren, day, words):
    for arguments in (["note", "moved", "--date", day], ["ready", "--on", day], ["log", "correct", "4C", "--fitted", day]):
        assert words in say(run, *arguments, code=2)


def test_a_weekday_is_the_next_one(run, wren):
    """6 March 2026 was a Friday, by the calendar; a weekday that contradicts its day is no slip to be passed over."""
    said = say(run, "ready", "--on", "Friday", "--date", "2026-03-04")
    assert "ready for Friday 6 March 2026: 2 days left from 4 March 2026" in said
    assert "ready for Friday 6 March 2026" in say(run, "ready", "--on", "Fri 6 March 2026", "--date", "2026-03-04")
    said = say(run, "ready", "--on", "Sat 6 March 2026", "--date", "2026-03-04", code=2)
    assert "Sat 6 March 2026: 6 March 2026 is a Friday. Which of the two is wrong?" in said and "Write 2026-03-06, or" in said
    assert "is a Friday" in say(run, "restring", "3C", "--date", "Monday, 6.3.2026", code=2)
    assert len(read.fitting_log(open_book(wren), 1, "3C")) == 1


# --- ages

def test_one_age_in_the_log_and_in_the_report(run, book, tmp_path):
    day = date.today() - timedelta(days=169)  # 5.55 months: the log said 6, the report 5
    say(run, "restring", "2F", "--date", day.isoformat())
    assert "6 months." in say(run, "log", "2F")
    assert "On for 6 months." in say(run, "report", "--string", "2F", "--out", tmp_path / "life.html")


def test_report_explains_both_readings_of_a_name(run, book):
    for more in ([], ["--sweep", "1"], ["--figure"]):
        said = say(run, "report", "--string", "G2", *more, code=2)
        assert "G2 can mean string 2G (sounds G5) or scientific G2, which is string 5G: write 2G or 5G" in said


# --- notes and harps

def test_a_note_is_taken_back_and_kept_in_a_file(run, wren):
    assert "Noted as no. 1: moved on 4 March 2016" in say(run, "note", "moved", "to the hall", "--date", "2016-03-04")
    say(run, "note", "regulated", "--date", "2026-03-04")
    assert "1 4 Mar 2016 moved" in say(run, "note")
    for arguments in (["note", "moved", "--withdraw", "1"], ["note", "--withdraw", "7"], ["note", "--withdraw", "1", "--humidity", "45"],
                      ["note", "--temperature", "21"], ["note", "--date", "2026-03-04"]):  # nothing that is told is dropped unsaid
        say(run, *arguments, code=2)
    said = say(run, "note", "--withdraw", "1", "--because", "the wrong century")
    assert "Taken back: moved on 4 March 2016, to the hall. It is kept in" in said
    assert [one.kind for one in diary.events_of(open_book(wren), 1)] == ["regulated"]
    assert "the wrong century" in (wren / "withdrawn" / "note-1.json").read_text(encoding="utf-8")


def test_a_harps_name_differs_by_more_than_capitals(run, wren):
    assert "reads alike" in say(run, "new", "wren", "--preset", "pedal-47", code=1)

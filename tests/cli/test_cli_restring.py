"""`restring` and `ready` on the bag: a spare that was not taken, one past its best, and one thing or several."""

import re
import shlex
import shutil
from datetime import date, datetime, timedelta

import pytest
import soundfile
from command_line import say
from sqlalchemy import text
from stored_sweep import store_sweep

from toneprobe.audio import Quality
from toneprobe.book import read, spare_box
from toneprobe.book.connect import writing
from toneprobe.book.entries import NewCheck, NewSweep, RecordingEntry
from toneprobe.book.opening import open_book
from toneprobe.book.pitch_checks import add_checks, pitch_checks
from toneprobe.book.stringing import replace_fitting
from toneprobe.condition import Condition
from toneprobe.fittings import NewFitting, Removal
from toneprobe.instrument import load_instrument
from toneprobe.measure.figure import Figure
from toneprobe.settling import PitchReading


@pytest.fixture
def book(begun):
    """A pedal harp with spares: 3C and an old wire 6D in the bag, 3D at home."""
    return begun(["new", "Wren", "--preset", "pedal-47", "--tuning", "naturals"],
                 ["spares", "add", "3C", "--bought", "2026-01-05", "--lead-time", "10"],
                 ["spares", "add", "3D", "--in", "home", "--bought", "2026-01-05"],
                 ["spares", "add", "6D", "--bought", "2024-01-10", "--lead-time", "10"])


@pytest.mark.parametrize(("string", "place", "number"), [("3C", "in the bag", 1), ("3D", "at home", 2)])
def test_a_fitting_spare_that_was_not_taken_is_named_with_how_to_take_it(run, book, string, place, number):
    said = say(run, "restring", string, "--date", "2026-03-01")
    assert f"There is a spare {string} {place}, number {number}. If that is what went on" in said
    assert f"(toneprobe log withdraw {string})" in said
    assert "log the change again with --from-spares" in said


@pytest.mark.parametrize("name", ["C 5", "E'5 (top)"])
def test_what_is_offered_next_can_be_pasted_whatever_the_string_is_called(run, tmp_path, name):
    """As a shell takes it apart (the standard library's `shlex`)."""
    (tmp_path / "lute.toml").write_text(f'name = "Lute"\n[[strings]]\nname = "{name}"\nnote = "C5"\n[[strings]]\nname = "2"\nnote = "A4"\n')
    say(run, "new", "Lute", "--from", tmp_path / "lute.toml")
    said = run("restring", name).stdout
    settle, withdraw = [shlex.split(one) for one in re.findall(r"toneprobe ((?:settle|log withdraw) .*)", said)]
    assert settle == ["settle", name, "FOUND.wav", "--as-left", "LEFT.wav"] and withdraw == ["log", "withdraw", name]
    again = shlex.split(re.search(r"toneprobe (log .*)", run(*withdraw).stdout)[1])
    assert again == ["log", name] and f"Lute: everything on {name}" in say(run, *again)


def test_what_is_said_of_such_a_spare_works(run, book):
    say(run, "restring", "3C", "--date", "2026-03-01")
    say(run, "log", "withdraw", "3C")
    assert "There is a spare" not in say(run, "restring", "3C", "--date", "2026-03-01", "--from-spares")
    spare = next(one for one in spare_box.spares_of(open_book(book), 1) if one.string == "3C")
    on = read.fitting_log(open_book(book), 1, "3C")[-1]
    assert (on.removed_on, spare.fitting_id) == (None, on.id)


@pytest.mark.parametrize("arguments", [
    ["3E"], ["3C", "--from-spares"], ["3C", "--spare", "1"], ["3C", "--material", "nylon"], ["3C", "--stand-in"],
    ["3C", "--date", "2026-01-02"],  # before it was bought
])
def test_nothing_is_said_where_no_such_spare_can_have_been_meant(run, book, arguments):
    day = [] if "--date" in arguments else ["--date", "2026-03-01"]
    assert "There is a spare" not in say(run, "restring", *arguments, *day)


@pytest.mark.parametrize("how", [["--from-spares"], ["--spare", "3"]])
def test_a_spare_past_its_best_is_told_when_it_goes_on(run, book, how):
    """Wires keep two years (common practice): 730 days from 10 January 2024, a leap year."""
    assert "Spare 3 has been past its best on the shelf since 9 January 2026." in say(run, "restring", "6D", *how, "--date", "2026-03-01")
    assert "past its best" not in say(run, "restring", "3C", "--from-spares", "--date", "2026-03-01")


def test_one_order_of_one_day_is_told_as_one(run, book):
    say(run, "spares", "add", "3E", "--bought", "2026-01-05", "--lead-time", "1")
    said = say(run, "spares", "order", "--date", "2026-02-01")
    assert "takes 10 days" in said
    say(run, "habits", "--lead-time", "1")
    said = say(run, "spares", "order", "--date", "2026-02-01")
    assert "assumed to take 1 day." in said and "1 days" not in said


def test_a_single_thing_too_late_is_told_as_one(run, book):
    """On the eve, with a full bag: only the sweep is too old, and no string could be changed after a new one."""
    harp = load_instrument("pedal-47")
    for spec in harp.strings:
        say(run, "spares", "add", spec.name, "--bought", "2026-10-01")
    judged = tuple(Condition(spec.name, spec.note, "sound", 0.0, 0.0, 2, (), "", {}, {}) for spec in harp.strings)
    quality = Quality(-3.0, 0.0, -71.5, None, None, 40.0, None, False, ())
    recording = RecordingEntry("a" * 64, "a.wav", 60.0, 44100, 1, "wav/PCM_16", 960044, quality)
    store_sweep(open_book(book), NewSweep(1, date(2026, 9, 1), harp, (recording,), (), judged))
    said = say(run, "ready", "--on", "2026-11-02", "--date", "2026-11-01")
    assert "1 day left" in said and "1 thing to do, and it is too late for it: see what to do instead." in said


# --- a change on the day of a sweep

SWEPT = ["--date", "2024-09-07"]  # the day of the kept book's later sweep, in which 3D rings a third as long, by the model


@pytest.fixture
def wren(kept, tmp_path):
    shutil.copytree(kept, tmp_path / "book")
    return tmp_path / "book"


def verdicts(book, string="3D"):
    """Of the later sweep: what was said, and whether of the string that is on now."""
    on = read.fitting_log(open_book(book), 1, string)[-1].id
    said = read.conditions_of(open_book(book), 2)
    return [(one.condition.verdict, one.fitting_id == on) for one in said if one.condition.string == string]


def test_what_a_sweep_found_dead_stays_dead_where_it_is_changed_the_same_day(run, wren):
    """Swept, found dead, changed: the usual order of a day (a harpist's). The book knows which was stored first."""
    assert verdicts(wren) == [("dead", True)]
    said = say(run, "restring", "3D", "--why", "dead", *SWEPT)
    assert "judged again" not in said and "--before-sweep" in said
    assert verdicts(wren) == [("dead", False)]
    to_come = date.today() + timedelta(days=1)  # by a clock that was set back meanwhile
    replace_fitting(open_book(wren), 1, NewFitting("3C", to_come), Removal(to_come, "dead"))
    changed, written = "Changed since this sweep: 3D on 7 September 2024.", wren / "page.html"
    for asked in ([], ["--sweep", "2"], ["--out", str(written)]):
        page = say(run, "report", *asked)
        assert "Dead: 3D" in page and changed in page
    assert changed in written.read_text(encoding="utf-8") and changed not in say(run, "report", "--sweep", "1")
    life = say(run, "report", "--string", "3D")
    assert life.startswith("3D got a new string on 7 September 2024, not swept yet; the one before was dead; 2 strings on record")
    assert "Change 3D" not in say(run, "ready", "--on", "2024-12-01", "--date", "2024-09-08")


def test_a_sweep_made_with_the_new_string_on_is_told_to_be_so(run, wren):
    say(run, "restring", "3D", "--why", "dead", *SWEPT, "--before-sweep")
    assert verdicts(wren) == [("settling", True)]
    say(run, "log", "withdraw", "3D")
    assert verdicts(wren) == [("dead", True)]
    refused = run("restring", "3D", "--before-sweep", "--date", "2024-09-08")
    assert refused.exit_code == 2 and "no sweep of 8 September 2024 in the book heard 3D" in refused.stderr


def test_a_sweep_after_a_change_that_was_logged_that_day_heard_the_new_string(run, played, tmp_path):
    say(run, "new", "Wren", "--from", played.harp_file)
    say(run, "sweep", played.fresh, "--fresh", "--date", "2024-03-02")
    say(run, "restring", "3D", *SWEPT)
    told = say(run, "sweep", played.later, *SWEPT)
    assert "3D was changed that day, and this counts as a sweep of the new string. Was the old one still on?" in told
    assert verdicts(tmp_path / "book") == [("settling", True)]
    say(run, "log", "withdraw", "3D")  # as it says
    say(run, "restring", "3D", *SWEPT)
    assert verdicts(tmp_path / "book") == [("dead", False)]


def test_a_check_of_that_day_that_was_stored_first_is_told_to_be_the_old_strings(run, tmp_path):
    say(run, "new", "Wren", "--preset", "lever-22")
    book, at = open_book(tmp_path / "book"), datetime(2024, 9, 7, 15, 10)

    def check(at, letter):
        add_checks(book, 1, [NewCheck(PitchReading("3D", "D5", at, left_hz=Figure(587.3, 0.1)), None, letter * 64)])

    check(at, "a")
    check(at - timedelta(days=1), "b")
    told = say(run, "restring", "3D", *SWEPT)
    assert "The pitch check of 7 September 2024 at 15:10 stays with the string that came off." in told and told.count("pitch check") == 1
    say(run, *told.partition("again: toneprobe ")[2].split()[:5])  # the command that it gives
    check(at, "a")
    on = read.fitting_log(book, 1, "3D")[-1]
    assert [one.at for one in pitch_checks(book, 1) if one.fitting_id == on.id] == [at]
    with writing(book) as connection:
        connection.execute(text("UPDATE pitch_readings SET left_hz = 'none'"))
    assert "a new string" in say(run, "restring", "3C", *SWEPT)  # what is damaged of another string is in no change's way


# --- a change on a day before sweeps that heard the string

WRONG_YEAR = ("restring", "3D", "--why", "dead", "--date", "2023-09-07")  # for 2024: both sweeps of the kept book came after


def test_sweeps_and_a_baseline_pass_to_a_new_string_only_where_its_owner_says_so(run, wren):
    """A string is scored only against itself (rule 3 of the design): by a wrong year the baseline of the old one would be the new one's."""
    refused = run(*WRONG_YEAR)
    said = " ".join(refused.stderr.split())
    assert refused.exit_code == 2 and "3D was heard after 7 September 2023, in sweep 1 of 2 March 2024 and sweep 2 of 7 Sep" in said
    assert "So will the fresh baseline of 2 March 2024, and the new string is then judged by it." in said
    assert "Was the new 3D on by 2 March 2024 already?" in said and "nothing was logged" in said
    assert [one.fitted_on for one in read.fitting_log(open_book(wren), 1, "3D")] == [None]
    result = run(*WRONG_YEAR, "--yes")
    said = " ".join((result.stderr + result.stdout).split())
    assert said.count("3D was heard after 7 September 2023") == 1
    assert "It has had time to settle, 5 to 7 days as a rule." in said and "daily" not in said and "waits" not in said  # years ago
    on = read.fitting_log(open_book(wren), 1, "3D")[-1]
    assert {one.sweep_id for one in read.plucks_of_fitting(open_book(wren), on.id)} == {1, 2}


def test_a_sweep_that_is_no_baseline_passes_without_a_word_of_one(run, wren):
    """Changed between the two sweeps and logged after both: the first one's baseline stays with the string that came off. Nylon has had
    its time to settle after 37 days (5 to 7 as a rule, common practice)."""
    said = say(run, "restring", "3D", "--date", "2024-08-01")
    assert "heard after 1 August 2024, in sweep 2 of 7 September 2024: that will count as a sweep of the new string." in said
    assert "sweep 1 of" not in said and "So will the fresh baseline" not in said
    assert "It waits for a fresh baseline. Pluck it three times in the next sweep: toneprobe sweep RECORDING --fresh-for 3D" in said
    assert verdicts(wren) == [("unrated", True)]


# --- what two sweeps say alike

def test_what_an_earlier_sweep_said_too_needs_no_check(run, wren, played):
    """3D rings a third as long and another is uneven in sweep 2 and, by the model, in the same recording at half its level: other plucks in
    effect, for the book knows a recording by its octets. What is said twice is checked (a harpist's rule)."""
    first = {one.condition.string: one.condition for one in read.conditions_of(open_book(wren), 2)}
    called = [name for name, one in first.items() if one.verdict in ("dead", "false")]
    assert called and all("Check once more before you spend money" in first[name].next_step for name in called)
    way = ("ready", "--on", "2025-01-01", "--date", "2024-10-10")
    assert "before you spend money" in say(run, *way)
    samples, rate_hz = soundfile.read(played.later)
    soundfile.write(wren.parent / "softer.flac", 0.5 * samples, rate_hz, subtype="PCM_24")
    say(run, "sweep", wren.parent / "softer.flac", "--date", "2024-10-07")
    again = {one.condition.string: one.condition for one in read.conditions_of(open_book(wren), 3)}
    assert [again[name].verdict for name in called] == [first[name].verdict for name in called]
    assert all("An earlier sweep said so too: change the string" in again[name].next_step for name in called)
    assert all("Check once more" in one.condition.next_step for one in read.conditions_of(open_book(wren), 2)
               if one.condition.string in called)  # of its own day
    assert "before you spend money" not in say(run, *way)

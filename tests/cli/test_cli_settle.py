"""`settle` on rendered plucks: far off, tuned within one recording, more than one new string, and what holds a fresh baseline back."""

import math
import re
import shlex
from datetime import date, timedelta

import pytest
from command_line import say
from year_workshop import Workshop

from toneprobe import hearing
from toneprobe.book import read
from toneprobe.book.opening import open_book
from toneprobe.book.pitch_checks import pitch_checks, settled_strings

TUNED = "2025-02-10"


@pytest.fixture
def shop(tmp_path):
    (tmp_path / "shop").mkdir()
    return Workshop(tmp_path / "shop")


@pytest.fixture
def plover(run, shop, tmp_path):
    """Six old nylon strings; 3D was put on on 10 February."""
    say(run, "new", "Plover", "--from", shop.harp_file)
    say(run, "restring", "3D", "--broke-at", "knot", "--date", TUNED)
    return tmp_path / "book"


def stored(book, string="3D"):
    """What the latest check of a string says, found and left, in cents from D5, and the names in that check."""
    checks = pitch_checks(open_book(book), 1)
    (one,) = [one for one in checks if one.string == string and one.at == checks[-1].at]
    cents = [None if figure is None else 1200.0 * math.log2(figure.value / D5_HZ) for figure in (one.found_hz, one.left_hz)]
    return cents, {one.string for one in checks if one.at == checks[-1].at}


D5_HZ = 440.0 * 2.0 ** (5.0 / 12.0)  # five semitones above A4: equal temperament, ISO 16


@pytest.mark.parametrize("cents", [-90.0, -150.0, -200.0])
def test_a_new_string_far_off_is_accepted_where_it_is_named(run, shop, plover, cents):
    """At −200 it sounds as 3C does, which is in the recording too. Each string's first partial has its own scatter of some tenths."""
    told = say(run, "settle", "3D", shop.check("second", cents), "--date", "2025-02-11")
    assert float(re.search(r"as found −([\d.]+) cents from D5", told)[1]) == pytest.approx(-cents, abs=1.0)
    (found, left), names = stored(plover)
    assert found == pytest.approx(cents, abs=1.0) and left is None and names == {"3E", "3D", "3C"}
    assert ("semitones" in told) == (cents < -120.0)
    assert "Heard in it: 3E, 3D and 3C." in told  # a neighbour that is lost would be missed


def test_a_new_string_below_every_note_of_the_harp_is_found(run, shop, plover):
    """3G is the lowest: two semitones flat it has no string's pitch. 3E, an octave above what 3G might be, is not taken for it."""
    say(run, "restring", "3G", "--why", "false", "--date", TUNED)
    for clock, neighbours in (("9:00", ("3B", "3A")), ("10:00", ())):
        told = say(run, "settle", "3G", shop.check("second", -200.0, string="3G", neighbours=neighbours), "--date", "2025-02-11",
                   "--time", clock.zfill(5))
        assert float(re.search(r"as found −([\d.]+) cents from G4", told)[1]) == pytest.approx(200.0, abs=1.0)
    told = say(run, "settle", "3G", shop.check("first", 0.0, string="3E", neighbours=()), "--date", "2025-02-12", code=1)
    assert "no pluck of string 3G was heard" in told or "cannot be told" in told


def test_without_its_name_it_is_said_what_to_do(run, shop, plover):
    """3D two semitones flat among the others: not named, its neighbour 3C not trusted, and 3D asked for alone."""
    told = say(run, "settle", "--all", shop.check("second", -200.0), "--date", "2025-02-11")
    assert "3D was not heard in it. Where it is more than a semitone off its note, record it alone: toneprobe settle 3D RECORDING" in told
    assert {one.string for one in pitch_checks(open_book(plover), 1)} == {"3E"}
    told = say(run, "settle", "3D", shop.check("second", -200.0, neighbours=()), "--date", "2025-02-11", "--time", "13:00")
    assert "as found −199." in told or "as found −200." in told
    told = say(run, "settle", "3D", shop.check("first", 0.0, string="3C", neighbours=("3B",)), "--date", "2025-02-12", code=1)
    assert re.search(r"3D was not heard in \S+, only 3C, 3B: pluck it too. Where it was plucked but is far off its note", told)
    assert "it cannot be told from the others: pluck it alone" in told


def test_one_recording_holds_both_as_found_and_as_left(run, shop, plover):
    """Found 20 cents flat, two plucks while the pin turns, left 3 cents sharp and plucked twice."""
    told = say(run, "settle", "3D", shop.retuned("second", (-20.0, -11.0, -4.0, 3.0, 3.0)), "--retuned", "--date", "2025-02-11")
    (found, left), names = stored(plover)
    assert (found, left) == (pytest.approx(-20.0, abs=1.0), pytest.approx(3.0, abs=1.0)) and names == {"3E", "3D", "3C"}
    assert "as found −" in told and "as left +" in told
    again = say(run, "settle", "3D", shop.retuned("second", (0.0, 0.0)), "--retuned", "--date", "2025-02-12", code=1)
    assert "does not change" in again and "leave out --retuned" in again


def test_a_recording_that_holds_both_is_not_averaged(run, shop, plover):
    """20 cents flat, tuned, in tune: the mean of −10 is no pitch that the string had. Which option says so is told, and nothing kept."""
    both = shop.retuned("second", (-20.0, 0.0))
    for arguments in (["3D", both], ["--all", both]):
        told = say(run, "settle", *arguments, "--date", "2025-02-11", code=1)
        assert re.search(r"3D is heard at −(19|20|21) and at (0|1|−1) cents in", told) and "Nothing was stored" in told
        assert f"toneprobe settle 3D {shlex.quote(str(both))} --retuned" in told
    assert pitch_checks(open_book(plover), 1) == ()
    left = shop.retuned("second", (-20.0, 0.0))
    told = say(run, "settle", "3D", shop.check("second", -20.0), "--as-left", left, "--date", "2025-02-11", code=1)
    assert "record it again as left" in told and "--retuned" not in told and pitch_checks(open_book(plover), 1) == ()
    say(run, "settle", "3D", both, "--retuned", "--date", "2025-02-11")
    assert stored(plover)[0] == [pytest.approx(-20.0, abs=1.0), pytest.approx(0.0, abs=1.0)]


def test_a_check_that_stands_in_the_way_can_be_taken_back(run, shop, plover):
    first, second = shop.check("second", -20.0), shop.check("second", -9.0)
    say(run, "settle", "3D", first, "--date", "2025-02-11")
    told = say(run, "settle", "3D", second, "--date", "2025-02-11", code=1)
    assert "already: give another --time, or take that check back first: toneprobe withdraw --check 2025-02-11" in told
    told = say(run, "settle", "3D", first, "--date", "2025-02-12", code=1)
    assert "in the check of 2025-02-11 12:00 already: leave it out, or take that check back first: " in told
    way = told.partition("first: toneprobe ")[2].split()
    assert way == ["withdraw", "--check", "2025-02-11", "--time", "12:00"]  # of the check, not of the recording given again
    say(run, "settle", "3D", shop.check("second", -15.0), "--date", "2025-02-11", "--time", "8.30")  # of two it is that one all the same
    say(run, *way)
    assert {one.at.isoformat() for one in pitch_checks(open_book(plover), 1)} == {"2025-02-11T08:30:00"}
    say(run, "settle", "3D", second, "--date", "2025-02-11")


def test_a_recording_that_is_still_being_copied_is_no_check(run, shop, plover, monkeypatch):
    """As for a sweep: what was heard is its first part, and once it is whole it would count as heard already."""
    path = shop.check("second", -20.0)

    def listen(path, *arguments, **options):
        heard = hearing.hear(path, *arguments, **options)
        with path.open("ab") as file:
            file.write(b"more")
        return heard

    monkeypatch.setattr("toneprobe.upkeep.pitch_check.hear", listen)
    refused = say(run, "settle", "3D", path, "--date", "2025-02-11", code=1)
    assert f"{path.name} was written to while it was measured" in refused and pitch_checks(open_book(plover), 1) == ()


def test_tuned_as_asked_and_not_read_as_left_is_no_creep(run, shop, plover):
    """180 cents flat on the day it went on, and brought up as the screen says; found 45 flat the next day."""
    told = say(run, "settle", "3D", shop.check("second", -180.0), "--date", TUNED)
    assert "Bring 3D to its note" in told and "toneprobe settle 3D --as-left RECORDING" in told
    told = say(run, "settle", "3D", shop.check("second", -45.0), "--date", "2025-02-11")
    assert re.search(r"Found 13[456] cents higher on 11 February 2025 than on 10 February 2025: it was tuned in between", told)
    assert "rose" not in told and "that is not stretch" not in told and "e+" not in told
    assert not re.search(r"settled from about 10 February", told)


def test_settled_strings_that_wait_for_their_fresh_sweep_are_named(run, shop, plover):
    """3D was put on in February and never checked: in June it has settled, and nothing can judge it yet."""
    say(run, "sweep", shop.sweep({}), "--fresh", "--date", "2025-01-05")
    told = say(run, "settle", "--all", "--date", "2025-06-01")
    assert "No string is settling" in told and "3D has had time to settle and waits for a fresh baseline" in told
    assert told.endswith("toneprobe sweep RECORDING --fresh-for 3D")
    say(run, "sweep", shop.sweep({"3D": "second"}), "--fresh-for", "3D", "--date", "2025-06-02")
    assert "waits" not in say(run, "settle", "--all", "--date", "2025-06-03")
    assert "waits" not in say(run, "settle", "--all", "--date", "2025-02-12")  # it still stretches


def test_a_string_called_by_a_number_is_no_count_of_strings(run, tmp_path):
    """ "1, 2 have had time" counts nothing: the house rule for names that are numbers (`phrases.as_strings`)."""
    strings = "".join(f'[[strings]]\nname = "{name}"\nnote = "{note}"\nmaterial = "{of}"\n'
                      for name, note, of in (("1", "C5", "nylon"), ("2", "A4", "nylon"), ("3", "F4", "wound nylon")))
    (tmp_path / "lute.toml").write_text(f'name = "Lute"\n{strings}')
    say(run, "new", "Lute", "--from", tmp_path / "lute.toml")
    for name in "123":
        say(run, "restring", name, "--date", "2026-03-02")
    told = say(run, "settle", "--all", "--date", "2026-03-12")
    assert "String 3 has had time to settle, but gets no fresh baseline yet." in told
    assert "Strings 1, 2 have had time to settle and wait for a fresh baseline" in told


@pytest.mark.parametrize("day", ["2025-04-05", "2025-06-01"])  # 54 and 111 days on; up to 60 a string counts as new (set in `steady`)
def test_that_it_has_had_its_time_is_said_of_one_string_as_of_all(run, plover, day):
    """Nylon settles in 5 to 7 days (common practice): 10 February and 7 days. Nobody has checked 3D."""
    one, every = (say(run, "settle", which, "--date", day) for which in ("3D", "--all"))
    assert "by 17 February 2025; its pitch has not been checked yet. Next: Check it once:" in one
    for told in (one, every):
        assert "3D has had time to settle and waits for a fresh baseline" in told
        assert "every day" not in told and "at the latest" not in told and ": settling" not in told
    assert "settling" not in say(run, "log", "--date", day)


def test_no_forecast_begins_before_its_own_check(run, shop, plover):
    """60 cents flat on the second day and brought up: no two checks tell of its stretch, so what is usual stands, in 5 to 7 days from
    10 February (common practice), and the fall brings no day forward."""
    told = say(run, "settle", "3D", shop.check("second", -60.0), "--as-left", shop.check("second", 0.0), "--date", "2025-02-12")
    assert "settled from about 17 February 2025, 15 February 2025 at the earliest" in told
    later = say(run, "settle", "3D", "--date", "2025-02-17")
    assert re.search(r"it may have settled already, by (1[89]|2\d|\d) (February|March) 2025 at the latest", later)
    ready = say(run, "ready", "--on", "2025-06-20", "--date", "2025-02-17")
    assert re.search(r"It may have settled already, by .* at the latest: in time", ready) and "at the earliest" not in ready


def test_a_forecast_that_is_over_is_given_by_no_screen(run, shop, plover):
    say(run, "settle", "3D", "--as-left", shop.check("second", 0.0), "--date", "2025-02-11")
    then = say(run, "settle", "3D", "--date", "2025-02-12")
    assert ": settling" in then and "at the latest" in then
    for arguments in (["settle", "3D"], ["settle", "--all"], ["ready", "--on", "2025-06-20"]):
        told = say(run, *arguments, "--date", "2025-04-05")
        assert "its pitch has not been checked since 11 February 2025" in told and re.search("heck (it|3D) once more", told)
        assert "daily" not in told and "every day" not in told and "at the latest" not in told


def wires(folder):
    return Workshop(folder, names=("5C", "5B", "5A"), notes=("C3", "B2", "A2"), material="wire")


def test_a_new_wire_whose_tone_still_moves_gets_no_baseline_yet(run, tmp_path):
    """Its pitch rests from the first day. Its ring goes on falling over the first three sweeps, then it stays: derived from the model."""
    shop = wires(tmp_path)
    say(run, "new", "Wren", "--from", shop.harp_file)
    say(run, "restring", "5B", "--why", "dead", "--date", "2025-03-01")
    pitch = {"string": "5B", "neighbours": ("5C", "5A")}
    say(run, "settle", "5B", "--as-left", shop.check("dulled to 0.99", 0.0, **pitch), "--date", "2025-03-01")
    for day, kind in ((2, "dulled to 0.98"), (4, "dulled to 0.75"), (8, "dulled to 0.55")):
        say(run, "sweep", shop.sweep({"5B": kind}), "--as-found", "--date", f"2025-03-0{day}")
    assert [one.string for one in settled_strings(open_book(tmp_path / "book"), 1)] == ["5B"]  # the sweeps themselves have shown it
    told = say(run, "settle", "5B", "--yes", "--date", "2025-03-08")
    assert "5B (B2, wire, on since" in told and ": settled" in told
    assert "5B gets no fresh baseline yet" in told and "still moves" in told and "becomes the fresh baseline" not in told
    assert "Next: Its " in told and "Sweep it for its fresh baseline" not in told  # which sweep would doubt
    told = say(run, "report")
    assert re.search("as your pitch checks up to [48] March 2025 show, but gets no fresh baseline yet. Its ", told)
    assert "--fresh-for 5B" not in told
    for day in (14, 21, 28):
        say(run, "sweep", shop.sweep({"5B": "dulled to 0.5"}), "--date", f"2025-03-{day}")
    told = say(run, "sweep", shop.sweep({"5B": "dulled to 0.5"}), "--date", "2025-04-05")
    assert "fresh baseline of 5B" not in told  # nobody was asked yet
    told = say(run, "settle", "5B", "--yes", "--date", "2025-04-05")
    assert "The next sweep becomes the fresh baseline of 5B" in told
    assert "It is the fresh baseline of 5B" in say(run, "sweep", shop.sweep({"5B": "dulled to 0.5"}), "--date", "2025-05-03")


# --- fresh baselines, asked for too early or for the wrong string

def test_a_string_that_has_not_settled_gets_a_baseline_only_where_its_owner_insists(run, shop, plover):
    sweep = shop.sweep({"3D": "second"})
    result = run("sweep", sweep, "--fresh-for", "3D", "--date", "2025-02-12")  # two days; nylon takes five to seven: common practice
    asked, told = (" ".join(text.split()) for text in (result.stderr, result.stdout))
    assert result.exit_code == 0 and "3D may not have come to rest. It was put on 2 days before and its pitch was not checked." in asked
    assert "all the same? [y/N]" in asked and "It is not kept as the baseline of 3D" in asked and "baseline of 3D" not in told
    assert "Once it has come to rest, make a new recording" in asked and "the same recordings" not in asked  # these hold it unsettled
    assert fresh_strings(plover) == set()
    told = say(run, "sweep", sweep, "--fresh-for", "3D", "--yes", "--date", "2025-02-12")
    assert "Taken as fresh baseline: 3D." in told and fresh_strings(plover) == {"3D"}


def test_nobody_is_asked_about_a_string_that_has_had_its_time(run, shop, plover):
    result = run("sweep", shop.sweep({"3D": "second"}), "--fresh-for", "3D", "--date", "2025-03-01")
    assert result.exit_code == 0 and "[y/N]" not in result.stderr and fresh_strings(plover) == {"3D"}


def test_a_fresh_sweep_of_all_leaves_out_what_still_stretches(run, shop, plover):
    result = run("sweep", shop.sweep({"3D": "second"}), "--fresh", "--date", "2025-02-12")
    assert result.exit_code == 0 and "3D may not have come to rest" in result.stderr
    assert fresh_strings(plover) == {"3E", "3C", "3B", "3A", "3G"}


def test_a_stand_in_is_never_asked_for_a_baseline(run, shop, plover):
    say(run, "restring", "3B", "--stand-in", "--broke-at", "bridge pin", "--date", "2025-02-20")
    assert "never becomes a baseline" in say(run, "sweep", "x.flac", "--fresh-for", "3B", "--date", "2025-03-01", code=2)
    told = say(run, "sweep", shop.sweep({"3D": "second", "3B": "stand-in"}), "--fresh", "--date", "2025-03-01")
    assert "Fresh baseline of 5 strings recorded. 1 with a stand-in." in told and "With a stand-in: 3B Put the right string on" in told
    assert re.search(r"3B B4 stand-in", told) and re.search(r"3D D5 fresh", told) and "Without a fresh baseline" not in told
    assert "3B" not in fresh_strings(plover)
    told = say(run, "report", "--string", "3B", "--out", plover.parent / "life.html")
    assert "3B carries a stand-in" in (plover.parent / "life.html").read_text() and told


def test_a_stand_in_is_cared_for_as_a_new_string(run, shop, plover):
    """It creeps as much; what it does not get is a baseline."""
    told = say(run, "restring", "3B", "--stand-in", "--broke-at", "bridge pin", "--date", "2025-02-20")
    assert "Check its pitch daily" in told and "toneprobe settle 3B FOUND.wav --as-left LEFT.wav" in told
    for asked in ("3B", "--all"):
        told = say(run, "settle", asked, "--date", "2025-02-21")
        own = told[told.index("3B (B4"):]
        assert "It is a stand-in and never becomes a baseline. Next: Check it every day" in own
    told = say(run, "settle", "--all", shop.check("second", 0.0), "--date", "2025-02-21")
    assert "3B was not heard in it." in told and "toneprobe settle 3B RECORDING" in told


def fresh_strings(book):
    """The strings that have a baseline."""
    opened = open_book(book)
    return {one.string for one in read.current_fittings(opened, 1, on=date(2025, 12, 31)).values() if read.fresh_plucks(opened, one.id)}


def test_a_wish_used_up_by_a_sweep_that_is_withdrawn_must_be_said_again(run, shop, plover):
    """3D has settled (4 cents in 19 days, 0.3 in 4), and the sweep that became its baseline as wished is taken out."""
    say(run, "sweep", shop.sweep({}), "--fresh", "--date", "2025-01-05")
    for day, cents in (("2025-02-11", 0.0), ("2025-03-02", -4.0), ("2025-03-06", -4.3)):
        say(run, "settle", "3D", shop.check("second", cents), "--date", day, "--yes")
    sweep = shop.sweep({"3D": "second"})
    assert "It is the fresh baseline of 3D" in say(run, "sweep", sweep, "--date", "2025-03-08")
    told = say(run, "withdraw", "2")
    assert "Without a fresh baseline now: 3D. " in told and "The next sweep does not become its fresh baseline by itself." in told
    assert told.endswith("toneprobe sweep RECORDING --fresh-for 3D")
    assert "fresh baseline of 3D" not in say(run, "sweep", sweep, "--date", "2025-03-09")
    assert "does not become" not in say(run, "withdraw", "3")  # it took no baseline away
    assert "Taken as fresh baseline: 3D." in say(run, "sweep", sweep, "--date", "2025-03-09", "--fresh-for", "3D")


def test_a_string_that_falls_again_after_it_settled_is_not_taken_as_fresh(run, shop, plover):
    """4 cents in 19 days and 0.3 in 4 are settled; 5 cents a day after that are not: a cent a day is what a player allows."""
    for day, cents in (("2025-02-11", 0.0), ("2025-03-02", -4.0), ("2025-03-06", -4.3)):
        told = say(run, "settle", "3D", shop.check("second", cents), "--date", day, "--yes")
    assert "3D (D5, nylon, on since 10 February 2025): settled" in told and "The next sweep becomes the fresh baseline of 3D" in told
    for day, cents in (("2025-03-08", -14.3), ("2025-03-10", -24.3)):
        told = say(run, "settle", "3D", shop.check("second", cents), "--date", day, "--yes")
        assert "): settled" not in told and "becomes the fresh baseline" not in told
        assert "the next sweep does not become its fresh baseline as you asked. That waits" in told
    assert "as its checks said then; by its later ones it is" in say(run, "log", "3D", "--date", "2025-03-10")
    assert re.search(r"[Cc]heck 3D|pin of 3D", say(run, "ready", "--on", "2025-04-10", "--date", "2025-03-10"))
    sweep = shop.sweep({"3D": "second"})
    told = say(run, "sweep", sweep, "--date", "2025-03-11")
    assert "It is not the fresh baseline of 3D as you asked" in told and "which had settled" not in told
    assert fresh_strings(plover) == set()
    result = run("sweep", sweep, "--fresh-for", "3D")
    assert "3D may not have come to rest" in result.stderr and fresh_strings(plover) == set()
    say(run, "sweep", sweep, "--fresh-for", "3D", "--yes")
    assert fresh_strings(plover) == {"3D"}


# --- an old string

def test_an_old_string_that_falls_steadily_is_slipping_and_what_was_noted_stands_beside_a_jump(run, shop, plover):
    """3A, on since before the log, falls by 3 cents a week while its neighbours stay: common practice says a pin or a knot, not stretch."""
    pair = {"string": "3A", "neighbours": ("3C", "3B")}
    for week in range(5):
        day = (date(2025, 3, 3) + timedelta(7 * week)).isoformat()
        told = say(run, "settle", "3A", shop.check("first", -3.0 * week, **pair), "--date", day)
    assert "3A (A4, nylon, on since before the log): slipping" in told and "a pin or a knot, not stretch" in told
    assert "technician" in told and "fresh baseline" not in told
    assert "Wear eye protection whenever a string is changed" in told and told.count("One string at a time") == 1  # design, rule 10
    say(run, "note", "moved", "to the hall", "--date", "2025-04-03")
    told = say(run, "settle", "3A", shop.check("first", -28.0, **pair), "--date", "2025-04-07")
    assert "Left out: between 31 March 2025 and 7 April 2025 it fell by 16 cents at once" in told
    assert "Noted meanwhile: moved on 3 April 2025: to the hall." in told


def test_new_strings_of_one_day_are_told_together_each_with_its_neighbours(run, tmp_path, strict_json):
    """Five gut strings and two wires of one day, nobody has checked any: two blocks and not seven (counted by hand); the neighbours are the
    three nearest of the same material that were on before (read off the harp's strings)."""
    say(run, "new", "Heron", "--preset", "pedal-47", "--tuning", "naturals")
    for name in ("3E", "3D", "3C", "3F", "4C", "5F", "6D"):
        say(run, "restring", name, "--why", "dead", "--date", "2026-03-02")
    told = say(run, "settle", "--all", "--date", "2026-03-09")
    assert told.count("each should have settled") == 2 and told.count("not been checked yet") == 2
    assert "3E (E5), 3D (D5), 3C (C5), 3F (F4) and 4C (C4), gut, on since 2 March 2026: each should have settled" in told
    assert "Next: Check it once: pluck it with two or three settled neighbours before you tune it, and again after: " \
        "3E with 2A, 2G and 2F; 3D with 2G, 2F and 3B; 3C with 2F, 3B and 3A; 3F with 3A, 3G and 4E; 4C with 4D, 4B and 4A." in told
    assert "Each of 5F and 6D has had time to settle, but gets no fresh baseline yet." in told
    strings = strict_json(run("settle", "--all", "--date", "2026-03-09", "--json", "-").stdout)["strings"]
    assert [(one["string"], one["company"]) for one in strings[:2]] == [("3E", ["2A", "2G", "2F"]), ("3D", ["2G", "2F", "3B"])]
    assert strings[0]["next_step"].startswith("check it once: pluck it with its settled neighbours 2A, 2G and 2F")  # of itself, as ever
    assert "3E (E5, gut, on since 2 March 2026): should have settled" in say(run, "settle", "3E", "--date", "2026-03-09")

"""`sweep --fresh` on a harp that has a baseline, and what every screen calls a string whose baseline a sweep is.

The kept book: fresh on 2 March 2024, swept again on 7 September with a string that rings a third as long and an uneven one, by the model.
"""

import io
import re
from datetime import date

import pytest
import soundfile
from command_line import say
from rich.console import Console

from toneprobe.book import read
from toneprobe.book.opening import open_book
from toneprobe.book.pitch_checks import baselines_wanted, keep_settled, want_baseline
from toneprobe.cli.sweep import insists_on_spoilt
from toneprobe.cli.sweep_fresh import tell_judged_before, tell_livelier_room
from toneprobe.condition.context import EIGHT_BITS
from toneprobe.report.glossary import OTHER_NOTE, REMEDIES
from toneprobe.settling import SettledRecord

MARCH, SEPTEMBER = date(2024, 3, 2), date(2024, 9, 7)


def fresh_days(book):
    """By string, the days of the plucks that the string on it is compared with."""
    opened = open_book(book)
    on = read.current_fittings(opened, 1, on=date(2024, 12, 31))
    return {name: {pluck.date for pluck in read.fresh_plucks(opened, one.id)} for name, one in on.items()}


def verdicts(book, sweep_id):
    return {one.condition.string: one.condition.verdict for one in read.conditions_of(open_book(book), sweep_id)}


def test_fresh_by_mistake_leaves_every_baseline_as_it_was_and_says_so(run, book, played):
    before = verdicts(book, 2)
    told = say(run, "sweep", played.later, "--fresh")
    assert fresh_days(book) == dict.fromkeys(played.names, {MARCH}) and verdicts(book, 2) == before
    assert "Taken as fresh baseline: no string." in told
    assert "12 strings have a baseline and have not been changed since, so they keep it: 2C, 2B, 2A, 2G, 2F and 7 more." in told
    assert "--fresh-for STRING" in told
    assert not read.sweep(open_book(book), 2).is_fresh


def test_a_new_sweep_called_fresh_by_mistake_hides_no_bad_string(run, book, played, tmp_path):
    """The walk of a player: kept as fresh in August, and in September the bad strings passed for fine."""
    say(run, "withdraw", "2")
    say(run, "sweep", played.later, "--fresh", "--date", "2024-08-03")
    told = say(run, "sweep", played.whole, "--date", "2024-09-08")
    assert fresh_days(book)[played.dead] == {MARCH}
    assert verdicts(book, 3)[played.dead] == "dead" and verdicts(book, 3)[played.false] == "false"
    assert "No string wants changing" in told  # the harp of `whole` is healthy, by the model: judged against March alone


@pytest.mark.parametrize(("day", "joins"), [("2024-03-16", True), ("2024-03-17", False), ("2024-02-10", False)])
def test_plucks_of_the_fortnight_join_the_baseline(run, book, played, day, joins):
    """14 days, set in `fresh_choice.FRESH_DAYS`; counted here on a calendar from 2 March. An earlier sweep joins by the same measure."""
    told = say(run, "sweep", played.whole, "--fresh", "--date", day)
    days = {MARCH, date.fromisoformat(day)} if joins else {MARCH}
    assert fresh_days(book) == dict.fromkeys(played.names, days)
    assert ("Taken as fresh baseline: 12 strings." in told) == joins and ("so they keep it" in told) != joins


@pytest.mark.parametrize(("day", "is_told"), [("2024-03-16", False), ("2024-03-17", True), ("2024-02-10", True)])
def test_that_a_sweep_is_added_to_a_baseline_of_long_ago_is_told(run, book, played, day, is_told):
    """14 days, as `--fresh` has it: beyond them a string has aged, and one that seems fresh again was most likely changed."""
    told = say(run, "sweep", played.june, "--fresh-for", "3D", "--date", day)
    assert fresh_days(book)["3D"] == {MARCH, date.fromisoformat(day)} and "Taken as fresh baseline: 3D." in told
    words = "3D has a baseline already, of 2 March 2024. From now on it is compared with both sweeps together"
    assert (words in told) == is_told and ("'toneprobe withdraw 3', then give" in told) == is_told
    assert "already" not in say(run, "restring", "3D", "--date", "2024-10-01", "--yes")
    assert "a baseline of" not in say(run, "sweep", played.whole, "--fresh-for", "3D", "--date", "2024-10-09", "--yes")  # a new string


def test_a_string_that_is_named_gets_the_sweep_into_its_baseline_whatever_it_has(run, book, played):
    assert run("sweep", played.later, "--fresh-for", "3C,9Z").exit_code == 2
    told = say(run, "sweep", played.later, "--fresh-for", "3C, 2A")
    assert "Taken as fresh baseline: 2A, 3C." in told and "so they keep" not in told
    assert "measured before, as sweep 2 of 7 September 2024: no pluck was added." in told and "nothing was added" not in told
    assert {name for name, days in fresh_days(book).items() if days == {MARCH, SEPTEMBER}} == {"3C", "2A"}
    told = say(run, "sweep", played.later, "--fresh")  # once more, of all: two are in it on purpose
    assert "Taken as fresh baseline: 2A, 3C." in told and "10 strings have a baseline" in told


def test_a_string_that_was_changed_since_gets_its_own(run, book, played):
    say(run, "restring", "3D", "--why", "dead", "--date", "2024-08-01")
    told = say(run, "sweep", played.later, "--fresh")
    assert "Taken as fresh baseline: 3D." in told and "11 strings have a baseline and have not been changed since, so they keep it" in told
    assert fresh_days(book) == {**dict.fromkeys(played.names, {MARCH}), "3D": {SEPTEMBER}}
    assert verdicts(book, 2)[played.false] == "false"


def test_a_fresh_sweep_of_all_fulfils_the_wish_for_the_next_one(run, book, played):
    """3D had settled, and the next sweep was to be its baseline: that after it is an ordinary one, even if the wish was left over."""
    say(run, "restring", "3D", "--why", "dead", "--date", "2024-08-01")
    opened = open_book(book)
    fitting = read.current_fittings(opened, 1, on=SEPTEMBER)["3D"]
    keep_settled(opened, SettledRecord(fitting.id, "3D", date(2024, 8, 10), date(2024, 8, 10), 1.0))
    want_baseline(opened, fitting.id)
    say(run, "sweep", played.later, "--fresh")
    assert fresh_days(book)["3D"] == {SEPTEMBER} and baselines_wanted(opened, 1) == frozenset()
    want_baseline(opened, fitting.id)
    assert "fresh baseline of 3D" not in say(run, "sweep", played.whole, "--date", "2024-10-05")
    assert fresh_days(book)["3D"] == {SEPTEMBER}


def test_one_string_that_keeps_its_baseline_is_named_in_the_way_out(run, book, played):
    for name in played.names[1:]:
        say(run, "restring", name, "--why", "planned", "--date", "2024-08-01")
    told = say(run, "sweep", played.later, "--fresh")
    assert "1 string has a baseline and has not been changed since, so it keeps it: 2C." in told
    assert "--fresh-for 2C instead of --fresh" in told
    assert "Taken as fresh baseline: 11 strings." in told


def test_the_second_evening_of_a_fresh_sweep_asks_for_nothing_and_says_that_all_have_theirs(run, played):
    """The upper six strings on one evening, the lower six on the next: twelve are on the harp."""
    say(run, "new", "Wren", "--from", played.harp_file)
    told = say(run, "sweep", played.part_one, "--fresh", "--date", "2024-03-01")
    assert "Record these strings" in told and "have one now" not in told
    told = say(run, "sweep", played.part_two, "--fresh", "--date", "2024-03-02")
    assert "They have their fresh baselines already, of 1 March 2024: there is nothing to record." in told
    assert "All 12 strings have one now." in told
    assert "Record these strings" not in told


def test_of_a_first_fresh_sweep_a_line_says_what_was_taken(run, played):
    say(run, "new", "Wren", "--from", played.harp_file)
    told = say(run, "sweep", played.june, "--fresh", "--date", "2024-03-02")
    assert "Taken as fresh baseline: 3E, 3D, 3C." in told
    assert "Only 3 of 12 strings heard: fresh baseline of 3 strings recorded. 9 not heard." in told


def test_a_recording_of_eight_bits_is_kept_as_fresh_without_a_terminal_and_called_of_no_use(run, played, tmp_path):
    """Nobody can be asked there, so what programs rely on stays; a step of 1/128 of full scale swallows what rings on (definition)."""
    samples, rate_hz = soundfile.read(played.june)
    soundfile.write(tmp_path / "coarse.wav", samples, rate_hz, subtype="PCM_U8")
    say(run, "new", "Wren", "--from", played.harp_file)
    told = say(run, "sweep", tmp_path / "coarse.wav", "--fresh", "--date", "2024-03-02")
    assert "not usable as a fresh baseline, because this recording has only eight bits" in told
    assert re.search(r"Taken as fresh baseline: .*, though it is not usable as one: this recording has only eight bits", told)
    assert "Set the recorder to 16 or 24 bits, record the sweep again" in told and "'toneprobe withdraw 1'" in told


@pytest.mark.parametrize(("answer", "is_kept"), [("y\n", True), ("n\n", False), ("", False)])
def test_before_it_is_kept_as_fresh_its_player_is_asked(monkeypatch, answer, is_kept):
    terminal = Terminal(answer)
    monkeypatch.setattr("sys.stdin", terminal)
    assert insists_on_spoilt(EIGHT_BITS, yes=False) == is_kept
    assert insists_on_spoilt(EIGHT_BITS, yes=True)


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self):
        return True


def test_a_stand_in_is_not_taken(run, book, played):
    say(run, "restring", "3B", "--stand-in", "--broke-at", "knot", "--date", "2024-08-01")
    assert "Taken as fresh baseline: no string." in say(run, "sweep", played.later, "--fresh")
    assert fresh_days(book)["3B"] == set() and not read.sweep(open_book(book), 2).is_fresh


# --- what the sweep is called that is a string's baseline

def test_every_screen_calls_a_string_fresh_where_the_sweep_is_its_baseline(run, book, played, tmp_path):
    say(run, "restring", "3D", "--why", "dead", "--date", "2024-08-01")
    told = say(run, "sweep", played.later, "--fresh-for", "3D")
    assert "3D D5 fresh" in told and "Without a fresh baseline" not in told
    page = tmp_path / "page.html"
    told = say(run, "report", "--string", "3D", "--sweep", "2", "--out", page)
    assert "3D is fresh: the sweep of 7 September 2024 is its baseline" in told
    assert "unrated" not in seen(page)
    told = say(run, "report", "--compare", "1", "2", "--out", page)
    assert "3D (D5): Fresh. Since 1 August 2024" in told and "unrated" not in told + seen(page)
    assert "recorded fresh in the earlier sweep are fine in the later." in told
    say(run, "report", "--season", "2024", "--out", page)
    assert ">fresh<" in seen(page) and "unrated" not in seen(page)


def seen(page):
    """What stands on a page, without its style and the drawings of its marks."""
    text = page.read_text(encoding="utf-8")
    return text[text.index("<main"):].replace("mark-unrated", "").replace("v-unrated", "")


def test_the_headline_counts_only_what_became_a_baseline(run, played):
    say(run, "new", "Wren", "--from", played.harp_file)
    told = say(run, "sweep", played.whole, "--fresh-for", "3D", "--date", "2024-03-02")
    assert "Fresh baseline of 1 string recorded. 11 without a fresh baseline." in told
    assert "--fresh-for and the name of each" in told  # what to do about the eleven


def test_a_first_sweep_without_baseline_says_what_to_do_and_it_works(run, played):
    say(run, "new", "Wren", "--from", played.harp_file)
    told = say(run, "sweep", played.whole, "--date", "2024-03-02")
    assert "Measured and kept, but there is no fresh baseline to judge by. 12 without a fresh baseline." in told
    assert "Without a fresh baseline: all strings If the strings are new and settled" in told and "--fresh-for" not in told
    assert "'toneprobe sweep RECORDING --fresh'" in told
    assert "Old strings may have it as their reference too" in told  # as the sweep takes them, and the README says
    assert "Fresh baseline of 12 strings recorded." in say(run, "sweep", played.whole, "--fresh")  # as it said


def test_a_sweep_of_a_small_part_says_so_first(run, book, played):
    """Three of twelve strings: less than half."""
    told = say(run, "sweep", played.june, "--date", "2024-10-05")
    assert re.search(r"Only 3 of 12 strings heard: none of those wants changing, [1-3] fine\. .*9 not heard\.", told)


def test_a_baseline_made_in_a_livelier_room_is_told_with_the_way_back():
    words = io.StringIO()
    tell_livelier_room((), 7, Console(file=words, width=400))
    assert words.getvalue() == ""
    tell_livelier_room(("2D", "4G"), 7, Console(file=words, width=400))
    assert "The strings around 2D and 4G ring longer in it than when they were fresh: a livelier room" in words.getvalue()
    assert "'toneprobe withdraw 7', then give its recordings again without --fresh and --fresh-for" in " ".join(words.getvalue().split())


def test_a_baseline_that_cannot_clear_an_older_verdict_is_told_with_the_way_back():
    words = io.StringIO()
    tell_judged_before((), 7, Console(file=words, width=800))
    assert words.getvalue() == ""
    tell_judged_before(("3E",), 7, Console(file=words, width=800))
    assert words.getvalue().startswith("3E has an earlier verdict at another note, which this baseline cannot clear")
    assert "It stands until the string is changed, or judged otherwise in that position." in words.getvalue()
    assert "'toneprobe restring'" in words.getvalue() and "'toneprobe withdraw 7'" in words.getvalue()


def test_who_sweeps_in_another_position_is_told_how_it_gets_a_baseline():
    assert "--fresh" in REMEDIES[OTHER_NOTE] and "--tuning" in REMEDIES[OTHER_NOTE]


def test_the_way_back_from_a_livelier_room_keeps_what_the_sweep_says_of_the_others(run, book, played):
    """Taken back, given again as an ordinary sweep, and 3D plucked once more: its baseline is of that day alone, and eleven verdicts of
    September are as they were."""
    say(run, "restring", "3D", "--why", "dead", "--date", "2024-08-01")
    say(run, "sweep", played.later, "--fresh-for", "3D")
    before = verdicts(book, 2)
    say(run, "withdraw", "2")
    say(run, "sweep", played.later, "--date", "2024-09-07")
    after = verdicts(book, max(one.id for one in read.sweeps(open_book(book), 1)))
    assert len(before) == 12 and {**after, "3D": ""} == {**before, "3D": ""} and fresh_days(book)["3D"] == set()
    say(run, "sweep", played.june, "--fresh-for", "3D", "--date", "2024-09-14")
    assert fresh_days(book)["3D"] == {date(2024, 9, 14)}


def test_a_first_fresh_sweep_says_which_strings_are_no_longer_new(run, played):
    """3E on since 2021 and 3C since 4 April 2023, 333 days before: of these only the first is past the year of `practice.LONG_ON_DAYS`.
    Of 3D the log knows nothing."""
    say(run, "new", "Wren", "--from", played.harp_file)
    say(run, "log", "correct", "3E", "--fitted", "2021-05-05")
    say(run, "log", "correct", "3C", "--fitted", "2023-04-04")
    told = say(run, "sweep", played.june, "--fresh", "--date", "2024-03-02")
    warned = "3E had been on for more than a year, and the log does not know the age of 3D. What any of them that is not new has lost"
    assert told.count(warned) == 1 and "when one is replaced, the new string gets its own" in told
    assert warned in say(run, "report", "--sweep", "1")
    later = say(run, "sweep", played.whole, "--date", "2024-04-06")
    known = "The log does not know the age of 3D: it is judged against itself as it was on 2 March 2024, so what was lost by then cannot be"
    assert later.count(known) == 1 and "no longer" not in later and "can never be heard" not in later
    assert known in say(run, "ready", "--on", "2024-06-01", "--date", "2024-04-07")


def test_a_sweep_of_a_day_before_the_baseline_asks_for_its_day_and_not_for_another_baseline(run, book, played):
    """The baseline is of 2 March 2024 and the year typed is 2023: no sweep is judged by what comes after it."""
    told = say(run, "sweep", played.whole, "--date", "2023-10-05")
    assert "The fresh baseline is of 2 March 2024, after this sweep" in told and "Is the day of this sweep right?" in told
    assert "'toneprobe withdraw 3', then give its recordings again with --date" in told and "--fresh" not in told
    assert "Is the day" not in say(run, "report", "--sweep", "1") and "Is the day" not in say(run, "report", "--sweep", "2")


def test_strings_that_are_all_new_are_not_warned_of(run, played):
    say(run, "new", "Wren", "--from", played.harp_file)
    for name in ("3E", "3D", "3C"):
        say(run, "log", "correct", name, "--fitted", "2023-12-01")
    told = say(run, "sweep", played.june, "--fresh", "--date", "2024-03-02")
    assert "Taken as fresh baseline: 3E, 3D, 3C." in told and "lost already" not in told

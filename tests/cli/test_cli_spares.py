"""`spares` typed wrongly and put right, and spares that go onto the harp on an earlier day. Days were counted on a calendar."""

import json
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from importlib import import_module

import pytest
from command_line import say

from toneprobe.book import spare_box
from toneprobe.book.connect import connect_file
from toneprobe.book.opening import open_book
from toneprobe.book.spare_box import use_up
from toneprobe.errors import BookError


@pytest.fixture
def book(begun):
    return begun(["new", "Wren", "--preset", "pedal-47", "--tuning", "naturals"])


def spares(book):
    return {one.id: one for one in spare_box.spares_of(open_book(book), 1)}


# --- how long an order takes

def test_a_lead_time_typed_wrongly_is_put_right(run, book):
    """210 days for 21: ordered on 1 February, 3D comes on 30 August, and rightly on 22 February."""
    say(run, "spares", "add", "3C", "--lead-time", "210", "--supplier", "Shop", "--bought", "2026-01-05")
    said = say(run, "spares", "order", "--date", "2026-02-01")
    assert "3D D5 gut – 30 Aug 2026" in said and "an order takes 210 days from Shop (noted with spare 1)" in said
    assert "210 days with spare 1. These go before the figure above" in say(run, "habits", "--lead-time", "14")
    for way in (said, say(run, "habits")):
        assert "toneprobe spares correct NUMBER --lead-time DAYS" in way
    said = say(run, "spares", "correct", "1", "--lead-time", "21")
    assert said == "Spare 1 (3C, gut): lead time was 210 days, now 21 days."
    assert spares(book)[1].note == "lead time said to be 210 days before"  # nothing that was recorded is lost
    said = say(run, "spares", "order", "--date", "2026-02-01")
    assert "3D D5 gut – 22 Feb 2026" in said and "..." not in said.partition("Commands:")[2]
    assert say(run, "spares", "correct", "1", "--lead-time", "21") == "It said so already; nothing was changed."
    say(run, "restring", "3C", "--from-spares", "--date", "2026-02-02")
    assert "now not known" in say(run, "spares", "correct", "1", "--lead-time", "none")  # on the harp it can be put right too


def test_several_spares_have_numbers(run, tmp_path):
    say(run, "new", "Wren", "--preset", "pedal-47")
    assert say(run, "spares", "add", "3C").endswith("in the bag: number 1.")
    assert say(run, "spares", "add", "3A", "--count", "2").endswith("in the bag: numbers 2, 3.")


@pytest.mark.parametrize(("arguments", "why"), [(("7", "--lead-time", "3"), "no spare has the number 7"),
                                                (("1", "--lead-time", "soon"), "'soon' is no lead time"),
                                                (("1", "--lead-time", "900"), "not between 0 and 730")])
def test_what_is_no_lead_time_is_refused(run, book, arguments, why):
    say(run, "spares", "add", "3C", "--lead-time", "10")
    assert why in say(run, "spares", "correct", *arguments, code=2)
    assert spares(book)[1].lead_time_days == 10


def test_what_was_taken_off_the_list_and_typed_again_has_no_say(run, book):
    say(run, "spares", "add", "3C", "--lead-time", "210", "--bought", "2026-01-05")
    say(run, "spares", "remove", "1", "--note", "typed wrongly", "--date", "2026-01-05")
    say(run, "spares", "add", "3C", "--lead-time", "21", "--bought", "2026-01-05")
    assert "3D D5 gut – 22 Feb 2026" in say(run, "spares", "order", "--date", "2026-02-01")


def test_what_was_typed_wrong_is_put_right_for_several(run, book):
    say(run, "spares", "add", "5C", "--count", "3", "--bought", "2026-01-05", "--material", "wire")
    said = say(run, "spares", "correct", "2", "3", "--bought", "2025-11-25", "--in", "home", "--material", "gut", "--gauge", "1.9",
                "--supplier", "Shop")
    assert "Spare 2 (5C, gut, 1.9 mm): day of purchase was 5 January 2026, now 25 November 2025; place was in the bag, now at home;" in said
    assert "Spare 3 (5C" in said and "Spare 1 (" not in said
    now = spares(book)
    assert [(one.place, one.material, one.gauge_mm, one.supplier, str(one.bought_on)) for one in (now[2], now[3])] == [
        ("home", "gut", 1.9, "Shop", "2025-11-25")] * 2
    assert now[2].note == ("day of purchase said to be 5 January 2026 before; place said to be in the bag before; "
                           "material said to be wire before")  # nothing that was recorded is lost
    assert (now[1].place, now[1].material, now[1].note) == ("bag", "wire", "")
    say(run, "spares", "correct", "1", "--bought", "none")
    assert spares(book)[1].bought_on is None
    say(run, "spares", "use", "1", "--date", "2026-02-01")
    for arguments, why in ((("1", "--bought", "2026-03-01"), "used on 1 February 2026 already"),
                           (("2", "99", "--in", "bag"), "the number 99"),
                           (("2",), "say what is to be put right"), (("2", "--bought", "2099-01-01"), "lies ahead")):
        assert why in say(run, "spares", "correct", *arguments, code=2)
    assert spares(book)[2] == now[2]  # of several all or none


def test_spares_that_never_were_leave_the_record_and_are_kept(run, book):
    """Ten typed for one, one of which was even taken off as thrown away."""
    say(run, "spares", "add", "5C", "--count", "10", "--bought", "2026-01-05", "--lead-time", "10")
    say(run, "spares", "remove", "10", "--date", "2026-01-06")
    said = say(run, "spares", "withdraw", *map(str, range(2, 11)), "--because", "typed ten for one")
    assert "Taken back: spare 2 (5C, gut)." in said and list(spares(book)) == [1]
    kept = json.loads((book / "withdrawn" / "spare-2.json").read_text(encoding="utf-8"))
    assert kept["why"] == "typed ten for one" and [row["id"] for row in kept["tables"]["spares"]] == list(range(2, 11))
    assert kept["tables"]["spares"][-1]["used_on"] == "2026-01-06"
    say(run, "restring", "5C", "--from-spares", "--date", "2026-02-02")
    assert "was put on: take that back first" in say(run, "spares", "withdraw", "1", code=2)
    assert "no spare has the number 2" in say(run, "spares", "withdraw", "1", "2", code=2) and list(spares(book)) == [1]
    assert say(run, "spares", "add", "5C").endswith("number 11.")  # a number is never given twice


# --- onto the harp on an earlier day

@pytest.mark.parametrize("how", [("--from-spares",), ("--spare", "2")])
def test_a_change_told_late_takes_a_spare_that_still_lies_there(run, book, how):
    """Two are bought in January; one went to a colleague on 25 February, one onto the harp on the 20th, which is logged later."""
    say(run, "spares", "add", "3D", "--count", "2", "--bought", "2026-01-05")
    say(run, "spares", "use", "1", "--date", "2026-02-25", "--note", "to a colleague")
    said = say(run, "restring", "3D", *how, "--why", "broke", "--date", "2026-02-20")
    assert "Taken from the bag: spare 2. Spares left for 3D: 0. What to order" in said
    assert "0 spares on" in say(run, "spares", "--date", "2026-02-25")
    assert {number: one.used_on.day for number, one in spares(book).items()} == {1: 25, 2: 20}


def test_a_spare_bought_since_does_not_go_on_before(run, book):
    say(run, "spares", "add", "3D", "--bought", "2026-02-10")
    for how in (("--from-spares",), ("--spare", "1")):
        assert ("on 9 February 2026 there was no spare 3D yet: spare 1 was bought on 10 February 2026"
                in say(run, "restring", "3D", *how, "--date", "2026-02-09", code=1))
    said = say(run, "restring", "3D", "--date", "2026-02-09")
    assert "There is a spare 3D" not in said  # it cannot be what went on


def test_a_spare_moves_with_the_day_of_its_change(run, book):
    """Logged for 26 February, really on the 10th: on the 15th one of two lay in the bag."""
    say(run, "spares", "add", "4A", "--count", "2", "--bought", "2026-01-05")
    say(run, "restring", "4A", "--from-spares", "--why", "broke", "--date", "2026-02-26")
    assert "2 spares on" in say(run, "spares", "--date", "2026-02-15")
    said = say(run, "log", "correct", "4A", "--fitted", "2026-02-10", code=2)
    say(run, *said.partition("earlier: toneprobe ")[2].split())
    say(run, "log", "correct", "4A", "--fitted", "2026-02-10")
    assert "1 spare on" in say(run, "spares", "--date", "2026-02-15")
    assert spares(book)[1].used_on.isoformat() == "2026-02-10" and spares(book)[2].used_on is None


def test_a_list_without_spares_tells_whether_there_were_any(run, book):
    assert "None yet: toneprobe spares add STRING" in say(run, "spares")
    say(run, "spares", "add", "4A", "--bought", "2026-01-05")
    say(run, "spares", "use", "4A", "--date", "2026-02-01")
    assert "None left; what to order and by when: toneprobe spares order" in say(run, "spares")


# --- what to order

def test_an_order_counts_what_is_to_be_put_on_as_the_way_to_an_engagement_does(run, book, tmp_path):
    """A stand-in is on 3D, and 3C has one spare, which goes on in place of its stand-in. One to put on and one to keep (a full set
    travels with the harp, common practice): two 3D are lacking, one 3C, and one of each string that was never bought."""
    say(run, "spares", "add", "3C", "--bought", "2026-01-05")
    for name in ("3C", "3D"):
        say(run, "restring", name, "--stand-in", "--date", "2026-01-20")
    said = say(run, "spares", "order", "--date", "2026-02-01")
    assert "2 × 3D" in said and "1 × 3C" in said and "1 × 3E" in said
    assert "3D: no spare, one to be put on, one to keep;" in said and "3C: one to be put on, one to keep;" in said
    assert "One to put on is counted in for 3D (a stand-in is on), 3C (a stand-in is on)." in said
    way = tmp_path / "way.json"
    say(run, "ready", "--on", "2026-06-01", "--date", "2026-02-01", "--json", str(way))
    ordered = [task["action"] for task in json.loads(way.read_text())["tasks"] if task["kind"] in ("order", "stock")]
    n = {name: sum(2 if f"2 × {name}" in action else name in action for action in ordered) for name in ("3E", "3D", "3C")}
    assert n == {"3E": 1, "3D": 2, "3C": 1}


# --- on the way

def test_what_is_ordered_is_asked_for_no_more_and_becomes_a_spare_when_it_comes(run, book, tmp_path):
    """Ordered on 5 January, 21 days are assumed: expected on 26 January, overdue from the 27th. One comes on 30 January, after 25 days,
    which is then the lead time known for wire: the other, ordered on the same day, is expected on 30 January too."""
    assert "1 × 6D" in say(run, "spares", "order", "--date", "2026-01-10")
    said = say(run, "spares", "add", "6D", "--count", "2", "--ordered", "--bought", "2026-01-05", "--supplier", "Shop")
    assert said.endswith("on the way: numbers 1, 2.")
    said = say(run, "spares", "order", "--date", "2026-01-10")
    assert "1 × 6D" not in said and "1 × 6E" in said
    assert "On the way: 2 × 6D, ordered on 5 January 2026, expected about 26 January 2026." in said
    said = say(run, "spares", "order", "--date", "2026-01-10", "--by", "2026-01-20")
    assert "expected about 26 January 2026 (may come too late for it)" in said
    assert "none lies here" in say(run, "spares", "--date", "2026-01-26").lower()
    assert "1 6D wire 5 Jan 2026 26 Jan 2026 Shop" in say(run, "spares", "--date", "2026-01-26")
    assert "1 6D wire 5 Jan 2026 26 Jan 2026 overdue Shop" in say(run, "spares", "--date", "2026-01-27")
    said = say(run, "restring", "6D", "--from-spares", "--date", "2026-01-29", code=1)
    assert "there is no spare 6D in the bag or at home; one is on the way: if it has come, first 'toneprobe spares arrived 6D'" in said
    assert "arrived" not in say(run, "restring", "6E", "--from-spares", "--date", "2026-01-29", code=1)
    checked = say(run, "spares", "check", "--date", "2026-01-29")
    assert "6D D2 wire no spare, on the way" in checked and "6E E2 wire no spare none" in checked
    say(run, "spares", "check", "--date", "2026-01-29", "--json", str(tmp_path / "check.json"))
    document = json.loads((tmp_path / "check.json").read_text(encoding="utf-8"))
    assert [one["spare"]["id"] for one in document["on_the_way"]] == [1, 2]
    assert "no unused spare has the number 1" in say(run, "restring", "6D", "--spare", "1", "--date", "2026-01-29", code=2)
    assert "no unused spare has the number 1" in say(run, "spares", "use", "1", code=2)
    assert "Spares left" not in say(run, "restring", "6D", "--date", "2026-01-29")  # it is not offered as what went on
    assert say(run, "spares", "arrived", "6D", "--date", "2026-01-30", "--in", "home") == (
        "Spare 1 (6D, wire) came on 30 January 2026 and is at home. Still on the way: 1 × 6D.")
    first, second = spares(book)[1], spares(book)[2]
    assert (first.place, str(first.bought_on), first.lead_time_days, first.note) == ("home", "2026-01-30", 25, "ordered on 5 January 2026")
    assert (second.place, str(second.bought_on)) == ("ordered", "2026-01-05")
    listed = say(run, "spares", "--date", "2026-02-01")
    assert "1 6D wire home 30 Jan 2026" in listed and "2 6D wire 5 Jan 2026 30 Jan 2026 overdue Shop" in listed
    out = tmp_path / "spares.json"
    say(run, "spares", "--json", str(out), "--date", "2026-02-01")
    document = json.loads(out.read_text(encoding="utf-8"))
    assert [one["spare"]["id"] for one in document["spares"]] == [1]
    assert [(one["spare"]["id"], one["expected_on"], one["is_overdue"]) for one in document["on_the_way"]] == [(2, "2026-01-30", True)]
    say(run, "restring", "6D", "--from-spares", "--date", "2026-02-02")
    assert spares(book)[1].used_on is not None and spares(book)[2].used_on is None


def test_an_order_written_down_only_when_it_comes_promises_no_other_in_no_time(run, book):
    say(run, "spares", "add", "6D", "--ordered", "--bought", "2026-01-05")
    said = say(run, "spares", "arrived", "6D", "--date", "2026-01-05")
    assert "How long the order took is not known. To note it: toneprobe spares correct 1 --lead-time DAYS" in said and "Still" not in said
    said = say(run, "ready", "--on", "2026-06-01", "--date", "2026-01-10")
    assert "assumed to take 21 days" in said and "takes 0 days" not in said


def test_an_order_that_came_late_counts_with_the_days_that_it_took(run, book):
    """Promised in 14 days on 5 January, here on 12 February: 38 days (derived here)."""
    say(run, "spares", "add", "6D", "--ordered", "--bought", "2026-01-05", "--lead-time", "14")
    said = say(run, "spares", "arrived", "6D", "--date", "2026-02-12")
    assert "Spare 1 took 38 days, which now counts as its lead time." in said and "toneprobe spares correct 1 --lead-time DAYS" in said
    assert "an order takes 38 days" in say(run, "ready", "--on", "2026-06-01", "--date", "2026-02-13")


def test_ready_asks_for_what_is_ordered_no_more(run, book):
    say(run, "spares", "add", "6D", "--ordered", "--bought", "2026-01-05", "--lead-time", "30")
    said = say(run, "ready", "--on", "2026-06-01", "--date", "2026-01-10")
    assert "Note: On the way: 1 × 6D, ordered on 5 January 2026, expected about 4 February 2026." in said
    orders = said.partition("rder for the bag: ")[2].partition("No spare")[0]
    assert "6E" in orders and "6D" not in orders


@pytest.mark.parametrize(("arguments", "why", "code"), [
    (("add", "6D", "--ordered", "--in", "home"), "leave out --in or --ordered", 2),
    (("add", "6D", "--ordered", "--bought", "2099-01-01"), "ordered on 1 January 2099, which lies ahead", 2),
    (("arrived", "6D", "--count", "3"), "only 2 of 6D on the way, not 3", 1), (("arrived", "6E"), "no 6E is on the way", 1),
    (("arrived", "9"), "no ordered spare has the number 9", 2), (("arrived", "1", "--count", "2"), "one number is one spare", 2),
    (("arrived", "6D", "--date", "2026-01-04"), "ordered only on 5 January 2026", 2),
    (("order", "--by", "2025-12-24", "--date", "2026-01-05"), "24 December 2025 is over: give a day from 5 January 2026 on", 2),
])
def test_orders_that_cannot_be_are_refused(run, book, arguments, why, code):
    say(run, "spares", "add", "6D", "--count", "2", "--ordered", "--bought", "2026-01-05")
    before = spares(book)
    assert why in say(run, "spares", *arguments, code=code)
    assert spares(book) == before


def test_what_is_ordered_can_be_put_right_and_taken_back(run, book):
    """Typed as a spare, though it is only ordered; and an order that never comes."""
    say(run, "spares", "add", "6D", "--count", "2", "--bought", "2026-01-05")
    assert "place was in the bag, now on the way" in say(run, "spares", "correct", "1", "2", "--in", "ordered")
    assert "0 spares on" in say(run, "spares") and "now 6 January 2026" in say(run, "spares", "correct", "2", "--bought", "2026-01-06")
    assert "Taken back: spare 1 (6D, wire)." in say(run, "spares", "withdraw", "1", "--because", "it never came")
    say(run, "spares", "arrived", "2", "--date", "2026-01-20")
    assert spares(book)[2].lead_time_days == 14 and spares(book)[2].place == "bag"
    kept = "how long the order took stays: 14 days. Where the new day makes it another: toneprobe spares correct 2 --lead-time DAYS"
    assert kept in say(run, "spares", "correct", "2", "--bought", "2026-01-16")
    assert "stays" not in say(run, "spares", "correct", "2", "--bought", "2026-01-15", "--lead-time", "9")
    say(run, "spares", "use", "2", "--date", "2026-02-01")
    assert "used on 1 February 2026, so it cannot be on the way" in say(run, "spares", "correct", "2", "--in", "ordered", code=2)


@pytest.mark.parametrize(("arguments", "found"), [
    (["use", "3C"], "toneprobe.cli.spares._spare_at_hand"), (["move", "3C", "--to", "home"], "toneprobe.cli.spares._spare_at_hand"),
    (["correct", "1", "--supplier", "Shop"], "toneprobe.cli.spares_correct._numbered")])
def test_what_was_found_is_still_there_when_it_is_stored(run, book, monkeypatch, arguments, found):
    """Another program (a thread with a connection of its own, which waits 0.1 s) wants to use the very spare in between: it must wait. Else
    `use` would name a spare that is gone though others lie there, and the others would put a used one back."""
    say(run, "spares", "add", "3C", "--count", "3")
    module, name = found.rsplit(".", 1)
    module = import_module(module)
    find, said = getattr(module, name), []

    def use_first():
        try:
            use_up(connect_file(book, wait_s=0.1), 1, date.today())
        except BookError as error:
            said.append(str(error))

    def find_beside(*arguments, **options):
        result = find(*arguments, **options)
        with ThreadPoolExecutor(1) as beside:
            beside.submit(use_first).result()
        return result

    monkeypatch.setattr(module, name, find_beside)
    say(run, "spares", *arguments)
    assert len(said) == 1 and "in use by another program" in said[0]


def test_no_line_of_the_help_is_cut(run):
    said = run("spares", "--help").stdout
    assert "Put right what was typed wrong.\n" in said and "..." not in said.partition("Commands:")[2]
    assert "What was said before stays in the spare's remark." in say(run, "spares", "correct", "--help")


# --- another material than belongs there

def test_what_the_log_has_on_a_string_is_what_its_spares_go_by(run, book, tmp_path):
    """Nylon on 2E, where gut belongs (the preset): a nylon spare goes on as its own, gut by its number."""
    (tmp_path / "log.csv").write_text("String,Date,Material\n2E,4 May 2024,nylon\n")
    say(run, "log", "import", str(tmp_path / "log.csv"), "--yes")
    assert "Mind" not in say(run, "spares", "add", "2E")  # nylon, as is kept there
    assert "Mind: nylon is kept, as the log has it, on 2E." in say(run, "spares", "add", "2E", "--material", "gut")
    said = say(run, "spares", "check")
    assert "2E E6" not in said and "On 2E the log has nylon, where gut belongs" in said
    said = say(run, "restring", "2E", "--from-spares", "--date", "2026-06-10")
    assert "a new string since 10 June 2026 (nylon)" in said and "Ask a harp technician" not in said
    said = say(run, "restring", "2E", "--from-spares", "--date", "2026-06-11", code=1)
    assert "spare 2 is gut, which belongs there: take it with --spare 2" in said
    assert "11 June 2026 (gut)" in say(run, "restring", "2E", "--spare", "2", "--date", "2026-06-11")


def test_a_spare_of_another_material_is_put_on_to_stay_by_naming_it(run, book):
    said = say(run, "spares", "add", "3E", "--material", "nylon")
    assert "gut belongs on 3E" in said and said.endswith("say so: toneprobe log correct 3E --material nylon")
    assert "Mind" not in say(run, "spares", "add", "3E", "--material", "pedal gut")
    assert "say so with --material nylon" in say(run, "restring", "3E", "--spare", "1", code=2)
    said = say(run, "restring", "3E", "--spare", "1", "--material", "nylon")
    assert "Taken from the bag: spare 1. Spares left for 3E: 0." in said and "Gut belongs on 3E: nylon is another string" in said

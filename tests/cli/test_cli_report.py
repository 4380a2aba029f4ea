"""`toneprobe report`: its other pages and its pictures, what is said of them, and one line for what is wrong."""

import os
import re
import shutil
from datetime import datetime

import pytest

from toneprobe.book import read
from toneprobe.book.entries import NewCheck
from toneprobe.book.opening import open_book
from toneprobe.book.pitch_checks import add_checks
from toneprobe.judging.verdicts import judge_against, recall
from toneprobe.measure.figure import Figure
from toneprobe.settling import PitchReading


@pytest.fixture(scope="module")
def book(kept, tmp_path_factory):
    """A copy of the kept book, in which the dead string was changed after the second sweep. Only pitch checks are added to it here."""
    from typer.testing import CliRunner

    from toneprobe.cli import app

    folder = shutil.copytree(kept, tmp_path_factory.mktemp("report") / "book")
    done = CliRunner().invoke(app, ["restring", "3D", "--why", "dead", "--date", "2024-09-10", "--book", str(folder)])
    assert done.exit_code == 0, done.stderr
    return folder


@pytest.fixture
def told(run, book):
    """Run `report` on that book; gives what it said on standard output, as one line of words."""

    def tell(*arguments):
        result = run("report", "--book", book, *arguments)
        assert result.exit_code == 0, result.stderr
        assert max(len(line) for line in result.stdout.splitlines() if not line.startswith("Written: ")) <= 80
        return " ".join(result.stdout.split())

    return tell


def heading(path):
    return re.search(r"<h1>(.*?)</h1>", path.read_text(encoding="utf-8"))[1].replace("\N{NO-BREAK SPACE}", " ")


def test_two_sweeps_compared(told, tmp_path, played):
    said = told("--compare", "1", "2", "--out", tmp_path / "both.html")
    # One dead, one false, by the model; the dead one was changed three days later, and its row says so.
    assert "1 string likely wants changing that did not before, 1 string that wanted changing has come off since." in said
    assert "Came off after the later sweep: 3D on 10 September 2024." in said
    assert heading(tmp_path / "both.html") in said
    lines = [said.index(text) for text in (f"{played.false} (G4): Its baseline then, now false.",
                                           f"{played.dead} (D5): Its baseline then, now dead; came off on 10 September 2024.")]
    assert lines == sorted(lines) and "baseline then, now fine." not in said  # the worst first, and what is as it was in one line
    n_fine = int(re.search(r"(\d+) strings recorded fresh in the earlier sweep are fine in the later\.", said)[1])
    assert n_fine + said.count("Its baseline then, now ") == 12
    assert f"Written: {tmp_path / 'both.html'}" in said


def test_the_sweeps_own_page_and_the_comparison_with_its_baseline_tell_one_figure(told, tmp_path, played):
    """The dead string rings a third as long, by the model: the ratio of the two sweeps' own decay times is another."""
    told("--compare", "1", "2", "--out", tmp_path / "both.html")
    row = next(line for line in (told("--sweep", "2", "--out", tmp_path / "two.csv").split("Octave")) if f"{played.dead} D5 dead" in line)
    ring, doubt = re.search(rf"{played.dead} D5 dead −(\d+) % ± (\d+)", row).groups()
    page = (tmp_path / "both.html").read_text(encoding="utf-8").replace("\N{NO-BREAK SPACE}", " ")
    assert abs(int(ring) - 67) <= int(doubt) and f": ring −{ring} % ± {doubt}, brightness" in page


def test_two_sweeps_of_which_neither_is_the_baseline_are_compared_in_the_same_way(book):
    """The later sweep against itself as if it were fresh: no change in any string, whatever its verdict."""
    opened = open_book(book)
    later = recall(opened, read.sweeps(opened, read.harp(opened).id)[1])
    found = [one.changes["ring"] for one in judge_against(later, later)]
    assert len(found) == 12 and all(abs(ring.value) < 1e-9 and ring.se < 0.2 for ring in found)


def test_one_strings_life_whatever_its_case(told, tmp_path, played):
    said = told("--string", played.dead.lower(), "--out", tmp_path / "life.html")
    assert said.startswith(f"{played.dead} got a new string on 10 September 2024, not swept yet; the one before was dead; 2 strings")
    assert heading(tmp_path / "life.html") in said
    assert "Since 10 September 2024" in said and "came off: dead" in said
    earlier = told("--string", played.dead, "--sweep", "2", "--out", tmp_path / "then.html")
    assert earlier.startswith(f"{played.dead} is dead; 1 string on record, 2 sweeps.")  # as it stood on the day of that sweep
    assert "10 September 2024" not in (tmp_path / "then.html").read_text(encoding="utf-8")  # three days later it came off


def test_a_year_and_the_last_year(told, tmp_path):
    year = told("--season", "2024", "--out", tmp_path / "year.html")
    assert year.startswith("2 sweeps, 1 new string; 1 string likely wants changing now, 1 without a verdict.")  # 3D is off
    assert "1 not swept yet: 3D." in year
    assert "3D (D5): Dead on 7 September 2024. Came off on 10 September 2024 (dead)." in year
    last = told("--season", "last", "--out", tmp_path / "last.html")
    assert last.startswith("2 sweeps, 0 new strings")  # the year ends with the latest sweep, three days before the new string
    assert "8 September 2023 to 7 September 2024" in (tmp_path / "last.html").read_text(encoding="utf-8")
    for bare in (["--season", "--out", tmp_path / "bare.html"], ["--out", tmp_path / "bare.html", "--season"]):
        assert told(*bare).partition("Written")[0] == last.partition("Written")[0]
        assert (tmp_path / "bare.html").read_bytes() == (tmp_path / "last.html").read_bytes()
        (tmp_path / "bare.html").unlink()


def test_page_for_the_technician(told, tmp_path):
    said = told("--technician", "--out", tmp_path / "technician.html")
    assert heading(tmp_path / "technician.html") in said


def test_a_slipping_pin_goes_to_the_technician(told, run, book, tmp_path):
    """3C falls 5 cents a month over five checks, its neighbours hold: a pin or a knot, however long the string is on. Nobody has looked
    since 2024, and it may have been seen to: the page says so."""
    opened = open_book(book)
    harp = read.harp(opened, None)
    for string, hz, cents in (("3C", 523.25, -5.0), ("3B", 493.88, 0.0), ("3A", 440.0, 0.0)):
        add_checks(opened, harp.id, [
            NewCheck(PitchReading(string, f"{string[1]}{5 if string == '3C' else 4}", datetime(2024, month, 20, 12),
                                  Figure(hz * 2 ** (month * cents / 1200), hz * 1e-4))) for month in range(3, 8)])
    said = told("--technician", "--out", tmp_path / "technician.html")
    assert "3C: Fell steadily, as on a slipping pin or knot, when it was last checked on 20 July 2024; nobody has looked since" in said
    assert "3B: " not in said and "3A: " not in said
    assert "From 5 pitch checks, the last on 20 July 2024" in (tmp_path / "technician.html").read_text(encoding="utf-8")
    assert run("report", "--book", book, "--pages", tmp_path / "pages").exit_code == 0
    assert "as on a slipping pin or knot" in (tmp_path / "pages" / "technician.html").read_text(encoding="utf-8")
    then = told("--technician", "--sweep", "1", "--out", tmp_path / "then.html")
    assert "pin or knot" not in then  # before the first check


def test_slips_in_jumps_go_to_the_technician(told, book, tmp_path):
    """3D, put on on 10 September, is checked each noon beside two strings that hold. It holds too, but for 8 cents that it fell at once
    before the check of the 16th and 7 before that of the 20th. Two days of keeping still after are too few (`settling/recurring`)."""
    opened = open_book(book)
    harp = read.harp(opened, None)
    for string, note, hz, falls in (("3D", "D5", 587.33, {16: -8.0, 20: -7.0}), ("3B", "B4", 493.88, {}), ("3A", "A4", 440.0, {})):
        add_checks(opened, harp.id, [
            NewCheck(PitchReading(string, note, datetime(2024, 9, day, 12),
                                  Figure(hz * 2 ** (sum(cents for when, cents in falls.items() if when <= day) / 1200), hz * 2e-4)))
            for day in range(11, 23)])
    said = told("--technician", "--out", tmp_path / "technician.html")
    assert "3D: Fell at once twice, last between 19 September 2024 and 20 September 2024: a knot or a pin that gives way in jumps" in said
    assert said.count("Fell at once") == 1 and "3A: " not in said
    page = (tmp_path / "technician.html").read_text(encoding="utf-8")
    assert "From 12 pitch checks, the last on 22 September 2024" in page and page.count("gives way in jumps") == 1


@pytest.mark.parametrize(("name", "start"), [("a.png", b"\x89PNG\r\n\x1a\n"), ("a.svg", b"<?xml"), ("a.pdf", b"%PDF-")])
def test_pictures_are_what_their_ending_says(told, tmp_path, name, start):
    """Starts: ISO/IEC 15948, XML 1.0, ISO 32000."""
    told("--figure", "--out", tmp_path / name)
    assert (tmp_path / name).read_bytes().startswith(start)


def test_the_picture_of_one_string_is_of_that_string(told, tmp_path, played):
    said = told("--figure", "--string", played.false, "--out", tmp_path / "one.svg")
    assert f"{played.false} (G4): false" in said
    drawn = (tmp_path / "one.svg").read_text(encoding="utf-8")
    assert f"tring {played.false}" in drawn and "(G4)" in drawn  # the title goes over lines where it must


def test_pages_go_into_the_book_where_no_file_is_named(told, book):
    shutil.rmtree(book / "reports", ignore_errors=True)  # somebody has deleted it: it is made anew
    told("--string", "3G")
    told("--season", "2024")
    told("--figure", "--sweep", "1")
    names = {path.name for path in (book / "reports").iterdir()}
    assert names >= {"2024-09-07-string-3G.html", "season-2024-01-01-to-2024-12-31.html", "2024-03-02-sweep-1-harp.png"}


def test_of_a_book_that_can_only_be_read_a_page_goes_elsewhere(run, book, tmp_path, monkeypatch):
    """The folder's rights as the system tells them, for who runs the tests may be allowed all."""
    allowed = os.access
    monkeypatch.setattr("os.access", lambda path, mode: path != book / "reports" and allowed(path, mode))
    result = run("report", "--season", "2024", "--book", book)
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.endswith("reports cannot be written: name another place with --out FILE\n")
    assert run("report", "--season", "2024", "--book", book, "--out", tmp_path / "year.html").exit_code == 0


@pytest.mark.parametrize(("arguments", "code", "word"), [
    (["--string", "9Q"], 2, "9Q"),
    (["--figure", "--string", "9Q", "--out", "x.png"], 2, "9Q"),
    (["--compare", "1", "9"], 2, "no sweep 9"),
    (["--compare", "1", "1"], 2, "itself"),
    (["--compare", "1"], 2, "--compare"),
    (["--season", "1999"], 2, "2024"),
    (["--season", "this one"], 2, "no year"),
    (["--season", "0000"], 2, "no year"),
    (["--string", "3D", "--technician"], 2, "one at a time"),
    (["--string", "3D", "--out", "x.png"], 2, "--figure"),
    (["--figure", "--out", "x.html"], 2, ".png"),
    (["--figure", "--technician"], 2, "--technician"),
    (["--season", "2024", "--sweep", "1"], 2, "--sweep"),
    (["--string", "3D", "--out", "missing/x.html"], 1, "cannot be written"),
    (["--figure", "--out", "missing/x.png"], 1, "cannot be written"),
    (["--out", "missing/x.html"], 1, "missing/x.html cannot be written: No such file or directory"),
    (["--out", "missing/x.png"], 1, "cannot be written"),
])
def test_what_is_wrong_is_said_in_a_line(run, book, tmp_path, monkeypatch, arguments, code, word):
    monkeypatch.chdir(tmp_path)
    result = run("report", "--book", book, *arguments)
    assert result.exit_code == code and result.stdout == ""
    assert word in result.stderr and "Traceback" not in result.stderr
    assert not [path for path in tmp_path.iterdir() if path.name.startswith("x")]


def test_two_strings_never_share_a_file_name():
    """A koto's own names (the characters for its 11th and its 13th string), and names that differ in a sign alone."""
    from toneprobe.cli.report_pages import file_part

    names = ["斗", "為", "3", "3#", "3b", "#3", "-23-3", "3 b"]
    parts = [file_part(name) for name in names]
    assert len(set(parts)) == len(names) and all(part.isascii() and "/" not in part for part in parts)
    assert file_part("3G") == "3G"

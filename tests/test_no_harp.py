"""What a guitar's owner reads on every screen and page: nothing that only a harp has.

Levers, discs, pedals, octaves from the top down, red C strings, regulation and harp technicians are a harp's (common practice).
"""

import html
import re
from datetime import date

import pytest
from stored_sweep import store_sweep

from toneprobe.audio import Quality
from toneprobe.book import read
from toneprobe.book.entries import NewSweep, RecordingEntry
from toneprobe.book.opening import open_book
from toneprobe.book.spare_box import add_spares, spares_of
from toneprobe.condition import Condition
from toneprobe.condition.next_steps import Build, dead_step, false_step, fell_step, slipping_step, two_strings_step, unsteady_step
from toneprobe.phrases import NO_HARP
from toneprobe.practice import ORDERED
from toneprobe.spares import Spare

FOREIGN = re.compile(r"\bharp(?!\":)|\blevers?\b|\bpedals?\b|\bdiscs?\b|\boctaves? \d|red\b.*F strings|regulat|rods", re.IGNORECASE)
STRINGS = {"1": "E4", "2": "B3", "3": "G3", "4": "D3", "5": "A2", "6": "E2"}
GUITAR = Build(NO_HARP, mechanism=False)
STEPS = {"1": ("dead", dead_step(3, build=GUITAR)), "2": ("false", false_step("beat_db", build=GUITAR)), "3": ("sound", fell_step(GUITAR)),
         "4": ("watch", unsteady_step(GUITAR)), "5": ("watch", slipping_step(GUITAR)), "6": ("unsure", two_strings_step(GUITAR))}
QUALITY = Quality(-3.0, 0.0, -71.5, None, None, 40.0, None, False, ())


@pytest.fixture
def book(run, tmp_path):
    """A guitar with a fault on every string, in two sweeps."""
    rows = "".join(f'[[strings]]\nname = "{name}"\nnote = "{note}"\nmaterial = "nylon"\ngauge_mm = 0.7\n' for name, note in STRINGS.items())
    (tmp_path / "guitar.toml").write_text(f'name = "Guitar"\n{rows}', encoding="utf-8")
    assert run("new", "Guitar", "--from", tmp_path / "guitar.toml").exit_code == 0
    book = open_book(tmp_path / "book")
    harp = read.harp(book)
    judged = tuple(Condition(name, note, word, 60.0, 60.0, 3, ("Rings shorter than fresh.",), step.text, {}, {}, step_kind=step.kind)
                   for (name, note), (word, step) in zip(STRINGS.items(), STEPS.values(), strict=True))
    for day in (date(2025, 1, 4), date(2025, 2, 1)):
        recording = RecordingEntry(f"{day:%m%d}" * 16, f"{day}.wav", 60.0, 44100, 1, "wav/PCM_16", 960044, QUALITY)
        store_sweep(book, NewSweep(harp.id, day, harp.instrument, (recording,), (), judged))
    return book


def test_a_string_called_by_a_number_is_meant_before_a_spare_of_that_number(run, book):
    """'spares arrived 2', as `restring 2 --from-spares` says, is the order for string 2, though spare 2 was ordered for another."""
    harp_id = read.harp(book).id
    first, second, third = add_spares(book, [Spare(name, "nylon", place=ORDERED, bought_on=date(2025, 1, 5), harp_id=harp_id)
                                             for name in ("4", "1", "2")])
    assert (first.id, second.id, third.id) == (1, 2, 3)
    assert "toneprobe spares arrived 2" in run("restring", "2", "--from-spares", "--date", "2025-02-02").output
    assert "only 1 of string 2 on the way, not 3" in run("spares", "arrived", "2", "--count", "3").output  # "1 of 2" is a count
    for line in (("arrived", "2", "--count", "1"), ("move", "2", "--to", "home"), ("use", "2")):
        assert run("spares", *line).exit_code == 0
    assert [(one.place, one.used_on is None) for one in spares_of(book, harp_id)] == [(ORDERED, True), (ORDERED, True), ("home", False)]


COMMANDS = [
    ["report"], ["report", "--string", "2"], ["report", "--season"], ["report", "--technician"], ["report", "--compare", "1", "2"],
    ["log"], ["log", "3"], ["log", "lives"], ["settle", "--all"], ["settle", "4"], ["spares"], ["spares", "check"], ["spares", "order"],
    ["ready", "--on", "2025-05-01", "--date", "2025-02-02"], ["ready", "--on", "2025-02-05", "--date", "2025-02-02", "--json", "-"],
    ["restring", "5", "--why", "broke", "--broke-at", "knot", "--material", "steel", "--date", "2025-02-02"],
    ["restring", "5", "--why", "broke", "--broke-at", "knot", "--gauge", "1.1", "--date", "2025-02-03"], ["log", "--json", "-"],
    ["restring", "9"], ["restring", "4C"], ["spares", "add", "C5"], ["withdraw", "2", "--because", "another's"], ["note"],
]


def said_by(run, tmp_path):
    """Whatever the commands say, in order, and then all pages."""
    said = {}
    for line in COMMANDS:
        result = run(*line)
        assert result.exit_code == (2 if line[0] != "log" and line[-1] in ("9", "4C", "C5") else 0), (line, result.stderr)
        said[" ".join(line)] = f"{result.stdout} {result.stderr}"
    assert run("report", "--pages", tmp_path / "pages").exit_code == 0
    for page in (tmp_path / "pages").glob("*.html"):
        text = re.sub(r"(?s)<(style|script)\b.*?</\1>|<[^>]+>", " ", page.read_text(encoding="utf-8"))
        said[page.name] = html.unescape(text)
    return said


def test_nothing_that_only_a_harp_has_is_said_of_a_guitar(run, book, tmp_path):
    said = {where: " ".join(text.split()) for where, text in said_by(run, tmp_path).items()}
    assert [(where, text[max(0, found.start() - 60):found.end() + 40])
            for where, text in said.items() for found in FOREIGN.finditer(text)] == []
    assert "call a technician" in said["report"] and "technician.html" in said

"""What to mind when a string is changed: one list, in the same words wherever it is shown, without an octave slackened at once.

Common practice: one string at a time, each brought up before the next; eye protection; wire ends; no more tension than designed; a
technician for cracks, pins, rods, discs and the soundboard.
"""

import json
import re
import shutil
from pathlib import Path

import icalendar
import pytest

from toneprobe.condition.next_steps import CAUTIONS, dead_step, fallen_step, false_step

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")


@pytest.fixture
def book(run, kept, tmp_path):
    """The small harp with a dead and a false string."""
    shutil.copytree(kept, tmp_path / "book")


def items_of(screen):
    """The list under the heading, as sentences."""
    listed = re.split(r"\n *\n|Written:", screen.split("Before you change a string")[1])[0]
    return tuple(" ".join(one.split()) for one in re.split(r"^ *- ", listed, flags=re.MULTILINE)[1:])


def test_the_list_holds_what_the_trade_asks_for():
    asked = ("One string at a time", "bring each up before the next", "eye protection", "wire ends", "no more tension", "Cracks", "pins",
             "rods", "discs", "soundboard", "technician", "your decision")
    assert not [word for word in asked if word not in " ".join(CAUTIONS)]
    assert not [one for one in CAUTIONS if "octave" in one]


def test_every_screen_shows_the_same_list(run, book, tmp_path):
    shown = {name: run(*line) for name, line in {
        "report": ["report", "--sweep", "2"], "restring": ["restring", "3D", "--date", "2024-09-10"],
        "ready": ["ready", "--on", "2024-12-01", "--date", "2024-09-11", "--json", tmp_path / "plan.json", "--ics", tmp_path / "plan.ics"],
    }.items()}
    assert {name: items_of(result.stdout) for name, result in shown.items()} == dict.fromkeys(shown, CAUTIONS)
    assert tuple(json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))["cautions"]) == CAUTIONS
    entries = icalendar.Calendar.from_ical((tmp_path / "plan.ics").read_bytes()).walk("VEVENT")
    assert any(entry["DESCRIPTION"].endswith("Caution: " + " ".join(CAUTIONS)) for entry in entries)


def test_the_page_the_steps_and_the_readme_show_the_same_list(run, book, tmp_path):
    assert run("report", "--sweep", "2", "--out", tmp_path / "page.html").exit_code == 0
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    listed = re.search(r'class="cautions".*?<ul>(.*?)</ul>', page, re.DOTALL)[1]
    assert tuple(re.findall(r"<li>(.*?)</li>", listed, re.DOTALL)) == CAUTIONS
    for step in (dead_step(3), dead_step(1, set_aged=True), false_step("stretch"), false_step("astray"), fallen_step(rung_out=True)):
        assert step.text.endswith(" ".join(CAUTIONS))
    listed = README.split("## Before you change a string")[1].split("\n\n")[1]
    assert tuple(line.removeprefix("- ") for line in listed.splitlines()) == CAUTIONS

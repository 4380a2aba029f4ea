"""The commands that sentences name, in a book with several harps."""

import re
import shlex
from pathlib import Path

import pytest
from typer.main import get_command

from toneprobe import commands
from toneprobe.cli import app
from toneprobe.commands import PARTS, for_harp, fresh_for, harp_option


def test_the_commands_that_take_a_harp_are_those_of_the_command_line():
    typed = get_command(app).commands
    parts = {name: {part for part in command.commands if part != "show"} for name, command in typed.items() if hasattr(command, "commands")}
    assert parts == {name: set(of) for name, of in PARTS.items() if of}
    assert all(_takes_harp(part) for name in parts for part in typed[name].commands.values())
    assert {name for name, command in typed.items() if _takes_harp(command)} == {name for name, of in PARTS.items() if not of}


def _takes_harp(command):
    return "harp" in {one.name for one in command.params}


@pytest.mark.parametrize(("said", "told"), [
    ("take it back: toneprobe withdraw 5", "take it back: toneprobe withdraw --harp Wren 5"),
    ("'toneprobe sweep' with --fresh-for 3D", "'toneprobe sweep --harp Wren' with --fresh-for 3D"),
    ("toneprobe log correct 3D --fitted none", "toneprobe log correct --harp Wren 3D --fitted none"),
    ("toneprobe log 3D", "toneprobe log --harp Wren 3D"),
    ("add one with 'toneprobe new NAME'", "add one with 'toneprobe new NAME'"),  # it takes none
    ("toneprobe keeps a harp's log", "toneprobe keeps a harp's log"),
])
def test_each_command_in_a_sentence_names_the_harp(said, told):
    assert for_harp(said, harp_option("Wren")) == told and for_harp(said, "") == said


@pytest.mark.parametrize("name", ["Wren", "Grandmother's harp", "a $5 harp", 'the "small" one', "it's \\ 5", "Änne"])
def test_a_shell_reads_the_name_as_it_is(name):
    """By the rules of a shell (POSIX, 2.2.3: between double quotes it reads $, `, \\ and no other)."""
    assert shlex.split(harp_option(name)) == ["--harp", name]


def test_one_option_names_all_strings_but_those_with_a_comma_of_their_own():
    """What `sweep` reads back (its help: several in one option by commas); quoting by POSIX, 2.2."""
    assert fresh_for(["3A"]) == "--fresh-for 3A"
    assert fresh_for(["3A", "3G", "2C"]) == "--fresh-for 3A,3G,2C"
    assert shlex.split(fresh_for(["low E, new", "3A", "the 2nd"])) == ["--fresh-for", "3A,the 2nd", "--fresh-for", "low E, new"]


def test_what_a_string_is_called_stands_quoted_in_every_command_that_is_shown():
    """A string may be called "low E" (README). Only `report/view` names one without, where it is letters and figures alone."""
    bare = re.compile(r"(?:toneprobe |print_command\([^\"\n]*\")[a-z][^'\"\n]*\{[\w.\[\]']*(?:name|string)(?:'\])?\}")
    shown = [path.name for path in sorted(Path(commands.__file__).parent.rglob("*.py")) if bare.search(path.read_text(encoding="utf-8"))]
    assert shown == ["view.py"]

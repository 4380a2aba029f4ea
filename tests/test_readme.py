"""What the README shows runs: every command in its blocks, in its order, on sounds played by the string model."""

import re
import shlex
import shutil
import sys
from pathlib import Path

import pytest
from made_up_input import PICKUP, SPEAKER, ToneStream, fake_sounddevice

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
FOR_DEVELOPERS = ["DEVELOPERS.md", *(f"tests/benchmarks/{name}.md" for name in ("hearing", "verdicts", "settling"))]
SHELL = [line.split("  #")[0].strip() for block in re.findall(r"```sh\n(.*?)```", README, re.DOTALL) for line in block.splitlines()]
COMMANDS = [shlex.split(line)[1:] for line in SHELL if line.startswith("toneprobe ")]
SETUP = "python3 -m venv .venv && .venv/bin/pip install "


def test_the_two_commands_for_a_fresh_machine():
    """What they install is what pyproject.toml offers; `.ci/run` runs the second word for word, `test_demo` the demo of the first."""
    assert [line for line in SHELL if not line.startswith("toneprobe ")] == [
        SETUP + ". && .venv/bin/toneprobe demo", SETUP + "-e '.[test]' && .venv/bin/python -m pytest"]
    assert "README.md" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_every_command_of_the_readme_runs(run, played, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name, source in {"march.flac": played.fresh, "april.flac": played.later, "may.flac": played.whole, "upper.wav": played.part_one,
                         "lower.wav": played.part_two, "june.flac": played.june}.items():
        shutil.copy(source, name)
    monkeypatch.setitem(sys.modules, "sounddevice", fake_sounddevice([SPEAKER, PICKUP], ToneStream))
    assert len(COMMANDS) >= 10
    for command in COMMANDS:
        result = run(*command)
        assert result.exit_code == 0, (command, result.stderr)
    assert (tmp_path / "april.json").exists() and (tmp_path / "everything" / "book.json").exists()


def test_every_command_is_in_the_readme_and_every_one_shown_exists():
    from toneprobe.cli import COMMANDS as PROGRAM

    names = set(PROGRAM)
    assert set(re.findall(r"^\| `toneprobe (\w+)", README, re.MULTILINE)) == names
    assert {command[0] for command in COMMANDS} | {"demo"} == names  # each is shown at work, and so run by a test


def program_options():
    """Of the program: by command and part of it ("" where it has none), the options."""
    from typer.main import get_command

    from toneprobe.cli import app

    found = {}
    for name, one in get_command(app).commands.items():
        for part, command in getattr(one, "commands", {"": one}).items():
            found[name, part] = {option for parameter in command.params for option in (*parameter.opts, *parameter.secondary_opts)}
    return found


def test_every_part_of_a_command_and_every_option_in_the_readme_exists():
    """In the table's rows, whose options are their command's and whose words in backticks are parts of it; in the text; in the examples."""
    known = program_options()
    groups = {name for name, part in known if part}
    of_any = {"--help"}.union(*known.values())
    rows = re.findall(r"^\| `toneprobe (\w+)(.*)$", README, re.MULTILINE)
    for name, row in rows:
        own = {"--help"}.union(*(options for (of, _), options in known.items() if of == name))
        assert set(re.findall(r"`(--[a-z-]+)", row)) <= own, row
        if name in groups:
            parts = re.findall(rf"`(?:{name} )?([a-z]+)[^`]*`", row)
            assert {(name, part) for part in parts} <= known.keys() and len(parts) > 4, row
    for line in [*COMMANDS, *(text.split()[1:] for text in re.findall(r"`(toneprobe [a-z][^`\n]*)`", README))]:
        name, *rest = line
        part = ("show" if not rest or (name, rest[0]) not in known else rest[0]) if name in groups else ""
        assert {word for word in rest if word.startswith("--")} <= known[name, part] | {"--help"}, line
    text = README.partition("## The month's routine")[2]
    assert set(re.findall(r"(?<![\w-])--[a-z][a-z0-9-]*", text)) <= of_any and len(rows) == len({name for name, _ in known})


def test_every_figure_has_its_line_in_the_readme():
    from toneprobe.measure.figure import FIGURES

    rows = " ".join(re.findall(r"^\| (`.+?) \|", README, re.MULTILINE))
    assert not [name for name in FIGURES if f"`{name}`" not in rows]


def test_every_preset_and_the_harp_file_shown_are_real(tmp_path):
    from typer.main import get_command

    from toneprobe.cli import app
    from toneprobe.instrument import load_instrument, preset_names

    harps = []
    for k, block in enumerate(re.findall(r"```toml\n(.*?)```", README, re.DOTALL)):
        (tmp_path / f"mine-{k}.toml").write_text(block, encoding="utf-8")
        harps.append(load_instrument(tmp_path / f"mine-{k}.toml"))
    like, bare = harps
    assert (len(like.strings), like.a4_hz) == (34, 442.0)
    low = bare.strings[-1]
    assert (len(bare.strings), bare.strings[0].name, bare.strings[0].note) == (22, "2C", "C6")  # three octaves and a string, C to C
    assert (low.name, low.note, low.material, low.length_mm, low.gauge_mm, low.mechanism) == ("5C", "C3", "gut", 900.0, 1.6, False)
    assert bare.strings[-2].material == "gut" and bare.strings[13].material == "gut" and bare.strings[12].material == "nylon"  # 4D, 4E
    help_text = next(one.help for one in get_command(app).commands["new"].params if one.name == "preset")
    for shown in (re.search(r"`--preset` \((.+?)\)", README)[1], help_text):
        groups = re.findall(r"(\w+)((?:-\d+(?:, )?)+)", shown)
        assert {f"{kind}-{size}" for kind, sizes in groups for size in re.findall(r"\d+", sizes)} == set(preset_names())


def test_what_the_text_for_developers_cites_is_in_the_file_that_it_names():
    """`room/file.NAME`; of what lies in a room of several files the room is named too, for `partials` alone may be of two."""
    text, package = "\n".join((ROOT / name).read_text(encoding="utf-8") for name in FOR_DEVELOPERS), ROOT / "toneprobe"
    cited = [one for one in re.findall(r"`([\w/]+)\.(\w+)`", text) if one[1] not in ("py", "toml", "md", "json")]
    inside = {path.stem for path in package.glob("*/**/*.py")} - {path.stem for path in package.iterdir()}
    assert not [f"{file}.{name}" for file, name in cited if file in inside]
    found = [(package / f"{file}.py", name) for file, name in cited if "/" in file]
    assert len(found) > 8
    assert not [f"{path}: {name}" for path, name in found if not path.is_file() or name not in path.read_text(encoding="utf-8")]


@pytest.mark.parametrize("name", ["README.md", *FOR_DEVELOPERS])
def test_files_named_in_the_texts_exist(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    named = {one for one in re.findall(r"`([\w./-]+/[\w.-]+\.(?:py|toml|md))`", text)}
    run = set(re.findall(r"tests/benchmarks/\w+\.py", text))
    missing = {one for one in named | run if not (ROOT / one).exists() and not (ROOT / "toneprobe" / one).exists()}
    assert not missing


@pytest.mark.parametrize("name", ["DEVELOPERS.md", "tests/benchmarks/hearing.md"])
def test_each_link_within_a_text_for_developers_has_its_heading(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    anchors = {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in re.findall(r"^#+ (.+)$", text, re.MULTILINE)}
    assert (links := set(re.findall(r"\]\(#(.+?)\)", text))) and links <= anchors


def test_each_chapter_that_the_verdict_model_names_in_italics_is_one_of_its_detail():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    chapters = re.findall(r"^## (.+)$", (ROOT / "tests/benchmarks/verdicts.md").read_text(encoding="utf-8"), re.MULTILINE)
    on_one_page = text.partition("### On one page")[2].partition("## A new string")[0]
    cited = {name for name in re.findall(r"\(\*([A-Z][\w ]+)\*\)", on_one_page)}
    assert cited and not [name for name in cited if not any(chapter.startswith(name) for chapter in chapters)]

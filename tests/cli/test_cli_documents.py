"""What `--json` writes has the schema and the parts that DEVELOPERS.md promises, and the types named there exist."""

import re
from importlib import import_module
from pathlib import Path

import pytest

PAGE = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
SECTION = PAGE.split("## The documents of --json")[1].split("\n## ")[0]
ROWS = re.findall(r"^\| (`.*?`) \| `(toneprobe\..*?)` \| (.*) \|$", SECTION, re.MULTILINE)
TYPED = {"STRING": ["3D"], "KIND": ["moved", "home"], "NUMBER": ["1"]}  # for the capital words of a row
MORE = {"ready": ["--on", "2030-11-08"]}


def promised():
    for commands, schema, parts in ROWS:
        names = re.findall(r"`(\w+)`", parts)
        for command in re.findall(r"`(.*?)`", commands):
            yield pytest.param([word for one in command.split() for word in TYPED.get(one, [one])], schema, names, id=command)


@pytest.mark.parametrize("arguments, schema, parts", tuple(promised()))
def test_each_document_has_the_parts_that_are_promised(run, strict_json, arguments, schema, parts):
    assert run("new", "Wren", "--preset", "lever-22").exit_code == 0
    assert run("restring", "3D", "--why", "dead").exit_code == 0
    assert run("note", "moved", "to the hall").exit_code == 0
    result = run(*arguments, *MORE.get(arguments[0], []), "--json", "-")
    assert result.exit_code == 0, result.stderr
    document = strict_json(result.stdout)
    assert document["schema"] == schema and list(document) == ["schema", "harp", *parts]


def test_every_type_that_is_named_is_there():
    named = re.findall(r"\(`([\w.]+)\.(\w+)`\)", SECTION)
    assert len(named) > 10
    for room, kind in named:
        assert isinstance(getattr(import_module(f"toneprobe.{room}"), kind), type)


def test_every_kind_of_document_has_its_row():
    """The kinds that the commands hand out."""
    written = {kind for path in (Path(__file__).parents[2] / "toneprobe" / "cli").glob("*.py")
               for kind in re.findall(r'hand_out\(json, "(\w+)"', path.read_text(encoding="utf-8"))}
    assert {f"toneprobe.{kind}/1" for kind in written} == {schema for _, schema, _ in ROWS}

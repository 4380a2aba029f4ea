"""What a player must install is what the program imports, and nothing else: what only tests need stands in the extra `test`."""

import ast
import re
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def named(requirements: list[str]) -> set[str]:
    return {re.match(r"[\w.-]+", requirement)[0].lower().replace("-", "_") for requirement in requirements}


def imported(folder: Path) -> set[str]:
    """Top names of all modules that the files of a folder import, wherever in them."""
    names: set[str] = set()
    for path in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names |= {one.name.split(".")[0] for one in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                names.add(node.module.split(".")[0])
    return names - set(sys.stdlib_module_names) - {"toneprobe"}


def test_a_player_installs_what_the_program_imports_and_no_more():
    extras = named(PROJECT["optional-dependencies"]["record"]) | named(PROJECT["optional-dependencies"]["postgres"])
    assert imported(ROOT / "toneprobe") - extras == named(PROJECT["dependencies"])
    assert len(imported(ROOT / "toneprobe")) > 10  # the walk saw the imports


def test_the_reference_libraries_come_with_the_tests():
    """They are what the program is held against in tests and benchmarks."""
    references = {"librosa", "praat_parselmouth", "essentia", "pyroomacoustics", "lifelines", "scikit_learn"}
    assert references <= named(PROJECT["optional-dependencies"]["test"])
    assert not references & named(PROJECT["dependencies"])


def test_every_requirement_names_the_least_version_that_was_tried():
    """soundfile 0.12 cannot write the compressed clips of a page (bitrate_mode came with 0.13; its release notes)."""
    bare = [one for one in PROJECT["dependencies"] if not re.fullmatch(r"[\w.-]+>=\d+(\.\d+)*", one)]
    assert not bare
    assert "soundfile>=0.13" in PROJECT["dependencies"]

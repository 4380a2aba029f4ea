"""The house: every room in its place, imports only upwards, help that loads nothing heavy, a boring top level, and the linter."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "toneprobe"
HEAVY = {"numpy", "scipy", "librosa", "matplotlib", "sqlalchemy", "sklearn", "soundfile", "av", "jinja2", "numba"}
VAGUE = {"utils", "util", "common", "core", "helper", "helpers", "manager", "data", "info", "misc"}
IN_REPOSITORY = pytest.mark.skipif(not (ROOT / ".git").exists(), reason="an unpacked archive: git tells nothing of it")
ALLOWED_ON_TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "toneprobe", "tests", "fixtures", "reports"}


def rooms_by_row():
    """The table of rooms in DEVELOPERS.md, from top to bottom."""
    _, _, table = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("| rooms | what for |\n|---|---|\n")
    rows = re.findall(r"^\| (.+?) \|", table.partition("\n\n")[0], re.MULTILINE)
    return [re.findall(r"`(\w+)`", row) for row in rows]


def room_of(path):
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports_of(path):
    """Rooms that a file imports, wherever in it."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are written in full"
            if node.module == "toneprobe":
                yield from (name.name for name in node.names if name.name != "__version__")
            elif (node.module or "").startswith("toneprobe."):
                yield node.module.split(".")[1]
        elif isinstance(node, ast.Import):
            assert not [name.name for name in node.names if name.name.startswith("toneprobe")], f"{path}: from toneprobe.x import y"


FILES = sorted(path for path in PACKAGE.rglob("*.py") if path.name != "__init__.py" or path.parent != PACKAGE)


def test_every_room_is_in_the_table_once():
    listed = [room for row in rooms_by_row() for room in row]
    assert sorted(listed) == sorted({room_of(path) for path in FILES})


def test_rooms_import_only_rooms_above_them():
    row_of = {room: place for place, row in enumerate(rooms_by_row()) for room in row}
    seen = {(room_of(path), room) for path in FILES for room in imports_of(path)}
    assert not {f"{one} imports {other}" for one, other in seen if other != one and row_of[other] >= row_of[one]}
    assert len({room for _, room in seen}) > 15  # the walk saw the imports


FRONTS = [path for path in FILES if path.name == "__init__.py" and re.search(r"\n    \w+\.py", path.read_text(encoding="utf-8"))]


@pytest.mark.parametrize("front", FRONTS, ids=lambda front: front.parent.name)
def test_the_front_of_a_room_lists_every_file_and_where_it_says_so_in_the_order_of_their_imports(front):
    text = front.read_text(encoding="utf-8")
    listed = [name for name in re.findall(r"(?<![/\w])(\w+)\.py", text) if "step_to" not in name]
    files = {path.stem: path for path in front.parent.glob("*.py") if path != front and "step_to" not in path.stem}
    assert len(FRONTS) > 10 and set(listed) == set(files)
    if "imports only files above" in text:
        imported = re.compile(rf"^from toneprobe\.{front.parent.name}\.(\w+) import", re.MULTILINE)
        pairs = [(one, other) for one in files for other in imported.findall(files[one].read_text(encoding="utf-8"))]
        assert pairs and not {f"{one} imports {other}" for one, other in pairs if listed.index(other) >= listed.index(one)}


def test_a_name_is_imported_from_the_file_that_makes_it():
    """Or from the front of its room: in a third file a reader looks for it in vain."""
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in FILES}
    on_top = {path: {name.asname or name.name for node in tree.body if isinstance(node, ast.ImportFrom) for name in node.names}
              for path, tree in trees.items() if path.name != "__init__.py"}
    asked = [(path, ROOT / f"{(node.module or '').replace('.', '/')}.py", name.name) for path, tree in trees.items()
             for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) for name in node.names]
    second_hand = {f"{path.relative_to(PACKAGE)}: {name}" for path, source, name in asked if name in on_top.get(source, ())}
    assert len(asked) > 1000 and not second_hand


def test_only_the_book_knows_sql():
    names_sql = re.compile(r"^\s*(from|import) (sqlalchemy|sqlite3)", re.MULTILINE)
    knowing = {room_of(path) for path in FILES if names_sql.search(path.read_text(encoding="utf-8"))}
    assert knowing == {"book"}


def test_files_are_named_after_things():
    assert not [path for path in FILES if path.stem in VAGUE]


def modules_after(*arguments):
    """All modules loaded once the program has answered."""
    code = ("import sys, runpy; sys.argv = ['toneprobe', *sys.argv[1:]]\nfrom toneprobe.cli import main\n"
            "try:\n    main()\nexcept SystemExit as end:\n    print(end.code or 0, *sys.modules, file=sys.stderr)")
    done = subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True)
    status, *modules = done.stderr.split()
    assert status == "0", done.stderr
    return modules


def loaded_with(module, seen):
    """All that a module loads at once, by the imports on top of its files and of their rooms' fronts; not what functions load."""
    parts = module.split(".")
    for name in (".".join(parts[:n]) for n in range(1, len(parts) + 1)):
        path = ROOT / name.replace(".", "/")
        path = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
        if name in seen or not path.exists():
            continue
        seen.add(name)
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.Import):
                seen.update(one.name for one in node.names)
            elif isinstance(node, ast.ImportFrom):
                for one in {node.module, *(f"{node.module}.{one.name}" for one in node.names)}:
                    loaded_with(one, seen)
                seen.add(node.module)
    return seen


def test_what_only_looks_into_the_book_loads_nothing_that_hears_judges_or_draws():
    """`log`, `spares`, `note`, `export`, `ready`, `settle` without a recording and `restring` before the next sweep answer in half a second
    of the processor; with all that hears it is twice that."""
    loaded = set()
    for module in ("harp_state", "exchange.life", "book.export", "report.for_harp", "upkeep.engagement", "upkeep.checked",
                   "upkeep.string_change", "upkeep.log_entries"):
        loaded_with(f"toneprobe.{module}", loaded)
    assert not {name.split(".")[0] for name in loaded} & {"scipy", "matplotlib", "jinja2", "av"}
    assert {"toneprobe.book.schema", "sqlalchemy", "rich.console"} <= loaded  # the walk saw the imports


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["sweep", "--help"], ["measure", "--help"], ["demo", "--help"]])
def test_help_loads_nothing_heavy(arguments):
    loaded = {module.split(".")[0] for module in modules_after(*arguments)}
    assert "typer" in loaded and not loaded & HEAVY


def test_every_command_has_help_within_80_columns():
    from typer.testing import CliRunner

    from toneprobe.cli import COMMANDS, app

    for command in ("", *COMMANDS):
        result = CliRunner().invoke(app, [*command.split(), "--help"], env={"COLUMNS": "80"})
        assert result.exit_code == 0 and max(map(len, result.stdout.splitlines())) <= 80, command
        assert command in result.stdout and len(result.stdout.splitlines()) > 5


@IN_REPOSITORY
def test_top_level_is_boring():
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, check=True, capture_output=True, text=True).stdout.split("\n")
    top = {path.split("/")[0] for path in tracked if path and not path.startswith(".")}
    assert top <= ALLOWED_ON_TOP and {"README.md", "DEVELOPERS.md", "pyproject.toml", "toneprobe", "tests"} <= top


@IN_REPOSITORY
def test_nothing_tracked_is_large():
    tracked = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, check=True, capture_output=True, text=True).stdout.split("\0")
    sizes = {path: (ROOT / path).stat().st_size for path in tracked if path and (ROOT / path).exists()}
    assert len(sizes) > 50
    assert not {path: size for path, size in sizes.items() if size > (300_000 if path.startswith("fixtures/") else 600_000)}


def test_linter_is_content():
    done = subprocess.run([sys.executable, "-m", "ruff", "check", "--no-cache", "--output-format", "concise", "."], cwd=ROOT,
                          capture_output=True, text=True)
    assert done.returncode == 0, done.stdout

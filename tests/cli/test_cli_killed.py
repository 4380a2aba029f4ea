"""A change of the book and the verdicts that follow from it: killed at any commit all of it is kept or none, and repeating it finishes it.

What is expected is derived here: of one change there are two states of the book, before it and after it, and no third.
"""

import shutil
import sqlite3
import subprocess
import sys
from contextlib import contextmanager

import pytest
from book_tables import tables_of
from sqlalchemy import Engine, event

STAMPS = {"created_at", "clip_folder", "clip"}  # by the clock, or drawn
NOTEBOOK = "string,from,to,why\n3D,2023-01-05,2024-04-01,dead\n3D,2024-04-01,,\n"
CHANGES = {
    "restring": ("restring", "3D", "--date", "2024-06-01", "--why", "dead", "--yes"),
    "withdraw": ("withdraw", "1", "--yes"),
    "log correct": ("log", "correct", "3D", "--fitted", "2024-04-01"),
    "log withdraw": ("log", "withdraw", "3C"),
    "log import": ("log", "import", "NOTEBOOK", "--yes"),
    "fresh after all": ("sweep", "LATER", "--fresh-for", "3D"),
    "another fresh sweep": ("sweep", "JUNE", "--date", "2024-03-04", "--fresh"),
    "settle": ("settle", "3C", "JUNE", "--date", "2024-09-03"),
}


class Killed(BaseException):
    """What no command catches."""


@contextmanager
def killed_at(number):
    """Die at that commit of a transaction that writes, the first being 1, before it is kept. Yields how often one was begun."""
    seen = []

    def at_commit(connection):
        if connection.get_execution_options().get("toneprobe_alone"):
            seen.append(1)
            if len(seen) == number:
                raise Killed

    event.listen(Engine, "commit", at_commit)
    try:
        yield seen
    finally:
        event.remove(Engine, "commit", at_commit)


def rows(book):
    with tables_of(book) as direct:
        direct.row_factory = sqlite3.Row
        names = [name for (name,) in direct.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%'")]
        whole = {name: [dict(row) for row in direct.execute(f"SELECT * FROM {name}")] for name in names}
    return {name: [{key: item for key, item in row.items() if key not in STAMPS} for row in found] for name, found in whole.items()}


@pytest.mark.parametrize("change", CHANGES)
def test_a_change_and_its_verdicts_are_kept_together_or_not_at_all(run, kept, played, tmp_path, change):
    notebook, book, start = tmp_path / "notebook.csv", tmp_path / "book", tmp_path / "start"
    notebook.write_text(NOTEBOOK)
    given = {"NOTEBOOK": notebook, "LATER": played.later, "JUNE": played.june}
    command = [given.get(one, one) for one in CHANGES[change]]
    shutil.copytree(kept, book)
    assert run("restring", "3C", "--date", "2024-09-01", "--why", "dead").exit_code == 0
    shutil.copytree(book, start)
    before = rows(book)
    with killed_at(None) as commits:
        assert run(*command).exit_code == 0
    finished, n_folders = rows(book), len(list(book.glob("plucks/*")))
    assert finished != before and commits
    for number in range(1, len(commits) + 1):
        shutil.rmtree(book)
        shutil.copytree(start, book)
        with killed_at(number), pytest.raises(Killed):
            run(*command)
        assert rows(book) in (before, finished), f"killed at commit {number} of {len(commits)}"
        assert run(*command).exit_code == 0
        assert (rows(book), len(list(book.glob("plucks/*")))) == (finished, n_folders)  # no sounds are left of what was not kept


DIES_WRITING = """
import os, sys
from toneprobe.book import export
export._write_json = lambda connection, file: os._exit(9)  # as a killed program ends: nothing is tidied up
from toneprobe.cli import main
sys.argv = ["toneprobe", "export", sys.argv[1], "--book", sys.argv[2]]
main()
"""


def test_what_a_killed_export_left_is_named_by_the_next_one_and_nothing_is_deleted(run, tmp_path):
    """Beside it lies a folder of her own that is called so too: it has no marker, and nothing is said of it."""
    assert run("new", "Wren", "--preset", "lever-22").exit_code == 0
    own = tmp_path / "toneprobe-export-spring0" / "my only copy.txt"
    own.parent.mkdir()
    own.write_text("x")
    died = subprocess.run([sys.executable, "-c", DIES_WRITING, tmp_path / "out", tmp_path / "book"], capture_output=True, text=True)
    (left,) = {*tmp_path.glob("toneprobe-export-*")} - {own.parent}
    assert died.returncode == 9 and not (tmp_path / "out").exists()
    told = run("export", tmp_path / "out")
    assert told.exit_code == 0 and (tmp_path / "out" / "book.json").is_file()
    assert f"stopped half-way left this behind: {left}. It may be deleted" in told.stdout and str(own.parent) not in told.stdout
    assert own.read_text() == "x" and left.is_dir()

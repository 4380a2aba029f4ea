"""A book with two harps: whatever is said to be typed next works as it stands."""

import re
import shlex
import shutil

import pytest
from book_tables import tables_of

from toneprobe.commands import PARTS

NAME = "Grandmother's harp"
COMMAND = re.compile("|".join(f"toneprobe {name}(?: (?:{'|'.join(parts)}))?(?![a-z])" if parts else f"toneprobe {name}(?![a-z])"
                              for name, parts in PARTS.items()))


@pytest.fixture
def book(kept, tmp_path, run):
    """The kept book, with a second harp, whose name a shell must be told with care."""
    shutil.copytree(kept, tmp_path / "book")
    said = run("new", NAME, "--preset", "lever-22").stdout
    assert f'toneprobe sweep --harp "{NAME}" RECORDING' in " ".join(said.split())
    return tmp_path / "book"


def named(text, harp):
    """How many commands are named, each of which must say for which harp it is."""
    flat = " ".join(text.replace("&#34;", '"').split())
    ends = [found.end() for found in COMMAND.finditer(flat)]
    assert all(flat[end:].startswith(f" --harp {harp}") for end in ends), [flat[end - 20:end + 30] for end in ends]
    return len(ends)


@pytest.mark.parametrize(("arguments", "least"), [
    (("restring", "3A", "--why", "broke", "--date", "2026-06-10"), 2), (("settle", "--all"), 1), (("spares",), 1), (("spares", "check"), 1),
    (("spares", "add", "3A"), 0), (("spares", "order"), 0), (("ready", "--on", "2030-06-01"), 1), (("log",), 0), (("habits",), 0),
])
def test_every_command_that_is_named_next_says_for_which_harp(run, book, arguments, least):
    result = run(*arguments, "--harp", NAME)
    assert result.exit_code == 0, result.stderr
    assert named(result.stdout, f'"{NAME}"') >= least


def test_what_is_said_after_a_change_works_as_it_stands(run, book):
    said = run("restring", "3A", "--date", "2026-06-10", "--harp", NAME).stdout
    back = re.search("toneprobe (log withdraw .*)", said)
    assert "choose one with --harp" in run("log", "withdraw", "3A").stderr
    assert run(*shlex.split(back[1])).exit_code == 0


def test_a_sweep_its_page_and_what_is_refused_name_it_too(run, book, tmp_path):
    page = tmp_path / "sweep.html"
    result = run("report", "--sweep", "2", "--out", str(page), "--harp", "Wren")
    assert result.exit_code == 0, result.stderr
    assert min(named(text, "Wren") for text in (result.stdout, page.read_text(encoding="utf-8"))) >= 1
    assert named(run("restring", "3D", "--spare", "7", "--harp", "Wren").stderr, "Wren") == 1  # no such spare: see 'toneprobe spares'


@pytest.mark.parametrize("page", [["--technician"], ["--season"], ["--string", "3D"]])
def test_harps_swept_on_one_day_have_pages_of_their_own(run, book, page):
    """A technician's sheets of a morning: the second must not lie where the first lay. The other harp: the same sweeps under its name."""
    shutil.rmtree(book / "reports")
    for name in ("Wren", "Lark"):
        with tables_of(book) as tables:
            tables.execute("UPDATE harps SET name = ? WHERE id = 1", (name,))
        assert run("report", *page, "--harp", name).exit_code == 0
    assert sorted(one.name.partition("-")[0] for one in (book / "reports").iterdir()) == ["Lark", "Wren"]


def test_the_one_harp_of_a_book_need_not_be_named(run, kept, tmp_path):
    shutil.copytree(kept, tmp_path / "book")
    assert "--harp" not in run("report", "--out", str(tmp_path / "sweep.html")).stdout + (tmp_path / "sweep.html").read_text("utf-8")

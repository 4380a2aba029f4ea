"""Recordings of a small harp, played by the string model, so that the truth is known; and the program, run in this process."""

import gc
import hashlib
import json
import os
import shutil
import sqlite3
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import pytest
import soundfile
from drawn_once import Drawn
from heard_once import Remembered
from kept_results import Results
from sqlalchemy import Engine, event
from statements_once import engines_of_one_kind
from threadpoolctl import threadpool_limits
from typer.main import get_command
from typer.testing import CliRunner

from toneprobe.book.opening import create_book, open_book
from toneprobe.cli import SELDOM, app
from toneprobe.instrument import load_instrument
from toneprobe.synth.faults import age, uneven
from toneprobe.synth.recorder import Recorder
from toneprobe.synth.string_model import string_models
from toneprobe.synth.sweep import Player, render_sweep

NOTES = ("C6", "B5", "A5", "G5", "F5", "E5", "D5", "C5", "B4", "A4", "G4", "F4")
NAMES = ("2C", "2B", "2A", "2G", "2F", "3E", "3D", "3C", "3B", "3A", "3G", "3F")
DEAD, FALSE = "3D", "3G"
LONG = ("test_demo.py", "test_real_plucks.py", "test_whole_sweep.py", "test_cli_settle.py", "test_readme.py", "test_cli_sweep_fresh.py",
        "test_opening.py", "test_browser_page.py", "test_year.py", "test_report_pages.py", "test_cli_sweep_together.py",
        "test_hum_removal.py", "test_cli_terminal.py", "test_judge.py", "test_report_page.py", "test_scores.py", "test_beats.py",
        "test_cli_sweep.py", "test_workers.py", "test_trend.py", "test_cli_life.py", "test_book_power.py", "test_settled_days.py",
        "test_cli_restring.py", "test_cli_streams.py", "test_report_figures.py", "test_checkup.py", "test_model_sweep.py",
        "test_together.py", "test_cli_killed.py", "test_reference_libraries.py")


def pytest_collection_modifyitems(items):
    """The files that take longest come first, the longest of them foremost, so that no process waits for another's last one."""
    items.sort(key=lambda item: LONG.index(item.path.name) if item.path.name in LONG else len(LONG))


def pytest_sessionstart():
    gc.disable()  # what is collected stays


def pytest_collection_finish():
    """The tests themselves, half a million things, are not gone through again each time that rubbish is looked for: a tenth of the time."""
    gc.freeze()
    gc.set_threshold(SELDOM)  # as in the program
    gc.enable()


@pytest.fixture(scope="session", autouse=True)
def one_thread():
    """Linear algebra has one thread, as in the program: with more the tests take twice as long."""
    with threadpool_limits(limits=1):
        yield


@pytest.fixture(scope="session")
def results(tmp_path_factory):
    """What the test processes of this run keep for each other."""
    own = tmp_path_factory.getbasetemp()
    return Results((own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "results")


@pytest.fixture(scope="session", autouse=True)
def heard_once(results):
    """The command line hears a sound once, however many tests hand it in."""
    remembered = Remembered(results)
    with pytest.MonkeyPatch.context() as patch:
        for place in ("toneprobe.hearing.hear", "toneprobe.upkeep.pitch_check.hear"):
            patch.setattr(place, remembered.hear)
        yield


@pytest.fixture(scope="session", autouse=True)
def drawn_once(results):
    """A page's pictures are drawn once, on however many pages they stand."""
    with pytest.MonkeyPatch.context() as patch:
        Drawn(results).put_in_place(patch)
        yield


@pytest.fixture(scope="session", autouse=True)
def commands_made_once():
    """Of the commands' declarations typer makes the parser anew for each of a thousand runs; here once by a test process."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("typer.testing._get_command", cache(get_command), raising=False)
        yield


@pytest.fixture(scope="session", autouse=True)
def statements_made_once():
    """A statement for a book is written out once by a test process."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("toneprobe.book.connect.create_engine", engines_of_one_kind())
        yield


@pytest.fixture(scope="session", autouse=True)
def no_wait_for_the_disk():
    """Books of tests need to outlive no power failure: only other processes wait for the disk, as in `book/test_book_power`."""
    def hurry(connection, _):
        if isinstance(connection, sqlite3.Connection):
            connection.execute("PRAGMA synchronous = OFF")

    event.listen(Engine, "connect", hurry)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("toneprobe.book.disk.os.fsync", lambda handle: None)
        yield
    event.remove(Engine, "connect", hurry)


@dataclass(frozen=True)
class Played:
    """Recordings of one small harp of twelve strings, two plucks each, and what is true of them."""

    harp_file: Path
    fresh: Path
    later: Path  # months on: DEAD rings a third as long, FALSE is uneven
    whole: Path  # a healthy sweep once more
    part_one: Path  # the upper half of a healthy sweep
    part_two: Path  # the lower half
    june: Path  # 3E, 3D and 3C once more
    truth: tuple[tuple[str, float], ...]  # of `fresh`: string, onset in s
    pitch_hz: dict[str, float]
    names: tuple[str, ...] = NAMES
    dead: str = DEAD
    false: str = FALSE


@pytest.fixture(scope="session")
def played(results):
    folder = results.folder_of("played", play)
    harp = load_instrument(folder / "small-harp.toml")
    files = ("small-harp.toml", "fresh.flac", "later.flac", "whole.flac", "part one.wav", "part two.wav", "june.flac")
    truth = tuple((string, onset_s) for string, onset_s in json.loads((folder / "truth.json").read_text(encoding="utf-8")))
    return Played(*(folder / name for name in files), truth, {spec.name: spec.expected_hz for spec in harp.strings})


def play(folder):
    """Every recording of the small harp."""
    harp_file = folder / "small-harp.toml"
    rows = "".join(f'[[strings]]\nname = "{name}"\nnote = "{note}"\nmaterial = "nylon"\n' for name, note in zip(NAMES, NOTES, strict=True))
    harp_file.write_text(f'name = "small harp"\na4_hz = 440.0\n{rows}', encoding="utf-8")
    harp = load_instrument(harp_file)
    healthy = string_models(harp, seed=5)
    spoilt = {**healthy, DEAD: age(healthy[DEAD], 0.33), FALSE: uneven(healthy[FALSE], 12.0)}
    player = Player(n_each=2, gap_s=lambda spec: 1.3, lead_s=1.5)
    recorder = Recorder(noise_db=-75.0, gain_db=6.0, room_rt60_s=0.25)  # a small dry room: these strings ring for a second

    def sweep(name, models, seed, **how):
        played = render_sweep(harp, models, player=replace(player, **how), recorder=recorder, seed=seed)
        soundfile.write(folder / name, played.samples, played.rate_hz, subtype="PCM_24")
        return played.truth

    truth = sweep("fresh.flac", healthy, 1)
    (folder / "truth.json").write_text(json.dumps(truth), encoding="utf-8")
    sweep("later.flac", spoilt, 2)
    sweep("whole.flac", healthy, 6)
    sweep("part one.wav", healthy, 3, order=NAMES[:6])
    sweep("part two.wav", healthy, 4, order=NAMES[6:])
    sweep("june.flac", healthy, 7, order=("3E", "3D", "3C"))


@pytest.fixture
def run(tmp_path, monkeypatch):
    """Run a command line; the book lies in the test's own folder. Gives the result, with `exit_code`, `stdout` and `stderr`."""
    monkeypatch.setenv("TONEPROBE_BOOK", str(tmp_path / "book"))
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("TONEPROBE_DEBUG", "")  # so that what --debug sets ends with the test
    return run_program


def run_program(*arguments):
    return CliRunner().invoke(app, [str(one) for one in arguments])


@pytest.fixture
def begun(run, results, tmp_path):
    """Gives the test's own book, begun by these command lines, which are run once by a run of the tests."""
    def begin(*lines):
        def make(folder):
            with pytest.MonkeyPatch.context() as patch:
                patch.setenv("TONEPROBE_BOOK", str(folder / "book"))
                for line in lines:
                    assert (result := run(*line)).exit_code == 0, result.stderr

        name = hashlib.sha256(repr(lines).encode()).hexdigest()
        return Path(shutil.copytree(results.folder_of(name, make) / "book", tmp_path / "book"))

    return begin


@pytest.fixture
def empty_book(results, tmp_path):
    """The test's own book, without a harp."""
    made = results.folder_of("empty", lambda folder: create_book(folder / "book"))
    return open_book(shutil.copytree(made / "book", tmp_path / "book"))


@pytest.fixture(scope="session")
def kept(played, results, tmp_path_factory):
    """A book with the small harp, its fresh sweep (1) and the later one (2); tests copy it before they change it."""
    def keep(folder):
        for arguments in (["new", "Wren", "--from", played.harp_file],
                          ["sweep", played.fresh, "--fresh", "--date", "2024-03-02"],
                          ["sweep", played.later, "--date", "2024-09-07"]):
            result = run_program(*arguments, "--book", folder / "book")
            assert result.exit_code == 0, result.stderr

    folder = tmp_path_factory.mktemp("kept") / "book"
    return Path(shutil.copytree(results.folder_of("kept", keep) / "book", folder))


@pytest.fixture(scope="session")
def strict_json():
    """Read JSON that holds no NaN and no infinities."""

    def refuse(word):
        raise AssertionError(f"{word} in JSON")

    return lambda text: json.loads(text, parse_constant=refuse)

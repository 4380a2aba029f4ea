"""A program that dies at any moment leaves every sweep in the book whole or not at all, and every upgrade done or not begun.

One child process forks a victim for each moment: before each statement, around each commit, each time a file is opened, synced or
removed. The victim kills itself there with SIGKILL; then the book is opened and looked through.
"""

import json
import subprocess
import sys
from pathlib import Path

import pytest

PROGRAM = """
import gc, importlib.util, json, os, shutil, signal, sys
from pathlib import Path
sys.path.append(sys.argv[4])
from sqlalchemy import Engine, event, text
import soundfile
from statements_once import engines_of_one_kind
from toneprobe.book import connect
from toneprobe.book.check import check_book
from toneprobe.book.clips import read_clip
from toneprobe.book.connect import connect_file
from toneprobe.book.migrate import migrate, schema_version
from toneprobe.book.opening import create_book, open_book
from toneprobe.book.read import conditions_of, plucks_of, sweeps
from toneprobe.book.schema import SCHEMA
from toneprobe.book.stringing import add_harp
from toneprobe.book.write import store_or_find_sweep

spec = importlib.util.spec_from_file_location("made", sys.argv[3])
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)
room, action = Path(sys.argv[1]), sys.argv[2]
countdown, seen = None, []

def moment(name):
    global countdown
    if countdown is not None:
        seen.append(name)
        countdown -= 1
        if countdown < 0:
            os.kill(os.getpid(), signal.SIGKILL)

def audit(name, arguments):
    if name in ("open", "os.mkdir", "os.remove", "os.rmdir", "os.rename") and str(room) in str(arguments[0]):
        moment(name)

def synced(handle, sync=os.fsync):
    moment("before fsync")
    sync(handle)
    moment("after fsync")

def replaced(old, new, replace=os.replace):
    moment("before rename")
    replace(old, new)
    moment("after rename")

connect.create_engine = engines_of_one_kind()
os.fsync = synced
os.replace = replaced
sys.addaudithook(audit)
event.listen(Engine, "before_cursor_execute", lambda *_: moment("statement"))
event.listen(Engine, "commit", lambda *_: moment("commit"))

def add_table(connection):
    connection.execute(text("CREATE TABLE later (id INTEGER PRIMARY KEY)"))
    connection.execute(text("INSERT INTO later VALUES (1)"))

def act(folder):
    if action == "store":
        later = made.sweep(1, letters="b")
        store_or_find_sweep(open_book(folder), later, today=later.date)
    else:
        migrate(connect_file(folder), steps={SCHEMA: add_table}, target=SCHEMA + 1)

def outcome(folder):
    if action == "upgrade":
        book = connect_file(folder)
        version = schema_version(book)
        assert check_book(book) == ()
        with book.engine.connect() as connection:
            tables = connection.exec_driver_sql("SELECT count(*) FROM sqlite_master WHERE name = 'later'").scalar()
            assert tables == version - SCHEMA
            assert not tables or connection.exec_driver_sql("SELECT count(*) FROM later").scalar() == 1
        assert version == SCHEMA or len(list(book.copies.glob("*.sqlite"))) >= 1
        act(folder)
        assert schema_version(book) == SCHEMA + 1
        return version - SCHEMA
    book = open_book(folder)
    assert check_book(book) == ()
    kept = sweeps(book, 1)
    for sweep in kept:
        plucks = plucks_of(book, sweep.id)
        assert len(plucks) == len(conditions_of(book, sweep.id)) == 3
        for place, pluck in enumerate(plucks):
            assert (read_clip(book.folder, pluck).samples == made.clip(place).samples).all()
    files = sorted(str(path.relative_to(folder)) for path in book.plucks.rglob("*.*"))
    assert files == sorted(pluck.clip for sweep in kept for pluck in plucks_of(book, sweep.id)), files
    assert len(list(book.plucks.iterdir())) == len(kept)
    act(folder)
    assert len(sweeps(book, 1)) == 2
    return len(kept) - 1

template = room / "template"
add_harp(create_book(template), "Linnet", made.INSTRUMENT)
first = made.sweep(1)
store_or_find_sweep(open_book(template), first, today=first.date)
outcomes, died, number = [], True, 0
gc.freeze()  # what every victim has is gone through by none
while died:
    folder = room / f"book-{number}"
    shutil.copytree(template, folder)
    victim = os.fork()
    if victim == 0:
        countdown = number
        act(folder)
        countdown = None
        (room / "moments").write_text(json.dumps(seen))
        os._exit(0)
    status = os.waitpid(victim, 0)[1]
    died = os.WIFSIGNALED(status)
    assert died or os.WEXITSTATUS(status) == 0, status
    outcomes.append(outcome(folder))
    shutil.rmtree(folder)
    number += 1
print(json.dumps({"outcomes": outcomes, "moments": json.loads((room / "moments").read_text())}))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="needs fork and SIGKILL")
@pytest.mark.parametrize(
    "action, must_pass", [("store", {"before fsync": 8, "statement": 12, "commit": 2}), ("upgrade", {"statement": 4, "commit": 2})]
)
def test_dying_at_any_moment_leaves_the_book_whole(tmp_path, action, must_pass):
    doubles = Path(__file__).parents[1] / "doubles"
    command = [sys.executable, "-c", PROGRAM, str(tmp_path), action, str(Path(__file__).with_name("conftest.py")), str(doubles)]
    ran = subprocess.run(command, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr
    found = json.loads(ran.stdout)
    assert len(found["outcomes"]) == len(found["moments"]) + 1
    for name, n_times in must_pass.items():
        assert found["moments"].count(name) >= n_times, found["moments"]
    # Nothing up to some moment, everything from there on; both must have been seen.
    assert found["outcomes"] == sorted(found["outcomes"]) and set(found["outcomes"]) == {0, 1}


def test_clips_are_on_the_disk_before_the_sweep_is_committed(book, harp, made, monkeypatch):
    import os

    from sqlalchemy import event
    from stored_sweep import store_sweep

    order = []
    sync = os.fsync
    monkeypatch.setattr(os, "fsync", lambda handle: (order.append(os.readlink(f"/proc/self/fd/{handle}")), sync(handle)))
    event.listen(book.engine, "commit", lambda connection: order.append("commit"))
    store_sweep(book, made.sweep(harp.id))
    synced = order[: order.index("commit")]
    assert sum(name.endswith(".flac") for name in synced) == 3
    assert synced[-3:] == [str(next(book.plucks.iterdir())), str(book.plucks), str(book.folder)]

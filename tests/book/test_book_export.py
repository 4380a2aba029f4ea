"""A book can be read without the tool: its export with the standard library's csv and json, its database with sqlite3."""

import csv
import json
from dataclasses import asdict
from datetime import date
from pathlib import Path

import pytest
import soundfile
from book_tables import tables_of
from stored_sweep import store_sweep

from toneprobe.audio import Remark
from toneprobe.audio.remark import SINGLE_SOUNDS
from toneprobe.book.diary import add_event
from toneprobe.book.export import export_book, unfinished_exports
from toneprobe.book.read import plucks_of
from toneprobe.book.stringing import add_harp
from toneprobe.errors import BookError
from toneprobe.events import Event
from toneprobe.spreadsheet import from_text

NAME = 'two\nlines, "quoted"; 🪕'


@pytest.fixture
def filled(book, made):
    harp = add_harp(book, NAME, made.instrument)
    return store_sweep(book, made.sweep(harp.id, unheard=("4B",), is_fresh=True))


def rows_of(path):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_csv_holds_every_table_row_and_figure(book, filled, made, tmp_path):
    export_book(book, tmp_path / "out")
    tables = {path.stem: rows_of(path) for path in (tmp_path / "out").glob("*.csv")}
    assert {name: len(rows) for name, rows in tables.items() if name in COUNTS} == COUNTS
    assert tables["harps"][0]["name"] == NAME and tables["sweeps"][0]["date"] == "2024-05-01"
    pluck, truth = tables["plucks"][2], made.measurement("4C", 2.25)
    assert (pluck["string"], float(pluck["pitch_hz"]), float(pluck["t60_s_se"])) == ("4C", truth.pitch_hz.value, truth.t60_s.se)
    assert pluck["beat_hz"] == "" and json.loads(pluck["measurement"])["beat_hz"]["reason"] == "no beat"


COUNTS = {"harps": 1, "fittings": 3, "recordings": 1, "sweeps": 1, "sweep_recordings": 1, "plucks": 3, "conditions": 3, "unheard": 1}


def test_json_holds_the_measurements_exactly(book, filled, made, tmp_path):
    export_book(book, tmp_path / "out")
    whole = json.loads((tmp_path / "out" / "book.json").read_text(encoding="utf-8"))
    assert whole["schema"] == "toneprobe.book/1" and COUNTS.items() <= {k: len(v) for k, v in whole["tables"].items()}.items()
    truth = json.loads(json.dumps(asdict(made.measurement("4C", 2.25))))
    assert whole["tables"]["plucks"][2]["measurement"] == truth
    assert whole["tables"]["sweeps"][0]["instrument"]["strings"][2]["gauge_mm"] == 1.27


def test_what_was_remarked_on_a_sweep_stands_there_as_sentences_and_with_its_kinds(book, made, tmp_path):
    """`warnings` are the sentences alone, as they have been since schema 1."""
    harp = add_harp(book, NAME, made.instrument)
    store_sweep(book, made.sweep(harp.id, remarks=(Remark("Hum."), Remark("5D rang along.", SINGLE_SOUNDS, ("4C",), "5D"))))
    export_book(book, tmp_path / "out")
    (sweep,) = json.loads((tmp_path / "out" / "book.json").read_text(encoding="utf-8"))["tables"]["sweeps"]
    assert sweep["warnings"] == ["Hum.", "5D rang along."] == json.loads(rows_of(tmp_path / "out" / "sweeps.csv")[0]["warnings"])
    assert sweep["remarks"][1] == {"text": "5D rang along.", "kind": SINGLE_SOUNDS, "lost": ["4C"], "along": "5D", "as_sweep": None}


def test_what_was_typed_is_no_formula_in_csv_and_reads_back_as_it_was(book, filled, tmp_path):
    """A cell that starts with one of = + - @ is reckoned by spreadsheets (common practice: an apostrophe keeps it text)."""
    typed = ['=HYPERLINK("http://x")', "+1 cent", "-1+1", "@SUM(1)", "'=1", "'", "damp: 30 %"]
    for note in typed:
        add_event(book, filled.harp_id, Event(date(2024, 5, 2), "other", note))
    export_book(book, tmp_path / "out")
    written = [row["note"] for row in rows_of(tmp_path / "out" / "events.csv")]
    assert [note[0] for note in written] == ["'", "'", "'", "'", "'", "'", "d"]
    assert [from_text(note) for note in written] == typed
    assert all(float(row["pitch_hz"]) > 0 for row in rows_of(tmp_path / "out" / "plucks.csv"))  # figures stay numbers
    whole = json.loads((tmp_path / "out" / "book.json").read_text(encoding="utf-8"))
    assert [row["note"] for row in whole["tables"]["events"]] == typed


def test_the_export_can_carry_the_sound(book, filled, tmp_path):
    export_book(book, tmp_path / "out", with_clips=True)
    clip = plucks_of(book, filled.id)[0].clip
    assert soundfile.info(tmp_path / "out" / clip).frames == 2000


def test_the_database_reads_plainly(book, filled, made):
    with tables_of(book.folder) as direct:
        found = direct.execute(
            "SELECT s.date, p.string, p.pitch_hz, p.t60_s, r.file_name, c.verdict FROM plucks p JOIN sweeps s ON s.id = p.sweep_id "
            "JOIN recordings r ON r.id = p.recording_id "
            "JOIN conditions c ON c.sweep_id = s.id AND c.string = p.string WHERE p.string = '4D'"
        ).fetchall()
    truth = made.measurement("4D")
    assert found == [("2024-05-01", "4D", truth.pitch_hz.value, truth.t60_s.value, "a.wav", "sound")]


def test_an_export_never_overwrites(book, filled, tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "letter.txt").write_text("x")
    with pytest.raises(BookError, match="is there already"):
        export_book(book, tmp_path / "out")
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["letter.txt"]


def test_another_users_half_made_export_is_no_matter(book, filled, tmp_path, monkeypatch):
    """In a folder that many share: what lies in it cannot even be asked for (POSIX: stat gives EACCES)."""
    theirs, is_file = tmp_path / "toneprobe-export-x1y2z3w4", Path.is_file
    theirs.mkdir()

    def closed(path, **how):
        if theirs in path.parents:
            raise PermissionError(13, "Permission denied", str(path))
        return is_file(path, **how)

    monkeypatch.setattr(Path, "is_file", closed)
    assert export_book(book, tmp_path / "out") and unfinished_exports(tmp_path / "out") == ()


def test_an_export_leaves_all_that_lies_beside_it(book, filled, tmp_path):
    """A folder of one's own, of whatever name, stays, whether the export succeeds or not; nothing is left of either."""
    mine = tmp_path / "out.part" / "my only copy.txt"
    mine.parent.mkdir()
    mine.write_text("x")
    beside = {path.name for path in tmp_path.iterdir()}
    export_book(book, tmp_path / "out")
    (tmp_path / "plain").mkdir()
    with pytest.raises(BookError, match="is there already"):
        export_book(book, tmp_path / "out")
    assert mine.read_text() == "x" and {path.name for path in tmp_path.iterdir()} == {*beside, "out", "plain"}
    assert (tmp_path / "out").stat().st_mode == (tmp_path / "plain").stat().st_mode  # others may read it as they may any folder

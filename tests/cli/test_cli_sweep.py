"""`new`, `sweep` and `report`: a harp's book from the fresh baseline on."""

import csv
import re
import shutil
from datetime import date, timedelta

import pytest
from command_line import say

from toneprobe.book import read
from toneprobe.book.diary import events_of
from toneprobe.book.opening import open_book
from toneprobe.book.pitch_checks import pitch_checks

FIGURES = {"pitch_hz", "pitch_hz_se", "cents_off", "inharmonicity", "t60_s", "centroid_hz", "trueness_cents"}


def document_of(run, strict_json, *arguments):
    result = run(*arguments, "--json", "-")
    assert result.exit_code == 0, result.stderr
    return strict_json(result.stdout), result


def verdicts(document):
    return {one["string"]: one["verdict"] for one in document["strings"]}


def test_later_sweep_names_the_bad_strings_and_no_other(run, book, played, strict_json):
    document, result = document_of(run, strict_json, "sweep", played.later)  # measured before: told again from the book
    found = verdicts(document)
    assert found[played.dead] == "dead"  # rings a third as long, by the model
    assert found[played.false] == "false"  # its partials went astray, by the model
    assert not [name for name in played.names if found[name] in ("dead", "false") and name not in (played.dead, played.false)]
    assert "Needs attention" in result.stderr and "eye protection" in result.stderr


def test_document_has_the_agreed_fields(run, book, played, strict_json):
    document, _ = document_of(run, strict_json, "sweep", played.later)
    assert document["schema"] == "toneprobe.condition/1"
    assert document["sweep"].items() >= {"id": 2, "date": "2024-09-07", "fresh": False}.items()
    assert [one["string"] for one in document["strings"]] == list(played.names)
    for one in document["strings"]:
        assert set(one) >= {"string", "note", "verdict", "dead_score", "false_score", "plucks", "reasons", "figures", "fresh"}
        assert set(one["figures"]) >= FIGURES and set(one["fresh"]) >= FIGURES
        assert one["plucks"] == 2 and 0 <= one["dead_score"] <= 100
        for figures in (one["figures"], one["fresh"], one["changes"]):  # each null has its sentence, and nothing else has
            nulls = {name for name, value in figures.items() if value is None and not name.endswith("_se")}
            assert set(figures.get("reasons", {})) == nulls and all(figures.get("reasons", {}).values())
            assert ("reasons" in figures) == bool(nulls)
    dead = next(one for one in document["strings"] if one["string"] == played.dead)
    assert dead["figures"]["t60_s"] / dead["fresh"]["t60_s"] == pytest.approx(0.33, abs=0.08)  # aged to 0.33 by the model


def stop(*args, **kwargs):
    raise KeyboardInterrupt


@pytest.mark.parametrize("where, said, n_kept", [
    ("toneprobe.book.opening.open_book", "stopped; nothing was kept", 2), ("toneprobe.checkup.judge_sweep", "stopped; nothing was kept", 2),
    ("toneprobe.book.write.settle_folder", "stopped; nothing was kept", 2),  # its sounds are written, the rest is not
    ("toneprobe.retelling.retell", "stopped; sweep 3 is in the book", 3),  # stored, not shown yet
])
def test_one_that_is_stopped_says_what_was_kept(run, book, played, monkeypatch, where, said, n_kept):
    with monkeypatch.context() as patch:
        patch.setattr(where, stop)
        result = run("sweep", played.whole, "--date", "2024-10-05")
    assert (result.exit_code, result.stderr) == (130, f"toneprobe: {said}\n")
    assert len(read.sweeps(open_book(book), 1)) == n_kept


@pytest.mark.parametrize("where, without", [
    ("toneprobe.book.diary.add_event", "its climate and its pitches as a check"),
    ("toneprobe.upkeep.pitch_check.keep_sweep_as_check", "its pitches as a check")])
def test_one_that_is_stopped_says_what_is_missing_and_again_adds_that(run, book, played, monkeypatch, where, without):
    command = ("sweep", played.whole, "--date", "2024-10-05", "--as-found", "--temperature", "20")
    with monkeypatch.context() as patch:
        patch.setattr(where, stop)
        result = run(*command)
    assert (result.exit_code, result.stderr) == (
        130, f"toneprobe: stopped; sweep 3 is in the book, without {without}: the same command again adds what is missing\n")
    assert f"no pluck was added, only {without}." in " ".join(run(*command).stdout.split())
    opened = open_book(book)
    assert [one.sweep_id for one in events_of(opened, 1)] == [3] == sorted({one.sweep_id for one in pitch_checks(opened, 1)})
    assert "5 October 2024; nothing was added." in " ".join(run(*command).stdout.split())


def test_measuring_again_adds_nothing(run, book, played):
    before = (book / "book.sqlite").read_bytes()
    result = run("sweep", played.later, "--date", "2024-10-01")
    assert result.exit_code == 0 and "measured before" in result.stdout
    assert (book / "book.sqlite").read_bytes() == before
    renamed = shutil.copy(played.later, book.parent / "another name.flac")
    assert run("sweep", renamed).exit_code == 0 and (book / "book.sqlite").read_bytes() == before


def test_without_a_baseline_every_string_is_unrated_and_told_how_to_make_one(run, played, strict_json):
    run("new", "Wren", "--from", played.harp_file)
    document, result = document_of(run, strict_json, "sweep", played.part_one)
    found = verdicts(document)
    assert [found[name] for name in played.names] == ["unrated"] * 6 + ["unheard"] * 6
    assert all(one["dead_score"] is None and one["fresh"] == {} for one in document["strings"])
    assert "fresh" in document["strings"][0]["next_step"]
    assert "fresh baseline" in result.stderr


def test_the_air_that_was_typed_is_weighed_as_that_of_a_note(run, book, played):
    """40 to 50 % suit a harp: common practice. A fraction is no percentage, and nothing is kept of it."""
    meant = run("sweep", played.june, "--date", "2024-10-05", "--humidity", "0.45")
    assert meant.exit_code == 2 and "for 45 % write 45" in meant.stderr and len(read.sweeps(open_book(book), 1)) == 2
    dry = run("sweep", played.june, "--date", "2024-10-05", "--humidity", "5")
    assert dry.exit_code == 0 and "5 % relative humidity is dry for a harp: 40 to 50 %, steady, suits it." in " ".join(dry.stdout.split())


def test_a_fresh_sweep_leaves_nothing_open(run, book, played):
    result = run("report", "--sweep", "1")
    assert "Fresh baseline of 12 strings" in result.stdout and "without a fresh baseline" not in result.stdout.lower()


def test_several_recordings_make_one_sweep(run, book, played, strict_json):
    document, _ = document_of(run, strict_json, "sweep", played.part_one, played.part_two, "--date", "2024-05-01")
    assert set(verdicts(document).values()) <= {"sound", "unsure", "watch"}  # a healthy harp, by the model
    assert document["sweep"]["recordings"] == ["part one.wav", "part two.wav"]
    assert {one["plucks"] for one in document["strings"]} == {2}
    again = run("sweep", played.part_two)
    assert again.exit_code == 0 and "measured before" in again.stdout


def test_a_recording_counts_once(run, book, played):
    result = run("sweep", played.fresh, played.later)
    assert result.exit_code == 1 and "later.flac" in result.stderr and "sweep 2" in result.stderr
    result = run("sweep", played.part_one, played.part_one)
    assert result.exit_code == 2 and "twice" in result.stderr


def test_sweep_may_be_called_fresh_afterwards(run, book, played):
    assert run("sweep", played.later, "--fresh-for", played.dead).exit_code == 0
    opened = open_book(book)
    assert {one.measurement.string for one in read.plucks_of(opened, 2) if one.is_fresh} == {played.dead}
    assert {one.condition.string: one.condition.verdict for one in read.conditions_of(opened, 2)}[played.false] == "false"


def test_a_new_baseline_judges_later_sweeps_again(run, played, tmp_path):
    """The first sweep is called fresh only after the second: the later one's verdicts must follow."""
    for arguments in (("new", "Wren", "--from", played.harp_file), ("sweep", played.fresh, "--date", "2024-03-02"),
                      ("sweep", played.later, "--date", "2024-09-07")):
        assert run(*arguments).exit_code == 0
    opened = open_book(tmp_path / "book")
    assert {one.condition.verdict for one in read.conditions_of(opened, 2)} == {"unrated"}
    assert run("sweep", played.fresh, "--fresh").exit_code == 0
    assert {one.condition.string: one.condition.verdict for one in read.conditions_of(opened, 2)}[played.dead] == "dead"


def test_verdicts_that_a_correction_changes_are_told(run, book, played):
    """A string that went on after the fresh sweep has no baseline; where it was on before, it is dead, by the model."""
    for day, verdict, before in (("2024-06-01", "unrated", "dead"), ("none", "dead", "unrated")):
        told = f"The sweep of 7 September 2024, judged again: {played.dead} {verdict} (was {before})"
        assert told in say(run, "log", "correct", played.dead, "--fitted", day)


def test_a_baseline_of_fewer_than_three_plucks_is_pointed_out(run, played, tmp_path):
    """Three a string is what the README asks for. All strings of `fresh` were plucked twice, 3E once before: its baseline has three."""
    import soundfile

    samples, rate_hz = soundfile.read(played.june)
    soundfile.write(tmp_path / "once.wav", samples[: int(2.7 * rate_hz)], rate_hz)  # 3E at 1.5 s; again at 2.8 s
    run("new", "Wren", "--from", played.harp_file)
    once = " ".join(run("sweep", tmp_path / "once.wav", "--fresh", "--date", "2024-03-01").stdout.split())
    assert "From a single pluck: 3E. Three make a surer baseline: pluck again" in once and "From two" not in once
    twice = " ".join(run("sweep", played.fresh, "--fresh", "--date", "2024-03-02").stdout.split())
    assert "From two plucks: 11 strings. Three make a surer baseline: pluck again" in twice and "single pluck" not in twice
    thrice = run("sweep", played.whole, "--fresh", "--date", "2024-03-03")
    assert thrice.exit_code == 0 and "surer baseline" not in thrice.stdout


def test_clips_hold_the_recordings_own_samples(book, played):
    """Source: the recording itself, read here with another library call."""
    import soundfile

    from toneprobe.book.clips import read_clip
    from toneprobe.book.filing import BEFORE_S

    opened = open_book(book)
    pluck = read.plucks_of(opened, 1)[3]
    clip = read_clip(opened.folder, pluck)
    first = int((pluck.measurement.onset_s - BEFORE_S) * clip.rate_hz)
    samples, _ = soundfile.read(played.fresh, start=first, stop=first + len(clip.samples))
    assert len(samples) > 0.5 * clip.rate_hz and abs(samples - clip.samples).max() == 0.0


def test_report_writes_page_and_picture_into_the_book(run, book):
    result = run("report")
    assert result.exit_code == 0, result.stderr
    assert result.stdout.count("Written") == 2
    assert max(map(len, result.stdout.partition("Written")[0].splitlines())) <= 80  # a path is as long as it is
    pages = sorted(path.name for path in (book / "reports").iterdir())
    assert pages == ["2024-09-07-sweep-2.html", "2024-09-07-sweep-2.png"]
    assert (book / "reports" / pages[1]).read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"  # PNG's signature, ISO/IEC 15948


def test_report_writes_what_the_ending_says(run, book, tmp_path, played):
    assert run("report", "--sweep", "1", "--out", tmp_path / "one.csv").exit_code == 0
    rows = list(csv.DictReader((tmp_path / "one.csv").read_text(encoding="utf-8").splitlines()))
    assert [row["string"] for row in rows] == list(played.names)
    assert run("report", "--out", tmp_path / "one.doc").exit_code == 2
    assert run("report", "--sweep", "9").exit_code == 2
    assert run("report", "--out", tmp_path / "missing" / "one.html").exit_code == 1


def test_all_pages_of_a_harp_lead_to_each_other(run, book, tmp_path, played):
    result = run("report", "--pages", tmp_path / "pages")
    assert result.exit_code == 0, result.stderr
    index = (tmp_path / "pages" / "index.html").read_text(encoding="utf-8")
    linked = [tmp_path / "pages" / name for name in re.findall(r'href="([\w.-]+\.html)"', index)]
    assert len(linked) >= 5 and all(path.exists() for path in linked)
    (tmp_path / "file").write_text("")
    assert run("report", "--pages", tmp_path / "file").exit_code == 1


def test_table_fits_80_columns(run, book, played):
    result = run("sweep", played.later)
    assert max(map(len, result.stdout.splitlines())) <= 80


@pytest.mark.parametrize(("arguments", "code", "word"), [
    (["sweep", "nothing.wav"], 1, "nothing.wav"),
    (["sweep", "--date", "yesterday", "x.wav"], 2, "yesterday"),
    (["sweep", "--date", (date.today() + timedelta(days=2)).isoformat(), "x.wav"], 2, "not come"),
    (["sweep", "--fresh", "--fresh-for", "3C", "x.wav"], 2, "--fresh-for"),
    (["sweep", "--fresh-for", "9Z", "x.wav"], 2, "9Z"),
    (["sweep", "--report", "x.doc", "x.wav"], 2, ".html"),
    (["sweep", "--harp", "Nobody", "x.wav"], 2, "Wren"),
    (["sweep"], 2, "RECORDING"),
    (["report", "--harp", "Nobody"], 2, "Wren"),
    (["new", "Finch"], 2, "--preset"),
    (["new", "Finch", "--preset", "lever-34", "--tuning", "flats"], 2, "Eb"),
    (["new", " ", "--preset", "lever-34"], 2, "name"),
])
def test_wrong_use_is_told_in_a_line(run, book, arguments, code, word):
    result = run(*arguments)
    assert result.exit_code == code and result.stdout == ""
    assert word in result.stderr and "Traceback" not in result.stderr


def test_no_book_and_no_room_for_one(run, tmp_path, played):
    result = run("sweep", played.fresh)
    assert result.exit_code == 1 and "toneprobe new" in result.stderr
    (tmp_path / "book").mkdir()
    (tmp_path / "book" / "letter.txt").write_text("not a book")
    result = run("new", "Wren", "--preset", "lever-22")
    assert result.exit_code == 1 and "empty" in result.stderr


def test_hostile_harp_name_is_only_a_name(run, played, tmp_path):
    assert run("new", "two\nlines \x1b[31m", "--from", played.harp_file).exit_code == 2
    name = "<script>alert(1)</script> [bold red]x[/] '\""
    assert run("new", name, "--from", played.harp_file).exit_code == 0
    result = run("sweep", played.part_one, "--report", tmp_path / "page.html")
    assert result.exit_code == 0, result.stderr
    assert "[bold red]x[/]" in result.stdout
    assert "<script>alert" not in (tmp_path / "page.html").read_text(encoding="utf-8")


def test_two_harps_in_one_book_are_chosen_by_name(run, played):
    run("new", "Wren", "--from", played.harp_file)
    run("new", "Finch", "--preset", "lever-22")
    result = run("report")
    assert result.exit_code == 2 and "--harp" in result.stderr
    assert "no sweep yet" in run("report", "--harp", "Finch").stderr


def test_export_is_read_without_the_program(run, book, tmp_path, strict_json):
    result = run("export", tmp_path / "out", "--sounds")
    assert result.exit_code == 0, result.stderr
    tables = strict_json((tmp_path / "out" / "book.json").read_text(encoding="utf-8"))["tables"]
    rows = list(csv.DictReader((tmp_path / "out" / "plucks.csv").read_text(encoding="utf-8").splitlines()))
    assert len(rows) == len(tables["plucks"]) == 48  # 12 strings, two plucks, two sweeps
    assert len(list((tmp_path / "out" / "plucks").rglob("*.flac"))) == 48
    assert run("export", tmp_path / "out").exit_code == 1 and "not whole" not in result.stdout
    lost = next((book / "plucks").rglob("*.flac"))
    lost.unlink()
    told = run("export", tmp_path / "again")
    assert told.exit_code == 0 and f"The book is not whole: the clip {lost.relative_to(book)} is missing." in told.stdout


@pytest.mark.parametrize("option", ["--json", "--report"])
def test_a_place_that_cannot_be_written_is_told_before_anything_is_measured(run, book, played, tmp_path, monkeypatch, option):
    def hear(*given, **more):
        raise AssertionError("it was measured first")

    monkeypatch.setattr("toneprobe.hearing.hear", hear)
    result = run("sweep", played.whole, "--date", "2024-10-05", option, tmp_path / "missing" / "x.html")
    assert (result.exit_code, result.stdout) == (1, "") and result.stderr.endswith("x.html cannot be written: No such file or directory\n")

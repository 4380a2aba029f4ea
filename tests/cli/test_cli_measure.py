"""`toneprobe measure`, from a recording to its document, its table and its one-line refusals."""

import csv
import io
import os
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile

import toneprobe.hearing

BAD = Path(__file__).parents[2] / "fixtures" / "bad"
THREE_PLUCKS = BAD.parent / "three_plucks.flac"
STILL_USED = {"cut_short.flac", "cut_short.wav"}  # hold whole plucks before they break off

# The agreed document: other programs read these names.
PLUCK_FIELDS = (
    "string", "note", "onset_s", "ring_s", "pitch_hz", "pitch_hz_se", "cents_off", "cents_off_se", "inharmonicity", "inharmonicity_se",
    "t60_s", "t60_s_se", "centroid_hz", "centroid_hz_se", "beat_hz", "beat_depth_db", "trueness_cents", "snr_db", "partials", "flags",
)


@pytest.fixture(scope="module")
def document(played, tmp_path_factory, strict_json):
    from typer.testing import CliRunner

    from toneprobe.cli import app

    out = tmp_path_factory.mktemp("measured") / "m.json"
    result = CliRunner().invoke(app, ["measure", str(played.fresh), "--instrument", str(played.harp_file), "--json", str(out)])
    assert result.exit_code == 0, result.stderr
    return strict_json(out.read_text(encoding="utf-8"))


def test_document_has_the_agreed_fields(document):
    assert document["schema"] == "toneprobe.measure/1"
    assert set(document) >= {"schema", "recording", "instrument", "plucks", "unheard", "warnings"}
    assert set(document["recording"]) >= {"path", "duration_s", "sample_rate_hz", "channels", "codec"}
    assert set(document["instrument"]) >= {"name", "a4_hz", "tuning"}
    assert all(field in pluck for pluck in document["plucks"] for field in PLUCK_FIELDS)
    assert all({"n", "freq_hz", "level_db", "t60_s"} <= set(partial) for pluck in document["plucks"] for partial in pluck["partials"])


def test_document_tells_what_was_played(document, played):
    heard = [(pluck["string"], pluck["onset_s"]) for pluck in document["plucks"]]
    assert [name for name, _ in heard] == [name for name, _ in played.truth]  # the model's own order
    assert max(abs(a - b) for (_, a), (_, b) in zip(heard, played.truth, strict=True)) < 0.010  # onsets within 10 ms are asked for
    assert document["unheard"] == []
    pitch = {pluck["string"]: pluck["pitch_hz"] for pluck in document["plucks"]}
    off = {name: 1200 * np.log2(pitch[name] / true) for name, true in played.pitch_hz.items()}  # the model is tuned to its notes
    assert max(map(abs, off.values())) < 1.5


def test_each_pluck_tells_its_law_of_loss(document):
    """δ(f) = board + air·√(f/kHz) + inner·(f/kHz), T60 = ln(1000)/δ: what the document gives must be of a piece (definitions)."""
    told = [pluck for pluck in document["plucks"] if pluck["damping"]]
    assert len(told) > len(document["plucks"]) // 2
    for pluck in told:
        law, partials = pluck["damping"], {one["n"]: one for one in pluck["partials"]}
        for one in law["partials"]:
            khz = partials[one["n"]]["freq_hz"] / 1000.0
            delta = law["board_per_s"] + law["air_per_s"] * khz**0.5 + law["inner_per_s"] * khz
            assert one["law_t60_s"] == pytest.approx(np.log(1000.0) / delta, rel=1e-6)
            assert np.exp(-one["log_residual"]) * one["law_t60_s"] == pytest.approx(partials[one["n"]]["t60_s"], rel=1e-6)


def test_what_is_not_known_is_null_with_a_reason_among_the_flags(document):
    nulls = [(pluck, field) for pluck in document["plucks"] for field in PLUCK_FIELDS if pluck[field] is None and not field.endswith("_se")]
    assert nulls, "no figure is missing, so this test sees nothing"
    for pluck, field in nulls:
        assert pluck["reasons"][field] in pluck["flags"]
    assert not [one for pluck in document["plucks"] for one in pluck["reasons"] if pluck[one] is not None]


def test_json_on_standard_output_stands_alone(run, played, strict_json):
    result = run("measure", played.part_two, "--instrument", played.harp_file, "--json", "-")
    assert result.exit_code == 0
    assert strict_json(result.stdout)["unheard"][0] == {"string": "2C", "note": "C6"}
    assert "Not heard: 2C, 2B" in result.stderr


def test_a_string_too_high_for_the_rate_does_not_lose_the_recording(run, tmp_path, strict_json):
    """At 8 kHz nothing of A7 but its first partial is there; the other strings are measured (equal temperament, A4 = 440 Hz)."""
    tones_hz = {"0A": ("A7", 3520.0), "0G": ("G7", 3135.96), "1F": ("F6", 1396.91), "2E": ("E6", 1318.51), "2D": ("D6", 1174.66),
                "2C": ("C6", 1046.50)}
    time_s = np.arange(8000 * 14) / 8000
    sound = np.random.default_rng(1).normal(0.0, 1e-4, time_s.size)
    for place, (_, tone_hz) in enumerate(tones_hz.values()):
        after_s = np.maximum(time_s - 1.5 - 2.0 * place, 0.0)
        for n in (n for n in range(1, 6) if n * tone_hz < 3900.0):
            sound += 0.3 / n * np.exp(-4.0 * n**0.5 * after_s) * np.sin(2 * np.pi * n * tone_hz * after_s)
    soundfile.write(tmp_path / "memo.wav", sound, 8000)
    rows = "".join(f'[[strings]]\nname = "{name}"\nnote = "{note}"\n' for name, (note, _) in tones_hz.items())
    (tmp_path / "harp.toml").write_text(f'name = "Top"\ntuning = "naturals"\n{rows}', encoding="utf-8")
    result = run("measure", tmp_path / "memo.wav", "--instrument", tmp_path / "harp.toml", "--json", "-")
    assert result.exit_code == 0, result.stderr
    plucks = {pluck["string"]: pluck for pluck in strict_json(result.stdout)["plucks"]}
    assert list(plucks) == list(tones_hz)
    for name, pluck in plucks.items():
        if name in ("0A", "0G"):
            assert pluck["pitch_hz"] is None and "too high" in pluck["flags"][0]
        else:
            assert pluck["pitch_hz"] == pytest.approx(tones_hz[name][1], rel=1e-3)


def test_csv_has_a_line_for_each_pluck(run, played):
    result = run("measure", played.part_two, "--instrument", played.harp_file, "--csv", "-")
    rows = list(csv.DictReader(io.StringIO(result.stdout)))
    assert [row["string"] for row in rows] == [name for name in ("3D", "3C", "3B", "3A", "3G", "3F") for _ in range(2)]
    assert all(abs(1200 * np.log2(float(row["pitch_hz"]) / played.pitch_hz[row["string"]])) < 1.5 for row in rows)
    assert all("nan" not in cell.lower() and "None" not in cell for row in rows for cell in row.values())


def test_table_for_people_fits_80_columns(run, played):
    result = run("measure", played.part_two, "--instrument", played.harp_file)
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert result.stdout.count("3G") == 2


@pytest.mark.parametrize("name", sorted(one.name for one in BAD.iterdir()))
def test_bad_recordings_get_one_line(run, name):
    result = run("measure", BAD / name, "--instrument", "pedal-47")
    if name in STILL_USED:
        assert (result.exit_code, "cut short" in " ".join(result.stdout.split())) == (0, True)
        return
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.startswith("toneprobe: ") and result.stderr.count("\n") == 1 and name in result.stderr


@pytest.mark.parametrize(("more", "code", "word"), [
    (["--instrument", "pedal-48"], 2, "pedal-47"),
    (["--instrument", "nowhere.toml"], 1, "nowhere.toml"),
    (["--instrument", "pedal-47", "--tuning", "Lydian"], 2, "flats"),
    (["--instrument", "pedal-47", "--a4", "44"], 2, "A4"),
    (["--instrument", "pedal-47", "--json", "-", "--csv", "-"], 2, "same place"),
    (["--instrument", "pedal-47", "--frobnicate"], 2, "frobnicate"),
    ([], 2, "instrument"),
])
def test_wrong_use_is_told_in_a_line(run, played, more, code, word):
    result = run("measure", played.fresh, *more)
    assert result.exit_code == code and result.stdout == ""
    assert word in result.stderr and "Traceback" not in result.stderr


def test_recording_is_never_overwritten(run, tmp_path):
    mine = tmp_path / "mine.flac"
    shutil.copy(THREE_PLUCKS, mine)
    before = mine.read_bytes()
    assert run("measure", mine, "--instrument", "pedal-47", "--json", mine).exit_code == 2
    assert mine.read_bytes() == before


def test_a_place_that_cannot_be_written_gets_one_line(run, tmp_path):
    for target in (tmp_path, tmp_path / "missing" / "m.json"):
        result = run("measure", THREE_PLUCKS, "--instrument", "pedal-47", "--json", target)
        assert (result.exit_code, result.stdout) == (1, "") and "cannot be written" in result.stderr and result.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_a_device_is_written_to_and_not_replaced(run):
    assert run("measure", THREE_PLUCKS, "--instrument", "pedal-47", "--json", "/dev/null").exit_code == 0
    assert not os.path.isfile("/dev/null")


def test_no_pluck_is_no_measurement(run, tmp_path):
    quiet = tmp_path / "room.wav"
    soundfile.write(quiet, np.random.default_rng(1).normal(0, 1e-3, 44100 * 4), 44100)
    result = run("measure", quiet, "--instrument", "lever-34", "--json", "-")
    assert (result.exit_code, result.stdout) == (1, "") and "no pluck" in result.stderr


HOSTILE = ("[red]x.wav", "line\nbreak.wav", "$(touch x);'\".wav", "ünïcødé 🎵.wav", "-dash.wav", "a" * 200 + ".wav", "\x1b[31m.wav")


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_file_names_are_only_names(run, tmp_path, monkeypatch, name, strict_json):
    monkeypatch.chdir(tmp_path)
    shutil.copy(THREE_PLUCKS, tmp_path / name)
    result = run("measure", "--instrument", "pedal-47", "--json", "-", "--", name)
    assert result.exit_code == 0, result.stderr
    assert strict_json(result.stdout)["recording"]["path"].endswith(name)


def test_hostile_names_in_errors_stay_on_one_line(run, tmp_path):
    (tmp_path / "bad\n\x1b[31mname.wav").write_bytes(b"no sound")
    result = run("measure", "--instrument", "pedal-47", "--", tmp_path / "bad\n\x1b[31mname.wav")
    assert result.exit_code == 1 and result.stderr.count("\n") == 1 and "\x1b" not in result.stderr


@pytest.mark.skipif(os.name != "posix", reason="file names of bytes are POSIX's")
def test_file_name_that_is_no_text(run, tmp_path, strict_json):
    name = os.fsdecode(b"\xff\xfe.wav")
    shutil.copy(THREE_PLUCKS, tmp_path / name)
    result = run("measure", "--instrument", "pedal-47", "--json", "-", tmp_path / name)
    assert result.exit_code == 0 and strict_json(result.stdout)["recording"]["path"].endswith("\\udcff\\udcfe.wav")


def test_a_fault_of_the_program_names_the_file_and_a_way_to_report_it(run, played, monkeypatch):
    def broken(*_, **__):
        raise ZeroDivisionError("division\nby zero")

    monkeypatch.setattr(toneprobe.hearing, "hear", broken)
    result = run("measure", played.fresh, "--instrument", played.harp_file)
    assert result.exit_code == 1 and result.stderr.count("\n") == 1
    assert "fresh.flac" in result.stderr and "ZeroDivisionError" in result.stderr and "--debug" in result.stderr
    shown = run("--debug", "measure", played.fresh, "--instrument", played.harp_file)
    assert isinstance(shown.exception, ZeroDivisionError)


@pytest.mark.parametrize("command", ["new", "sweep", "measure", "settle"])
def test_help_names_every_tuning_that_is_taken(run, command):
    """A pedal harp's three, and the keys that levers on E-flat or A-flat reach: four flats to four sharps (derived here)."""
    told = " ".join(run(command, "--help").stdout.split())
    assert "flats, naturals, sharps; a lever harp's key: C, Eb, F, Ab, Bb, G, D, A, E." in told

"""What other programs read, field by field, from values made up here: each a number of its own, so that none can stand in another's place.

What each field means is described at the heads of `exchange.measurement`, `exchange.condition` and `exchange.life`, and in the types.
"""

import csv
import io
import json
import math
from dataclasses import dataclass
from datetime import date

import pytest
from pytest import approx

from toneprobe.audio import Quality, Remark
from toneprobe.audio.recording import Recording
from toneprobe.book.entries import RecordingEntry, SweepRecord
from toneprobe.condition import Condition
from toneprobe.exchange.condition import condition_document
from toneprobe.exchange.life import life_document
from toneprobe.exchange.measurement import measurement_document, pluck_fields
from toneprobe.exchange.pluck_rows import COLUMNS, pluck_csv
from toneprobe.identify.named import Identification
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.measure.figure import FIGURES, DampingLaw, Figure, OtherLine, Partial, PluckMeasurement

HARP = Instrument("small lever harp", 441.5, "Eb", (StringSpec("4D", "D4", 293.7), StringSpec("4C", "C4", 261.6)))
QUALITY = Quality(-3.5, 0.25, -71.5, 50.0, -44.0, 40.0, 16000.0, True, ("Nothing below 40 Hz.",), n_gaps=3)
NO_BEAT = "no beat stands out"


def figures(first=100.0, **others):
    """Every figure a number of its own: the first 100 ± 1, the next 101 ± 1.01."""
    return {name: Figure(first + k, (first + k) / 100.0) for k, name in enumerate(FIGURES)} | others


def pluck(string="4C", onset_s=1.5, **fields):
    partials = (Partial(1, 261.5, 0.01, -3.0, 40.0, 1.5, 0.1, 0.2, 2.25, 4.5, 0.02, 0.3, 263.75, 0.9, "4D", 0.8, 0.7, 1.4, 0.01),
                Partial(2, 523.0, 0.02, -6.0, 37.0, None, None, -0.1))
    made = figures() | {"beat_hz": Figure(None, None, NO_BEAT)}
    given = {"ring_s": 2.5, "sureness": 0.97, "snr_db": 41.0, "partials": partials, "flags": ("rings into the next",)} | made | fields
    return PluckMeasurement(string, "C4", onset_s, **given)


# --- toneprobe.condition/1

DEAD = Condition("4C", "C4", "dead", 93.0, 7.0, 3, ("It rings 41 % shorter.", "It is duller."), "Change the string.", figures(),
                 figures(200.0, t60_s=Figure(None, None, "hidden by the room")), {"ring": Figure(0.53, 0.04), "decay": Figure(0.5, 0.03)})
UNRATED = Condition("4D", "D4", "unrated", None, None, 1, ("There is no fresh baseline.",), "", {"pitch_hz": Figure(293.0, 0.5)}, {})
RECORD = SweepRecord(7, 2, date(2024, 5, 3), True, HARP, (
    RecordingEntry("a" * 64, "first.wav", 60.0, 44100, 1, "wav/PCM_16", 960044, QUALITY),
    RecordingEntry("b" * 64, "second\udcff.wav", 61.0, 44100, 1, "wav/PCM_16", 960045, QUALITY)), ("4B",), (), "0")


def test_a_sweep_tells_of_itself_and_of_the_harp():
    document = condition_document(RECORD, (), harp="Linnet", warnings=("It was noisy\udcff.",))
    assert document == {
        "schema": "toneprobe.condition/1", "harp": "Linnet",
        "sweep": {"id": 7, "date": "2024-05-03", "fresh": True, "recordings": ["first.wav", "second\\udcff.wav"]},
        "instrument": {"name": "small lever harp", "a4_hz": 441.5, "tuning": "Eb"}, "strings": [], "warnings": ["It was noisy\\udcff."]}


def test_each_field_of_a_verdict_is_its_own():
    dead, unrated = condition_document(RECORD, (DEAD, UNRATED), harp="Linnet")["strings"]
    now = {key: value for k, name in enumerate(FIGURES) for key, value in ((name, 100.0 + k), (f"{name}_se", (100.0 + k) / 100.0))}
    fresh = {key: value for k, name in enumerate(FIGURES) for key, value in ((name, 200.0 + k), (f"{name}_se", (200.0 + k) / 100.0))}
    assert dead == {
        "string": "4C", "note": "C4", "verdict": "dead", "dead_score": 93.0, "false_score": 7.0, "plucks": 3,
        "reasons": ["It rings 41 % shorter.", "It is duller."], "next_step": "Change the string.", "figures": now,
        "fresh": fresh | {"t60_s": None, "t60_s_se": None, "reasons": {"t60_s": "hidden by the room"}},
        "changes": {"ring": 0.53, "ring_se": 0.04, "decay": 0.5, "decay_se": 0.03}}
    assert unrated == {
        "string": "4D", "note": "D4", "verdict": "unrated", "dead_score": None, "false_score": None, "plucks": 1,
        "reasons": ["There is no fresh baseline."], "next_step": "", "figures": {"pitch_hz": 293.0, "pitch_hz_se": 0.5}, "fresh": {},
        "changes": {}}


# --- toneprobe.measure/1

def test_each_field_of_a_pluck_is_its_own():
    document = pluck_fields(pluck(others=(OtherLine(131.0, -20.0, 0.4, "hum"), OtherLine(400.0, -30.0, None, "not known"))))
    assert (document["string"], document["note"], document["onset_s"], document["ring_s"]) == ("4C", "C4", 1.5, 2.5)
    assert (document["snr_db"], document["sureness"]) == (41.0, 0.97)
    known = {name: 100.0 + k for k, name in enumerate(FIGURES) if name != "beat_hz"}
    assert {name: document[name] for name in known} == known
    assert {name: document[f"{name}_se"] for name in known} == {name: value / 100.0 for name, value in known.items()}
    assert document["beat_hz"] is None is document["beat_hz_se"] and document["reasons"] == {"beat_hz": NO_BEAT}
    assert document["flags"] == ["rings into the next", NO_BEAT]
    places_se_hz = [row.pop("freq_se_hz") for row in document["partials"]]  # how much larger: tests/session/test_place_spread.py
    assert all(told > noise for told, noise in zip(places_se_hz, (0.01, 0.02), strict=True))
    assert document["partials"] == [
        {"n": 1, "freq_hz": 261.5, "level_db": -3.0, "snr_db": 40.0, "t60_s": 1.5, "t60_se_s": 0.1, "astray_cents": 0.2,
         "beat_hz": 2.25, "beat_depth_db": 4.5, "beat_se_hz": approx(math.hypot(0.02, 0.2 * 2.25)),
         "beat_depth_se_db": approx(math.hypot(0.3, 0.5 * 4.5)), "beat_other_hz": 263.75,
         "beat_other_t60_s": 0.9, "answered_by": "4D", "late_t60_s": 0.8, "knee_s": 0.7, "early_t60_s": 1.4, "bend": 0.01},
        {"n": 2, "freq_hz": 523.0, "level_db": -6.0, "snr_db": 37.0, "astray_cents": -0.1} | dict.fromkeys((
            "t60_s", "t60_se_s", "beat_hz", "beat_depth_db", "beat_se_hz", "beat_depth_se_db", "beat_other_hz", "beat_other_t60_s",
            "answered_by", "late_t60_s", "knee_s", "early_t60_s", "bend"))]
    assert document["others"] == [{"freq_hz": 131.0, "level_db": -20.0, "t60_s": 0.4, "taken_for": "hum"},
                                  {"freq_hz": 400.0, "level_db": -30.0, "t60_s": None, "taken_for": "not known"}]
    assert document["damping"] is None


def test_of_a_pluck_that_was_not_measured_the_noise_is_not_told():
    """What it stands over the noise is a figure of its partials: of none it would be a made-up number."""
    reason = "too short"
    document = pluck_fields(pluck(**dict.fromkeys(FIGURES, Figure(None, None, reason)), partials=(), snr_db=12.0, flags=()))
    assert document["snr_db"] is None and document["partials"] == []
    assert document["reasons"] == dict.fromkeys(FIGURES, reason) | {"snr_db": "no partial stands out of the noise"}
    assert document["ring_s"] == 2.5  # something rang, and no partial was made out in it
    nothing = pluck_fields(pluck(**dict.fromkeys(FIGURES, Figure(None, None, reason)), partials=(), ring_s=None, snr_db=None, flags=()))
    assert nothing["ring_s"] is None and nothing["reasons"] == document["reasons"] | {"ring_s": reason}
    assert document["flags"] == [reason, "no partial stands out of the noise"]
    assert all(document[name] is None and document[f"{name}_se"] is None for name in FIGURES)


def test_what_is_no_number_is_null_with_its_reason():
    document = pluck_fields(pluck(pitch_hz=Figure(math.nan, 0.1), t60_s=Figure(math.inf, 1.0), snr_db=math.inf))
    assert document["pitch_hz"] is document["pitch_hz_se"] is document["t60_s"] is document["snr_db"] is None
    assert document["reasons"] == {"beat_hz": NO_BEAT, "pitch_hz": "not measured", "t60_s": "not measured"}
    json.dumps(document, allow_nan=False)


def test_a_law_of_loss_gives_each_partial_its_decay_time():
    """ln 1000 over the amplitude's rate of decay; at 1 kHz the rate is the sum of the three shares, at 250 Hz 1 + 2·½ + 4·¼."""
    law = DampingLaw(1.0, 2.0, 4.0, 0.05, (1, 2), (0.03, -0.04))
    partials = (Partial(1, 250.0, 0.01, 0.0, 40.0, 2.0, 0.1, 0.0), Partial(2, 1000.0, 0.01, 0.0, 40.0, 1.0, 0.1, 0.0))
    told = pluck_fields(pluck(partials=partials, damping=law))["damping"]
    assert {name: told[name] for name in told if name != "partials"} == {
        "board_per_s": 1.0, "air_per_s": 2.0, "inner_per_s": 4.0, "log_misfit": 0.05}
    assert [(row["n"], row["log_residual"]) for row in told["partials"]] == [(1, 0.03), (2, -0.04)]
    assert [row["law_t60_s"] for row in told["partials"]] == pytest.approx([math.log(1000.0) / 3.0, math.log(1000.0) / 7.0])


def test_a_recording_is_told_with_its_plucks_and_what_was_not_heard():
    recording = Recording("take\udcff.wav", 8000, 12000, 2, 1, "wav/PCM_16", QUALITY, None, remarks=(Remark("Nothing\udcff below 40 Hz."),))
    document = measurement_document(recording, HARP, Identification((), (HARP.strings[0],), ()), (pluck(),))
    assert document["schema"] == "toneprobe.measure/1" and set(document) == {
        "schema", "recording", "instrument", "plucks", "unheard", "warnings"}
    assert document["recording"] == {
        "path": "take\\udcff.wav", "duration_s": 1.5, "sample_rate_hz": 8000, "channels": 2, "codec": "wav/PCM_16", "channel": 1,
        "quality": {"peak_db": -3.5, "clipped_s": 0.25, "noise_floor_db": -71.5, "hum_hz": 50.0, "hum_db": -44.0, "low_cut_hz": 40.0,
                    "high_cut_hz": 16000.0, "gain_riding": True, "eight_bits": False, "codec_kbit_s": None, "n_gaps": 3,
                    "coarse_codec": None}}
    assert document["instrument"] == {"name": "small lever harp", "a4_hz": 441.5, "tuning": "Eb"}
    assert document["plucks"] == [pluck_fields(pluck())] and document["unheard"] == [{"string": "4D", "note": "D4"}]
    assert "Nothing\\udcff below 40 Hz." in document["warnings"]


def test_a_pluck_is_a_line_of_cells_with_nothing_where_nothing_is_known():
    unmeasured = pluck("=4D", 3.0, **dict.fromkeys(FIGURES, Figure(None, None, "too short")), partials=(), flags=())
    first, second = csv.DictReader(io.StringIO(pluck_csv((pluck(pitch_hz=Figure(261.123456789, 0.1)), unmeasured)), newline=""))
    assert tuple(first) == COLUMNS
    told = {name: str(100 + k) for k, name in enumerate(FIGURES)} | {f"{name}_se": f"{1 + k / 100:g}" for k, name in enumerate(FIGURES)}
    assert first == told | {
        "string": "4C", "note": "C4", "onset_s": "1.5", "ring_s": "2.5", "pitch_hz": "261.123457", "pitch_hz_se": "0.1", "beat_hz": "",
        "beat_hz_se": "", "snr_db": "41", "sureness": "0.97", "n_partials": "2", "flags": f"rings into the next; {NO_BEAT}"}
    assert second["string"] == "'=4D" and second["n_partials"] == "0" and second["snr_db"] == ""  # text, whatever a spreadsheet makes of it
    assert not any(second[name] or second[f"{name}_se"] for name in FIGURES)


# --- log, settling, spares, plan, events

@dataclass(frozen=True)
class Strung:
    string: str
    on: date | None
    creep_cents: Figure
    gauge_mm: float | None
    tags: tuple[str, ...]


def test_the_string_s_life_is_told_by_the_names_of_its_fields():
    known = Strung("4C", date(2024, 5, 3), Figure(-1.5, 0.25), 1.25, ("gut", "odd\x00"))
    unknown = Strung("4D", None, Figure(None, None, "too few checks"), math.nan, ())
    document = life_document("settling", "Linnet", checked=date(2024, 6, 1), strings=(known, unknown), counts={"4C\x00": 2})
    assert document == {
        "schema": "toneprobe.settling/1", "harp": "Linnet", "checked": "2024-06-01", "counts": {"4C\\x00": 2},
        "strings": [
            {"string": "4C", "on": "2024-05-03", "creep_cents": -1.5, "creep_cents_se": 0.25, "gauge_mm": 1.25,
             "tags": ["gut", "odd\\x00"]},
            {"string": "4D", "on": None, "creep_cents": None, "creep_cents_se": None, "gauge_mm": None, "tags": [],
             "unmeasured": {"creep_cents": "too few checks"}}]}

"""Recording from an input that is made up: a thread that hands over a known tone, block by block."""

import os
import signal
import subprocess
import sys
import textwrap
from types import SimpleNamespace

import made_up_input as double
import numpy as np
import pytest
import soundfile
from made_up_input import BLOCK, PICKUP, RATE_HZ, SPEAKER, ToneStream, fake_sounddevice, made_up_input, tone

from toneprobe.audio import open_recording
from toneprobe.audio.microphone import Input, find_input, record
from toneprobe.errors import RecordingError, UsageError

DOUBLES = os.path.dirname(double.__file__)


def test_every_sample_is_kept_as_it_came(tmp_path):
    taken = record(made_up_input(pause_s=0.001), tmp_path / "a.flac", is_over=lambda now_s: now_s >= 2.0)
    samples, rate_hz = soundfile.read(taken.path, dtype="int32")
    assert (rate_hz, taken.ended, taken.n_gaps) == (RATE_HZ, "asked", 0) and len(samples) >= 2 * RATE_HZ
    assert np.array_equal(samples, tone(0, len(samples))[:, 0])


def test_interruption_keeps_what_was_heard(tmp_path):
    def interrupted(now_s):
        if now_s > 1.0:
            raise KeyboardInterrupt
        return False

    taken = record(made_up_input(pause_s=0.001), tmp_path / "a.flac", is_over=interrupted)
    assert taken.ended == "interrupted" and taken.duration_s > 1.0
    assert soundfile.info(taken.path).duration == pytest.approx(taken.duration_s)


def test_input_that_goes_away_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr("toneprobe.audio.microphone.SILENT_S", 0.2)
    taken = record(made_up_input(n_blocks=30), tmp_path / "a.flac", is_over=lambda _: False)
    assert "connected" in taken.ended and taken.duration_s == 30 * BLOCK / RATE_HZ
    with pytest.raises(RecordingError, match="no sound"):
        record(made_up_input(n_blocks=0), tmp_path / "b.flac", is_over=lambda _: False)
    assert not (tmp_path / "b.flac").exists()
    with pytest.raises(RecordingError, match="exists already"):
        record(made_up_input(n_blocks=30), tmp_path / "a.flac", is_over=lambda _: False)
    assert (tmp_path / "a.flac").stat().st_size > 0


@pytest.mark.parametrize("error", [RecordingError("the input is busy"), ValueError("odd"), KeyboardInterrupt()])
def test_an_input_that_cannot_be_opened_leaves_no_file(tmp_path, error):
    def listen(_):
        raise error

    with pytest.raises(RecordingError if isinstance(error, KeyboardInterrupt) else type(error)):
        record(Input("busy", RATE_HZ, 1, listen), tmp_path / "a.flac", is_over=lambda _: False)
    assert list(tmp_path.iterdir()) == []


def test_a_rate_that_no_flac_can_have_leaves_no_file(tmp_path):
    """The format keeps the rate in 20 bits, 1048575 Hz at most (published: RFC 9639)."""
    with pytest.raises(RecordingError, match="sample rate"):
        record(Input("fast", 2_000_000, 1, made_up_input().listen), tmp_path / "a.flac", is_over=lambda _: True)
    assert list(tmp_path.iterdir()) == []


def test_what_an_input_handed_over_before_it_failed_is_kept(tmp_path):
    def listen(hand):
        for place in range(3):
            hand(tone(place * BLOCK, BLOCK), False)
        raise RecordingError("it broke down")

    with pytest.raises(RecordingError, match="broke down"):
        record(Input("broken", RATE_HZ, 1, listen), tmp_path / "a.flac", is_over=lambda _: False)
    samples, _ = soundfile.read(tmp_path / "a.flac", dtype="int32")
    assert np.array_equal(samples, tone(0, 3 * BLOCK)[:, 0])


@pytest.mark.parametrize(("free", "why"), [(4096, "the disk is full"), (2**40, "System error")])
def test_a_full_disk_is_named(monkeypatch, tmp_path, free, why):
    """libsndfile's error 2 says "System error." of whatever the system refused (its header)."""
    write = soundfile.SoundFile.write

    def until_a_second(file, block):
        if file.frames >= RATE_HZ:
            raise soundfile.LibsndfileError(2)
        write(file, block)

    monkeypatch.setattr(soundfile.SoundFile, "write", until_a_second)
    monkeypatch.setattr("toneprobe.audio.microphone.disk_usage", lambda _: SimpleNamespace(free=free))
    with pytest.raises(RecordingError, match=f"cannot be written any further: {why}; what was written until then is kept"):
        record(made_up_input(pause_s=0.001), tmp_path / "a.flac", is_over=lambda _: False)
    assert soundfile.info(tmp_path / "a.flac").duration >= 1.0


def test_lost_samples_are_counted(tmp_path):
    taken = record(made_up_input(pause_s=0.001, lost={3, 7}), tmp_path / "a.flac", is_over=lambda now_s: now_s >= 1.0)
    assert taken.n_gaps == 2


def test_an_older_recording_is_never_overwritten(tmp_path):
    (tmp_path / "a.flac").write_bytes(b"older")
    with pytest.raises(RecordingError):
        record(made_up_input(), tmp_path / "a.flac", is_over=lambda _: True)
    assert (tmp_path / "a.flac").read_bytes() == b"older"


@pytest.mark.skipif(os.name != "posix", reason="kills with a POSIX signal")
def test_power_failure_leaves_a_recording_that_opens(tmp_path):
    """The process is killed outright while it records; what it had handed to the disk can be measured."""
    script = tmp_path / "record.py"
    script.write_text(textwrap.dedent(f"""
        import sys
        sys.path.insert(0, {DOUBLES!r})
        from pathlib import Path
        from made_up_input import made_up_input
        from toneprobe.audio.microphone import record
        record(made_up_input(pause_s={BLOCK / RATE_HZ / 10}), Path(sys.argv[1]), is_over=lambda _: False,
               show=lambda now_s, _: print(now_s, flush=True))
    """))
    path = tmp_path / "a.flac"
    process = subprocess.Popen([sys.executable, script, path], stdout=subprocess.PIPE, text=True)
    recorded_s = 0.0
    while recorded_s < 5.0:
        recorded_s = float(process.stdout.readline())
    process.send_signal(signal.SIGKILL)
    process.wait()
    process.stdout.close()
    recording = open_recording(path)
    assert recording.duration_s > recorded_s - 1.6  # flushed every second, and a block of the codec
    kept = recording.read(0, recording.n_samples)
    assert np.abs(kept - tone(0, len(kept))[:, 0] / 2.0**31).max() < 2e-6


def test_record_command_keeps_a_recording_in_the_book(run, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "sounddevice", fake_sounddevice([SPEAKER, PICKUP], ToneStream))
    assert run("record", "--seconds", "1").exit_code == 1  # no book yet
    run("new", "Wren", "--preset", "lever-22")
    assert run("record", "--inputs").stdout == "1: Pickup\n"
    result = run("record", "--seconds", "1.5")
    assert result.exit_code == 0, result.stderr
    kept = list((tmp_path / "book" / "recordings").iterdir())
    assert len(kept) == 1 and soundfile.info(kept[0]).duration >= 1.5 and str(kept[0]) in result.stdout


def test_reasons_where_nothing_can_be_recorded(monkeypatch):
    monkeypatch.setitem(sys.modules, "sounddevice", None)  # not installed
    with pytest.raises(RecordingError, match=r"toneprobe\[record\]"):
        find_input()
    monkeypatch.setitem(sys.modules, "sounddevice", fake_sounddevice([SPEAKER]))
    with pytest.raises(RecordingError, match="no input"):
        find_input()
    monkeypatch.setitem(sys.modules, "sounddevice", fake_sounddevice([SPEAKER, PICKUP]))
    with pytest.raises(UsageError, match="1: Pickup"):
        find_input("Headset")


@pytest.mark.parametrize("step", ["__init__", "__enter__"])
def test_an_input_that_does_not_start_gets_a_reason(monkeypatch, tmp_path, step):
    """The library opens it as it is made, and starts it as it is entered (documented)."""
    library = fake_sounddevice([PICKUP])

    def fail(*_, **__):
        raise library.PortAudioError("Error starting stream: Device unavailable")

    library.InputStream = type("Busy", (ToneStream,), {step: fail})
    monkeypatch.setitem(sys.modules, "sounddevice", library)
    with pytest.raises(RecordingError, match="Pickup cannot be opened at 8000 Hz: .*unavailable"):
        record(find_input(), tmp_path / "a.flac", is_over=lambda _: True)
    assert list(tmp_path.iterdir()) == []


def test_reason_where_the_sound_library_is_missing(monkeypatch, tmp_path):
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")  # what the real one raises then
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(RecordingError, match="PortAudio"):
        find_input()

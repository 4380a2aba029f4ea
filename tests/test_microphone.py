"""Recording from an input that is made up here: a thread that hands over a known tone, block by block."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import threading
from contextlib import contextmanager
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile

from toneprobe.audio import open_recording
from toneprobe.errors import RecordingError, UsageError
from toneprobe.microphone import Input, find_input, record

RATE_HZ, BLOCK = 8000, 400


def tone(first, n):
    """Samples of a steady tone as an interface gives them: int32, 24 bits, one channel."""
    samples = 0.25 * np.sin(2 * np.pi * 440.0 * (first + np.arange(n)) / RATE_HZ)
    return (np.rint(samples * 2**23).astype(np.int32) << 8)[:, np.newaxis]


def made_up_input(*, n_blocks=10**6, pause_s=0.0, lost=()):
    @contextmanager
    def listen(hand):
        over = threading.Event()

        def play():
            for place in range(n_blocks):
                if over.wait(pause_s):
                    return
                hand(tone(place * BLOCK, BLOCK), place in lost)

        thread = threading.Thread(target=play, daemon=True)
        thread.start()
        try:
            yield
        finally:
            over.set()
            thread.join()

    return Input("made up", RATE_HZ, 1, listen)


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
    monkeypatch.setattr("toneprobe.microphone.SILENT_S", 0.2)
    taken = record(made_up_input(n_blocks=30), tmp_path / "a.flac", is_over=lambda _: False)
    assert "connected" in taken.ended and taken.duration_s == 30 * BLOCK / RATE_HZ
    with pytest.raises(RecordingError, match="no sound"):
        record(made_up_input(n_blocks=0), tmp_path / "b.flac", is_over=lambda _: False)
    assert not (tmp_path / "b.flac").exists()


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
        sys.path.insert(0, {str(os.path.dirname(__file__))!r})
        from pathlib import Path
        from test_microphone import made_up_input
        from toneprobe.microphone import record
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


def fake_sounddevice(devices, stream=None):
    class PortAudioError(Exception):
        pass

    def query_devices(device=None, kind=None):
        if kind is None:
            return devices
        matching = [one for one in devices if one["max_input_channels"] and (device in (None, one["index"]) or str(device) in one["name"])]
        if len(matching) != 1:
            raise ValueError("no single device")
        return matching[0]

    return SimpleNamespace(PortAudioError=PortAudioError, query_devices=query_devices, InputStream=stream)


class ToneStream:
    """Stands for sounddevice.InputStream: calls back with blocks of the tone."""

    def __init__(self, rate, *, device, channels, dtype, callback):
        assert (device, channels, dtype) == (1, 2, "int32")
        self.callback, self.over = callback, threading.Event()

    def __enter__(self):
        self.thread = threading.Thread(target=self.play, daemon=True)
        self.thread.start()

    def __exit__(self, *_):
        self.over.set()
        self.thread.join()

    def play(self):
        block = np.repeat(tone(0, BLOCK), 2, axis=1)
        while not self.over.wait(0.002):
            self.callback(block, BLOCK, None, SimpleNamespace(input_overflow=False))
            block[:] = block  # the library reuses its buffer: what was handed over must have been copied


PICKUP = {"index": 1, "name": "Pickup", "max_input_channels": 6, "default_samplerate": float(RATE_HZ)}
SPEAKER = {"index": 0, "name": "Speaker", "max_input_channels": 0, "default_samplerate": 44100.0}


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


def test_reason_where_the_sound_library_is_missing(monkeypatch, tmp_path):
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")  # what the real one raises then
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(RecordingError, match="PortAudio"):
        find_input()

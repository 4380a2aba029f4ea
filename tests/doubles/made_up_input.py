"""An input that stands for a microphone: a thread that hands over a known tone, and the sounddevice library as far as it is used."""

import threading
from contextlib import contextmanager
from types import SimpleNamespace

import numpy as np

from toneprobe.audio.microphone import Input

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

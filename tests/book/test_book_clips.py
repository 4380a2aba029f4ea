"""The sound of a pluck comes back as it was recorded."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from stored_sweep import store_sweep

from toneprobe.book.clips import read_clip
from toneprobe.book.entries import Clip, NewPluck
from toneprobe.book.read import plucks_of
from toneprobe.errors import BookError


def stored(book, harp, made, clip):
    record = store_sweep(book, replace(made.sweep(harp.id), plucks=(NewPluck(made.measurement(), 0, clip),)))
    return plucks_of(book, record.id)[0]


@pytest.mark.parametrize("bits", [16, 24])
def test_recorded_samples_come_back_bit_for_bit(book, harp, made, bits):
    top = 2 ** (bits - 1)
    samples = np.concatenate([[-top, top - 1, 0, 1, -1], np.random.default_rng(3).integers(-top, top, 3000)]) / top
    pluck = stored(book, harp, made, Clip(samples, 44100))
    again = read_clip(book.folder, pluck)
    assert again.rate_hz == 44100 and np.array_equal(again.samples, samples)
    assert soundfile.info(book.folder / pluck.clip).subtype == "PCM_24"


@pytest.mark.parametrize("peak, gain", [(0.5, 1.0), (1.0, 0.5), (1.7, 0.5), (2.0, 0.25), (-1.0, 1.0), (-1.01, 0.5)])
def test_only_a_clip_that_would_not_fit_is_turned_down(book, harp, made, peak, gain):
    samples = np.array([0.25, peak, 0.1])
    pluck = stored(book, harp, made, Clip(samples, 8000))
    assert pluck.clip_gain == gain
    # Half a step of 24 bits (derived here), made larger by the gain.
    np.testing.assert_allclose(read_clip(book.folder, pluck).samples, samples, atol=2**-24 / gain, rtol=0)


def test_the_callers_samples_stay_as_they_are(book, harp, made):
    samples = np.array([0.25, 3.0, -0.5])
    stored(book, harp, made, Clip(samples, 8000))
    assert samples.tolist() == [0.25, 3.0, -0.5]


def test_clips_can_be_made_one_at_a_time(book, harp, made):
    alive = []

    def make():
        alive.append(1)
        return made.clip()

    assert np.array_equal(read_clip(book.folder, stored(book, harp, made, make)).samples, made.clip().samples) and alive == [1]


@pytest.mark.parametrize("none", [None, lambda: None])
def test_a_pluck_without_a_clip(book, harp, made, none):
    pluck = stored(book, harp, made, none)
    assert pluck.clip is None and read_clip(book.folder, pluck) is None
    assert list(book.plucks.iterdir()) == []


@pytest.mark.parametrize("samples", [np.zeros(0), np.zeros((5, 2)), np.array([0.0, np.inf])])
def test_refuses_what_is_no_clip(book, harp, made, samples):
    with pytest.raises(BookError, match="a clip must be one channel"):
        stored(book, harp, made, Clip(samples, 8000))


def test_a_lost_or_damaged_clip_gets_a_reason(book, harp, made):
    pluck = stored(book, harp, made, made.clip())
    (book.folder / pluck.clip).write_bytes(b"not a flac file")
    with pytest.raises(BookError, match="gone or damaged"):
        read_clip(book.folder, pluck)
    (book.folder / pluck.clip).unlink()
    with pytest.raises(BookError, match="gone or damaged"):
        read_clip(book.folder, pluck)


def test_a_clips_name_never_leads_out_of_the_book(book, harp, made):
    pluck = stored(book, harp, made, made.clip())
    outside = book.folder.parent / "outside.flac"
    (book.folder / pluck.clip).rename(outside)
    with pytest.raises(BookError, match="leads out of it"):
        read_clip(book.folder, replace(pluck, clip="plucks/../../outside.flac"))


@pytest.mark.skipif(sys.platform != "linux", reason="the locale of C is Linux's")
def test_sounds_are_kept_where_the_locale_knows_no_letter_of_the_folders_name(tmp_path):
    """As on a computer whose locale is not set up. The sound is the same as anywhere: what was written is read again, bit for bit."""
    program = """
import importlib.util, sys
from pathlib import Path
assert sys.getfilesystemencoding() == "ascii"
from toneprobe.book.clips import read_clip
from toneprobe.book.opening import create_book
from toneprobe.book.read import plucks_of
from toneprobe.book.stringing import add_harp
from toneprobe.book.write import store_or_find_sweep
spec = importlib.util.spec_from_file_location("made", sys.argv[2])
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)
book = create_book(Path(sys.argv[1]))
add_harp(book, "Linnet", made.INSTRUMENT)
sweep = made.sweep(1)
store_or_find_sweep(book, sweep, today=sweep.date)
assert all((read_clip(book.folder, one).samples == made.clip(place).samples).all() for place, one in enumerate(plucks_of(book, 1)))
"""
    bare = {**os.environ, "LC_ALL": "POSIX", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    command = [sys.executable, "-c", program, tmp_path / "Hárfa könyv ♭", Path(__file__).with_name("conftest.py")]
    ran = subprocess.run(command, env=bare, capture_output=True)
    assert ran.returncode == 0, ran.stderr.decode("utf-8", "backslashreplace")
    assert len(list((tmp_path / "Hárfa könyv ♭").glob("plucks/*/*.flac"))) == 3

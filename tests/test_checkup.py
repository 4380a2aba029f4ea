"""The main job where another program is at work on the same book. The recording is made by the string model."""

from __future__ import annotations

from datetime import date

from toneprobe import hearing
from toneprobe.book import read
from toneprobe.book.opening import create_book
from toneprobe.book.stringing import add_harp
from toneprobe.checkup import Swept, check
from toneprobe.instrument import load_instrument

FIRST, SECOND = date(2024, 5, 4), date(2024, 5, 25)


def test_recordings_that_another_program_stores_meanwhile_are_told_as_known(played, tmp_path):
    """It files them for 4 May as an ordinary sweep while this one, asked to keep them as fresh for 3D on the 25th, still listens."""
    book, instrument = create_book(tmp_path / "book"), load_instrument(played.harp_file)
    harp = add_harp(book, "Wren", instrument)

    def listen(path, *arguments, **options):
        heard = hearing.hear(path, *arguments, **options)
        check(book, harp, Swept((path,), FIRST, instrument), listen=hearing.hear)
        return heard

    checked = check(book, harp, Swept((played.june,), SECOND, instrument, fresh_for=frozenset({"3D"})), listen=listen)
    (record,) = read.sweeps(book, harp.id)
    assert not checked.is_new and checked.record == record and record.date == FIRST
    fresh = {one.measurement.string for one in read.plucks_of(book, record.id) if one.is_fresh}
    assert fresh == set(checked.fresh.taken) == {"3D"}  # what is told is what the book holds

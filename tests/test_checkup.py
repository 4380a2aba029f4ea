"""The main job where another program is at work on the same book, and where a pedal was moved between fresh sweeps.

The recordings are made by the string model.
"""

import os
import shutil
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
import soundfile

from toneprobe import hearing
from toneprobe.book import read
from toneprobe.book.connect import connect_file
from toneprobe.book.opening import create_book
from toneprobe.book.stringing import add_harp, replace_fitting
from toneprobe.checkup import Swept, check
from toneprobe.condition.context import RIDES_GAIN
from toneprobe.errors import BookError, RecordingError
from toneprobe.fittings import NewFitting, Removal
from toneprobe.instrument import load_instrument
from toneprobe.judging.fresh_choice import FreshWish
from toneprobe.judging.past import past_of
from toneprobe.judging.verdicts import JudgedAgain, judge_again, judge_sweep, recall
from toneprobe.retelling import retell
from toneprobe.upkeep.engagement import needs_of
from toneprobe.upkeep.fresh_sweep import fresh_in_two_positions, judged_before

FIRST, SECOND = date(2024, 5, 4), date(2024, 5, 25)


def test_recordings_that_another_program_stores_meanwhile_are_told_as_known(played, tmp_path):
    """It files them for 4 May as an ordinary sweep while this one, asked to keep them as fresh for 3D on the 25th, still listens."""
    book, instrument = create_book(tmp_path / "book"), load_instrument(played.harp_file)
    harp = add_harp(book, "Wren", instrument)

    def listen(path, *arguments, **options):
        heard = hearing.hear(path, *arguments, **options)
        check(book, harp, Swept((path,), FIRST, instrument), today=FIRST, listen=hearing.hear)
        return heard

    swept = Swept((played.june,), SECOND, instrument, FreshWish(named=frozenset({"3D"})))
    checked = check(book, harp, swept, today=SECOND, listen=listen)
    (record,) = read.sweeps(book, harp.id)
    assert not checked.is_new and checked.record == record and record.date == FIRST
    fresh = {one.measurement.string for one in read.plucks_of(book, record.id) if one.is_fresh}
    assert fresh == set(checked.fresh.taken) == {"3D"}  # what is told is what the book holds


def test_a_book_put_in_place_of_the_one_that_a_sweep_is_for_does_not_get_it(played, tmp_path):
    """Each book counts its harps from 1, so Wren's number is another's there. A sync or a restored copy may do it."""
    book, instrument = create_book(tmp_path / "book"), load_instrument(played.harp_file)
    harp = add_harp(book, "Wren", instrument)
    other = create_book(tmp_path / "other")
    add_harp(other, "Linnet", load_instrument("lever-34"))
    other.engine.dispose()

    def listen(path, *arguments, **options):
        book.engine.dispose()
        shutil.rmtree(book.folder)
        shutil.copytree(other.folder, book.folder)
        return hearing.hear(path, *arguments, **options)

    with pytest.raises(BookError, match="was replaced while this was measured"):
        check(book, harp, Swept((played.june,), FIRST, instrument), today=FIRST, listen=listen)
    (found,) = read.harps(connect_file(book.folder))
    assert found.name == "Linnet" and read.sweeps(connect_file(book.folder), found.id) == ()


def test_a_string_changed_while_a_sweep_is_judged_waits_until_it_is_stored(played, tmp_path, monkeypatch):
    """Else the new string would have a verdict by the baseline of the old one. The other program is a thread with a connection of its own;
    it waits 0.1 s here."""
    book, instrument = create_book(tmp_path / "book"), load_instrument(played.harp_file)
    harp = add_harp(book, "Wren", instrument)
    check(book, harp, Swept((played.whole,), FIRST, instrument, FreshWish(all=True)), today=FIRST)
    told = []

    def restring():
        other, day = connect_file(book.folder, wait_s=0.1), FIRST + timedelta(1)
        try:
            replace_fitting(other, harp.id, NewFitting("3C", day, "nylon"), Removal(day, "planned"))
        except BookError as error:
            told.append(str(error))

    def judge_beside(*arguments, **options):
        with ThreadPoolExecutor(1) as beside:
            beside.submit(restring).result()
        return judge_sweep(*arguments, **options)

    monkeypatch.setattr("toneprobe.checkup.judge_sweep", judge_beside)
    check(book, harp, Swept((played.later,), SECOND, instrument), today=SECOND)
    monkeypatch.undo()
    assert len(told) == 1 and "is in use by another program" in told[0]
    assert judge_again(book, harp.id, since=FIRST) == JudgedAgain()  # what is stored is what the book gives


def test_a_recording_of_two_harps_is_judged_by_what_the_book_keeps_of_it(played, tmp_path, monkeypatch):
    """Whether its gain rides is told by what is no pluck in it, which hangs on the harp: by the second hearing it does not."""
    book, instrument, asked = create_book(tmp_path / "book"), load_instrument(played.harp_file), []

    def listen(path, *arguments, **options):
        heard = hearing.hear(path, *arguments, **options)
        return replace(heard, recording=replace(heard.recording, quality=replace(heard.recording.quality, gain_riding=not asked)))

    def judge_it(*arguments, record, **options):
        asked.append(record.recordings)
        return judge_sweep(*arguments, record=record, **options)

    monkeypatch.setattr("toneprobe.checkup.judge_sweep", judge_it)
    found = [check(book, add_harp(book, name, instrument), Swept((played.june,), FIRST, instrument), today=FIRST, listen=listen).record
             for name in ("Wren", "Rook")]
    assert asked == [one.recordings for one in found] and asked[1][0].quality.gain_riding


@pytest.mark.parametrize(("is_fresh", "since"), [(False, FIRST + timedelta(1)), (True, FIRST)])
def test_sweeps_after_one_that_is_stored_late_are_judged_by_what_it_says(played, tmp_path, monkeypatch, is_fresh, since):
    """That it called a string dead counts for them, in another pedal position too; as a baseline it counts for those of its day."""
    book, instrument, asked = create_book(tmp_path / "book"), load_instrument(played.harp_file), []
    harp, late = add_harp(book, "Wren", instrument), tmp_path / "late.wav"
    late.write_bytes(b"another recording")
    monkeypatch.setattr("toneprobe.checkup.judge_again", lambda book, harp_id, **which: asked.append(which))

    def listen(path, *arguments, **options):
        return hearing.hear(played.june, *arguments, **options)

    check(book, harp, Swept((played.june,), SECOND, instrument), today=SECOND, listen=listen)
    stored = check(book, harp, Swept((late,), FIRST, instrument, FreshWish(all=is_fresh)), today=SECOND, listen=listen).record
    assert asked[1:] == [{"since": since, "leaving_out": stored.id}]


def test_a_recording_that_is_removed_once_it_is_measured_is_kept_where_its_sounds_are_had(played, tmp_path):
    """As one that was decoded into a file of our own, which is heard here; of how many bytes it was is known from before."""
    book, instrument = create_book(tmp_path / "book"), load_instrument(played.harp_file)
    harp, path = add_harp(book, "Wren", instrument), Path(shutil.copy(played.june, tmp_path / "june.flac"))
    n_bytes = path.stat().st_size

    def listen(path, *arguments, **options):
        heard = hearing.hear(played.june, *arguments, **options)
        path.unlink()
        return replace(heard, recording=replace(heard.recording, path=str(path)))

    record = check(book, harp, Swept((path,), FIRST, instrument), today=FIRST, listen=listen).record
    assert [one.n_bytes for one in record.recordings] == [n_bytes]


def test_a_recording_that_is_still_being_copied_is_refused(played, tmp_path):
    """What was measured is its first part: once it is whole it would be another sweep. One that was only touched is the same."""
    book, instrument = create_book(tmp_path / "book"), load_instrument(played.harp_file)
    harp, path = add_harp(book, "Wren", instrument), Path(shutil.copy(played.june, tmp_path / "june.flac"))

    def sweep(meanwhile):
        def listen(path, *arguments, **options):
            heard = hearing.hear(path, *arguments, **options)
            meanwhile()
            return heard

        return check(book, harp, Swept((path,), FIRST, instrument), today=FIRST, listen=listen)

    def grow():
        with path.open("ab") as file:
            file.write(b"more")

    with pytest.raises(RecordingError, match="june.flac was written to while it was measured"):
        sweep(grow)
    assert read.sweeps(book, harp.id) == ()
    shutil.copy(played.june, path)
    assert sweep(lambda: os.utime(path, (0, 0))).is_new


def test_an_old_recording_that_was_cut_anew_is_told_by_its_pauses_and_pitches(played, tmp_path):
    """The first second of silence is cut off, so not a byte of the file is the same. The same strings by the same player, plucked anew
    after like pauses, are no old recording."""
    book, instrument = create_book(tmp_path / "book"), load_instrument(played.harp_file)
    harp = add_harp(book, "Wren", instrument)
    samples, rate_hz = soundfile.read(played.fresh)
    soundfile.write(tmp_path / "again.flac", samples[rate_hz:], rate_hz, subtype="PCM_24")

    def told(path, day):
        record = check(book, harp, Swept((path,), day, instrument), today=SECOND, listen=hearing.hear).record
        return [one.text for one in record.remarks if one.as_sweep == 1]

    assert not told(played.fresh, FIRST) and not told(played.whole, FIRST + timedelta(days=7))
    text, = told(tmp_path / "again.flac", SECOND)
    assert text.startswith("again.flac holds plucks of sweep 1 of 4 May 2024, the very same ones: is it an old recording?")


def test_each_pedal_position_has_its_own_fresh_baseline(played, tmp_path):
    """Fresh with 3C a C, and the day after with its pedal down; then heard with it down, and up again. What sounds is the same to the ear
    here: only the notes differ, and plucks of different notes must never meet in one baseline."""
    book, instrument = create_book(tmp_path / "book"), load_instrument(played.harp_file)
    harp = add_harp(book, "Wren", instrument)
    note = next(spec.note for spec in instrument.strings if spec.name == "3C")

    def listen_down(path, *arguments, **options):
        heard = hearing.hear(path, *arguments, **options)
        return replace(heard, plucks=tuple(replace(one, note="C#5") if one.string == "3C" else one for one in heard.plucks))

    def sweep(path, day, listen, *, is_fresh):
        swept = Swept((path,), date(2024, 5, day), instrument, FreshWish(all=is_fresh))
        return check(book, harp, swept, today=swept.day, listen=listen)

    up = sweep(played.whole, 4, hearing.hear, is_fresh=True)
    down = sweep(played.later, 5, listen_down, is_fresh=True)
    assert "3C" in down.fresh.taken and fresh_in_two_positions(book, down.record, down.fresh.taken) == ("3C",)
    told = {one.condition.string: one.condition for one in read.conditions_of(book, down.record.id)}["3C"]
    assert (told.verdict, told.reasons) == ("unrated", ("This sweep is its fresh baseline.",))

    n_up, n_down = (sum(one.measurement.string == "3C" for one in read.plucks_of(book, done.record.id)) for done in (up, down))
    later = sweep(played.june, 25, listen_down, is_fresh=False)
    baseline = recall(book, later.record).past.baselines["3C"]
    assert (baseline.reading.note, baseline.capture) == ("C#5", f"sweeps {down.record.id}") and baseline.n_plucks <= n_down
    again = past_of(book, harp.id, on=date(2024, 5, 25), heard={"3C": note}).baselines
    assert (again["3C"].reading.note, again["3C"].capture) == (note, f"sweeps {up.record.id}") and again["3C"].n_plucks <= n_up
    assert again["3D"].capture == f"sweeps {up.record.id}, {down.record.id}"  # its pedal never moved: both are its baseline
    assert past_of(book, harp.id, on=date(2024, 5, 25)).baselines["3C"].reading.note == note  # unheard: as it was fresh first


def test_a_dead_string_is_not_cleared_by_a_baseline_in_another_position(played, tmp_path):
    """Fresh in May, dead three weeks later; then, as dead, fresh with its lever moved, months after, and heard so once more. By the model:
    it rings a third as long. Only that note differs, what sounds is the same."""
    book, instrument = create_book(tmp_path / "book"), load_instrument(played.harp_file)
    harp, dead = add_harp(book, "Wren", instrument), played.dead
    note = next(spec.note for spec in instrument.strings if spec.name == dead)

    def moved(path, *arguments, **options):
        heard = hearing.hear(played.later, *arguments, **options)
        plucks = (replace(one, note=f"{note[0]}#{note[-1]}") if one.string == dead else one for one in heard.plucks)
        return replace(heard, plucks=tuple(plucks))

    def sweep(path, day, listen=hearing.hear, *, is_fresh=False):
        done = check(book, harp, Swept((path,), day, instrument, FreshWish(all=is_fresh)), today=day, listen=listen)
        view = retell(book, done.record, "Wren")
        return done, {one.name: one for one in view.strings}[dead], view

    sweep(played.whole, FIRST, is_fresh=True)
    assert sweep(played.later, SECOND)[1].state == "dead"
    done, string, view = sweep(played.june, date(2024, 8, 3), moved, is_fresh=True)
    assert done.fresh.taken == (dead,) and string.state == "fresh" and judged_before(book, done.record, done.fresh.taken) == (dead,)
    assert f"{dead}, heard but not judged, was last judged dead on 25 May 2024." in view.standing
    _, string, view = sweep(played.fresh, date(2024, 9, 7), moved)
    assert (string.state, string.verdict) == ("judged before", "unsure") and "judged dead on 25 May 2024" in string.condition.reasons[0]
    assert f"{dead}, heard but not judged, was last judged dead on 25 May 2024." in view.standing
    change, = (one for one in needs_of(book, harp, today=date(2024, 9, 8)) if one.spec.name == dead)
    assert change.kind == "dead"


def test_recordings_that_can_be_no_baseline_become_one_only_where_the_player_insists(played, tmp_path):
    """A recorder that rode its gain bends every decay; the player is asked before such a sweep is kept as fresh, once it has been heard."""
    book, instrument = create_book(tmp_path / "book"), load_instrument(played.harp_file)
    harp = add_harp(book, "Wren", instrument)
    asked = []

    def listen(path, *arguments, **options):
        heard = hearing.hear(path, *arguments, **options)
        return replace(heard, recording=replace(heard.recording, quality=replace(heard.recording.quality, gain_riding=True)))

    def sweep(*, insists):
        swept = Swept((played.june,), FIRST, instrument, FreshWish(all=True))
        return check(book, harp, swept, today=FIRST, listen=listen, insists=lambda found: asked.append(found) or insists)

    refused = sweep(insists=False)
    assert asked == [RIDES_GAIN] and refused.is_new and refused.fresh.taken == () and not refused.record.is_fresh
    headline = retell(book, refused.record, "Wren").headline
    assert "fresh baseline of" not in headline and "not usable" not in headline  # an ordinary sweep
    kept = sweep(insists=True)  # the same recordings again, on purpose
    assert len(asked) == 2 and set(kept.fresh.taken) == {"3E", "3D", "3C"}
    view = retell(book, kept.record, "Wren")
    assert "not usable as a fresh baseline, because this recording's gain moves by itself" in view.headline
    assert sum("gain" in one.text for one in view.warnings) == 1  # told by the comparison; the remark on the recorder would be it again
    assert "'toneprobe withdraw 1'" in view.fresh_anew == view.first_steps[0].text


def test_a_string_restrung_singly_has_its_brightness_told_by_the_others_of_its_fresh_sweep(played, tmp_path):
    """3C alone went on in May. Its fresh sweep heard the eleven others, which are on still: they tell the microphone from its dulling."""
    book, instrument = create_book(tmp_path / "book"), load_instrument(played.harp_file)
    harp = add_harp(book, "Wren", instrument)

    def sweep(path, day, sound=None, **wish):
        listen = (lambda path, *arguments, **options: hearing.hear(sound, *arguments, **options)) if sound else hearing.hear
        return check(book, harp, Swept((path,), day, instrument, FreshWish(**wish)), today=day, listen=listen).record

    sweep(played.whole, FIRST, all=True)
    replace_fitting(book, harp.id, NewFitting("3C", FIRST + timedelta(1), "nylon"), Removal(FIRST + timedelta(1), "planned"))
    own = sweep(played.later, SECOND, named=frozenset({"3C"}))
    last = sweep(played.june, SECOND + timedelta(30), sound=played.whole)
    told = {one.condition.string: one.condition.changes for one in read.conditions_of(book, last.id)}
    assert recall(book, last).past.baselines["3C"].capture == f"sweeps {own.id}"
    assert told["3C"]["brightness"].known
    assert judge_again(book, harp.id, since=FIRST) == JudgedAgain()
    assert told["3C"] == {one.condition.string: one.condition.changes for one in read.conditions_of(book, last.id)}["3C"]

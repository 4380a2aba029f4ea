"""Harps and the strings on them, over the days."""

from dataclasses import replace
from datetime import date, datetime

import pytest
from sqlalchemy import update
from stored_sweep import store_sweep

from toneprobe.book.check import check_book
from toneprobe.book.connect import writing
from toneprobe.book.corrections import correct_fitting, corrections_of
from toneprobe.book.diary import add_event
from toneprobe.book.entries import NewCheck
from toneprobe.book.log_import import import_log
from toneprobe.book.other_strings import give_strings, recorded_harp
from toneprobe.book.pitch_checks import add_checks, pitch_checks
from toneprobe.book.read import conditions_of, current_fittings, fitting_log, fresh_plucks, harp, harps, plucks_of, sweep
from toneprobe.book.schema import harps as harp_rows
from toneprobe.book.stringing import add_harp, replace_fitting
from toneprobe.book.taken_out import take_out_note
from toneprobe.book.write import replace_conditions
from toneprobe.errors import BookError, UsageError
from toneprobe.events import Event
from toneprobe.fittings import NewFitting, Removal
from toneprobe.instrument import StringSpec, find_string, load_instrument, preset_names, retune
from toneprobe.measure.figure import Figure
from toneprobe.notebook import LogRow
from toneprobe.settling import PitchReading

MAY, JUNE, JULY = date(2024, 5, 1), date(2024, 6, 1), date(2024, 7, 1)
HOSTILE = ["<script>alert(1)</script>", "../../x", "two\nlines", "🪕 harp", "'; DROP TABLE harps; --", "a\x00b", "\udcff.wav", "%s{0}"]


def test_a_harp_starts_with_one_string_of_unknown_date_on_each_position(book, made):
    linnet = add_harp(book, "Linnet", made.instrument, preset="lever-34")
    assert harp(book) == linnet == harp(book, "Linnet")
    assert (linnet.instrument, linnet.preset) == (made.instrument, "lever-34")
    on = current_fittings(book, linnet.id, on=date(1990, 1, 1))
    assert {name: (one.fitted_on, one.material, one.gauge_mm) for name, one in on.items()} == {
        "4E": (None, "nylon", 1.0),
        "4D": (None, "nylon", 1.05),
        "4C": (None, "nylon", 1.27),
    }


@pytest.mark.parametrize("preset", preset_names())
def test_an_instrument_comes_back_as_it_was_put_in(book, preset):
    instrument = load_instrument(preset, a4_hz=442.5)
    assert add_harp(book, "Linnet", instrument, preset=preset).instrument == instrument == harp(book).instrument


def test_what_the_owner_fixed_stays_fixed(book, made):
    """A string that is set by hand keeps its note when the harp is swept in another tuning."""
    by_hand = replace(made.instrument.strings[0], mechanism=False, follows_tuning=False)
    again = add_harp(book, "Linnet", replace(made.instrument, strings=(by_hand, *made.instrument.strings[1:]))).instrument
    assert [find_string(retune(again, tuning="C"), name).note for name in ("4E", "4D")] == ["Eb4", "D4"]


def test_which_harp_is_meant_must_be_plain(book, made):
    with pytest.raises(BookError, match="no harp yet"):
        harp(book)
    add_harp(book, "Linnet", made.instrument)
    add_harp(book, "Wren", made.instrument)
    with pytest.raises(UsageError, match="'Linnet', 'Wren'"):
        harp(book)
    with pytest.raises(UsageError, match="no harp 'Finch'; it has 'Linnet', 'Wren'"):
        harp(book, "Finch")
    with pytest.raises(UsageError, match="needs a name"):
        add_harp(book, " \n", made.instrument)


def test_a_harp_typed_wrong_is_entered_anew_until_something_is_recorded_of_it(book, made):
    add_harp(book, "Linnet", made.instrument)
    add_harp(book, "Wr\u00e9n", load_instrument("lever-36"), preset="lever-36")
    wren = add_harp(book, "Wre\u0301n", made.instrument)  # é is one letter, or e with an accent upon it: Unicode, annex 15
    assert [one.name for one in harps(book)] == ["Linnet", "Wr\u00e9n"] and harp(book, "Wr\u00e9n") == wren
    assert (wren.instrument, wren.preset, len(fitting_log(book, wren.id))) == (made.instrument, None, 3)


@pytest.mark.parametrize("record", [
    lambda book, one: replace_fitting(book, one.id, NewFitting("4D", MAY), Removal(MAY, "dead")),
    lambda book, one: correct_fitting(book, fitting_log(book, one.id)[0].id, {"material": "gut"}, today=MAY),
    lambda book, one: add_event(book, one.id, Event(MAY, "moved", "to the hall")),
])
def test_a_harp_of_which_something_is_recorded_stays(book, made, record):
    record(book, add_harp(book, "Wren", made.instrument))
    before = harp(book), fitting_log(book, harp(book).id)
    with pytest.raises(BookError, match="a harp 'Wren' already, and something is recorded"):
        add_harp(book, "Wren", load_instrument("lever-36"))
    assert (harp(book), fitting_log(book, harp(book).id)) == before


def test_a_harp_with_a_record_may_get_the_strings_that_it_has(book, made):
    """The wrong preset, noticed late: what was heard, changed and written stays; what is on since before the log is what belongs there."""
    wren = add_harp(book, "Wren", load_instrument("lever-36"), preset="lever-36")
    log = {one.string: one for one in fitting_log(book, wren.id)}
    changed = replace_fitting(book, wren.id, NewFitting("4D", MAY, "nylon"), Removal(MAY, "dead"))
    correct_fitting(book, log["4E"].id, {"material": "fluorocarbon"}, today=MAY)
    record = store_sweep(book, replace(made.sweep(wren.id, strings=("4C",)), instrument=wren.instrument))
    assert recorded_harp(book, "Wren") == wren and recorded_harp(book, "wren") is None
    pedal = load_instrument("pedal-47")
    found = give_strings(book, wren, replace(pedal, strings=pedal.strings[5:]), preset=None, today=JUNE)  # from 1B down
    assert (found.new[0], found.gone, found.otherwise[0]) == ("6B", ("1C",), "1B")
    now = {one.string: one for one in fitting_log(book, wren.id)}
    assert (now["4C"].material, now["4C"].id, now["4D"], now["4E"].material) == ("gut", log["4C"].id, changed, "fluorocarbon")
    assert harp(book, "Wren").instrument.strings == pedal.strings[5:] and sweep(book, record.id).instrument == wren.instrument
    assert ("material", "nylon", "gut") in [(one.field, one.before, one.after) for one in corrections_of(book, wren.id)]
    assert "1C" not in now and check_book(book) == ()
    give_strings(book, harp(book, "Wren"), load_instrument("lever-36"), preset="lever-36", today=JUNE)
    assert {one.string for one in fitting_log(book, wren.id)} == set(log) and harp(book, "Wren").preset == "lever-36"


@pytest.mark.parametrize("record", [
    lambda book, one, made: store_sweep(book, replace(made.sweep(one.id, strings=("1C",)), instrument=one.instrument)),
    lambda book, one, made: replace_fitting(book, one.id, NewFitting("1C", MAY), Removal(MAY, "dead")),
])
def test_no_string_of_which_something_is_recorded_goes_with_the_wrong_preset(book, made, record):
    wren = add_harp(book, "Wren", load_instrument("lever-36"))
    record(book, wren, made)
    with pytest.raises(UsageError, match="something is recorded of 1C, which Wren would no longer have: nothing was changed"):
        give_strings(book, wren, load_instrument("lever-34"), preset="lever-34", today=JUNE)
    assert harp(book, "Wren") == wren and "1C" in {one.string for one in fitting_log(book, wren.id)}


@pytest.mark.parametrize(("known", "name"), [
    ("Wren", "wren"), ("wren", "WREN"), ("Strauß", "STRAUSS"), ("Wren", "wren "),
    ("Wren two", "Wren  two")])
def test_no_two_harps_read_alike(book, made, known, name):
    add_harp(book, known, made.instrument)
    with pytest.raises(BookError, match=f"has a harp '{known}' already"):
        add_harp(book, name, made.instrument)
    assert [one.name for one in harps(book)] == [known]


@pytest.mark.parametrize(("known", "typed"), [
    ("Concert", "concert"), ("concert", "CONCERT"), ("Strauß", "STRAUSS"), ("Wr\u00e9n", "wre\u0301n ")])
def test_a_harp_is_found_whatever_its_capitals(book, made, known, typed):
    """No two harps differ in capitals alone, so a name typed in others can mean that one only (derived here)."""
    added = add_harp(book, known, made.instrument)
    add_harp(book, "Concert harp", made.instrument)
    assert harp(book, typed) == added == harp(book, known)


def test_a_harp_that_is_gone_is_meant_by_its_name_alone_and_keeps_its_record(book, made):
    """Sold: with one other left nobody has to say which. Taken back, or with no other left, all is as before."""
    wren, finch = (add_harp(book, name, made.instrument) for name in ("Wren", "Finch"))
    sold = add_event(book, wren.id, Event(MAY, "gone", "sold to a pupil"))
    assert harp(book) == finch and harp(book, "wren") == wren and len(fitting_log(book, wren.id)) == 3
    add_harp(book, "Linnet", made.instrument)
    with pytest.raises(UsageError, match="several harps; choose one with --harp: 'Finch', 'Linnet'$"):
        harp(book)
    take_out_note(book, wren.id, sold.id, today=JUNE, why="she brought it back")
    with pytest.raises(UsageError, match="choose one with --harp: 'Wren', 'Finch', 'Linnet'"):
        harp(book)


def test_the_only_harp_of_a_book_is_meant_though_it_is_gone(book, made):
    wren = add_harp(book, "Wren", made.instrument)
    add_event(book, wren.id, Event(MAY, "gone"))
    assert harp(book) == wren


def test_of_two_that_differ_in_capitals_alone_the_name_as_written_tells(book, made):
    """An older book may have both: the one that is written so is meant, and of neither nothing is guessed."""
    first = add_harp(book, "Wren", made.instrument)
    second = add_harp(book, "Finch", made.instrument)
    with writing(book) as connection:
        connection.execute(update(harp_rows).where(harp_rows.c.name == "Finch").values(name="wren"))
    assert (harp(book, "Wren").id, harp(book, "wren").id) == (first.id, second.id)
    with pytest.raises(UsageError, match="several harps; choose one with --harp: 'Wren', 'wren'"):
        harp(book, "WREN")


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_only_names(book, made, name):
    odd = replace(made.instrument, strings=(StringSpec(name, "C4", 261.626),))
    added = add_harp(book, name, odd)
    assert harp(book, name) == added and len(harps(book)) == 1
    new = replace(made.sweep(added.id, strings=(name,)), instrument=odd, recordings=(replace(made.recording(), file_name=name),))
    record = store_sweep(book, new)
    (pluck,) = plucks_of(book, record.id)
    assert pluck.fitting_id == current_fittings(book, added.id, on=MAY)[pluck.measurement.string].id
    assert (book.folder / pluck.clip).is_file() and (book.folder / pluck.clip).resolve().is_relative_to(book.plucks)
    if name.isprintable():
        assert (added.name, pluck.measurement.string, record.recordings[0].file_name) == (name, name, name)


def test_a_change_gives_later_plucks_to_the_new_string(book, harp, made):
    before = store_sweep(book, made.sweep(harp.id, MAY, letters="a"))
    gut = NewFitting("4C", JUNE, "gut", 1.3, supplier="a shop", batch="7", note="first gut")
    new = replace_fitting(book, harp.id, gut, Removal(JUNE, "broke", "knot"))
    after = store_sweep(book, made.sweep(harp.id, JULY, letters="b"))
    old, logged = fitting_log(book, harp.id, "4C")
    assert logged == new and (old.removed_on, old.why_removed, old.broke_at) == (JUNE, "broke", "knot")
    assert (new.material, new.gauge_mm, new.supplier, new.batch, new.note) == ("gut", 1.3, "a shop", "7", "first gut")
    assert [_owner(book, one.id, "4C") for one in (before, after)] == [old.id, new.id]
    assert current_fittings(book, harp.id, on=MAY)["4C"] == old and current_fittings(book, harp.id, on=JUNE)["4C"] == new


def test_a_change_logged_late_moves_what_was_played_on_the_new_string(book, harp, made):
    records = [store_sweep(book, made.sweep(harp.id, day, letters=letter)) for letter, day in (("a", MAY), ("b", JULY))]
    new = replace_fitting(book, harp.id, NewFitting("4C", JUNE), Removal(JUNE))
    old = fitting_log(book, harp.id, "4C")[0]
    assert [_owner(book, one.id, "4C") for one in records] == [old.id, new.id]
    verdict = next(one for one in conditions_of(book, records[1].id) if one.condition.string == "4C")
    assert verdict.fitting_id == new.id
    assert _owner(book, records[1].id, "4D") == fitting_log(book, harp.id, "4D")[0].id


@pytest.mark.parametrize("before_sweep", [False, True])
def test_what_a_sweep_says_as_a_check_is_of_the_string_that_it_heard(book, harp, made, before_sweep):
    record = store_sweep(book, made.sweep(harp.id, JUNE))
    add_checks(book, harp.id, [NewCheck(PitchReading("4C", "C4", datetime(2024, 6, 1, 12), Figure(261.5, 0.1), sweep_id=record.id))])
    new = replace_fitting(book, harp.id, NewFitting("4C", JUNE), Removal(JUNE), before_sweep=before_sweep)
    (check,) = pitch_checks(book, harp.id)
    assert check.fitting_id == _owner(book, record.id, "4C") and (check.fitting_id == new.id) is before_sweep


def test_sweeps_before_and_after_a_change_on_one_day_keep_their_strings(book, harp, made):
    before = store_sweep(book, made.sweep(harp.id, JUNE, letters="a"))
    new = replace_fitting(book, harp.id, NewFitting("4C", JUNE), Removal(JUNE, "dead"))
    after = store_sweep(book, made.sweep(harp.id, JUNE, letters="b"))
    old = fitting_log(book, harp.id, "4C")[0]
    assert [_owner(book, one.id, "4C") for one in (before, after)] == [old.id, new.id]
    replace_conditions(book, before.id, [made.condition("4C", "dead")])
    assert conditions_of(book, before.id)[0].fitting_id == old.id


def test_an_empty_position_owns_no_plucks(book, harp, made):
    on = current_fittings(book, harp.id, on=MAY)["4C"]
    correct_fitting(book, on.id, {"removed_on": MAY, "why_removed": "broke"}, today=JULY)
    record = store_sweep(book, made.sweep(harp.id, JULY))
    assert _owner(book, record.id, "4C") is None and "4C" not in current_fittings(book, harp.id, on=MAY)
    with pytest.raises(UsageError, match="carried another one until 1 May 2024"):
        replace_fitting(book, harp.id, NewFitting("4C", date(2024, 4, 1)), Removal(date(2024, 4, 1)))
    late = replace_fitting(book, harp.id, NewFitting("4C", JUNE), Removal(JUNE))
    assert _owner(book, record.id, "4C") == late.id


def test_of_two_strings_of_one_day_the_one_that_stayed_is_on_whichever_was_put_in_first(book, harp, made):
    """A notebook's second string completes the entry that the book had, so the first, which broke that day, has the later number."""
    broke = LogRow(2, "4C", MAY, MAY, why_removed="broke")
    import_log(book, harp.id, (broke, LogRow(3, "4C", MAY)), today=MAY)
    before, stayed = fitting_log(book, harp.id, "4C")
    assert (before.removed_on, stayed.removed_on) == (MAY, None) and before.id > stayed.id
    assert current_fittings(book, harp.id, on=MAY)["4C"] == stayed
    record = store_sweep(book, made.sweep(harp.id, MAY))
    assert _owner(book, record.id, "4C") == stayed.id


def test_of_a_stand_in_in_a_notebook_nothing_is_known_but_what_it_says(book, harp):
    """It is not of the kind that belongs there, which the book supposed of the string that was on."""
    import_log(book, harp.id, (LogRow(2, "4C", MAY, is_stand_in=True),), today=MAY)
    (one,) = fitting_log(book, harp.id, "4C")
    assert (one.fitted_on, one.is_stand_in, one.material, one.gauge_mm) == (MAY, True, None, None)


def test_a_stand_in_never_becomes_a_baseline(book, harp, made):
    stand_in = replace_fitting(book, harp.id, NewFitting("4C", MAY, is_stand_in=True), Removal(MAY))
    record = store_sweep(book, made.sweep(harp.id, MAY, is_fresh=True))
    assert _owner(book, record.id, "4C") == stand_in.id and fresh_plucks(book, stand_in.id) == ()
    assert len(fresh_plucks(book, current_fittings(book, harp.id, on=MAY)["4D"].id)) == 1


def test_a_change_that_is_refused_leaves_the_old_string_on(book, harp):
    before = fitting_log(book, harp.id)
    with pytest.raises(UsageError, match="carried another one until 1 July 2024"):
        replace_fitting(book, harp.id, NewFitting("4C", JUNE), Removal(JULY))
    assert fitting_log(book, harp.id) == before


def test_a_sweep_of_a_harp_with_more_strings_keeps_those_that_it_had(book, harp, made):
    before = fitting_log(book, harp.id)
    wider = replace(made.instrument, tuning="C", strings=(*made.instrument.strings, StringSpec("4B", "B3", 246.942, "gut")))
    store_sweep(book, replace(made.sweep(harp.id), instrument=wider))
    assert set(before) <= set(fitting_log(book, harp.id))
    added = set(fitting_log(book, harp.id)) - set(before)
    assert [(one.string, one.material, one.fitted_on) for one in added] == [("4B", "gut", None)]


def _owner(book, sweep_id, string):
    return next(pluck.fitting_id for pluck in plucks_of(book, sweep_id) if pluck.measurement.string == string)

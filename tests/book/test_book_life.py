"""The life of a string in the book: pitch checks, settled strings, spares, events, corrections, settings, an imported notebook.

Expected values were read off the rows by hand.
"""

import csv
from datetime import date, datetime

import pytest
from old_books import SCHEMAS, restore
from stored_sweep import store_sweep

from toneprobe.book import corrections, diary, pitch_checks, read, settings, spare_box
from toneprobe.book.check import check_book
from toneprobe.book.entries import NewCheck, OwnerSettings
from toneprobe.book.export import export_book
from toneprobe.book.log_import import import_log
from toneprobe.book.opening import open_book
from toneprobe.book.stringing import replace_fitting
from toneprobe.book.write import mark_fresh
from toneprobe.errors import BookError, UsageError
from toneprobe.events import Event
from toneprobe.fittings import NewFitting, Removal
from toneprobe.measure.figure import Figure
from toneprobe.notebook import LogRow
from toneprobe.practice import Habits
from toneprobe.report.fitting_words import correction_words, fitting_line
from toneprobe.settling import PitchReading, SettledRecord, Tolerance
from toneprobe.spares import Spare

TODAY = date(2024, 6, 1)


def check(string="4C", at=datetime(2024, 5, 2, 9), found=261.0, left=None, letter="d"):
    left_hz = Figure(left, 0.1) if left else None
    return NewCheck(PitchReading(string, "C4", at, Figure(found, 0.1), left_hz), letter * 64, None)


def on(book, harp, string="4C"):
    return next(one for one in read.fitting_log(book, harp.id, string) if one.removed_on is None)


def change(book, harp, day, **more):
    return replace_fitting(book, harp.id, NewFitting("4C", day), Removal(day, "broke", "knot"), **more)


def test_a_stored_book_of_schema_2_gives_back_what_was_put_in(tmp_path):
    book = open_book(restore(SCHEMAS / "schema_2.sql", tmp_path / "old"))
    new = read.fitting_log(book, 1, "4C")[-1]
    assert pitch_checks.pitch_checks(book, 1) == (
        PitchReading("4C", "C4", datetime(2024, 3, 2, 12), Figure(260.5, 0.1), Figure(261.6, 0.1), new.id, None, 1),)
    assert pitch_checks.settled_strings(book, 1) == (SettledRecord(new.id, "4C", date(2024, 3, 8), date(2024, 3, 10), 2.5, 1),)
    assert pitch_checks.baselines_wanted(book, 1) == {new.id}
    (spare,) = spare_box.spares_of(book, 1)
    assert (spare.bought_on, spare.lead_time_days, spare.price, spare.harp_id) == (date(2024, 2, 1), 10, "12 EUR", 1)
    assert diary.events_of(book, 1) == (Event(date(2024, 5, 1), "climate", "", 20.5, 45.0, 1, 1, 1),)
    (trace,) = corrections.corrections_of(book, 1)
    assert (trace.field, trace.before, trace.after, trace.on, trace.why) == ("supplier", None, "corner shop", TODAY, "found the bill")
    assert settings.settings_of(book, 1) == OwnerSettings(Tolerance(2.0, 3.0), log_began=date(2023, 1, 1))


def test_a_check_counts_once(book, harp):
    first = pitch_checks.add_checks(book, harp.id, [check(), check("4E")])
    assert pitch_checks.add_checks(book, harp.id, [check(), check("4E")]) == first == pitch_checks.pitch_checks(book, harp.id)
    with pytest.raises(BookError, match="in the check of 2024-05-02 09:00 already"):
        pitch_checks.add_checks(book, harp.id, [check("4D"), check(at=datetime(2024, 5, 3, 9))])
    with pytest.raises(BookError, match="give another --time"):
        pitch_checks.add_checks(book, harp.id, [check("4D"), check(letter="e")])
    assert pitch_checks.pitch_checks(book, harp.id) == first  # 4D was not kept: all or none


def test_checks_go_with_the_string_that_was_on(book, harp):
    old = on(book, harp)
    pitch_checks.add_checks(book, harp.id, [check(at=datetime(2024, 4, 1, 9)), check(at=datetime(2024, 5, 2, 9), letter="e")])
    new = change(book, harp, date(2024, 4, 20))  # logged late
    assert [one.fitting_id for one in pitch_checks.pitch_checks(book, harp.id)] == [old.id, new.id]


def test_a_baseline_is_wanted_only_of_a_settled_string(book, harp):
    new = change(book, harp, date(2024, 4, 20))
    with pytest.raises(BookError, match="has not settled"):
        pitch_checks.want_baseline(book, new.id)
    record = SettledRecord(new.id, "4C", date(2024, 4, 28), date(2024, 4, 30), 2.0)
    pitch_checks.keep_settled(book, record)
    pitch_checks.keep_settled(book, SettledRecord(new.id, "4C", date(2024, 5, 8), date(2024, 5, 9), 9.0))
    assert [(one.settled_on, one.creep_cents) for one in pitch_checks.settled_strings(book, harp.id)] == [(date(2024, 4, 28), 2.0)]
    pitch_checks.want_baseline(book, new.id)
    assert pitch_checks.baselines_wanted(book, harp.id) == {new.id}


def test_the_wish_for_a_baseline_ends_with_the_sweep_that_is_one(book, harp, made):
    """In one transaction, so that no interruption leaves it to the month after: first an ordinary sweep, then two ways of a fresh one."""
    new = change(book, harp, date(2024, 4, 20))
    pitch_checks.keep_settled(book, SettledRecord(new.id, "4C", date(2024, 4, 28), date(2024, 4, 30), 2.0))
    pitch_checks.want_baseline(book, new.id)
    plain = store_sweep(book, made.sweep(harp.id, day=date(2024, 5, 1), letters="a"), fresh={"4E"})
    assert pitch_checks.baselines_wanted(book, harp.id) == {new.id}
    store_sweep(book, made.sweep(harp.id, day=date(2024, 5, 2), letters="b"), fresh={"4C"})
    assert pitch_checks.baselines_wanted(book, harp.id) == frozenset()
    pitch_checks.want_baseline(book, new.id)
    mark_fresh(book, plain.id, strings=["4D"])
    assert pitch_checks.baselines_wanted(book, harp.id) == {new.id}
    mark_fresh(book, plain.id, strings=["4C"])
    assert pitch_checks.baselines_wanted(book, harp.id) == frozenset()


def test_a_correction_that_contradicts_it_hides_what_had_settled(book, harp):
    new = change(book, harp, date(2024, 4, 20))
    pitch_checks.keep_settled(book, SettledRecord(new.id, "4C", date(2024, 4, 28), date(2024, 4, 30), 2.0))
    corrections.correct_fitting(book, new.id, {"fitted_on": date(2024, 5, 1)}, today=TODAY)
    assert pitch_checks.settled_strings(book, harp.id) == ()


def test_a_string_may_have_settled_on_its_first_day_and_on_its_last(book, harp):
    """It was on for a part of either."""
    old = on(book, harp)
    pitch_checks.keep_settled(book, SettledRecord(old.id, "4C", date(2024, 4, 20), date(2024, 4, 30), 2.0))
    new = change(book, harp, date(2024, 4, 20))
    pitch_checks.keep_settled(book, SettledRecord(new.id, "4C", date(2024, 4, 20), date(2024, 5, 1), 2.0))
    assert [one.fitting_id for one in pitch_checks.settled_strings(book, harp.id)] == [old.id, new.id]


def test_a_string_cannot_have_settled_after_it_came_off(book, harp):
    old = on(book, harp)
    pitch_checks.keep_settled(book, SettledRecord(old.id, "4C", date(2024, 4, 28), date(2024, 4, 30), 2.0))
    assert [one.fitting_id for one in pitch_checks.settled_strings(book, harp.id)] == [old.id]
    change(book, harp, date(2024, 4, 20))  # logged late: by then it had been off for eight days
    assert pitch_checks.settled_strings(book, harp.id) == ()


def test_a_spare_goes_onto_the_harp_with_the_change_or_not_at_all(book, harp):
    spare, other = spare_box.add_spares(book, [Spare("4C", bought_on=date(2024, 2, 1)), Spare("4D", place="home", harp_id=harp.id)])
    with pytest.raises(UsageError, match="bought only on"):
        change(book, harp, date(2024, 1, 1), spare_id=spare.id)
    assert on(book, harp).fitted_on is None  # the change was not logged either
    fitting = change(book, harp, date(2024, 4, 20), spare_id=spare.id)
    used, left = spare_box.spares_of(book, harp.id)
    assert (used.used_on, used.fitting_id, left) == (date(2024, 4, 20), fitting.id, other)
    with pytest.raises(UsageError, match="used on 20 April 2024 already"):
        change(book, harp, date(2024, 5, 1), spare_id=spare.id)
    old = read.fitting_log(book, harp.id, "4C")[0]
    corrections.correct_fitting(book, old.id, {"removed_on": date(2024, 1, 20)}, today=TODAY)
    with pytest.raises(UsageError, match="it was spare 1, which was bought only on 1 February 2024"):
        corrections.correct_fitting(book, fitting.id, {"fitted_on": date(2024, 1, 31)}, today=TODAY)  # as the change of that day is refused
    corrections.correct_fitting(book, fitting.id, {"fitted_on": date(2024, 2, 1)}, today=TODAY)
    assert [one.used_on for one in spare_box.spares_of(book, harp.id)] == [date(2024, 2, 1), None]
    gone = spare_box.use_up(book, other.id, TODAY, note="lent")
    assert (gone.used_on, gone.fitting_id, gone.note) == (TODAY, None, "lent")


def test_an_event_is_noted_once(book, harp):
    moved = Event(date(2024, 5, 1), "moved", "to the hall")
    assert diary.add_event(book, harp.id, moved) == diary.add_event(book, harp.id, moved)
    diary.add_event(book, harp.id, Event(date(2024, 4, 1), "climate", humidity_pct=41.0))
    assert [one.kind for one in diary.events_of(book, harp.id)] == ["climate", "moved"]


def test_a_correction_and_its_trace_come_together(book, harp, made):
    store_sweep(book, made.sweep(harp.id, day=date(2024, 4, 25)))
    old = on(book, harp)
    new = change(book, harp, date(2024, 4, 30))
    with pytest.raises(UsageError, match="another string was on"):
        corrections.correct_fitting(book, new.id, {"fitted_on": date(2024, 4, 20)}, today=TODAY)
    assert corrections.corrections_of(book, harp.id) == ()
    corrections.correct_fitting(book, old.id, {"removed_on": date(2024, 4, 20)}, today=TODAY, why="wrote the wrong day")
    fixed, trace = corrections.correct_fitting(book, new.id, {"fitted_on": date(2024, 4, 20), "batch": "x"}, today=TODAY)
    assert fixed.fitted_on == date(2024, 4, 20) and [one.field for one in trace] == ["fitted_on", "batch"]
    assert [(one.fitting_id, one.before, one.after) for one in corrections.corrections_of(book, harp.id)] == [
        (old.id, "2024-04-30", "2024-04-20"), (new.id, "2024-04-30", "2024-04-20"), (new.id, None, "x")]
    (heard,) = [one for one in read.plucks_of(book, 1) if one.measurement.string == "4C"]
    assert heard.fitting_id == new.id  # the sweep of the 25th now hears the new string


def test_settings_are_kept_and_replaced(book, harp):
    assert settings.settings_of(book, harp.id) == OwnerSettings()
    mine = OwnerSettings(Tolerance(2.0, 5.0), Habits({"gut": 300}, 14, {"gut": (6.0, 9.0)}, 14, 200), date(2020, 1, 1))
    settings.keep_settings(book, harp.id, OwnerSettings())
    settings.keep_settings(book, harp.id, mine)
    assert settings.settings_of(book, harp.id) == mine


def row(line, fitted=None, removed=None, string="4C", **more):
    return LogRow(line, string, fitted, removed, **more)


def test_an_imported_notebook_takes_the_place_of_the_string_of_unknown_date(book, harp, made):
    store_sweep(book, made.sweep(harp.id, day=date(2024, 5, 1)))
    rows = [row(2, None, date(2021, 2, 3), why_removed="broke", broke_at="knot"), row(3, date(2021, 2, 3), date(2024, 5, 10)),
            row(4, date(2024, 5, 10), material="gut", supplier="corner shop")]
    import_log(book, harp.id, rows, today=TODAY)
    log = read.fitting_log(book, harp.id, "4C")
    assert [(one.fitted_on, one.removed_on) for one in log] == [
        (None, date(2021, 2, 3)), (date(2021, 2, 3), date(2024, 5, 10)), (date(2024, 5, 10), None)]
    assert (log[2].material, log[2].supplier, log[0].why_removed) == ("gut", "corner shop", "broke")
    (heard,) = [one for one in read.plucks_of(book, 1) if one.measurement.string == "4C"]
    assert heard.fitting_id == log[1].id  # it was swept before the last change
    assert len(read.fitting_log(book, harp.id, "4D")) == 1 and check_book(book) == ()


def test_a_notebook_that_ends_before_today_leaves_the_present_string_undated(book, harp):
    import_log(book, harp.id, [row(2, date(2020, 1, 1), date(2022, 1, 1))], today=TODAY)
    assert [(one.fitted_on, one.removed_on) for one in read.fitting_log(book, harp.id, "4C")] == [
        (None, None), (date(2020, 1, 1), date(2022, 1, 1))]
    present = on(book, harp)
    corrections.correct_fitting(book, present.id, {"fitted_on": date(2022, 1, 1)}, today=TODAY)
    assert on(book, harp).fitted_on == date(2022, 1, 1)


def test_a_string_of_which_only_the_present_is_known_is_in_no_entry_s_way(book, harp):
    """It is on since nobody knows when: an older string may have come off a year later than was written."""
    import_log(book, harp.id, [row(2, date(2020, 1, 1), date(2022, 1, 1))], today=TODAY)
    old = next(one for one in read.fitting_log(book, harp.id, "4C") if one.removed_on)
    corrections.correct_fitting(book, old.id, {"removed_on": date(2023, 1, 1)}, today=TODAY)
    with pytest.raises(UsageError, match="4C: another string is on now"):  # of two on one position one must come off first
        corrections.correct_fitting(book, old.id, {"removed_on": None, "why_removed": None}, today=TODAY)
    assert [(one.fitted_on, one.removed_on) for one in read.fitting_log(book, harp.id, "4C")] == [
        (None, None), (date(2020, 1, 1), date(2023, 1, 1))]


def test_a_row_may_complete_the_string_that_came_off_since(book, harp):
    """Its reason stays, its own remark too, what was overwritten stays on record, and there is room for the older string."""
    old = on(book, harp)
    change(book, harp, date(2024, 5, 10))
    corrections.correct_fitting(book, old.id, {"note": "the loud one"}, today=TODAY)
    rows = [row(2, date(2019, 4, 3), date(2021, 2, 3), why_removed="false"),
            row(3, date(2021, 2, 3), date(2024, 5, 10), material="fluorocarbon", note="a gift", completes=old.id)]
    import_log(book, harp.id, rows, today=TODAY)
    first, own, new = sorted(read.fitting_log(book, harp.id, "4C"), key=lambda one: one.fitted_on)
    assert (first.fitted_on, first.removed_on, new.fitted_on) == (date(2019, 4, 3), date(2021, 2, 3), date(2024, 5, 10))
    assert (own.id, own.fitted_on, own.removed_on, own.why_removed, own.broke_at, own.material, own.note) == (
        old.id, date(2021, 2, 3), date(2024, 5, 10), "broke", "knot", "fluorocarbon", "the loud one; a gift")
    trace = {one.field: (one.before, one.after, one.why) for one in corrections.corrections_of(book, harp.id) if one.why}
    assert trace["material"] == (old.material, "fluorocarbon", "from the notebook, line 3")
    assert trace["fitted_on"] == (None, "2021-02-03", "from the notebook, line 3") and check_book(book) == ()


def test_the_string_that_is_on_keeps_its_remark_when_a_notebook_dates_it(book, harp):
    old = on(book, harp)
    corrections.correct_fitting(book, old.id, {"note": "the loud one", "is_stand_in": True}, today=TODAY)
    import_log(book, harp.id, [row(2, date(2023, 1, 1), material="gut")], today=TODAY)
    dated = on(book, harp)
    assert (dated.id, dated.fitted_on, dated.material) == (old.id, date(2023, 1, 1), "gut")
    assert (dated.note, dated.is_stand_in) == ("the loud one", True)  # of which the notebook says nothing
    assert (old.material, "gut") in [(one.before, one.after) for one in corrections.corrections_of(book, harp.id)]


def test_a_row_may_end_the_string_that_is_on(book, harp, made):
    """As a change typed when it was made: the old string comes off, a new one is on, and the sweep of before stays with the old one."""
    import_log(book, harp.id, [row(2, date(2023, 5, 1), supplier="corner shop")], today=TODAY)
    store_sweep(book, made.sweep(harp.id, day=date(2024, 5, 1)))
    old = on(book, harp)
    rows = [row(2, date(2023, 5, 1), date(2024, 5, 10), why_removed="broke", note="loud", ends=old.id), row(3, date(2024, 5, 10))]
    import_log(book, harp.id, rows, today=TODAY)
    came_off, new = read.fitting_log(book, harp.id, "4C")
    assert (came_off.id, came_off.removed_on, came_off.why_removed, came_off.supplier, came_off.note) == (
        old.id, date(2024, 5, 10), "broke", "corner shop", "loud")
    assert (new.fitted_on, new.removed_on) == (date(2024, 5, 10), None) and check_book(book) == ()
    assert {one.fitting_id for one in read.plucks_of(book, 1) if one.measurement.string == "4C"} == {old.id}
    assert ("removed_on", None, "2024-05-10") in [(one.field, one.before, one.after) for one in corrections.corrections_of(book, harp.id)]
    with pytest.raises(UsageError, match="has changed since: read the notebook again"):
        import_log(book, harp.id, rows, today=TODAY)


def test_an_entry_that_has_got_its_day_meanwhile_stops_the_import(book, harp):
    old = on(book, harp)
    change(book, harp, date(2024, 5, 10))
    corrections.correct_fitting(book, old.id, {"fitted_on": date(2022, 1, 1)}, today=TODAY)
    with pytest.raises(UsageError, match="has changed since: read the notebook again"):
        import_log(book, harp.id, [row(3, date(2021, 2, 3), date(2024, 5, 10), completes=old.id)], today=TODAY)
    assert len(read.fitting_log(book, harp.id, "4C")) == 2


def test_a_supposed_first_day_is_told_as_supposed_until_the_true_one_takes_its_place(book, harp, made):
    """Nobody wrote down when it went on; a sweep that heard it before the day that is told later was of another string."""
    old = on(book, harp)
    import_log(book, harp.id, [row(2, date(2020, 1, 1), date(2024, 3, 1)), row(2, date(2024, 3, 1), is_supposed=True)], today=TODAY)
    supposed = on(book, harp)
    assert (supposed.id, supposed.fitted_on, supposed.is_supposed) == (old.id, date(2024, 3, 1), True)
    assert fitting_line(supposed).startswith("Since 1 March 2024 (supposed): ")
    true_day = [row(4, date(2024, 3, 10), material="gut", completes=old.id)]
    import_log(book, harp.id, true_day, today=TODAY)
    assert (on(book, harp).fitted_on, on(book, harp).is_supposed, on(book, harp).material) == (date(2024, 3, 10), False, "gut")
    told = [one for one in corrections.corrections_of(book, harp.id) if one.field == "fitted_on"]
    assert [(one.before, one.after) for one in told] == [(None, "supposed 2024-03-01"), ("supposed 2024-03-01", "2024-03-10")]
    assert correction_words(told[1]) == ", put on: was supposed 1 March 2024, now 10 March 2024"
    with pytest.raises(UsageError, match="has changed since"):
        import_log(book, harp.id, true_day, today=TODAY)


def test_that_a_supposed_day_is_right_can_be_said_and_a_sweep_of_before_the_true_one_is_not_lost(book, harp, made):
    rows = [row(2, date(2020, 1, 1), date(2024, 3, 1)), row(2, date(2024, 3, 1), is_supposed=True)]
    import_log(book, harp.id, rows, today=TODAY)
    store_sweep(book, made.sweep(harp.id, day=date(2024, 4, 2)))
    own = on(book, harp)
    with pytest.raises(UsageError, match="line 5: 4C was heard in the sweep of 2 April 2024, so another string was on before 5 May 2024"):
        import_log(book, harp.id, [row(5, date(2024, 5, 5), completes=own.id)], today=TODAY)
    corrected, trace = corrections.correct_fitting(book, own.id, {"fitted_on": date(2024, 3, 1)}, today=TODAY)
    assert not corrected.is_supposed and [(one.before, one.after) for one in trace] == [("supposed 2024-03-01", "2024-03-01")]
    assert corrections.correct_fitting(book, own.id, {"fitted_on": date(2024, 3, 1)}, today=TODAY)[1] == ()


def test_a_string_of_supposed_first_day_may_come_from_the_log_of_another_book(book, harp):
    import_log(book, harp.id, [row(2, date(2020, 1, 1), date(2024, 3, 1), is_supposed=True)], today=TODAY)
    assert [one.is_supposed for one in read.fitting_log(book, harp.id, "4C")] == [False, True]


@pytest.mark.parametrize(("bad", "word"), [
    (row(9, date(2023, 1, 1), date(2023, 6, 1), string="9Z"), "line 9: there is no string '9Z'"),
    (row(9, date(2023, 1, 1), date(2022, 6, 1)), "line 9: 4C: it cannot come off"),
    (row(9, date(2021, 1, 1), date(2023, 6, 1)), "line 9: 4C: another string was on"),
    (row(9, date(2025, 1, 1), None, string="4D"), "line 9: 4D: 2025-01-01 lies ahead"),
])
def test_one_bad_row_stops_the_whole_import(book, harp, bad, word):
    before = read.fitting_log(book, harp.id)
    with pytest.raises(UsageError, match=word):
        import_log(book, harp.id, [row(2, date(2020, 1, 1), date(2022, 1, 1)), bad], today=TODAY)
    assert read.fitting_log(book, harp.id) == before


def test_the_export_holds_the_new_tables(book, harp, tmp_path, strict_json):
    spare_box.add_spares(book, [Spare("4C", price="12 EUR", harp_id=harp.id)])
    pitch_checks.add_checks(book, harp.id, [check()])
    diary.add_event(book, harp.id, Event(date(2024, 5, 1), "moved", "to the hall"))
    export_book(book, tmp_path / "out")
    tables = strict_json((tmp_path / "out" / "book.json").read_text(encoding="utf-8"))["tables"]
    assert tables["spares"][0]["price"] == "12 EUR" and tables["events"][0]["note"] == "to the hall"
    assert tables["pitch_readings"][0]["at"] == "2024-05-02T09:00:00" and {"settled", "corrections", "owner_settings"} <= set(tables)
    rows = list(csv.DictReader((tmp_path / "out" / "pitch_readings.csv").read_text(encoding="utf-8").splitlines()))
    assert rows[0]["found_hz"] == "261.0" and rows[0]["left_hz"] == ""

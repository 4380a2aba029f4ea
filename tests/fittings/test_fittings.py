"""The string log: ages, history, repeated breaks, corrections. Expected values are counted by hand."""

from contextlib import nullcontext
from dataclasses import fields, replace
from datetime import date

import pytest

from toneprobe import fittings
from toneprobe.errors import UsageError
from toneprobe.instrument import find_string, load_instrument

TODAY = date(2024, 6, 30)


def fitting(number, string, fitted=None, removed=None, **others):
    return fittings.Fitting(number, 1, string, fitted, removed, **others)


LOG = (
    fitting(1, "3C", None, date(2023, 1, 10), why_removed="broke", broke_at="knot"),
    fitting(2, "3C", date(2023, 1, 10), date(2024, 2, 1), why_removed="broke", broke_at="knot", material="gut"),
    fitting(3, "3C", date(2024, 2, 1), material="nylon", is_stand_in=True),
    fitting(4, "3D", date(2024, 6, 1), material="gut"),
    fitting(5, "3E", date(2024, 6, 11)),
    fitting(6, "3F"),
)


def test_age_counts_days_on_the_harp():
    assert fittings.age_days(LOG[3], TODAY) == 29  # 1 to 30 June
    assert fittings.age_days(LOG[1], TODAY) == 387  # 10 January 2023 to 1 February 2024: 365 + 22
    assert fittings.age_days(LOG[5], TODAY) is None


def test_every_position_has_an_age_or_says_why_not():
    harp = load_instrument("pedal-47")
    ages = {age.string: age for age in fittings.string_ages(harp, LOG, today=TODAY)}
    assert len(ages) == 47 and list(ages)[0] == "0G"
    assert (ages["3D"].age_days, ages["3D"].octave, ages["3D"].material) == (29, 3, "gut")
    assert ages["3E"].material == "gut"  # the log says nothing, the preset does
    assert ages["3C"].is_stand_in and not ages["3C"].is_empty
    assert ages["3F"].age_days is None and not ages["3F"].is_empty
    assert ages["3G"].is_empty


@pytest.mark.parametrize(("log", "material", "gauge_mm"), [
    ([dict(material="nylon", gauge_mm=0.9)], "nylon", 0.9),
    ([dict(material="pedal gut", gauge_mm=0.9)], "pedal gut", None),  # what belongs there, more exactly: the preset has no gauges
    ([dict(material="Gut")], "gut", None),  # the same name
    ([dict(material="horsehair")], "horsehair", None),  # of no known family, and another
    ([dict(material="nylon?")], "gut", None),  # the owner does not know it herself
    ([dict()], "gut", None),
    ([dict(material="nylon", is_stand_in=True)], "gut", None),
    ([dict(material="nylon", removed=date(2024, 6, 1)), dict(material="wire", fitted=date(2024, 6, 1), is_stand_in=True)], "nylon", None),
    ([dict(material="nylon", removed=date(2024, 6, 1))], "nylon", None),  # nothing is on: what was goes on again
    ([dict(material="nylon", removed=date(2024, 6, 1)), dict(material="gut", fitted=date(2024, 6, 1))], "gut", None),
])
def test_what_is_kept_on_a_position_is_what_its_owner_wrote_of_its_last_own_string(log, material, gauge_mm):
    """Derived here: gut belongs on 2E of a pedal harp, and its owner may keep another string there (design.md, rule 2: ask the harp)."""
    strung = fittings.as_strung(load_instrument("pedal-47"), [fitting(number, "2E", **fields) for number, fields in enumerate(log)])
    kept = {spec.name: (spec.material, spec.gauge_mm) for spec in strung.strings}
    assert kept["2E"] == (material, gauge_mm) and kept["2D"] == ("gut", None)


def test_one_wire_for_another_is_told_and_one_told_more_exactly_is_not():
    """Brass, bronze and steel differ in density and strength (published: 8.5, 8.8 and 7.9 g/cm³), and "wire" may be any of them."""
    harp = load_instrument("pedal-47")
    strung = fittings.as_strung(harp, [fitting(1, "6D", material="phosphor bronze")])
    assert find_string(strung, "6D").material == "phosphor bronze" and fittings.kept_words(harp, strung) == ""
    brass = replace(harp, strings=tuple(replace(spec, material="brass") for spec in harp.strings))
    assert fittings.as_strung(brass, [fitting(1, "6D", material="wire")]) == brass
    steel = fittings.as_strung(brass, [fitting(1, "6D", material="steel")])
    assert fittings.kept_words(brass, steel).startswith("on 6D the log has steel, where brass belongs")
    assert fittings.kept_words(brass, steel).endswith("Where it is wrong: toneprobe log correct 6D --material brass")
    both = fittings.as_strung(brass, [fitting(1, "6D", material="steel"), fitting(2, "6E", material="steel")])
    assert fittings.kept_words(brass, both).endswith("Where it is wrong, for instance: toneprobe log correct 6E --material brass")


def test_strings_of_unknown_age_are_all_where_no_other_is_on():
    """Five positions, of which the fifth has a first day or has none."""
    days = dict.fromkeys(("3E", "3D", "3C", "3B", "3A"), date(2024, 6, 1))
    log = [fitting(number, string) for number, string in enumerate(days)]
    assert fittings.unknown_age_words(log, days).startswith("the log does not know the age of any of the 5 strings: they are judged")
    days["3G"] = date(2024, 6, 1)
    known = fitting(9, "3G", date(2024, 5, 1))
    assert fittings.unknown_age_words([*log, known], days).startswith("the log does not know the age of 5 strings")
    assert fittings.unknown_age_words([log[0], fitting(9, "3G", date(2024, 5, 1))], days) == (
        "the log does not know the age of 3E: it is judged against itself as it was on 1 June 2024, so what was lost by then cannot be "
        "heard")
    four = fittings.unknown_age_words(log[:4], days)
    assert "age of 3E, 3D, 3C and 3B: they are judged against themselves as they were on 1 June 2024" in four
    assert fittings.unknown_age_words(log, {}) == fittings.unknown_age_words([known], days) == ""  # not judged; known


def test_octaves_leave_stand_ins_and_gaps_out():
    third, = fittings.octave_ages(fittings.string_ages(load_instrument("pedal-47"), LOG, today=TODAY))
    assert (third.octave, third.n_strings, third.n_unknown) == (3, 3, 1)  # 3D, 3E, 3F
    assert (third.youngest_days, third.median_days, third.oldest_days) == (19, 24.0, 29)


def test_each_octave_tells_of_its_own_strings_the_highest_first():
    log = [*LOG, fitting(7, "1E", date(2024, 6, 20)), fitting(8, "6C"), fitting(9, "1D", date(2024, 5, 1))]
    first, third, sixth = fittings.octave_ages(fittings.string_ages(load_instrument("pedal-47"), log, today=TODAY))
    assert (first.octave, first.n_strings, first.youngest_days, first.median_days, first.oldest_days) == (1, 2, 10, 35.0, 60)
    assert (third.octave, third.n_strings) == (3, 3)
    assert (sixth.octave, sixth.n_strings, sixth.n_unknown, sixth.median_days) == (6, 1, 1, None)


def test_changes_of_later_days_are_told_the_earliest_first():
    """After 31 January 2024 one string of 3C comes off and the next goes on, which is one change, and two new ones follow in June."""
    assert fittings.changes_after(LOG, date(2024, 1, 31)) == (("3C", date(2024, 2, 1)), ("3D", date(2024, 6, 1)), ("3E", date(2024, 6, 11)))
    assert fittings.changes_after(LOG, date(2024, 6, 11)) == ()


@pytest.mark.parametrize(("day", "heard", "on"), [
    (date(2024, 2, 1), 2, 2),  # swept before it was changed
    (date(2024, 2, 1), 3, 3), (date(2024, 2, 1), None, 3),
    (date(2024, 1, 31), 2, 2), (date(2024, 2, 2), 2, 3),  # what a sweep heard that came off before it is another's
])
def test_the_log_as_it_stood_when_a_sweep_heard_a_string(day, heard, on):
    log = fittings.known_when_heard([one for one in LOG if one.string == "3C"], day, heard)
    assert [one.id for one in log if one.removed_on is None] == [on] and log[0].removed_on == date(2023, 1, 10)


def test_history_shows_the_present_string_first():
    assert [one.id for one in fittings.history_of("3C", LOG[::-1])] == [3, 2, 1]
    assert fittings.history_of("7C", LOG) == ()
    assert fittings.on_now(LOG)["3C"].id == 3


def test_two_breaks_at_one_place_are_named():
    found, = fittings.repeated_breaks(LOG)
    assert (found.string, found.broke_at, found.days) == ("3C", "knot", (date(2023, 1, 10), date(2024, 2, 1)))
    assert fittings.repeated_breaks(LOG[1:]) == ()
    dead = fitting(7, "3D", None, date(2024, 6, 1), why_removed="dead")
    pin = [fitting(number, "3D", removed=date(2024, 5, number), why_removed="broke", broke_at="tuning pin") for number in (8, 9)]
    found = fittings.repeated_breaks([*LOG, dead, *pin, replace(pin[0], broke_at="knot")])
    assert [(one.string, one.broke_at, len(one.days)) for one in found] == [
        ("3C", "knot", 2), ("3D", "tuning pin", 2)]


def test_all_that_is_noted_of_a_string_can_be_corrected():
    """And is read from a notebook by the same list: a new field of an entry belongs there too."""
    own = ("id", "harp_id", "string", "is_supposed")  # that its first day is supposed is said, and no longer so, with that day
    assert tuple(field.name for field in fields(fittings.Fitting) if field.name not in own) == fittings.CORRECTABLE


def test_a_correction_leaves_its_trace():
    changes = {"fitted_on": date(2023, 1, 12), "supplier": "the shop", "material": "gut"}
    corrected, trace = fittings.correct(LOG[1], changes, today=TODAY, why="misread")
    assert corrected.fitted_on == date(2023, 1, 12) and corrected.id == 2
    assert [(t.field, t.before, t.after) for t in trace] == [("fitted_on", "2023-01-10", "2023-01-12"), ("supplier", None, "the shop")]
    assert {t.on for t in trace} == {TODAY} and {t.why for t in trace} == {"misread"}
    assert LOG[1].fitted_on == date(2023, 1, 10)


@pytest.mark.parametrize("changes, complaint", [
    ({"removed_on": date(2022, 12, 31)}, "went on only on"),
    ({"removed_on": date(2024, 7, 1)}, "lies ahead"),
    ({"why_removed": "bored"}, "must be one of"),
    ({"broke_at": "moon"}, "must be one of"),
    ({"why_removed": "dead"}, "did not come off because it broke"),
    ({"gauge_mm": 12.0}, "outside"),
    ({"fitted_on": date(2023, 1, 1)}, "another string was on until 10 January 2023.*--entry .* --removed 2023-01-01"),
    ({"removed_on": None}, "says why it came off, but not when"),
])
def test_corrections_that_cannot_be_are_refused(changes, complaint):
    with pytest.raises(UsageError, match=complaint):
        fittings.correct(LOG[1], changes, today=TODAY, others=LOG)


@pytest.mark.parametrize("day, on", [
    (date(2023, 1, 9), [1]), (date(2023, 1, 10), [2]), (date(2024, 1, 31), [2]), (date(2024, 2, 1), [3]), (date(2024, 6, 30), [3]),
])
def test_the_log_as_it_stood_on_a_day(day, on):
    """3C was changed on 10 January 2023 and on 1 February 2024. On the day of a change the new string is on and the old one is off."""
    known = fittings.known_on([one for one in LOG if one.string == "3C"], day)
    assert [one.id for one in known if one.removed_on is None] == on
    still = next(one for one in known if one.id == on[0])
    assert (still.removed_on, still.why_removed, still.broke_at) == (None, None, None)  # what came later was not known yet


def test_a_string_that_broke_on_the_day_it_went_on_is_logged():
    one = fitting(9, "3G", date(2024, 6, 3), date(2024, 6, 3), why_removed="broke", broke_at="knot")
    fittings.check_fitting(one, today=TODAY)
    assert fittings.age_days(one, TODAY) == 0
    with pytest.raises(UsageError, match="went on only on"):
        fittings.check_fitting(fitting(9, "3G", date(2024, 6, 3), date(2024, 6, 2)), today=TODAY)


@pytest.mark.parametrize(("gauge_mm", "is_one"), [(None, True), (0.4, True), (3.0, True), (0.01, False), (30.0, False)])
def test_a_gauge_is_that_of_a_string(gauge_mm, is_one):
    """The thinnest nylon of a harp has some half a millimetre, the thickest wire three (common practice)."""
    with nullcontext() if is_one else pytest.raises(UsageError, match="lies outside"):
        fittings.check_fitting(fitting(9, "3G", date(2024, 6, 3), gauge_mm=gauge_mm), today=TODAY)


def test_what_came_off_on_the_day_on_which_a_string_went_on_was_there_before_it():
    assert fittings.last_before(LOG[1], LOG[:3]).id == 1 and fittings.last_before(LOG[2], LOG[:3]).id == 2
    assert fittings.last_before(fitting(9, "3C", date(2023, 1, 9)), LOG[:3]) is None  # a day sooner nothing had come off yet
    assert fittings.last_before(LOG[0], LOG[:3]) is None  # on since before the log
    assert fittings.first_after(LOG[0], LOG[:3]).id == 2 and fittings.first_after(LOG[1], LOG[:3]).id == 3
    assert fittings.first_after(LOG[2], LOG[:3]) is None
    same_day = fitting(9, "3C", date(2024, 2, 1), date(2024, 2, 1))  # went on and came off that day, between the two
    assert fittings.last_before(LOG[2], [*LOG[:3], same_day]).id == 9 and fittings.first_after(LOG[1], [*LOG[:3], same_day]).id == 9


def test_a_change_that_never_happened_puts_the_string_of_that_day_back():
    again, trace = fittings.withdraw(LOG[2], LOG[:2], today=TODAY, why="written on the wrong string")
    assert (again.id, again.removed_on, again.why_removed) == (2, None, None)
    assert trace[0].fitting_id == 3


def test_what_was_no_change_is_not_withdrawn_and_what_left_nothing_behind_puts_nothing_back():
    with pytest.raises(UsageError, match="was on before the log began, which is no change"):
        fittings.withdraw(LOG[0], LOG[1:3], today=TODAY)
    with pytest.raises(UsageError, match="knows of no string before number 4"):
        fittings.withdraw(LOG[3], [], today=TODAY)
    later = replace(LOG[2], fitted_on=date(2024, 3, 1))  # a month without a string
    again, (trace,) = fittings.withdraw(later, LOG[:2], today=TODAY)
    assert again is None and (trace.before, trace.after) == ("2024-03-01 to today", None)


def test_why_a_string_came_off_is_not_written_of_the_one_that_is_on():
    with pytest.raises(UsageError, match="no. 3, the latest, is on. If no. 2 is meant, which came off on 1 February 2024: "
                                         "toneprobe log correct 3C --entry 2 --why broke --broke-at knot$"):
        fittings.correct(LOG[2], {"why_removed": "broke", "broke_at": "knot"}, today=TODAY, others=LOG)
    off = {"removed_on": date(2024, 6, 1), "why_removed": "dead"}
    assert fittings.correct(LOG[2], off, today=TODAY, others=LOG)[0].why_removed == "dead"


def test_a_supposed_day_that_is_said_to_be_right_is_known_from_then_on():
    supposed = replace(LOG[3], is_supposed=True)
    known, (trace,) = fittings.correct(supposed, {"fitted_on": supposed.fitted_on}, today=TODAY)
    assert not known.is_supposed and (trace.field, trace.before, trace.after) == ("fitted_on", "supposed 2024-06-01", "2024-06-01")
    assert fittings.first_day_text(supposed) == "1 June 2024 (supposed)" and fittings.first_day_text(known) == "1 June 2024"
    still, (trace,) = fittings.correct(supposed, {"supplier": "the shop"}, today=TODAY)
    assert still.is_supposed and (trace.before, trace.after) == (None, "the shop")
    assert fittings.correct(known, {"fitted_on": known.fitted_on}, today=TODAY)[1] == ()


def test_one_string_may_come_off_on_the_day_on_which_the_next_goes_on():
    fittings.check_fitting(LOG[1], today=TODAY, others=(LOG[0], LOG[2]))
    with pytest.raises(UsageError):
        fittings.check_fitting(fitting(9, "3C", date(2024, 1, 31)), today=TODAY, others=LOG)

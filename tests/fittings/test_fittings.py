"""The string log: ages, history, repeated breaks, corrections. Expected values are counted by hand."""

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


def test_strings_of_unknown_age_are_all_where_no_other_is_on():
    """Five positions, of which the fifth has a first day or has none."""
    days = dict.fromkeys(("3E", "3D", "3C", "3B", "3A"), date(2024, 6, 1))
    log = [fitting(number, string) for number, string in enumerate(days)]
    assert fittings.unknown_age_words(log, days).startswith("the log does not know the age of any of the 5 strings: they are judged")
    days["3G"] = date(2024, 6, 1)
    known = fitting(9, "3G", date(2024, 5, 1))
    assert fittings.unknown_age_words([*log, known], days).startswith("the log does not know the age of 5 strings")
    assert fittings.unknown_age_words([log[0], known], days).startswith("the log does not know the age of 3E")


def test_octaves_leave_stand_ins_and_gaps_out():
    third, = fittings.octave_ages(fittings.string_ages(load_instrument("pedal-47"), LOG, today=TODAY))
    assert (third.octave, third.n_strings, third.n_unknown) == (3, 3, 1)  # 3D, 3E, 3F
    assert (third.youngest_days, third.median_days, third.oldest_days) == (19, 24.0, 29)


def test_history_shows_the_present_string_first():
    assert [one.id for one in fittings.history_of("3C", LOG[::-1])] == [3, 2, 1]
    assert fittings.history_of("7C", LOG) == ()
    assert fittings.on_now(LOG)["3C"].id == 3


def test_two_breaks_at_one_place_are_named():
    found, = fittings.repeated_breaks(LOG)
    assert (found.string, found.broke_at, found.days) == ("3C", "knot", (date(2023, 1, 10), date(2024, 2, 1)))
    assert fittings.repeated_breaks(LOG[1:]) == ()


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
    ({"string": "3D"}, "cannot be corrected"),
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


def test_what_came_off_on_the_day_on_which_a_string_went_on_was_there_before_it():
    assert fittings.last_before(LOG[1], LOG[:3]).id == 1 and fittings.last_before(LOG[2], LOG[:3]).id == 2
    assert fittings.last_before(fitting(9, "3C", date(2023, 1, 9)), LOG[:3]) is None  # a day sooner nothing had come off yet


def test_a_change_that_never_happened_puts_the_string_of_that_day_back():
    again, trace = fittings.withdraw(LOG[2], LOG[:2], today=TODAY, why="written on the wrong string")
    assert (again.id, again.removed_on, again.why_removed) == (2, None, None)
    assert trace[0].fitting_id == 3


def test_one_string_may_come_off_on_the_day_on_which_the_next_goes_on():
    fittings.check_fitting(LOG[1], today=TODAY, others=(LOG[0], LOG[2]))
    with pytest.raises(UsageError):
        fittings.check_fitting(fitting(9, "3C", date(2024, 1, 31)), today=TODAY, others=LOG)

"""Spares: what a careful person would find by going through the bag by hand. Shelf lives and stand-ins are common practice."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from toneprobe import spares
from toneprobe.errors import UsageError
from toneprobe.instrument import Instrument, StringSpec, find_string, load_instrument
from toneprobe.lives import Demand
from toneprobe.practice import Habits
from toneprobe.units import hz_of_note

HARP = load_instrument("pedal-47")
TODAY = date(2024, 6, 1)
YEAR = 365


def spare(string, days_old=30, **fields):
    spec = next((s for s in HARP.strings if s.name == string), None)
    bought = None if days_old is None else TODAY - timedelta(days=days_old)
    return spares.Spare(string, **({"material": spec.material if spec else None, "bought_on": bought} | fields))


def full_bag():
    return [spare(spec.name) for spec in HARP.strings]


def without(bag, *names):
    return [one for one in bag if one.string not in names]


# --- shelf age

# gut 1 year, wires 2, nylon 3 to 4: common practice
@pytest.mark.parametrize("string, days", [("3C", YEAR), ("6C", 2 * YEAR), ("1E", 3 * YEAR)])
def test_shelf_life_by_material(string, days):
    assert not spares.shelf_age(spare(string, days), today=TODAY).is_past_best
    assert spares.shelf_age(spare(string, days + 1), today=TODAY).is_past_best
    assert spares.shelf_age(spare(string, 100), today=TODAY).age_days == 100


def test_no_usual_shelf_life_means_none_is_stated():
    unknown = spares.shelf_age(spare("3C", 4000, material="fluorocarbon"), today=TODAY)
    assert unknown.best_until is None and not unknown.is_past_best
    assert spares.shelf_age(spare("3C", None), today=TODAY).age_days is None
    own = Habits(shelf_life_days={"gut": 700})
    assert not spares.shelf_age(spare("3C", 500), today=TODAY, habits=own).is_past_best


def test_shelf_ages_run_from_the_first_bought():
    bag = [spare("3C", 10), spare("3D", 400), spare("3E", None), spare("3F", 90), replace(spare("3G", 900), used_on=TODAY)]
    assert [age.spare.string for age in spares.shelf_ages(bag, today=TODAY)] == ["3E", "3D", "3F", "3C"]


# --- which to take

def test_first_bought_is_used_first():
    bag = [spare("3C", 100, batch="young"), spare("3C", 300, batch="old"), spare("3C", 200, batch="middle")]
    assert spares.take_first(bag, find_string(HARP, "3C"), today=TODAY).batch == "old"


def test_one_past_its_best_is_taken_last():
    bag = [spare("3C", 100, batch="young"), spare("3C", 500, batch="stale")]
    assert spares.take_first(bag, find_string(HARP, "3C"), today=TODAY).batch == "young"
    assert spares.take_first(bag[1:], find_string(HARP, "3C"), today=TODAY).batch == "stale"


def test_another_material_or_gauge_is_not_taken():
    spec = replace(find_string(HARP, "3C"), gauge_mm=1.00)
    assert spares.take_first([spare("3C", material="nylon")], spec, today=TODAY) is None
    assert spares.take_first([spare("3C", gauge_mm=1.10)], spec, today=TODAY) is None
    assert spares.take_first([spare("3C", gauge_mm=1.02)], spec, today=TODAY) is not None
    assert spares.take_first([spare("3D")], spec, today=TODAY) is None


@pytest.mark.parametrize(("own", "other", "is_taken"), [
    ("brass", "steel", False), ("bronze", "phosphor bronze", False), ("brass", "Brass", True), ("steel", "steel wire", True),
    ("wire", "steel", True), ("phosphor bronze", "wound wire", True), ("steel", "wound steel", False),
    ("gut", "pedal gut", True), ("pedal gut", "lever gut", False), ("fluorocarbon", "carbon", True), ("wound nylon", "nylon wound", True),
    ("nylon", "wound nylon", False), ("nylon", "horsehair", False), ("horsehair", "Horse hair", True), ("horsehair", "silk", False),
    (None, "silk", True), ("brass", None, True),
])
def test_a_spare_of_another_metal_or_of_an_unknown_material_is_not_taken(own, other, is_taken):
    """Brass, bronze and steel of one gauge pull differently at one pitch, for they differ in density (published), and a wound string is no
    plain one. Where one of two names tells no more than the family they may be one: what else a player means is not known here."""
    for belongs, made_of in ((own, other), (other, own)):
        spec = replace(find_string(HARP, "6D"), material=belongs)
        assert (spares.take_first([spare("6D", material=made_of)], spec, today=TODAY) is not None) is is_taken


def test_a_heavier_metal_of_the_same_gauge_is_no_stand_in_from_below():
    """Bronze weighs more than steel (published: 8.8 against 7.9 g/cm³): of one gauge and pitch it pulls harder by a tenth."""
    for below, serves in (("steel", True), ("bronze", False)):
        strings = (replace(spec, material=below if spec.name == "5A" else "steel", gauge_mm=1.0) for spec in HARP.strings)
        harp = replace(HARP, strings=tuple(strings))
        offers = spares.stand_ins_for(find_string(harp, "5B"), [spare("5A", material=below, gauge_mm=1.0)], harp, today=TODAY)
        assert (offers != ()) is serves


@pytest.mark.parametrize(("own_mm", "spare_mm", "is_taken"), [
    (0.50, 0.52, True), (0.50, 0.54, False),  # a thin string: 4 % and 8 %, 0.02 and 0.04 mm
    (2.00, 2.08, True), (2.00, 2.12, False),  # a thick one: 4 % and 6 %, 0.08 and 0.12 mm
])
def test_gauges_are_one_by_their_ratio(own_mm, spare_mm, is_taken):
    """Makers' scales step by a share, so the same step is a few hundredths of a millimetre at the top and a tenth in the bass."""
    spec = replace(find_string(HARP, "3C"), gauge_mm=own_mm)
    assert (spares.take_first([spare("3C", gauge_mm=spare_mm)], spec, today=TODAY) is not None) is is_taken


@pytest.mark.parametrize("places", [("bag", "home"), ("home", "bag")])
def test_of_two_bought_on_one_day_that_at_home_goes_on_so_that_the_bag_stays_full(places):
    """A full set travels with the harp, kept full from a box at home (common practice)."""
    box = [spare("3C", 100, place=place) for place in places]
    assert spares.take_first(box, find_string(HARP, "3C"), today=TODAY).place == "home"
    older = spare("3C", 101, place="bag")  # but first bought, first used
    assert spares.take_first([*box, older], find_string(HARP, "3C"), today=TODAY) == older


def test_using_one_takes_it_off_and_cannot_be_done_twice():
    used = spares.use(spare("3C"), TODAY, fitting_id=7)
    assert (used.used_on, used.fitting_id) == (TODAY, 7)
    assert spares.take_first([used], find_string(HARP, "3C"), today=TODAY) is None
    with pytest.raises(UsageError, match="already"):
        spares.use(used, TODAY)
    with pytest.raises(UsageError, match="bought only"):
        spares.use(spare("3C", 1), TODAY - timedelta(days=2))


@pytest.mark.parametrize("fields, complaint", [
    ({"place": "car"}, "bag or at home"), ({"bought_on": TODAY + timedelta(days=1)}, "lies ahead"), ({"lead_time_days": -1}, "lead time"),
    ({"gauge_mm": 0.04}, "outside 0.05 to 10"),
])
def test_spares_that_cannot_be_are_refused(fields, complaint):
    with pytest.raises(UsageError, match=complaint):
        spares.check_spare(replace(spare("3C"), **fields), today=TODAY)


@pytest.mark.parametrize("days", [0, 730])
def test_a_lead_time_of_no_day_and_one_of_two_years_are_lead_times(days):
    """From the shop round the corner, and the longest that is taken: the message says between 0 and 730."""
    spares.check_spare(replace(spare("3C"), lead_time_days=days), today=TODAY)
    with pytest.raises(UsageError, match="a lead time of 731 days is not between 0 and 730"):
        spares.check_spare(replace(spare("3C"), lead_time_days=731), today=TODAY)


# --- the full set

def test_a_full_bag_has_no_gap():
    checks = spares.check_full_set(full_bag(), HARP, today=TODAY)
    assert len(checks) == 47 and spares.gaps_of(checks) == ()
    assert sum(check.material == "wire" for check in checks) == 12  # twelve wires from 5G down: common practice


def test_each_kind_of_gap_is_named():
    bag = [*without(full_bag(), "7C", "3C", "3D", "3E"), spare("3C", 500), spare("3D", place="home"), spare("3E", material="nylon")]
    gaps = {check.string: check.gap for check in spares.gaps_of(spares.check_full_set(bag, HARP, today=TODAY))}
    assert gaps == {"7C": "missing", "3E": "other kind", "3C": "past its best", "3D": "at home"}
    assert list(gaps.values()) == ["missing", "other kind", "past its best", "at home"]  # most pressing first


def test_wires_belong_to_the_set():
    bag = [one for one in full_bag() if one.material != "wire"]
    missing = [check for check in spares.gaps_of(spares.check_full_set(bag, HARP, today=TODAY)) if check.gap == "missing"]
    assert len(missing) == 12 and all(check.material == "wire" for check in missing)
    assert missing[0].string == "5G" and missing[-1].string == "7C"


def test_a_spare_of_another_harp_is_a_stray():
    assert [one.string for one in spares.strays([*full_bag(), spare("8A")], HARP)] == ["8A"]


# --- orders

def test_lead_time_is_the_middle_one_that_was_noted_with_its_supplier():
    """Of 10 and 5 the day after the middle, 7.5; of 10, 5 and 12 the 10 (derived here)."""
    spec = find_string(HARP, "3C")
    kin = [spare("3D", 50, lead_time_days=30), spare("6C", 5, lead_time_days=99)]
    own = [spare("3C", 400, lead_time_days=10, supplier="north", id=4), spare("3C", 20, lead_time_days=5, supplier="south", id=6)]
    assert spares.lead_of(spec, [own[0], *kin]).words == "an order takes 10 days from north (noted with spare 4)"
    assert spares.lead_of(spec, [*own, *kin]).words == (
        "an order takes about 8 days, the middle of 2 that took 5 to 10 days, and 10 are allowed for it (the last noted with spare 6)")
    on_the_harp = spare("3C", 300, lead_time_days=12, used_on=TODAY, fitting_id=7, id=5)
    assert spares.lead_of(spec, [*own, on_the_harp, *kin]).days == 10
    by_kin = spares.lead_of(spec, kin)
    assert by_kin.days == 30 and not by_kin.is_assumed  # by material where the string itself was never bought
    assert spares.lead_of(spec, []).is_assumed and spares.lead_of(spec, []).days == 21  # next day to weeks: three weeks assumed


def test_an_order_goes_out_as_long_before_as_the_longest_took_and_is_expected_as_the_middle_one():
    """Of orders that took 4, 6 and 10 days: what is wanted on 1 July goes out on 21 June, ten days before, and comes about the 27th.
    Ordered on the 25th, six days before, every second one would come too late; on the 23rd it can still come (derived)."""
    took = [spare("3C", 100 + days, lead_time_days=days, used_on=TODAY, fitting_id=days) for days in (4, 6, 10)]
    lead, wanted = spares.lead_of(find_string(HARP, "3C"), took), TODAY + timedelta(days=30)
    order, = spares.list_orders([*without(full_bag(), "3C"), *took], HARP, today=TODAY, wanted_on=wanted)
    assert lead.days == 6
    assert (order.order_by, order.arrives_on, order.is_late) == (date(2024, 6, 21), date(2024, 6, 27), False)
    assert lead.order_by(wanted, date(2024, 6, 23)) == date(2024, 6, 23)


NYLON = {"material": "nylon"}


def part_of_an_order(string, supplier=None, *, came_on=None, day=date(2025, 12, 14), number=None):
    place, bought_on = ("ordered", day) if came_on is None else ("bag", came_on)
    days = None if came_on is None else (came_on - day).days
    return spares.Spare(string, place=place, bought_on=bought_on, lead_time_days=days, supplier=supplier, id=number, **NYLON)


def test_an_overdue_order_lengthens_the_time_and_one_late_part_does_not_rule_it():
    """A harpist's orders of 14 December 2025, 2 × 3D and 3 × 2E: parts came after 8 days, the rest on 10 March 2026, after 86. Derived
    here, counted on a calendar: on 21 January the rest has been open for 38 days. So an order of another nylon string takes 8, 8, 38 or 38
    days, the middle is 23; afterwards 8, 8, 86 or 86, the middle is 47. Of 3D itself is known only that it takes more than 38."""
    soon, late, today = date(2025, 12, 22), date(2026, 3, 10), date(2026, 1, 21)
    two_d, three_d, two_e = (replace(find_string(HARP, name), material="nylon") for name in ("2D", "3D", "2E"))
    came = [part_of_an_order("3D", came_on=soon, number=1), *[part_of_an_order("2E", "north", came_on=soon, number=k) for k in (3, 4)]]
    rest = [part_of_an_order("3D", number=2), part_of_an_order("2E", "north", number=5)]
    before = spares.lead_of(two_d, [*came, *rest], today=date(2025, 12, 22))
    assert (before.days, before.overdue_since) == (8, None)  # nothing is overdue yet
    other = spares.lead_of(two_d, [*came, *rest], today=today)
    assert other.words == ("an order takes about 23 days, the middle of 4 that took 8 to 38 days, and 38 are allowed for it (the last "
                           "noted with spare 1; one of 14 December 2025 is overdue: ask the shop)")
    own = spares.lead_of(three_d, [*came, *rest], today=today)
    assert (own.days, own.words) == (38, "an order takes 38 days or more (one of 14 December 2025 is overdue: ask the shop)")
    all_came = [*came, part_of_an_order("3D", came_on=late, number=2), part_of_an_order("2E", "north", came_on=late, number=5)]
    assert [spares.lead_of(spec, all_came, today=late).days for spec in (two_d, three_d, two_e)] == [47, 47, 47]
    assert spares.lead_of(two_d, all_came, today=late).overdue_since is None


def test_where_nothing_came_yet_an_order_older_than_the_assumed_time_lengthens_it():
    """21 days are assumed: an order of 14 December is overdue from 5 January on; until then, and of another material, nothing is told."""
    two_d, wire = replace(find_string(HARP, "2D"), material="nylon"), find_string(HARP, "6D")
    open_one = [part_of_an_order("2E")]
    assert spares.lead_of(two_d, open_one, today=date(2026, 1, 4)).words == "an order is assumed to take 21 days"
    assert spares.lead_of(two_d, open_one, today=date(2026, 1, 5)).days == 22
    assert spares.lead_of(wire, open_one, today=date(2026, 1, 5)).is_assumed
    coming, = spares.coming_spares(open_one, HARP, today=date(2026, 1, 21))
    assert (coming.expected_on, coming.is_overdue) == (date(2026, 1, 4), True)  # it is not overdue the less for being late


@pytest.mark.parametrize(("lead_days", "days_open", "since"), [(40, 40, None), (40, 41, 41), (10, 21, None), (10, 22, 22)])
def test_an_order_is_overdue_after_the_time_told_for_it_and_never_before_the_usual_one(lead_days, days_open, since):
    """The shop told 40 days, or 10; 21 are assumed of any (counted by hand)."""
    open_one = spares.Spare("3C", "gut", place="ordered", bought_on=TODAY - timedelta(days=days_open), lead_time_days=lead_days)
    lead = spares.lead_of(find_string(HARP, "3C"), [open_one], today=TODAY)
    assert lead.overdue_since == (since and TODAY - timedelta(days=since)) and lead.days == (since or 21)


def test_a_spare_that_was_taken_off_the_list_tells_no_lead_time():
    """210 typed for 21, removed, and typed again: nothing else of gut was ever bought."""
    wrong, right = spare("3C", 5, lead_time_days=210, used_on=TODAY), spare("3C", 5, lead_time_days=21)
    assert [spares.lead_of(find_string(HARP, name), [wrong, right]).days for name in ("3C", "3D")] == [21, 21]
    assert spares.lead_of(find_string(HARP, "3C"), [wrong], Habits(lead_time_days=9)).words == "an order is assumed to take 9 days"


def test_a_missing_string_is_ordered_back_from_the_day_it_is_wanted():
    bag = [*without(full_bag(), "3C"), spare("3D", 300, lead_time_days=14)]
    order, = spares.list_orders(bag, HARP, today=TODAY, wanted_on=date(2024, 7, 1))
    assert (order.string, order.n, order.order_by, order.arrives_on) == ("3C", 1, date(2024, 6, 17), date(2024, 7, 1))  # 1 July − 14 days
    assert not order.is_late and order.reason == "no spare" and order.cause.kind == "missing"
    late, = spares.list_orders(bag, HARP, today=TODAY, wanted_on=date(2024, 6, 10))
    assert (late.order_by, late.arrives_on, late.is_late) == (TODAY, date(2024, 6, 15), True)


def test_strings_to_be_put_on_leave_one_to_keep():
    order, = spares.list_orders(full_bag(), HARP, today=TODAY, needs={"2A": 1})
    assert (order.string, order.n) == ("2A", 1) and order.reason == "one to be put on, one to keep"
    assert (order.cause.kind, order.cause.n_put_on, order.cause.is_age) == ("put on", 1, False)
    assert spares.list_orders([*full_bag(), spare("2A", place="home")], HARP, today=TODAY, needs={"2A": 1}) == ()


@pytest.mark.parametrize("n, reason", [(1, "the only spare is past its best"), (18, "all spares are past their best")])
def test_of_several_past_their_best_none_is_called_the_only_one(n, reason):
    """Gut keeps about a year at its best (common practice)."""
    stock = [*without(full_bag(), "5C"), *(spare("5C", days_old=400) for _ in range(n))]
    order, = spares.list_orders(stock, HARP, today=TODAY)
    assert (order.string, order.reason) == ("5C", reason)
    assert order.cause.n_past_best == n


def test_of_a_string_without_a_spare_none_is_past_its_best():
    order, = spares.list_orders(without(full_bag(), "5C"), HARP, today=TODAY)
    assert (order.cause.kind, order.cause.n_past_best) == ("missing", 0)


def test_a_spare_about_to_pass_its_best_is_replaced_in_time():
    bag = [*without(full_bag(), "3C"), spare("3C", YEAR - 40, lead_time_days=14)]
    order, = spares.list_orders(bag, HARP, today=TODAY)
    assert order.wanted_on == TODAY + timedelta(days=40) and order.order_by == TODAY + timedelta(days=26)
    assert spares.list_orders([*bag, spare("3C", 10)], HARP, today=TODAY) == ()  # another one stays good
    assert spares.list_orders([*without(full_bag(), "3C"), spare("3C", YEAR - 100)], HARP, today=TODAY) == ()  # not for another 100 days


def test_a_spare_must_be_good_on_the_day_on_which_the_set_must_be_full():
    """Gut bought on 1 September 2023 is at its best for 365 days, 2024 being a leap year: until 31 August 2024."""
    bag = [*without(full_bag(), "3C"), replace(spare("3C"), bought_on=date(2023, 9, 1), lead_time_days=14)]
    wires = [replace(one, bought_on=TODAY) for one in bag if one.string != "3C"]
    order, = spares.list_orders([*wires, bag[-1]], HARP, today=date(2024, 5, 1), wanted_on=date(2024, 12, 1))
    assert (order.string, order.n, order.wanted_on, order.order_by) == ("3C", 1, date(2024, 12, 1), date(2024, 11, 17))  # 14 days before
    assert order.reason == "the spare passes its best on 31 August 2024"
    assert (order.cause.kind, order.cause.is_age, order.cause.best_until) == ("passing its best", True, date(2024, 8, 31))
    assert spares.list_orders([*wires, bag[-1]], HARP, today=date(2024, 5, 1), wanted_on=date(2024, 8, 31)) == ()
    assert spares.list_orders([*wires, bag[-1]], HARP, today=date(2024, 5, 1)) == ()


def test_holding_is_one_each_or_what_lives_call_for():
    checks = spares.check_full_set(full_bag(), HARP, today=TODAY)
    groups = {s.name: ("nylon", "octaves 0-1") for s in HARP.strings if s.name[0] in "01"}
    short = Demand("nylon", "octaves 0-1", 9, 365.0, 7.4, 11)
    silent = Demand("nylon", "octaves 0-1", 9, 365.0, None, None, "2 ended; 5 are needed")
    much, = spares.suggest_holding([short], checks, groups)
    assert (much.n_good, much.suggested) == (9, 11) and "7.4" in much.reason
    assert spares.suggest_holding([silent], checks, groups)[0].suggested == 9
    two_off = Demand("nylon", "octaves 0-1", 7, 365.0, 3.1, 5)  # two of the nine carry a stand-in or nothing: they too want a spare
    assert spares.suggest_holding([two_off], checks, groups)[0].suggested == 9


def test_a_spare_may_go_on_the_day_it_was_bought():
    assert spares.use(spare("3C", 0), TODAY).used_on == TODAY


@pytest.mark.parametrize("days_left, is_ordered", [(89, True), (90, True), (91, False)])
def test_orders_look_ahead_by_ninety_days(days_left, is_ordered):
    """Gut keeps for 365 days (common practice); what passes its best later than in 90 days is not ordered for yet."""
    bag = [*without(full_bag(), "3C"), spare("3C", YEAR - days_left)]
    assert [order.string for order in spares.list_orders(bag, HARP, today=TODAY)] == (["3C"] if is_ordered else [])


def test_where_two_are_kept_the_first_to_pass_its_best_is_replaced():
    """One to be put on and one to keep; of the two guts one is at its best for 40 days more, the other for 300."""
    bag = [*without(full_bag(), "3C"), spare("3C", YEAR - 40), spare("3C", YEAR - 300)]
    order, = spares.list_orders(bag, HARP, today=TODAY, needs={"3C": 1})
    assert (order.string, order.n, order.wanted_on) == ("3C", 1, TODAY + timedelta(days=40))
    third = spare("3C", YEAR - 200)
    assert spares.list_orders([*bag, third], HARP, today=TODAY, needs={"3C": 1}) == ()  # two stay good for longer than is looked ahead


# --- on the way

def ordered(string, days_ago=10, **fields):
    return spare(string, days_ago, place="ordered", **fields)


def test_what_is_on_the_way_is_no_spare():
    """It can't be put on, stand in, fill the bag or age on the shelf, and of what has not come nobody knows how long it takes."""
    coming = ordered("3C", lead_time_days=99)
    assert spares.unused([coming]) == spares.shelf_ages([coming], today=TODAY) == ()
    near = ordered("3E")
    assert spares.stand_ins_for(find_string(HARP, "3D"), [replace(near, place="bag")], HARP, today=TODAY)
    assert spares.stand_ins_for(find_string(HARP, "3D"), [near], HARP, today=TODAY) == ()
    assert spares.take_first([coming], find_string(HARP, "3C"), today=TODAY) is None
    check = next(one for one in spares.check_full_set([coming], HARP, today=TODAY) if one.string == "3C")
    assert (check.gap, check.n_good) == ("missing", 0)
    assert spares.lead_of(find_string(HARP, "3C"), [coming]).is_assumed
    with pytest.raises(UsageError, match="still on the way"):
        spares.use(coming, TODAY)


def test_what_is_on_the_way_is_not_ordered_again():
    """Two are lacking, one to put on and one to keep: two on the way leave nothing to order, one leaves one, and one of nylon, which is
    not the right string, leaves both (derived here)."""
    bag = without(full_bag(), "3C")
    assert spares.list_orders([*bag, ordered("3C"), ordered("3C")], HARP, today=TODAY, needs={"3C": 1}) == ()
    order, = spares.list_orders([*bag, ordered("3C")], HARP, today=TODAY, needs={"3C": 1})
    assert (order.string, order.n, order.reason) == ("3C", 1, "no spare, one to be put on, one to keep, one is on the way")
    order, = spares.list_orders([*bag, ordered("3C", material="nylon")], HARP, today=TODAY, needs={"3C": 1})
    assert (order.string, order.n) == ("3C", 2)


def test_what_is_on_the_way_replaces_a_spare_about_to_pass_its_best():
    bag = [*without(full_bag(), "3C"), spare("3C", YEAR - 40)]
    assert [order.string for order in spares.list_orders(bag, HARP, today=TODAY)] == ["3C"]
    assert spares.list_orders([*bag, ordered("3C")], HARP, today=TODAY) == ()


def test_what_is_on_the_way_is_expected_after_its_lead_time():
    """Ordered on 22 May 2024: after 14 days on 5 June, after the 9 days noted with another gut on 31 May, which is over on 1 June."""
    stock = [spare("3D", lead_time_days=9), ordered("3C", lead_time_days=14), ordered("3C"), ordered("3C"), ordered("2A", None)]
    found = spares.coming_spares(stock, HARP, today=TODAY)
    assert [(one.spare.string, one.expected_on, one.is_overdue) for one in found] == [
        ("3C", date(2024, 5, 31), True), ("3C", date(2024, 5, 31), True), ("3C", date(2024, 6, 5), False), ("2A", None, False)]
    assert spares.coming_words(found, needed_by=date(2024, 6, 4)) == (
        "on the way: 2 × 3C, ordered on 22 May 2024, expected about 31 May 2024, overdue: ask the shop; 1 × 3C, ordered on 22 May 2024, "
        "expected about 5 June 2024 (may come too late for it); 1 × 2A, ordered on an unknown day")
    assert spares.coming_words(()) == "" and "too late" not in spares.coming_words(found, needed_by=date(2024, 6, 5))
    assert not spares.coming_spares([ordered("3C", lead_time_days=10)], HARP, today=TODAY)[0].is_overdue  # it is expected today


def test_what_arrives_tells_how_long_it_took():
    here = spares.arrive(ordered("3C", note="mind the shop"), TODAY, place="home")
    assert (here.place, here.bought_on, here.lead_time_days, here.note) == ("home", TODAY, 10, "mind the shop; ordered on 22 May 2024")
    late = spares.arrive(ordered("3C", lead_time_days=3), TODAY, place="bag")  # TODAY is ten days after the order: derived here
    assert (late.lead_time_days, late.note) == (10, "ordered on 22 May 2024, expected after 3 days")
    assert spares.lead_of(find_string(HARP, "3C"), [late], today=TODAY).days == 10
    assert spares.arrive(ordered("3C", lead_time_days=10), TODAY, place="bag").note == "ordered on 22 May 2024"
    assert spares.arrive(ordered("3C", 0, lead_time_days=14), TODAY, place="bag").lead_time_days == 14  # written down only when it came
    assert spares.arrive(ordered("3C", None), TODAY, place="bag").lead_time_days is None
    assert spares.arrive(ordered("3C", 0, lead_time_days=0), TODAY, place="bag").lead_time_days == 0  # the owner says so
    for wrong, on in ((ordered("3C"), TODAY - timedelta(days=11)), (spare("3C"), TODAY)):
        with pytest.raises(UsageError, match="ordered only|not on the way"):
            spares.arrive(wrong, on, place="bag")


def test_of_an_order_of_long_ago_it_is_said_what_to_put_right():
    """Two years are kept at most: two years and ten days are not."""
    long_ago = replace(ordered("3C", 730), id=4)
    assert spares.arrive(long_ago, TODAY, place="bag").lead_time_days == 730
    with pytest.raises(UsageError, match="taken 740 days.* with --date when it came; .*: toneprobe spares correct 4 --bought"):
        spares.arrive(long_ago, TODAY + timedelta(days=10), place="bag")


def test_an_order_written_down_only_when_it_comes_tells_no_lead_time():
    """No string is on its way for 0 days, and none of the material is promised in so many."""
    here = spares.arrive(ordered("6D", 0, material="wire"), TODAY, place="bag")
    assert (here.place, here.bought_on, here.lead_time_days) == ("bag", TODAY, None)
    assert spares.lead_of(find_string(HARP, "6E"), [here]).is_assumed and spares.lead_of(find_string(HARP, "6D"), [here]).is_assumed


# --- stand-ins

def offered(position, *names, **fields):
    there = [spare(name, **fields) for name in names]
    return [offer.made_for for offer in spares.stand_ins_for(find_string(HARP, position), there, HARP, today=TODAY)]


def test_neighbours_that_serve():
    assert offered("3D", "3E", "3C") == ["3E"]  # E for D: common practice; 3C is thicker and would pull harder
    assert offered("4G", "4A", "4B", "4F") == ["4A", "4B"]  # A or B for G to B
    assert offered("5F", "5D", "5B", "4D") == ["5B", "5D"]  # 5D or 5B for any of octave 5
    assert offered("5E", "5D") == []  # thicker than what belongs there
    assert offered("3C", "3D", "3E", "2F") == ["3D", "3E"]  # else the next above


def test_a_thicker_string_needs_a_known_gauge():
    harp = replace(HARP, strings=tuple(replace(s, gauge_mm=1.0) if s.name in ("3A", "3B") else s for s in HARP.strings))
    offers = spares.stand_ins_for(find_string(harp, "3B"), [spare("3A")], harp, today=TODAY)
    assert [offer.made_for for offer in offers] == ["3A"]  # A for B, of one gauge
    harp = replace(HARP, strings=tuple(replace(s, gauge_mm={"3A": 1.1, "3B": 1.0}.get(s.name)) for s in HARP.strings))
    assert spares.stand_ins_for(find_string(harp, "3B"), [spare("3A")], harp, today=TODAY) == ()
    assert offered("3B", "3A") == []


@pytest.mark.parametrize(("material", "n_offers"), [("steel wire", 0), ("gut", 1)])
def test_a_thinner_string_of_a_lower_note_stands_in_only_where_it_is_of_the_same_material(material, n_offers):
    """At one length and pitch T = µ(2Lf)², and µ goes as density times d²: steel of 1.2 mm, 7.85 g/cm³, pulls 3.4 times as hard as gut of
    1.6 mm, 1.3 g/cm³, and gut of 1.2 mm 0.56 times (derived here). 5B serves for any of octave 5 (common practice)."""
    made_of = {"5D": ("gut", 1.6), "5B": (material, 1.2)}
    harp = replace(HARP, strings=tuple(replace(s, material=made_of[s.name][0], gauge_mm=made_of[s.name][1]) if s.name in made_of else s
                                       for s in HARP.strings))
    assert len(spares.stand_ins_for(find_string(harp, "5D"), [spares.Spare("5B", material, 1.2)], harp, today=TODAY)) == n_offers


def test_a_spare_of_unknown_gauge_is_told_by_its_note():
    """The owner knows the gauge of her 4C alone; the string above it is made thinner (common practice)."""
    harp = replace(HARP, strings=tuple(replace(s, gauge_mm=1.02 if s.name == "4C" else None) for s in HARP.strings))
    offer, = spares.stand_ins_for(find_string(harp, "4C"), [spare("4D"), spare("4B")], harp, today=TODAY)
    assert offer.made_for == "4D"


def test_on_what_is_no_harp_no_rule_of_the_harpists_makes_a_stand_in():
    """5D serves for any of octave 5 (common practice); a guitar's D lies a fourth above its A and is far too slack there."""
    assert offered("5A", "5D") == ["5D"]
    strings = tuple(StringSpec(name, note, hz_of_note(note), "nylon", mechanism=False) for name, note in (("4", "D3"), ("5", "A2")))
    guitar, spare_4 = Instrument("Guitar", 440.0, None, strings), replace(spare("5D", material="nylon"), string="4")
    assert spares.stand_ins_for(strings[1], [spare_4], guitar, today=TODAY) == ()


def test_stand_ins_carry_their_cautions():
    offer, = spares.stand_ins_for(find_string(HARP, "5G"), [spare("5B", 500)], HARP, today=TODAY)
    text = "; ".join(offer.cautions)
    assert "no higher" in text and "gut instead of wire" in text and "past its best" in text and "never becomes a baseline" in text
    assert spares.stand_ins_for(find_string(HARP, "5G"), [replace(spare("5B"), used_on=TODAY)], HARP, today=TODAY) == ()


def test_the_right_string_is_no_stand_in_and_the_freshest_comes_first():
    bag = [spare("4B", 500), spare("4A", 400), spare("4G"), spare("4B", 20)]
    offers = spares.stand_ins_for(find_string(HARP, "4G"), bag, HARP, today=TODAY)
    assert [(o.made_for, o.spare.bought_on == TODAY - timedelta(days=20)) for o in offers] == [("4B", True), ("4A", False), ("4B", False)]

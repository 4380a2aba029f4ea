"""The plan as entries of a calendar, read back by the standard (RFC 5545)."""

from dataclasses import replace
from datetime import date, timedelta

import icalendar
from made_up_plan import ALL_ON, CONCERT, STAMP, TODAY, entries_of, heard, reminders_of, settling, situation, with_bag_but

from toneprobe.planning import make_plan
from toneprobe.planning.reminders import write_reminders


def test_reminders_are_read_back_by_the_standard():
    plan = make_plan(situation(bad=[("3C", "dead")]))
    text = write_reminders(plan, harp="concert harp, München; first", now=STAMP)
    assert text.startswith(b"BEGIN:VCALENDAR\r\n") and text.rstrip().endswith(b"END:VCALENDAR")
    assert max(len(line) for line in text.split(b"\r\n")) <= 75  # octets, RFC 5545 3.1
    calendar = icalendar.Calendar.from_ical(text)
    assert calendar["VERSION"] == "2.0" and calendar["PRODID"]  # RFC 5545 3.6: both required
    entries = entries_of(text)
    assert len(entries) == 1 + len(plan.tasks)
    change = next(e for e in entries if "change 3C" in e["SUMMARY"])
    assert change["SUMMARY"].startswith("concert harp, München; first: ")
    assert change["DTSTART"].dt == date(2024, 6, 17) and change["DTEND"].dt == date(2024, 6, 18)  # all day, end exclusive
    assert "Latest 24 June 2024." in change["DESCRIPTION"] and "RRULE" not in change  # two weeks before, and a week before at the latest
    assert change["DTSTAMP"].dt == STAMP and "eye protection" in change["DESCRIPTION"]
    assert entries[0]["DTSTART"].dt == CONCERT


def test_a_daily_check_repeats_from_today_until_its_last_day():
    """Settled by 12 June at the latest: from 1 June twelve days, counted by hand."""
    plan = make_plan(situation(settling={"3C": settling("3C")}))
    entry = next(e for e in reminders_of(plan) if "check 3C" in e["SUMMARY"])
    assert entry["DTSTART"].dt == TODAY and entry["DTEND"].dt == TODAY + timedelta(days=1)
    assert entry["RRULE"]["FREQ"] == ["DAILY"] and entry["RRULE"]["UNTIL"] == [date(2024, 6, 12)]
    assert b"UNTIL=20240612\r\n" in write_reminders(plan, harp="harp", now=STAMP)  # a date, for DTSTART is one: RFC 5545, 3.3.10


def test_an_order_keeps_its_identity_when_a_part_of_it_has_come():
    """Five spares are missing, then 2C has come: the same entry, without it."""
    stocks = []
    for missing in (("2C", "2B", "3C", "3D", "3E"), ("2B", "3C", "3D", "3E")):
        plan = make_plan(situation(bad=[("4C", "dead")], spares=with_bag_but(*missing)))
        entries = reminders_of(plan)
        assert len({str(e["UID"]) for e in entries}) == len(entries)
        stocks.append({str(e["UID"]): str(e["SUMMARY"]) for e in entries if "for the bag" in e["SUMMARY"]})
    before, after = stocks
    assert before.keys() == after.keys() and len(before) == 2  # what is missing, and the 4C that goes on the harp
    assert any("2C" in told for told in before.values()) and not any("2C" in told for told in after.values())


def test_reminders_keep_their_identity_when_the_day_moves():
    """Changed two weeks before the engagement, on 17 June, at best; where that is over on the last day, 24 June."""
    first, later = (make_plan(situation(bad=[("3C", "dead")], today=day)) for day in (TODAY, date(2024, 6, 20)))
    uids = [{str(e["UID"]): e["DTSTART"].dt for e in reminders_of(plan)} for plan in (first, later)]
    assert len(uids[0]) == 1 + len(first.tasks)
    assert uids[0].keys() == uids[1].keys()  # the engagement, the change, the order for the bag
    assert date(2024, 6, 17) in uids[0].values() and date(2024, 6, 24) in uids[1].values()
    other = {str(e["UID"]) for e in reminders_of(first, harp="other")}
    assert not other & uids[0].keys()


def calendar_after(*plans, whole=False):
    """By summary, the first days (whole: the entries) of what stands in a calendar that took these plans, one minute after the other, by
    RFC 5546, 2.1.5: of one UID the higher SEQUENCE stays, of equals the later DTSTAMP."""
    kept = {}
    for k, plan in enumerate(plans):
        for entry in reminders_of(plan, minutes=k):
            old = kept.get(str(entry["UID"]))
            if old is None or (entry["SEQUENCE"], entry["DTSTAMP"].dt) >= (old["SEQUENCE"], old["DTSTAMP"].dt):
                kept[str(entry["UID"])] = entry
    return list(kept.values()) if whole else sorted((str(entry["SUMMARY"]), entry["DTSTART"].dt) for entry in kept.values())


def test_two_engagements_of_a_tour_have_each_errand_once_on_the_earlier_day():
    """8 and 11 July, both files taken, in either order, then the second anew: what both ask for stands once, as the first asks for it; and
    each engagement has its own entry."""
    bad = dict(bad=[("3C", "dead"), ("4F", "watch")], spares=with_bag_but("3C", "2C"))
    one, two = (make_plan(situation(on=day, **bad)) for day in (date(2024, 7, 8), date(2024, 7, 11)))
    assert {task.kind for task in one.tasks} == {task.kind for task in two.tasks} == {"order", "change", "consider", "stock"}
    alone = calendar_after(one)
    assert ("harp: engagement", date(2024, 7, 8)) in alone
    for taken in ((one, two), (two, one), (one, two, two)):
        assert calendar_after(*taken) == sorted([*alone, ("harp: engagement", date(2024, 7, 11))])


def test_a_tour_over_the_end_of_a_month_has_each_errand_for_either_month():
    """30 July and 2 August, as README says: nothing of one stands in for the other's."""
    bad = dict(bad=[("3C", "dead")], spares=with_bag_but("3C", "2C"))
    one, two = (make_plan(situation(on=day, **bad)) for day in (date(2024, 7, 30), date(2024, 8, 2)))
    for taken in ((one, two), (two, one)):
        assert calendar_after(*taken) == sorted([*calendar_after(one), *calendar_after(two)])


def test_what_speaks_of_one_engagement_alone_hides_nothing_of_the_next():
    """On 5 July it is too late for gut before the 8th, not before the 14th: both are told. Months apart each has all of its own."""
    bad = dict(bad=[("3C", "dead")], today=date(2024, 7, 5), heard_on=heard(date(2024, 7, 4)))
    near, next_, far = (make_plan(situation(on=day, **bad)) for day in (date(2024, 7, 8), date(2024, 7, 14), date(2024, 9, 14)))
    told = [text for text, _ in calendar_after(near, next_) if "3C (" in text]
    assert [text.removeprefix("harp: ").split(" 3C")[0] for text in told] == ["change", "note, too late to change"]
    both = calendar_after(next_, far)
    assert sorted([*calendar_after(next_), *calendar_after(far)]) == both


def test_a_daily_check_until_the_day_itself_is_not_cut_short_by_an_earlier_one():
    """It will not have settled by either day: it is checked until the second, whichever plan came last, and that once."""
    never = {"3C": settling("3C", early=1, likely=5, late=9, month=8)}
    plans = [make_plan(situation(on=day, settling=never)) for day in (date(2024, 7, 8), date(2024, 7, 11))]
    ends = {entry["RRULE"]["UNTIL"][0] for plan in plans for entry in reminders_of(plan)
            if "RRULE" in entry}
    assert ends == {date(2024, 7, 8), date(2024, 7, 11)}
    for taken in (plans, plans[::-1], [plans[1], *plans]):
        checks = [entry for entry in calendar_after(*taken, whole=True) if "check 3C" in entry["SUMMARY"]]
        assert [entry["RRULE"]["UNTIL"] for entry in checks] == [[date(2024, 7, 11)]]


def test_a_daily_check_of_a_string_that_settles_before_the_later_day_alone_stands_once():
    """Settled by 10 July at the latest: in time for the 11th, not for the 8th. It is checked until then, and once a day."""
    until = {"3C": settling("3C", early=5, likely=9, late=10, month=7)}
    plans = [make_plan(situation(on=day, settling=until)) for day in (date(2024, 7, 8), date(2024, 7, 11))]
    for taken in (plans, plans[::-1]):
        checks = [entry for entry in calendar_after(*taken, whole=True) if "check 3C" in entry["SUMMARY"]]
        assert [entry["RRULE"]["UNTIL"] for entry in checks] == [[date(2024, 7, 10)]]


def test_the_string_that_is_on_now_has_entries_of_its_own():
    first = make_plan(situation(bad=[("3C", "dead")]))
    since = make_plan(situation(bad=[("3C", "dead")], fittings=tuple(replace(one, id=99) if one.string == "3C" else one for one in ALL_ON)))
    change = [next(str(e["UID"]) for e in reminders_of(plan) if "change 3C" in e["SUMMARY"])
              for plan in (first, since)]
    assert change[0] != change[1]

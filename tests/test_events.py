"""Climate, moves and regulations beside a jump. Worked out by hand."""

from datetime import date

import pytest

from toneprobe.errors import UsageError
from toneprobe.events import Event, advise_room, check_event, explain_change, last_regulation

NOTES = (
    Event(date(2024, 1, 5), "climate", temperature_c=20.0, humidity_pct=45.0),
    Event(date(2024, 1, 20), "moved", "to the church"),
    Event(date(2024, 1, 25), "climate", temperature_c=15.0, humidity_pct=60.0),
    Event(date(2024, 2, 5), "climate", temperature_c=21.0, humidity_pct=47.0),
    Event(date(2024, 2, 20), "regulated"),
)


def test_what_lies_between_two_sweeps_is_named():
    lines = explain_change(NOTES, since=date(2024, 1, 5), until=date(2024, 2, 5))
    assert lines == (
        "moved on 20 January 2024: to the church",
        "temperature went from 15 °C on 25 January 2024 to 21 °C on 5 February 2024",  # the extremes, in order of time
        "humidity went from 45 % on 5 January 2024 to 60 % on 25 January 2024",
    )
    assert explain_change(NOTES, since=date(2024, 2, 5), until=date(2024, 2, 28)) == ("regulated on 20 February 2024",)


def test_small_changes_and_single_readings_explain_nothing():
    calm = (NOTES[0], Event(date(2024, 1, 9), "climate", temperature_c=21.0, humidity_pct=48.0))
    assert explain_change(calm, since=date(2024, 1, 1), until=date(2024, 1, 31)) == ()
    assert explain_change(NOTES[:1], since=date(2024, 1, 1), until=date(2024, 1, 31)) == ()
    assert explain_change(NOTES, since=date(2024, 1, 20), until=date(2024, 1, 24)) == ()  # the move was before that sweep's day was over


def test_room_advice_and_last_regulation():
    assert advise_room(NOTES[0]) == "" and "damp" in advise_room(NOTES[2])  # 40 to 50 %: common practice
    assert "dry" in advise_room(Event(date(2024, 1, 1), "climate", humidity_pct=25.0))
    assert last_regulation(NOTES) == date(2024, 2, 20) and last_regulation(NOTES[:1]) is None


DAY = date(2024, 1, 1)


@pytest.mark.parametrize("event, complaint", [
    (Event(date(2025, 1, 1), "moved"), "lies ahead"), (Event(DAY, "climate"), "needs"),
    (Event(DAY, "climate", temperature_c=99.0), "outside"), (Event(DAY, "climate", humidity_pct=120.0), "outside"),
    (Event(DAY, "climate", humidity_pct=0.0), "outside 1 to 100$"),
    (Event(DAY, "climate", humidity_pct=0.45), "outside 1 to 100: for 45 % write 45$"),  # of a fraction, derived here
])
def test_events_that_cannot_be_are_refused(event, complaint):
    with pytest.raises(UsageError, match=complaint):
        check_event(event, today=date(2024, 6, 1))
    check_event(NOTES[0], today=date(2024, 6, 1))


def test_that_a_harp_is_gone_explains_no_jump():
    gone, moved = (Event(date(2024, 5, 2), kind, "to a pupil") for kind in ("gone", "moved"))
    assert explain_change([gone, moved], since=date(2024, 5, 1), until=date(2024, 6, 1)) == ("moved on 2 May 2024: to a pupil",)

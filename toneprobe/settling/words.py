"""The state of a new string in plain sentences."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

from toneprobe.days import day_text
from toneprobe.phrases import as_string, as_strings, one_after_another
from toneprobe.settling.steady import SD_OF_90
from toneprobe.settling.verdict import DateRange, Grounds, Move, Recurring, Settling

LONG_UNCHECKED_DAYS = 21  # from then on it is said for how long (set here)
RATE_H = 36.0  # of a shorter time no rate a day is said
LOOK_AT_KNOT_AND_PIN = "have the knot and the tuning pin looked at; pins and their holes are for a technician"


def when_settled(days: DateRange | None, today: date | None) -> str:
    """The days of a forecast in words, as they stand on a day."""
    if days is None:
        return "no end in sight within a year"
    if today is not None and days.likely <= today:
        by = f", by {day_text(days.late)} at the latest" if days.late > today else ""
        return f"it may have settled already{by}"
    if days.early == days.late:
        return f"settled from about {day_text(days.likely)}"
    earliest = f", {day_text(days.early)} at the earliest" if days.early < days.likely else ""
    return f"settled from about {day_text(days.likely)}{earliest}, {day_text(days.late)} at the latest"


def reasons_of(found: Settling, grounds: Grounds) -> tuple[str, ...]:
    """Plain sentences, the deciding one first."""
    is_open = found.state == "unsure" and found.due_on is None  # then slips or jumps decide, where there are any
    is_rise_said = grounds.rises or grounds.falls_short is not None
    lines = [_deciding(found, grounds), slips_again(found.recurring) if found.recurring and not is_open else "",
             _tuned_line(grounds), _move_line(grounds.last_move) if grounds.last_move else "", _short_line(grounds),
             *_jump_lines(found, grounds, is_open=is_open),
             "rises against its neighbours: that is not stretch" if grounds.clear_rise and not is_rise_said else "",
             _weather_line(found, grounds)]
    return tuple(line for line in lines if line)


def with_next_step(found: Settling, grounds: Grounds) -> Settling:
    """The same with what the player does now."""
    if found.state == "settled":
        return replace(found, next_step="" if grounds.is_old else "sweep it for its fresh baseline")
    if found.state == "slipping":
        return replace(found, next_step=LOOK_AT_KNOT_AND_PIN)
    if found.recurring:
        return replace(found, next_step=f"{LOOK_AT_KNOT_AND_PIN}; {_check_it('every day', grounds.company)}")
    how_often = _how_often(found, grounds)
    return replace(found, next_step=_check_it(how_often, grounds.company), check_how_often=how_often, company=grounds.company)


def checks_together(alike: Sequence[Settling]) -> str:
    """The next step of several strings to be checked as often, each with its own neighbours; all have some, or all the same."""
    how_often, companies = alike[0].check_how_often, {one.company for one in alike}
    if len(companies) == 1:
        return _check_it(how_often, alike[0].company)
    each = [f"{as_string(one.string)} with {one_after_another(as_strings(one.company))}" for one in alike]
    return f"{_check_it(how_often, None)}: {'; '.join(each)}"


def _check_it(how_often: str, company: tuple[str, ...] | None) -> str:
    """The check with the neighbours that show the weather; without any where none of its material serves (())."""
    check, others = f"check it {how_often}: pluck it", "two or three settled neighbours"
    if company == ():
        return f"{check} before you tune it, and again after"
    if company:
        others = f"its settled {'neighbour' if len(company) == 1 else 'neighbours'} {one_after_another(as_strings(company))}"
    return f"{check} with {others} before you tune it, and again after"


def _how_often(found: Settling, grounds: Grounds) -> str:
    if found.slipping_until is not None:
        return "twice, a day apart"
    if found.due_on is not None:
        return "once more" if found.checked_on else "once"
    if found.jumped_on or grounds.is_old:
        return "again tomorrow" if found.checked_on else "twice, a day apart"
    return "every day" if grounds.company != () or not grounds.rises else "every three days"


def _deciding(found: Settling, grounds: Grounds) -> str:
    if found.state == "slipping":
        return "falls steadily and does not slow down: a pin or a knot, not stretch"
    if found.state == "settled":
        return f"over the next {found.tolerance.ahead_days:g} days it should drift {_drift(found)}, within {found.tolerance.cents:g} cents"
    if found.due_on is not None:
        return _had_its_time(found, grounds)
    if found.state == "unsure":
        return _unsure(found, grounds)
    if found.checked_on is None and found.settled is not None and grounds.today is not None:
        early, late = found.settled.early, found.settled.late
        earliest = f", {day_text(early)} at the earliest" if grounds.today < early < late else ""
        return f"not checked yet, so this goes by what is usual: settled by about {day_text(late)}{earliest}"
    if grounds.n_counting < 2:
        return f"{_checks(grounds)}, so this goes mostly by what is usual: {when_settled(found.settled, grounds.today)}"
    if grounds.is_hidden:
        return f"none of its checks shows how far it falls, so this goes by what is usual: {when_settled(found.settled, grounds.today)}"
    if grounds.falls_on:
        return (f"still falls, and has slowed down too little for stretch alone: {_ahead(found)}. If its next checks show the same, it "
                "is a pin or a knot")
    known_on = grounds.today or found.checked_on
    if found.settled is not None and known_on is not None and found.settled.likely <= known_on:
        return f"may have settled already, but {_not_shown(found, grounds)}"
    when, drift = when_settled(found.settled, grounds.today), found.expected_drift_cents
    if drift.known and abs(drift.value) <= found.tolerance.cents:
        but = "it last moved faster than that" if all(grounds.quiet[-1:]) else "not surely enough yet"
        return f"nearly settled: it should drift {_ahead(found)}, within {found.tolerance.cents:g} cents, but {but}; {when}"
    return f"still stretching: {_ahead(found)}; {when}"


def _not_shown(found: Settling, grounds: Grounds) -> str:
    """What its checks still lack: two intervals running, each with little enough drift to be expected at its end."""
    if all(grounds.quiet):
        return f"over its last two intervals it moved too fast for {found.tolerance.cents:g} cents in {found.tolerance.ahead_days:g} days"
    if grounds.quiet[-1]:
        return "two checks running must show it: the last one does, the one before did not yet, as its earlier moves suggested more"
    return f"its last check does not show it yet, and two running must: by all its moves so far it may still drift {_ahead(found)}"


def _ahead(found: Settling) -> str:
    return f"{_drift(found)} over the next {found.tolerance.ahead_days:g} days"


def _had_its_time(found: Settling, grounds: Grounds) -> str:
    by = "as its checks foretold" if grounds.n_counting >= 2 and grounds.foretold else "by what is usual"
    since = f"{by} it should have settled by {day_text(found.due_on)}"
    if found.checked_on is None:
        return f"{since}; its pitch has not been checked yet"
    unchecked = (grounds.today - found.checked_on).days if grounds.today else 0
    if found.checked_on < found.due_on or unchecked > LONG_UNCHECKED_DAYS:
        long = f", for {unchecked} days" if unchecked > LONG_UNCHECKED_DAYS else ""
        return f"{since}; its pitch has not been checked since {day_text(found.checked_on)}{long}"
    return f"{since}, but no two checks running show it"


def _unsure(found: Settling, grounds: Grounds) -> str:
    if found.slipping_until is not None:
        until = day_text(found.slipping_until)
        if found.checked_on == found.slipping_until:
            return f"fell steadily, as on a slipping pin or knot, when it was last checked on {until}; nobody has looked since"
        return f"fell steadily, as on a slipping pin or knot, until {until}; how it has moved since it was tuned up is not known"
    if found.recurring:
        return slips_again(found.recurring)
    if grounds.jumps:
        return _jumped(grounds.jumps[-1])
    if found.checked_on is None:
        return "its pitch has not been checked yet, so nobody knows whether it moves"
    if grounds.n_counting < 2:
        return f"{_checks(grounds)}: too few to tell"
    if grounds.rises:
        return _rising(found, grounds)
    if found.expected_drift_cents.known and abs(found.expected_drift_cents.value) <= found.tolerance.cents:
        but = ("two checks running must show it, and only the last one does" if all(grounds.quiet[-1:]) else
               "that is too roughly known to say that it holds its pitch")
        return f"by its last two moves it should drift {_ahead(found)}, within {found.tolerance.cents:g} cents, but {but}"
    return "moves more than the tolerance, but neither steadily nor like a new string: weather, retuning or readings"


def slips_again(slips: Recurring) -> str:
    """Where to look, and how long it must keep still; each of its falls has a line of its own."""
    n = len(slips.spans)
    times = {2: "twice", 3: "three times"}.get(n, f"{n} times")
    return (f"fell at once {times}, last between {' and '.join(_moments(*slips.spans[-1]))}: a knot or a pin that gives way in jumps, and "
            f"may again. It counts as settled once it has kept still until about {day_text(slips.still_until)}")


def _rising(found: Settling, grounds: Grounds) -> str:
    rise = found.rate_cents_per_day
    against = " against its neighbours" if found.n_neighbours else ""
    if rise.value <= SD_OF_90 * rise.se:
        return (f"over its last two moves it moved by {_signed(rise.value)} ± {rise.se:.1f} cents a day{against}, hardly more than "
                "its doubt: whether it rises or holds its pitch is not known yet")
    asked = (f"rises by {rise.value:.1f} ± {max(rise.se, 0.1):.1f} cents a day{against}, and a string that stretches only falls: was it "
             "tuned up without a reading as left")
    if found.n_neighbours:
        return f"{asked}, or does the weather move it more than them?"
    who_tells = "No string of its material had settled before it, so none can tell"
    if grounds.company != ():
        names = one_after_another(as_strings(grounds.company, at_start=True)) if grounds.company else "Settled neighbours"
        who_tells = f"{names} plucked with it can tell"
    return f"{asked}, or is it damp weather? {who_tells}"


def _checks(grounds: Grounds) -> str:
    since = "since it was last tuned up" if grounds.tuned else "yet"
    return f"{('no', 'only')[grounds.n_counting]} two checks six hours or more apart {since}"


def _drift(found: Settling) -> str:
    drift = found.expected_drift_cents
    return f"{_signed(drift.value)} ± {drift.se:.1f} cents" if drift.known else "by an unknown amount"


def _signed(cents: float) -> str:
    """ "+1.1", "−0.4"; "0.0" without a sign for what rounds to nothing."""
    told = f"{cents:+.1f}".replace("-", "−")
    return "0.0" if told[1:] == "0.0" else told


def _tuned_line(grounds: Grounds) -> str:
    if not grounds.tuned or grounds.n_counting >= 2:
        return ""
    last = grounds.tuned[-1]
    since, until = _moments(last.since, last.until)
    return (f"found {last.cents:.0f} cents higher on {until} than on {since}: it was tuned in between without a reading as left, so what "
            "it fell in that time is not known; record it as left as well")


def _move_line(move: Move) -> str:
    """Cents and, of a longer time, cents a day, between two checks that are named, so that a player can follow it."""
    drift, days = move.drift_cents, (move.until - move.since).total_seconds() / 86400.0
    moved, rate = f"{abs(drift.value):.1f}", abs(drift.value) / days
    way = "moved" if moved == "0.0" else "fell" if drift.value < 0 else "rose"
    against = " against its neighbours" if move.n_neighbours else ""
    cents = f"{moved} ± {max(drift.se, 0.1):.1f} cents"
    since, until = _moments(move.since, move.until)
    ends = f"from {since}, as left, to {until}, as found" if move.from_left else f"from {since} to {until}, as found both times"
    told = f"{cents}{against}, {ends}"
    if days * 24.0 >= RATE_H and moved != "0.0":
        told = f"{'less than 0.1' if rate < 0.05 else f'{rate:.1f}'} cents a day{against}: by {cents} {ends}"
    return f"between {'the last' if move.is_latest else 'earlier'} checks it {way} by {told}"


def _short_line(grounds: Grounds) -> str:
    """Whether a new string was tuned without being logged, which its first days look like, and how to log it the next time."""
    if grounds.falls_short is None or grounds.rises:
        return ""
    since, until = _moments(grounds.falls_short.since, grounds.falls_short.until)
    return (f"a new string falls: was it tuned between {since} and {until}? Then what it fell is not known, and no day can be told from "
            "it. Whenever you tune it, pluck it again afterwards and give that recording too, with '--as-left'")


def _moments(since: datetime, until: datetime) -> tuple[str, str]:
    """The days, with the time where less than a day lies between."""
    if until - since < timedelta(days=1):
        return f"{day_text(since)} at {since:%H:%M}", f"{day_text(until)} at {until:%H:%M}"
    return day_text(since), day_text(until)


def _jump_lines(found: Settling, grounds: Grounds, *, is_open: bool) -> list[str]:
    """Every move that was left out, but for the last where the deciding sentence has it already."""
    told = 1 if is_open and found.slipping_until is None and not found.recurring else 0
    asks = found.state != "settled"  # else later checks have answered
    return [f"left out: {_jumped(jump, asks=asks)}" for jump in grounds.jumps[: len(grounds.jumps) - told]]


def _jumped(jump: Move, *, asks: bool = True) -> str:
    """One move that stretch and a steady fall do not explain, and what may have caused it. `asks`: ask whether it was tuned."""
    since, until = _moments(jump.since, jump.until)
    size = abs(jump.drift_cents.value)
    when, cents = f"between {since} and {until} it", f"{size:.0f} cents" if size >= 10.0 else f"{size:.1f} cents"
    if jump.drift_cents.value > 0.0:
        return f"{when} rose by {cents}{': was it tuned and not logged?' if asks else ''}"
    if jump.excess_cents < 0.0:
        return f"{when} fell by only {cents}, less than its other moves suggest{': was it tuned up and not logged?' if asks else ''}"
    return f"{when} fell by {cents} at once: a knot or the pin may have slipped; look at both"


def _weather_line(found: Settling, grounds: Grounds) -> str:
    if not found.n_intervals or found.n_neighbours:
        return ""
    none_serves = "no string of its material had settled before it to show what the weather did"
    if grounds.company == () and (grounds.is_old or grounds.rises):
        return f"{none_serves}, so only moves over three days and more decide: over so long a drift stands out from it"
    unread = "no settled neighbour of its material was read each time, so the weather is not taken out everywhere"
    told = none_serves if grounds.company == () else unread
    hidden = ": if the other strings rose in these days, it may stretch still"
    return f"{told}{hidden if found.state == 'settled' and not grounds.is_old else ''}"

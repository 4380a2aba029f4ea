"""A harp as its owner keeps it, as of one day: the log, pitch checks, what has settled, spares, the owner's own figures. What happened
later is left out, so that a page for an earlier day says what could be known then."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from toneprobe.book import read
from toneprobe.book.connect import Book
from toneprobe.book.entries import OwnerSettings
from toneprobe.book.pitch_checks import pitch_checks, settled_strings
from toneprobe.book.settings import settings_of
from toneprobe.book.spare_box import spares_of
from toneprobe.fittings import Fitting, as_strung, known_on, on_now
from toneprobe.instrument import Instrument
from toneprobe.practice import ORDERED
from toneprobe.settling import PitchReading, SettledRecord, Settling, judge_on_harp
from toneprobe.settling.steady import OLD_DAYS
from toneprobe.spares import Spare


@dataclass(frozen=True)
class HarpState:
    """The strings of one harp at the end of a day."""

    harp_id: int
    instrument: Instrument
    today: date
    fittings: tuple[Fitting, ...]  # the whole log
    readings: Mapping[int, tuple[PitchReading, ...]]  # by fitting
    records: tuple[SettledRecord, ...]
    settings: OwnerSettings

    @property
    def on(self) -> dict[str, Fitting]:
        """By string, from the top of the harp, what is on."""
        on = on_now(self.fittings)
        return {spec.name: on[spec.name] for spec in self.instrument.strings if spec.name in on}

    @property
    def strung(self) -> Instrument:
        """The instrument with the materials that its owner keeps on it."""
        return as_strung(self.instrument, self.fittings)

    @property
    def settled_days(self) -> dict[int, date]:
        return {record.fitting_id: record.settled_on for record in self.records}

    @property
    def unsettled(self) -> frozenset[str]:
        """Strings whose pitch is not to be trusted yet."""
        return frozenset(name for name, one in self.on.items() if self.still_settles(one))

    def as_of(self, day: date) -> HarpState:
        """The same at the end of an earlier day."""
        readings = {number: tuple(one for one in found if one.at.date() <= day) for number, found in self.readings.items()}
        records = tuple(one for one in self.records if one.noted_on <= day)
        return replace(self, today=day, fittings=known_on(self.fittings, day), records=records,
                       readings={number: found for number, found in readings.items() if found})

    def judge(self, fitting: Fitting) -> Settling:
        """Has this string settled, as its checks so far say, and whether it has had its time where they say nothing."""
        return judge_on_harp(fitting, self.readings, self.fittings, self.instrument, records=self.records,
                             tolerance=self.settings.tolerance, habits=self.settings.habits, today=self.today)

    def is_young(self, fitting: Fitting) -> bool:
        """Put on so lately that stretch explains what it does."""
        return fitting.fitted_on is not None and 0 <= (self.today - fitting.fitted_on).days < OLD_DAYS

    def still_settles(self, fitting: Fitting) -> bool:
        """Whether a string that belongs on the harp, and so gets a baseline, `still_moves`."""
        return not fitting.is_stand_in and self.still_moves(fitting)

    def still_moves(self, fitting: Fitting) -> bool:
        """Whether its pitch is not to be trusted yet: as its checks say, and without them as is usual for its material. Later checks
        outweigh a note that it has settled: a pin or a knot may have begun to slip since."""
        if not self.is_young(fitting) or (fitting.id in self.settled_days and fitting.id not in self.readings):
            return False
        found = self.judge(fitting)
        return found.state != "settled" and found.due_on is None


def harp_state(book: Book, harp_id: int, instrument: Instrument, *, today: date) -> HarpState:
    return harp_state_ever(book, harp_id, instrument).as_of(today)


def harp_state_ever(book: Book, harp_id: int, instrument: Instrument) -> HarpState:
    """All that the book knows, to be asked for one day after the other."""
    readings: dict[int, list[PitchReading]] = {}
    for one in pitch_checks(book, harp_id):
        if one.fitting_id is not None:
            readings.setdefault(one.fitting_id, []).append(one)
    by_fitting = {fitting_id: tuple(found) for fitting_id, found in readings.items()}
    return HarpState(harp_id, instrument, date.max, read.fitting_log(book, harp_id), by_fitting, settled_strings(book, harp_id),
                     settings_of(book, harp_id))


def spares_as_of(book: Book, harp_id: int, today: date) -> tuple[Spare, ...]:
    """Those bought by then; one used later lies there still, and one that came later was on the way once it was ordered."""
    known = (_as_of(one, today) for one in spares_of(book, harp_id))
    return tuple(one for one in known if one is not None)


def _as_of(spare: Spare, today: date) -> Spare | None:
    then = replace(spare, used_on=None, fitting_id=None) if spare.used_on and spare.used_on > today else spare
    if spare.bought_on is None or spare.bought_on <= today:
        return then
    if spare.place == ORDERED or spare.lead_time_days is None:
        return None
    ordered_on = spare.bought_on - timedelta(days=spare.lead_time_days)
    return None if ordered_on > today else replace(then, place=ORDERED, bought_on=ordered_on, lead_time_days=None)  # which nobody knew

"""A string change: where the new string comes from, what it is, and the log that follows."""

import shlex
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, datetime

from toneprobe.book import read
from toneprobe.book.connect import Book, writing
from toneprobe.book.entries import Harp, SweepRecord
from toneprobe.book.pitch_checks import pitch_checks
from toneprobe.book.settings import settings_of
from toneprobe.book.spare_box import spares_of
from toneprobe.book.stringing import replace_fitting
from toneprobe.condition.next_steps import cautions_of
from toneprobe.days import day_text
from toneprobe.errors import BookError, DamagedError, UsageError
from toneprobe.fittings import Fitting, NewFitting, Removal, as_strung, check_fitting, check_gauge, material_of
from toneprobe.instrument import Instrument, StringSpec, find_string
from toneprobe.judging.past import heard_in
from toneprobe.judging.verdicts import JudgedAgain, judge_again
from toneprobe.phrases import as_string, technician_of
from toneprobe.practice import Habits, may_be_same
from toneprobe.spares import SAME_GAUGE, Spare, fits, on_the_way, shelf_age, stand_ins_for, take_first, unused
from toneprobe.upkeep.noted_in_order import noted_in_order
from toneprobe.workers import Progress


@dataclass(frozen=True)
class StringChange:
    """A change as the player tells it. What is None is taken from the spare, else from the string that came off, else from the harp."""

    string: str
    day: date
    why: str | None = None
    broke_at: str | None = None
    is_stand_in: bool = False
    material: str | None = None
    gauge_mm: float | None = None
    supplier: str | None = None
    batch: str | None = None
    from_spares: bool = False
    spare_id: int | None = None
    note: str = ""
    before_sweep: bool = False  # the sweep of that day, which is in the book already, heard the new string
    is_another: bool = False  # a second new string went on that day
    agreed: frozenset[int] = frozenset()  # sweeps of later days that heard the new string, by number, as its owner says


@dataclass(frozen=True)
class HeardSince:
    """The sweeps of days after a change that heard the string: if it was changed that day, they are the new string's."""

    sweeps: tuple[tuple[int, date], ...] = ()  # number and day, oldest first
    fresh_on: date | None = None  # the first of them that would be the new string's fresh baseline

    @property
    def numbers(self) -> frozenset[int]:
        return frozenset(number for number, _ in self.sweeps)


@dataclass(frozen=True)
class Changed:
    fitting: Fitting
    spare: Spare | None
    n_left: int  # spares that still fit the position, as they lie today
    untaken: Spare | None  # one that may be what went on, though the player did not say so
    cautions: tuple[str, ...]  # of this string in particular, then of every change
    rejudged: JudgedAgain = JudgedAgain()
    swept_old: bool = False  # a sweep of that day is in the book, and speaks of the string that came off
    since: HeardSince = HeardSince()  # sweeps of later days that now speak of the new string
    checked_old: tuple[datetime, ...] = ()  # pitch checks of that day, which stay with the string that came off
    supposed: Fitting | None = None  # what came off, where it may be what went on: it was supposed to be on, and no sweep had heard it


def change_string(book: Book, harp: Harp, change: StringChange, *, progress: Progress | None = None) -> Changed | HeardSince:
    """Log the change, take the spare off the list, and judge the sweeps since again (`progress`: as of `judge_again`). UsageError where the
    log speaks against it, BookError where no such spare is there; all in one transaction, so of two programs the second is refused.

    Where a fresh baseline of a later day would become the new string's, and the owner has not agreed to that, nothing is done and the
    sweeps are returned: by a mistyped day a new string would be judged by the baseline of the old one.
    """
    spec = find_string(harp.instrument, change.string)
    check_gauge(spec.name, change.gauge_mm)
    with writing(book):
        return _change(book, harp, change, spec, progress)


def _change(book: Book, harp: Harp, change: StringChange, spec: StringSpec, progress: Progress | None) -> Changed | HeardSince:
    log = read.fitting_log(book, harp.id, spec.name)
    strung = as_strung(harp.instrument, read.fitting_log(book, harp.id))
    kept = find_string(strung, spec.name)
    old = next((one for one in log if one.removed_on is None), None)
    if old is None:
        _refuse_losing(change, log)
    known = spares_of(book, harp.id)
    lying = unused(known)  # today: what was used since that day lay there then, but is gone
    spares = tuple(one for one in lying if one.bought_on is None or one.bought_on <= change.day)
    habits = settings_of(book, harp.id).habits
    awaited = [one for one in on_the_way(known) if fits(one, kept)]
    if change.spare_id is not None or not any(fits(one, kept) or fits(one, spec) for one in spares):
        _refuse_bought_later(change, [one for one in lying if one not in spares and fits(one, kept)])
    spare, cautions = _pick(change, spec, spares, strung, habits, awaited=awaited)
    new, removal = _new(change, spec, old, spare), _removal(change, old)
    if old is not None:
        _refuse_day(change, old)
        off = replace(old, removed_on=removal.removed_on, why_removed=removal.why, broke_at=removal.broke_at)
        check_fitting(off, today=max(change.day, old.fitted_on or change.day))
    swept = [one for one in read.condition_history(book, harp.id, spec.name) if one.date == change.day and one.condition.n_plucks]
    swept_old = old is not None and not change.before_sweep and any(one.fitting_id == old.id for one in swept)
    if change.before_sweep and not swept:
        raise UsageError(f"no sweep of {day_text(change.day)} in the book heard {as_string(spec.name)}: leave out --before-sweep")
    since = HeardSince() if old is None else _heard_since(book, change, old)
    if since.fresh_on and not since.numbers <= change.agreed:
        return since
    with noted_in_order(book, harp.id, harp.instrument):
        fitting = replace_fitting(book, harp.id, new, removal, spare_id=spare.id if spare else None, before_sweep=change.before_sweep)
    rejudged = judge_again(book, harp.id, since=change.day, progress=progress)
    kept_now = find_string(as_strung(harp.instrument, read.fitting_log(book, harp.id)), spec.name)
    left = [one for one in lying if one != spare and fits(one, kept_now)]
    untaken = None if spare or fitting.is_stand_in else _like(fitting, spec, [one for one in left if one in spares], habits)
    what = harp.instrument.word
    told = (*cautions, *_kind_cautions(fitting, spec, kept, who=technician_of(what)), *cautions_of(what))
    supposed = old if old is not None and old.is_supposed and not read.plucks_of_fitting(book, old.id) else None
    checked_old = _checked_on(book, harp.id, old, change.day) if old is not None else ()
    return Changed(fitting, spare, len(left), untaken, told, rejudged, swept_old, since, checked_old, supposed)


def _checked_on(book: Book, harp_id: int, fitting: Fitting, day: date) -> tuple[datetime, ...]:
    """When a string was checked that day, but for the checks that came with a sweep. A damaged check is in no change's way."""
    with suppress(DamagedError):
        return tuple(one.at for one in pitch_checks(book, harp_id)
                     if one.fitting_id == fitting.id and one.at.date() == day and one.sweep_id is None)
    return ()


def heard_as_new(book: Book, record: SweepRecord) -> tuple[str, ...]:
    """Strings that were changed on the day of a sweep, which came into the book after that: it counts as a sweep of what went on."""
    heard = heard_in(read.plucks_of(book, record.id))
    log = read.fitting_log(book, record.harp_id)
    off = {one.string for one in log if one.removed_on == record.date}
    return tuple(one.string for one in log if one.fitted_on == record.date and one.string in off and heard.get(one.string) == one.id)


def _heard_since(book: Book, change: StringChange, old: Fitting) -> HeardSince:
    later = [one for one in read.plucks_of_fitting(book, old.id) if one.date > change.day]
    fresh = [] if old.is_stand_in or change.is_stand_in else [one.date for one in later if one.is_fresh]
    return HeardSince(tuple(dict.fromkeys((one.sweep_id, one.date) for one in later)), min(fresh, default=None))


def _refuse_day(change: StringChange, old: Fitting) -> None:
    """A day before the last change needs another command; a second change of one day may be the same command given again."""
    if old.fitted_on is not None and change.day < old.fitted_on:
        raise UsageError(f"{change.string}: it cannot come off on {day_text(change.day)}, it went on only on "
                         f"{day_text(old.fitted_on)}. If it really went on "
                         f"that day: toneprobe log correct {shlex.quote(change.string)} --entry {old.id} --fitted {change.day}; an older "
                         "change comes from a CSV file: toneprobe log import")
    if old.fitted_on == change.day and old.is_stand_in == change.is_stand_in and not change.is_another:
        known = (f". That day is supposed; to say that it is right: toneprobe log correct {shlex.quote(old.string)} --entry {old.id} "
                 f"--fitted {change.day}, with --material and whatever else is known of it") if old.is_supposed else ""
        raise UsageError(f"{as_string(old.string, at_start=True)} got a new string on {day_text(change.day)} already, no. "
                         f"{old.id} of the log: nothing was logged{known}. If another one went on that day, say so with --another")


def _refuse_losing(change: StringChange, log: Sequence[Fitting]) -> None:
    """Where nothing is on, nothing comes off: why the last one did belongs to its own entry, and is there or must be written there."""
    if change.why is None and change.broke_at is None:
        return
    why = change.why or "broke"
    last = max((one for one in log if one.removed_on is not None), key=lambda one: (one.removed_on, one.id), default=None)
    if last is None:
        raise UsageError(f"no string is on {as_string(change.string)} that could have come off: leave out --why and --broke-at")
    if last.removed_on > change.day:
        return  # which cannot be, and the book says so
    if last.why_removed != why or change.broke_at not in (None, last.broke_at):
        place = f" --broke-at {shlex.quote(change.broke_at)}" if change.broke_at else ""
        raise UsageError(f"no string has been on {as_string(change.string)} since {day_text(last.removed_on)}. Say first why the "
                         f"last one came off: toneprobe log correct {shlex.quote(change.string)} --entry {last.id} "
                         f"--why {why}{place}; then log the new one without it")


def _refuse_bought_later(change: StringChange, later: Sequence[Spare]) -> None:
    """Of spares that were bought only after the day of the change: the one that is to be taken, or the first of them."""
    meant = [one for one in later if one.id == change.spare_id] if change.spare_id is not None else later
    if not meant or not (change.from_spares or change.spare_id is not None) or change.is_stand_in:
        return
    one = min(meant, key=lambda spare: (spare.bought_on, spare.id))
    raise BookError(f"on {day_text(change.day)} there was no spare {as_string(change.string)} yet: spare {one.id} was bought on "
                    f"{day_text(one.bought_on)}. Give the day on which the string really went on; where the spare's day is wrong: "
                    f"toneprobe spares correct {one.id} --bought DATE")


def _pick(
    change: StringChange, spec: StringSpec, spares: Sequence[Spare], strung: Instrument, habits: Habits, *,
    awaited: Sequence[Spare],
) -> tuple[Spare | None, tuple[str, ...]]:
    """The spare to take, and what to mind with it. `strung`: the instrument as the owner keeps it, where `spec` is what belongs there;
    `awaited`: those that would be right, and are still on the way."""
    if change.spare_id is not None:
        return _by_number(change, spec, spares, strung, habits)
    if not change.from_spares:
        return None, ()
    kept = find_string(strung, spec.name)
    offers = stand_ins_for(kept, spares, strung, today=change.day, habits=habits)
    if change.is_stand_in:
        if not offers:
            raise BookError(f"no spare of a neighbour can stand in for {as_string(spec.name)}: ask a colleague, or leave out --from-spares")
        return offers[0].spare, offers[0].cautions
    spare = take_first(spares, kept, today=change.day, habits=habits)
    if spare is None and (own := take_first(spares, spec, today=change.day, habits=habits)) is not None:
        raise BookError(f"there is no spare {as_string(spec.name)} of {kept.material}, which is kept there by the log; spare {own.id} "
                        f"is {own.material or spec.material}, which belongs there: take it with --spare {own.id}")
    if spare is None:
        here = f"; one is on the way: if it has come, first 'toneprobe spares arrived {shlex.quote(spec.name)}'" if awaited else ""
        hint = f"{here}; the spare {as_string(offers[0].made_for)} can stand in, with --stand-in" if offers else here
        raise BookError(f"there is no spare {as_string(spec.name)} in the bag or at home{hint}")
    return spare, _shelf_cautions(spare, change.day, habits)


def _by_number(
    change: StringChange, spec: StringSpec, spares: Sequence[Spare], strung: Instrument, habits: Habits
) -> tuple[Spare, tuple[str, ...]]:
    spare = next((one for one in spares if one.id == change.spare_id), None)
    if spare is None or spare.used_on is not None:
        raise UsageError(f"no unused spare has the number {change.spare_id}: see 'toneprobe spares'")
    kept = find_string(strung, spec.name)
    if fits(spare, kept) or fits(spare, spec) or _is_meant(spare, change):
        return spare, _shelf_cautions(spare, change.day, habits)
    if not change.is_stand_in:
        is_other = spare.string == spec.name and not may_be_same(spare.material, spec.material)
        to_keep = f"; where {spare.material} is what you keep there, say so with --material {shlex.quote(spare.material)}"
        raise UsageError(f"spare {spare.id} is a {as_string(spare.string)} ({spare.material or 'material not noted'}), not the right "
                         f"string for {as_string(spec.name)}: in need put it on with --stand-in{to_keep if is_other else ''}")
    offers = stand_ins_for(kept, spares, strung, today=change.day, habits=habits)
    offer = next((one for one in offers if one.spare.id == spare.id), None)
    if offer is None:
        raise UsageError(f"spare {spare.id}, a {as_string(spare.string)}, would pull harder on {as_string(spec.name)} than the string that "
                         "belongs there, or is no neighbour of it: take another")
    return spare, offer.cautions


def _is_meant(spare: Spare, change: StringChange) -> bool:
    """Whether the player names the material of a spare made for the string: then another kind than belongs there is put on to stay."""
    is_named = bool(spare.material and change.material) and may_be_same(spare.material, change.material)
    return is_named and not change.is_stand_in and spare.string == change.string


def _shelf_cautions(spare: Spare, day: date, habits: Habits) -> tuple[str, ...]:
    age = shelf_age(spare, today=day, habits=habits)
    return (f"spare {spare.id} has been past its best on the shelf since {day_text(age.best_until)}",) if age.is_past_best else ()


def _like(fitting: Fitting, spec: StringSpec, left: Sequence[Spare], habits: Habits) -> Spare | None:
    """The spare to take first of those that are such a string as went on."""
    went_on = replace(spec, material=material_of(fitting, spec), gauge_mm=fitting.gauge_mm or spec.gauge_mm)
    return take_first(left, went_on, today=fitting.fitted_on, habits=habits)


def _new(change: StringChange, spec: StringSpec, old: Fitting | None, spare: Spare | None) -> NewFitting:
    before = None if old is None or old.is_stand_in else old
    sources = (spare,) if spare else () if change.is_stand_in else (before, spec)  # of a stand-in nothing is known but what is said
    material = change.material or next((one.material for one in sources if one and one.material), None)
    same_kind = change.material is None or spare is not None or (before is not None and change.material == before.material)
    gauge_mm = change.gauge_mm or next((one.gauge_mm for one in sources if same_kind and one and one.gauge_mm), None)
    supplier, batch = change.supplier or (spare.supplier if spare else None), change.batch or (spare.batch if spare else None)
    return NewFitting(spec.name, change.day, material, gauge_mm, supplier, batch, change.is_stand_in, change.note)


def _removal(change: StringChange, old: Fitting | None) -> Removal:
    """How the old string came off: a stand-in because it was one, a string that broke somewhere because it broke."""
    why = change.why or ("broke" if change.broke_at else "stand-in" if old is not None and old.is_stand_in else None)
    if change.broke_at and why != "broke":
        raise UsageError(f"it broke at the {change.broke_at}: then --why is broke, not {why}")
    return Removal(change.day, why, change.broke_at)


def _kind_cautions(fitting: Fitting, spec: StringSpec, kept: StringSpec, *, who: str) -> list[str]:
    """kept: what was on until now, whose owner need not be asked again. who: as of `technician_of`."""
    if fitting.is_stand_in:
        return []
    lines = []
    if not may_be_same(fitting.material, spec.material) and not may_be_same(fitting.material, kept.material):
        lines.append(f"{spec.material} belongs on {as_string(spec.name)}: {fitting.material} is another string, with another tension. Ask "
                     f"{who} whether it may stay")
    if fitting.gauge_mm and spec.gauge_mm and fitting.gauge_mm > (1.0 + SAME_GAUGE) * spec.gauge_mm:
        lines.append(f"{fitting.gauge_mm:g} mm is thicker than the {spec.gauge_mm:g} mm that belongs on {as_string(spec.name)} and pulls "
                     f"harder. Ask {who} whether it may stay")
    return lines

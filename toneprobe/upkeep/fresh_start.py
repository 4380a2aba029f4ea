"""From settled to fresh: whether the next sweep may become a new string's baseline, and that it does once its owner has agreed."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from shlex import quote

from toneprobe.book import read
from toneprobe.book.connect import Book
from toneprobe.book.entries import StoredPluck
from toneprobe.book.pitch_checks import baselines_wanted, settled_strings, want_baseline
from toneprobe.errors import UsageError
from toneprobe.fittings import Fitting, material_on
from toneprobe.harp_state import HarpState
from toneprobe.judging.fresh_choice import FreshWish
from toneprobe.phrases import count_of
from toneprobe.session.sweep import read_sweep
from toneprobe.settling import BaselineAdvice, Settling, ToneState, advise_baseline, judge_tone
from toneprobe.upkeep.unsettled import has_baseline, waiting_for_fresh

NEW_DAYS = 183  # so long a string may still be called fresh: the first nylon and gut age within a year (set here: half of it)
ONCE_MORE = "no two checks running show that it has: check it once more with 'toneprobe settle'"


@dataclass(frozen=True)
class Offer:
    """Of a new string that has settled and has no baseline."""

    fitting_id: int
    advice: BaselineAdvice  # whether pitch and tone have come to rest
    is_wanted: bool  # its owner wants the next sweep as its baseline already
    lacks: str = ""  # what its tone wants first, as of `ToneState.lacks`


def offers(book: Book, state: HarpState, found: Mapping[str, Settling]) -> dict[str, Offer]:
    """By string: those of the strings judged to whose owner the next sweep is offered as a baseline, or told why not yet."""
    wanted = baselines_wanted(book, state.harp_id)
    settled = {name: state.on[name] for name, one in found.items() if one.state == "settled"}
    bare = {name: one for name, one in settled.items() if state.is_young(one) and not has_baseline(book, one)}
    tones = {name: tone_of(book, state, one) for name, one in bare.items()}
    return {name: Offer(one.id, advise_baseline(found[name], tones[name], is_stand_in=one.is_stand_in), one.id in wanted,
                        "" if one.is_stand_in else tones[name].lacks)
            for name, one in bare.items()}


def as_offered(found: Mapping[str, Settling], offered: Mapping[str, Offer]) -> dict[str, Settling]:
    """The states found, with what its tone lacks as the next step where a string's pitch has settled: it is no baseline yet."""
    return {name: replace(one, next_step=offered[name].lacks) if name in offered and offered[name].lacks else one
            for name, one in found.items()}


def waiting_to_sweep(
    book: Book, state: HarpState, found: Mapping[str, Settling], *, only: str | None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """New strings that have had their time, but which no sweep can judge yet: those whose baseline the next one becomes, and the rest.
    `found`: states that are told already, among them those that checks speak of. `only`: this string alone."""
    waiting = [name for name in waiting_for_fresh(book, state) if only in (None, name) and (name not in found or found[name].due_on)]
    due = due_for_baseline(book, state)
    return (tuple(name for name in waiting if name in due),
            tuple(name for name in waiting if name not in due and _is_new(state.on[name], state)))


def bare_strings(book: Book, state: HarpState) -> dict[str, tuple[str, date | None]]:
    """New strings that wait for a baseline after their time to settle: what the tone of each lacks for it, "" where nothing, and where
    checks don't show it settled, since when. Left out are those whose checks since fail to show it, and those too old to be new."""
    found: dict[str, tuple[str, date | None]] = {}
    for fitting in (state.on[name] for name in waiting_for_fresh(book, state)):
        if _is_new(fitting, state) and not _checks_fail_to_show(state, fitting):
            lacks = tone_of(book, state, fitting).lacks if state.is_young(fitting) else ""  # newness has worn off the others
            found[fitting.string] = lacks, state.judge(fitting).due_on
    return found


def unshown_strings(book: Book, state: HarpState) -> dict[str, tuple[str, date]]:
    """Those that `bare_strings` leaves out because their checks fail to show them settled: what each wants first, and since when."""
    waiting = [state.on[name] for name in waiting_for_fresh(book, state)]
    return {one.string: (ONCE_MORE, state.judge(one).due_on) for one in waiting if _is_new(one, state) and _checks_fail_to_show(state, one)}


def _is_new(fitting: Fitting, state: HarpState) -> bool:
    return (state.today - fitting.fitted_on).days <= NEW_DAYS


def asked_for(state: HarpState, wish: FreshWish) -> tuple[str, ...]:
    """The strings that a wish means, from the top of the harp. UsageError where a stand-in is on one that it names."""
    asked = tuple(spec.name for spec in state.instrument.strings if wish.all or spec.name in wish.named)
    stand_in = next((name for name in asked if name in state.on and state.on[name].is_stand_in), None)
    if stand_in and not wish.all:
        raise UsageError(f"a stand-in is on {stand_in}, which never becomes a baseline: leave out --fresh-for {quote(stand_in)}")
    return asked


def tone_of(book: Book, state: HarpState, fitting: Fitting) -> ToneState:
    """Whether brightness and decay of a fitting still move, from its sweeps so far."""
    by_sweep: dict[int, list[StoredPluck]] = {}
    for pluck in read.plucks_of_fitting(book, fitting.id):
        if pluck.date <= state.today:
            by_sweep.setdefault(pluck.sweep_id, []).append(pluck)
    readings = [(found[0].date, read_sweep([one.measurement for one in found]).readings) for found in by_sweep.values()]
    sweeps = [(day, one[fitting.string]) for day, one in readings if fitting.string in one]
    return judge_tone(sweeps, fitted_on=fitting.fitted_on, material=material_on(fitting, state.instrument))


def doubts_about_fresh(book: Book, state: HarpState, names: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Of the strings named, those whose pitch or tone is known, or from their age likely, to move still, each with the reasons."""
    found: dict[str, tuple[str, ...]] = {}
    for fitting in (state.on[name] for name in names if name in state.on):
        if fitting.is_stand_in or not state.is_young(fitting) or has_baseline(book, fitting):
            continue
        tone = tone_of(book, state, fitting)
        reasons = [*_pitch_doubt(state, fitting), *(f"its {text}" for text in tone.moving), *([tone.reason] if tone.steady is None else [])]
        if reasons:
            found[fitting.string] = tuple(reasons)
    return found


def _pitch_doubt(state: HarpState, fitting: Fitting) -> list[str]:
    if not state.still_settles(fitting) and not _checks_fail_to_show(state, fitting):
        return []
    days = (state.today - fitting.fitted_on).days
    age = f"it was put on {count_of(days, 'day')} before"
    return [f"{age} and its pitch was not checked" if fitting.id not in state.readings else f"{age}; {state.judge(fitting).reasons[0]}"]


def _checks_fail_to_show(state: HarpState, fitting: Fitting) -> bool:
    """Whether it has had its time, but was checked since then, and no two checks running show it settled."""
    found = state.judge(fitting)
    return found.due_on is not None and found.checked_on is not None and found.checked_on >= found.due_on


def due_for_baseline(book: Book, state: HarpState) -> frozenset[str]:
    """The strings whose owner wants the next sweep as their baseline, that have none yet, and that are settled still."""
    return frozenset(one.string for one in _wished(book, state) if not _moves_again(state, one))


def waiting_wishes(book: Book, state: HarpState) -> dict[str, Settling]:
    """By string, from the top of the harp, the state of those whose owner wants the next sweep as their baseline, but whose checks since do
    not show them settled any more. The wish waits in the book until they do."""
    return {one.string: state.judge(one) for one in _wished(book, state) if _moves_again(state, one)}


def _wished(book: Book, state: HarpState) -> list[Fitting]:
    wanted = baselines_wanted(book, state.harp_id)
    noted = {record.fitting_id: record.noted_on for record in settled_strings(book, state.harp_id)}
    return [one for one in state.on.values()
            if one.id in wanted and not one.is_stand_in and noted[one.id] <= state.today and not has_baseline(book, one)]


def _moves_again(state: HarpState, fitting: Fitting) -> bool:
    """Also where it has had its time since: a string that was seen to move is settled only once its checks show it."""
    return fitting.id in state.readings and state.judge(fitting).state != "settled"


def still_bare(book: Book, state: HarpState, names: Iterable[str]) -> tuple[str, ...]:
    """Of strings that have lost their baseline, those that get none by the next sweep unless their owner says so."""
    wished = {one.string for one in _wished(book, state)}
    on = {name: state.on[name] for name in names if name in state.on}
    return tuple(name for name, one in on.items() if name not in wished and not one.is_stand_in and not has_baseline(book, one))


def keep_wishes(book: Book, state: HarpState, wished: Iterable[int]) -> tuple[str, ...]:
    """Renew the wishes that went with notes which were taken out, where the fitting is noted as settled all the same. Returns the strings
    on the harp that no longer count as settled, whose wish is gone."""
    noted = {record.fitting_id for record in settled_strings(book, state.harp_id)}
    wished = tuple(wished)
    for fitting_id in noted.intersection(wished):
        want_baseline(book, fitting_id)
    return tuple(name for name, one in state.on.items() if one.id in wished and one.id not in noted)

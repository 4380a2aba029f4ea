"""What is known of the demo's harp at the end of its year, as values and as JSON: enough to make its pages again, without sounds."""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields, replace
from datetime import date
from typing import get_type_hints

from toneprobe.audio import Remark
from toneprobe.book import read
from toneprobe.book.entries import StoredCondition
from toneprobe.condition import Condition
from toneprobe.demo.story import BROKEN, HARP, story_instrument
from toneprobe.demo.values import packed, unpacked
from toneprobe.demo.year import Year
from toneprobe.fittings import Fitting, known_on
from toneprobe.judging.verdicts import recall
from toneprobe.measure.figure import Figure
from toneprobe.report.view import Background, SweepFacts, SweepView, sweep_view
from toneprobe.retelling import judged_between, retell
from toneprobe.session import PartialReading, Reading

BEFORE, AFTER = 1, 3  # the sweeps compared: June, before a string broke, and the last
COMPARED = ("t60_s", "cents_off", "centroid_hz", "centroid_partials_hz")  # figures in a comparison
PICTURED = ("pitch_hz", "inharmonicity")  # figures behind pictures of partials
SHOWN_CHANGES = ("ring", "decay", "decay_low", "brightness")  # changes behind ring and brightness of a history
N_TOLD = 5  # strings with readings and histories: the worst of those that need attention


@dataclass(frozen=True)
class SweepWords:
    """A sweep without its strings."""

    sweep_id: int
    date: date
    warnings: tuple[Remark, ...]
    is_fresh: bool
    program: str


@dataclass(frozen=True)
class DemoFacts:
    sweeps: tuple[SweepWords, ...]  # oldest first
    conditions: tuple[StoredCondition, ...]  # of all sweeps
    fittings: tuple[Fitting, ...]
    now: tuple[Reading, ...]  # of the latest sweep
    fresh: tuple[Reading, ...]  # what each string is compared with
    steps: tuple[Condition, ...]  # of the sweep AFTER against that BEFORE


def facts_of_year(year: Year) -> DemoFacts:
    """What the book holds after the year; to keep it small, readings and histories only of the worst strings and the new one."""
    views = [retell(year.book, record, year.harp.name) for record in year.records]
    latest = recall(year.book, year.records[-1])
    told = [*(one.name for one in views[-1].attention[:N_TOLD] if one.name != BROKEN), BROKEN]
    conditions = [_lean(one, told=told if one.sweep_id == year.records[-1].id else None)
                  for record in year.records for one in read.conditions_of(year.book, record.id)]
    return DemoFacts(
        tuple(SweepWords(record.id, view.date, view.warnings, view.is_fresh, record.program)
              for record, view in zip(year.records, views, strict=True)),
        tuple(conditions), read.fitting_log(year.book, year.harp.id),
        tuple(_lean_reading(latest.sweep.readings[name]) for name in told if name in latest.sweep.readings),
        tuple(_lean_reading(latest.past.baselines[name].reading) for name in told if name in latest.past.baselines),
        tuple(map(_lean_step, judged_between(year.book, year.records[BEFORE], year.records[AFTER]).values())))


def views_of(facts: DemoFacts) -> tuple[SweepView, ...]:
    """The view of each sweep, oldest first, without sounds; pictures only in the latest, of strings with readings."""
    return tuple(_view(facts, words, is_latest=words is facts.sweeps[-1]) for words in facts.sweeps)


def _view(facts: DemoFacts, words: SweepWords, *, is_latest: bool) -> SweepView:
    conditions = tuple(one.condition for one in facts.conditions if one.sweep_id == words.sweep_id)
    told = SweepFacts(HARP, story_instrument(), words.date, conditions, words.warnings, words.is_fresh, words.program, words.sweep_id,
                      frozenset(one.string for one in conditions if words.is_fresh))
    now, fresh = ({one.string: one for one in side} if is_latest else {} for side in (facts.now, facts.fresh))
    return sweep_view(told, {name: Background(
        now=now.get(name), fresh=fresh.get(name),
        history=[one for one in facts.conditions if one.condition.string == name] if name in now else (),
        fittings=known_on((one for one in facts.fittings if one.string == name), words.date))
        for name in (one.string for one in conditions)})


def _lean(one: StoredCondition, *, told: Collection[str] | None) -> StoredCondition:
    """Of the latest sweep all but the moved partials of strings that are not `told`; of an earlier one, where that is None, what a
    comparison shows."""
    condition = one.condition
    if told is None:
        figures, fresh = _only(COMPARED, condition.figures), _only(COMPARED, condition.fresh)
        condition = replace(condition, figures=figures, fresh=fresh, changes=_only(SHOWN_CHANGES, condition.changes), partials_moved=None)
    elif condition.string not in told:
        condition = replace(condition, partials_moved=None)
    return replace(one, condition=condition)


def _lean_step(one: Condition) -> Condition:
    """The changes of one sweep against another that a comparison shows."""
    return replace(one, reasons=(), next_step="", step_kind="", figures={}, fresh={}, changes=_only(SHOWN_CHANGES, one.changes),
                   partials_moved=None)


def _lean_reading(one: Reading) -> Reading:
    """What pictures and tables of partials rest on."""
    partials = tuple(PartialReading(part.n, part.freq_hz, part.log_decay, part.level_db) for part in one.partials)
    return Reading(one.string, one.note, one.n_plucks, one.snr_db, _only(PICTURED, one.figures), partials, one.flags)


def _only(keys: Collection[str], figures: Mapping[str, Figure]) -> dict[str, Figure]:
    return {key: figure for key, figure in figures.items() if key in keys}


def facts_json(facts: DemoFacts) -> str:
    """One line for each sweep, condition, fitting and reading; numbers to six figures."""
    lines = {one.name: [json.dumps(packed(item), ensure_ascii=False, separators=(",", ":")) for item in getattr(facts, one.name)]
             for one in fields(facts)}
    parts = [f'"{name}": [\n' + ",\n".join(of_it) + "\n]" for name, of_it in lines.items() if of_it]
    return "{\n" + ",\n".join(parts) + "\n}\n"


def facts_of_json(text: str) -> DemoFacts:
    raw = json.loads(text)
    return DemoFacts(**{name: unpacked(hint, raw.get(name, [])) for name, hint in get_type_hints(DemoFacts).items()})

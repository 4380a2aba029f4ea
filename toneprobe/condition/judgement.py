"""The whole harp judged: every string of the instrument gets a condition, the sweep gets its warnings."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from toneprobe.baseline.fresh import Baseline
from toneprobe.baseline.hand import hand_of_sweep
from toneprobe.condition.bent_falls import without_bent_falls
from toneprobe.condition.between_notches import climbed
from toneprobe.condition.between_notches import warnings as climbed_warnings
from toneprobe.condition.common_cause import CommonCause, common_cause
from toneprobe.condition.common_words import common_warnings
from toneprobe.condition.context import ALL_COMPARABLE, Comparable, SweepContext, compare_captures, shared_warnings
from toneprobe.condition.fallen import fell_alone, moved_alone
from toneprobe.condition.fresh_level import fresh_levels
from toneprobe.condition.links import fresh_rooms, linked_pairs
from toneprobe.condition.moved_gain import without_moved_gain
from toneprobe.condition.next_steps import TWO_STRINGS, build_of
from toneprobe.condition.other_instrument import is_beside, warning
from toneprobe.condition.other_name import may_be_others, may_hold_others
from toneprobe.condition.other_strings import is_other_set, other_set
from toneprobe.condition.room import room_doubt
from toneprobe.condition.semitone import semitones_moved, semitones_off
from toneprobe.condition.swapped import with_swapped
from toneprobe.condition.sweep_change import sweep_change
from toneprobe.condition.sweep_noise import noise_for, sweep_noise
from toneprobe.condition.unjudged import (
    other_name_condition,
    other_position_condition,
    other_set_condition,
    semitone_condition,
    settling_condition,
    sounded_as_condition,
    two_strings_condition,
    unheard_condition,
    unrated_condition,
)
from toneprobe.condition.verdict import Condition
from toneprobe.condition.with_baseline import Surroundings, judge_rated
from toneprobe.condition.without_baseline import standing_notes
from toneprobe.instrument import Instrument
from toneprobe.phrases import listed
from toneprobe.session.reading import SweepReading


@dataclass(frozen=True)
class Judgement:
    conditions: tuple[Condition, ...]  # one for every string of the instrument, in its order
    warnings: tuple[str, ...]  # of the whole sweep, plain sentences
    common: CommonCause | None  # None where no string could be compared
    spoilt_by: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # by string, as `context.Comparable` has it, where anything is
    said_of_now: frozenset[str] = frozenset()  # as `context.Comparable` has it


def judge(sweep: SweepReading, fresh: Mapping[str, Baseline], *, instrument: Instrument, settling: Collection[str] = (),
          context: SweepContext = ALL_COMPARABLE) -> Judgement:
    """Each string against its own fresh baseline.

    fresh: by string, only of fittings that are on now. settling: strings that still stretch; they are not scored. context: how both were
    recorded, as far as known.
    """
    unscored = _unscored(sweep, fresh, instrument=instrument, settling=settling)
    specs = {spec.name: spec for spec in instrument.strings if spec.name not in unscored}
    rated, two_notes = list(specs), _two_positions(sweep)
    if not rated:
        recorded = compare_captures(context.now, ())
        return Judgement(_in_order(instrument, unscored), (*recorded.warnings, *two_notes), None, said_of_now=recorded.said_of_now)
    comparable = _comparable(rated, sweep, fresh, context)
    links = linked_pairs(rated, sweep, fresh, comparable, context)
    changes, curve = sweep_change(rated, sweep, fresh, comparable, links)
    doubt = room_doubt(changes, fresh)
    noise = sweep_noise(list(changes.values()), may_be_room=bool(doubt))
    common = common_cause(sweep, changes, instrument=instrument, noise=noise, curve=curve, doubt=doubt,
                          fresh_rooms=fresh_rooms(changes, fresh, links, sweep=sweep, context=context),
                          levels=fresh_levels(rated, fresh, context.beside, instrument))
    noises = {name: noise_for(changes[name], list(changes.values()), may_be_room=bool(doubt)) for name in rated}
    if is_other_set([(changes[name], noises[name]) for name in rated]):
        others = {name: other_set_condition(sweep.readings[name], fresh[name], what=instrument.word) for name in rated}
        return Judgement(_in_order(instrument, unscored | others), (other_set(instrument.word), *two_notes), None)
    semitone, other_instrument = semitones_off(sweep, instrument), is_beside(sweep)
    above = climbed(sweep, changes, instrument, common.level_for)
    fell, moved_cents = fell_alone(sweep, changes, instrument, common.level_for) - semitone.keys(), moved_alone(changes)
    around = {name: Surroundings(
        noises[name], common, common.level_for(spec), is_semitone_off=name in semitone, spoilt_by=comparable[name].spoilt_by,
        crushed_by=comparable[name].crushed_by, said=context.said.get(name, {}), other_instrument=other_instrument,
        has_climbed=name in above, fell_alone=name in fell, moved_alone_cents=moved_cents.get(name), build=build_of(spec, instrument),
    ) for name, spec in specs.items()}
    judged = {name: judge_rated(sweep.readings[name], fresh[name], changes[name], around[name]) for name in rated}
    warnings = (*shared_warnings(comparable), *two_notes, *((warning(sweep),) if other_instrument else ()), *climbed_warnings(above, sweep),
            *common_warnings(common, noise=noise, a4_hz=instrument.a4_hz, what=instrument.word))
    return Judgement(tuple(with_swapped(_in_order(instrument, unscored | judged))), warnings, common,
                     {string: one.spoilt_by for string, one in comparable.items() if one.spoilt_by},
                     frozenset().union(*(one.said_of_now for one in comparable.values())))


def _in_order(instrument: Instrument, found: Mapping[str, Condition]) -> tuple[Condition, ...]:
    return tuple(found[spec.name] for spec in instrument.strings)


def _two_positions(sweep: SweepReading) -> list[str]:
    if not sweep.other_notes:
        return []
    told = [f"{name} as {sweep.readings[name].note}, not {' or '.join(notes)}" for name, notes in sweep.other_notes.items()]
    return [f"Plucked at two notes, at which a string has two lengths or two pulls, and judged at one: {listed(told)}."]


def _comparable(strings: Sequence[str], sweep: SweepReading, fresh: Mapping[str, Baseline],
                context: SweepContext) -> dict[str, Comparable]:
    """By string: what its recordings can be compared in. The strings that were fresh in one sweep tell together whether falls are bent and
    whether a gain moved."""
    found = {}
    for capture in dict.fromkeys(fresh[string].capture for string in strings):
        group = [string for string in strings if fresh[string].capture == capture]
        sides = [sweep.readings[string] for string in group], [fresh[string].reading for string in group]
        hand = hand_of_sweep(group, sweep.readings, fresh)
        recorded = {string: context.sides_of(string, capture) for string in group}
        alike = {pair: without_moved_gain(without_bent_falls(compare_captures(*pair), *sides, hand=hand), *sides, hand=hand)
                 for pair in dict.fromkeys(recorded.values())}
        found |= {string: alike[pair] for string, pair in recorded.items()}
    return {string: found[string] for string in strings}


def _unscored(sweep: SweepReading, fresh: Mapping[str, Baseline], *, instrument: Instrument,
              settling: Collection[str]) -> dict[str, Condition]:
    """Conditions of the strings that cannot be compared with a baseline."""
    notes = standing_notes([name for name in sweep.readings if name not in fresh], sweep.readings, instrument)
    moved, others = semitones_moved(sweep, fresh, instrument), may_be_others(sweep, fresh, instrument)
    doubled = may_hold_others(sweep, instrument)
    found = {}
    for spec in instrument.strings:
        now, baseline = sweep.readings.get(spec.name), fresh.get(spec.name)
        if now is None:
            found[spec.name] = unheard_condition(spec, baseline)
        elif spec.name in settling:
            found[spec.name] = settling_condition(now, baseline)
        elif baseline is None:
            found[spec.name] = unrated_condition(now, notes.get(spec.name))
        elif now.note != baseline.reading.note:
            found[spec.name] = other_position_condition(now, baseline, mechanism=spec.mechanism)
        elif spec.name in moved:
            found[spec.name] = semitone_condition(now, moved[spec.name])
        elif spec.name in others:
            other, cents = others[spec.name]
            found[spec.name] = other_name_condition(now, baseline, other=other, cents=cents)
        elif spec.name in doubled:
            other, n_usual = doubled[spec.name]
            build = build_of(next(one for one in instrument.strings if one.name == other), instrument)
            found[spec.name] = two_strings_condition(now, baseline, other=other, n_usual=n_usual, build=build)
    asked = {other: name for name, (other, _) in doubled.items() if found[name].step_kind == TWO_STRINGS}
    return found | {other: sounded_as_condition(found[other], name) for other, name in asked.items()}

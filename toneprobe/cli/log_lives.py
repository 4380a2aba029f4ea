"""`toneprobe log lives`: how long this owner's strings last, by material and register."""

from __future__ import annotations

from typing import TYPE_CHECKING

from toneprobe.cli.options import BookOption, DateOption, HarpOption, JsonOption, day_of, open_harp
from toneprobe.cli.screen import hand_out
from toneprobe.cli.table import print_heading, print_paragraph, print_table
from toneprobe.phrases import count_of
from toneprobe.report.words import length_text

if TYPE_CHECKING:
    from toneprobe.lives import LifeSpan, PositionEnds, Weibull


def lives(date: DateOption = None, json: JsonOption = None, harp: HarpOption = None, book: BookOption = None) -> None:
    """How long your strings last, as far as the log says."""
    from toneprobe.harp_state import harp_state
    from toneprobe.lives import register_lives

    opened, chosen = open_harp(book, harp)
    state = harp_state(opened, chosen.id, chosen.instrument, today=day_of(date))
    found = register_lives(state.fittings, state.instrument, today=state.today, log_began=state.settings.log_began)
    console = hand_out(json, "log", chosen.name, today=state.today, lives=found)
    print_heading(console, "How long strings lasted: half of them, with its interval")
    rows = ((one.material, one.register, one.n_lives, one.n_ended, _span(one.median)) for one in found)
    print_table(console, ("material", "register", "strings", "ended", "half outlast"), rows, right=("strings", "ended"))
    for one in found:
        told = [_law(one.weibull)] if one.weibull is not None else [] if one.median else [f"{one.reason}."]
        if one.median and one.from_days:
            told.append(f"too few were watched before the age of {length_text(one.from_days)}, so half of those that reach it.")
        if one.apart:
            told.append(_apart(*one.apart))
        for text in told:
            print_paragraph(console, f"{one.material}, {one.register}: {text}", hang=2)
    if undated := sum(one.n_undated for one in found):
        print_paragraph(console, f"{count_of(undated, 'string')} left out, because the first day is not known. Where you know it: "
                                 "toneprobe log correct STRING --fitted DATE")
    if unexplained := sum(one.n_unexplained for one in found):
        counts = "counts" if unexplained == 1 else "count"
        print_paragraph(console, f"{count_of(unexplained, 'string')} came off without a reason in the log, and {counts} as having served "
                                 "until then. Where one broke, was dead or false: toneprobe log correct STRING --entry NUMBER --why broke")
    print_paragraph(console, "Strings still on count for what they have lived so far. This says how many spares to hold, never which "
                             "string breaks next.")


def _law(weibull: Weibull) -> str:
    """Weibull's law in words, with its intervals."""
    (low, high), _ = weibull.interval()
    return (f"by Weibull's law half outlast {_span(weibull.median_life())}; shape {weibull.shape:.1f} ({low:.1f} to {high:.1f}): "
            f"{weibull.ageing_words()}.")


def _apart(most: PositionEnds, least: PositionEnds) -> str:
    """Which positions differ, with their counts, and what that means for the figures of all together."""
    return (f"its positions differ by more than chance. Of {most.string} {most.n_ended} ended, of {least.string} "
            f"{least.n_ended or 'none'}; were all alike it would be {most.expected:.1f} and {least.expected:.1f}. "
            "Positions whose strings end often count most, and at each of them age matters more than by the shape of all.")


def _span(median: LifeSpan | None) -> str | None:
    if median is None:
        return None
    low, high = (length_text(day) if day is not None else "?" for day in (median.low_days, median.high_days))
    middle = length_text(median.days) if median.days is not None else "longer than seen"
    return f"{middle} ({low} to {high})"

"""One string in one sweep, ready to be shown."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from toneprobe.book.entries import Clip
from toneprobe.condition import SILENT, Condition
from toneprobe.condition.next_steps import CAUTION, CAUTION_OF_NO_HARP, FELL_ALONE, FORMER_CAUTION, short_step
from toneprobe.fittings import Fitting
from toneprobe.instrument import StringSpec
from toneprobe.measure.figure import Figure
from toneprobe.report.glossary import NEEDS_ATTENTION, verdict_word
from toneprobe.report.rows import FigureRow
from toneprobe.report.series import UNKNOWN, HistoryPoint, PartialPoint, highs_change, last_said
from toneprobe.report.words import first_sentence, told_change, why_fine
from toneprobe.settling import SettledRecord


@dataclass(frozen=True)
class StringView:
    """One string in one sweep."""

    place: int  # 0 for the highest string
    name: str
    note: str  # as tuned, "C♭4"
    letter: str  # A to G on a harp, else ""
    spec: StringSpec
    condition: Condition
    state: str  # the verdict; without one "stand-in", "fresh" where this sweep is its baseline, "left out" or why it was not compared
    left_out_by: str  # the string that rang along, where this one's plucks were left out for it, else ""
    spoilt: str  # the remedy where it is unsure through a recording's fault, else ""
    material: str  # of the string that is on, with its gauge, "" where not known
    sureness: str  # how sure the verdict is, in words
    ring: Figure  # ratio now/fresh
    brightness: Figure  # ratio now/fresh
    rows: tuple[FigureRow, ...]
    remarks: tuple[str, ...]  # what the recording could not carry of this string
    now: tuple[PartialPoint, ...]
    fresh: tuple[PartialPoint, ...]
    history: tuple[HistoryPoint, ...]  # oldest first
    outlook: str  # where it is heading at the pace of its sweeps, "" where they do not show it
    fittings: tuple[Fitting, ...]  # oldest first
    clip_now: Callable[[], Clip | None] | None
    clip_fresh: Callable[[], Clip | None] | None
    is_plucked_alike: bool  # the plucks of both clips; else part of what differs is the finger
    settled: SettledRecord | None  # where it has no baseline, but its checks show it settled
    fresh_later_on: date | None  # the day of its baseline, where that is after the sweep
    fresh_elsewhere_on: date | None  # the day of its baseline, where a fresh sweep of others did not hear it
    had_time_on: date | None  # since when it has had time to settle, where it has no baseline and no check shows it settled
    lacks: str  # what it still lacks for a baseline then

    @property
    def verdict(self) -> str:
        return self.condition.verdict

    @property
    def word(self) -> str:
        """The state as people read it."""
        return verdict_word(self.state)

    @property
    def astray(self) -> Figure:
        """How far its partials have moved against each other since fresh, in cents: what is judged."""
        return self.condition.changes.get("astray_cents", UNKNOWN)

    @property
    def ring_told(self) -> str:
        """The ring of its row: "−51 % ± 11"; where the verdict rests on the upper partials alone, theirs: "upper −50 % ± 9"."""
        high = highs_change(self.condition)
        if self.verdict in NEEDS_ATTENTION and high is not None and high.known and self.condition.rests_on_upper_partials:
            return f"upper {told_change(self.verdict, high)}"
        return told_change(self.verdict, self.ring)

    @property
    def brief(self) -> str:
        """What a row says beside its figures: the first reason, or, for a fine string that did not fall, why a change does not count."""
        reasons = self.condition.reasons
        if self.verdict == "sound" and self.condition.step_kind != FELL_ALONE:
            return why_fine(self.ring, self.brightness)
        return first_sentence(reasons[0]) if reasons else ""

    @property
    def newest(self) -> Fitting | None:
        """The string that is on, as far as the log knows."""
        return next((one for one in reversed(self.fittings) if one.removed_on is None), None)

    @property
    def own_history(self) -> tuple[HistoryPoint, ...]:
        """Only of the string that is on, where the log knows it."""
        newest = self.newest
        return self.history if newest is None else tuple(point for point in self.history if point.fitting_id == newest.id)

    @property
    def still_stands(self) -> HistoryPoint | None:
        """The earlier sweep that called this very string false, dead or to be watched, where this one says nothing of it."""
        is_off = bool(self.fittings) and self.newest is None
        said = last_said(self.own_history) if self.verdict in SILENT and not is_off else None
        return said if said and said.verdict in NEEDS_ATTENTION else None

    @property
    def title(self) -> str:
        """The string name with its scientific note beside it."""
        return f"{self.name} ({self.note})"

    @property
    def next_step(self) -> str:
        """What the player does now, without the cautions, which are shown once for all strings."""
        step = self.condition.next_step
        for caution in (CAUTION, CAUTION_OF_NO_HARP, FORMER_CAUTION):
            step = step.removesuffix(caution)
        return step.strip()

    @property
    def short_step(self) -> str:
        """The same in one line."""
        return short_step(self.next_step).removeprefix("Watch: ")

    @property
    def paired_partials(self) -> tuple[tuple[int, PartialPoint, PartialPoint], ...]:
        """The number of every partial that was heard now or fresh, with both points; an unknown point where one side lacks it."""
        now, fresh = ({point.n: point for point in side} for side in (self.now, self.fresh))
        return tuple((n, now.get(n, PartialPoint(n)), fresh.get(n, PartialPoint(n))) for n in sorted(now.keys() | fresh.keys()))

"""A sweep as CSV (RFC 4180, comma, UTF-8, one line a string from the highest to the lowest): for spreadsheets and other programs.

Figures are in the unit that their column names; an unknown one is an empty cell. Text that a spreadsheet would take for a formula gets an
apostrophe in front. New columns come last, so that the others keep their places.
"""

import csv
import io

from toneprobe.condition.evidence import score_text
from toneprobe.measure.figure import FIGURES
from toneprobe.report.series import UNKNOWN
from toneprobe.report.string_view import StringView
from toneprobe.report.view import SweepView
from toneprobe.spreadsheet import as_text


def sweep_csv(view: SweepView) -> str:
    """The whole sweep: verdicts, scores, reasons, and each figure now and when fresh, each with its standard error."""
    target = io.StringIO()
    writer = csv.writer(target)
    writer.writerow(["harp", "date", "string", "note", "verdict", "dead_score", "false_score", "plucks", "ring_percent_of_fresh",
                     "brightness_percent_of_fresh", "reasons", "next_step", "how_sure",
                     *(column for key in FIGURES for column in (key, f"{key}_se", f"{key}_fresh")), "ring_percent_of_fresh_se",
                     "brightness_percent_of_fresh_se", *(f"{key}_fresh_se" for key in FIGURES)])
    for one in view.strings:
        writer.writerow([as_text(view.harp), view.date.isoformat(), *_judgement(one), *_figures(one)])
    return target.getvalue()


def _judgement(one: StringView) -> list[str]:
    condition = one.condition
    return [as_text(one.name), condition.note, one.verdict, score_text(condition.dead_score), score_text(condition.false_score),
            str(condition.n_plucks), _percent(one.ring.value), _percent(one.brightness.value),
            as_text("; ".join(condition.reasons)), as_text(condition.next_step), one.sureness]


def _figures(one: StringView) -> list[str]:
    pairs = [(one.condition.figures.get(key, UNKNOWN), one.condition.fresh.get(key, UNKNOWN)) for key in FIGURES]
    cells = [_exact(value) for now, fresh in pairs for value in (now.value, now.se, fresh.value)]
    return [*cells, _percent(one.ring.se), _percent(one.brightness.se), *(_exact(fresh.se) for _, fresh in pairs)]


def _exact(value: float | None) -> str:
    return "" if value is None else f"{value:.7g}"


def _percent(ratio: float | None) -> str:
    return "" if ratio is None else f"{100.0 * ratio:.1f}"

"""A sweep as CSV (RFC 4180, comma, UTF-8, one line a string from the highest to the lowest): for spreadsheets and other programs.

Figures are in the unit that their column names, an unknown one is an empty cell. Text that a spreadsheet would take for a formula
gets an apostrophe in front. New columns come last, so that those before them keep their places.
"""

from __future__ import annotations

import csv
import io

from toneprobe.condition.evidence import score_text
from toneprobe.measure.figure import FIGURES
from toneprobe.report.string_view import StringView
from toneprobe.report.view import SweepView
from toneprobe.spreadsheet import as_text


def sweep_csv(view: SweepView) -> str:
    """The whole sweep: verdicts, scores, reasons, and each figure now and when fresh, each with its standard error."""
    target = io.StringIO()
    writer = csv.writer(target)
    writer.writerow(["harp", "date", "string", "note", "verdict", "dead_score", "false_score", "plucks", "ring_percent_of_fresh",
                     "brightness_percent_of_fresh", "reasons", "next_step", "how_sure", *_figure_columns(), *_more_error_columns()])
    for one in view.strings:
        writer.writerow([as_text(view.harp), view.date.isoformat(), *_judgement(one), *_figures(one), *_more_errors(one)])
    return target.getvalue()


def _judgement(one: StringView) -> list[str]:
    condition = one.condition
    return [as_text(one.name), condition.note, one.verdict, score_text(condition.dead_score), score_text(condition.false_score),
            str(condition.n_plucks), _percent(one.ring.value), _percent(one.brightness.value),
            as_text("; ".join(condition.reasons)), as_text(condition.next_step), one.sureness]


def _figure_columns() -> list[str]:
    return [column for key in FIGURES for column in (key, f"{key}_se", f"{key}_fresh")]


def _figures(one: StringView) -> list[str]:
    cells = []
    for key in FIGURES:
        now, fresh = one.condition.figures.get(key), one.condition.fresh.get(key)
        cells += [_exact(now and now.value), _exact(now and now.se), _exact(fresh and fresh.value)]
    return cells


def _more_error_columns() -> list[str]:
    """Those of ring and brightness are in per cent of fresh too."""
    return ["ring_percent_of_fresh_se", "brightness_percent_of_fresh_se", *(f"{key}_fresh_se" for key in FIGURES)]


def _more_errors(one: StringView) -> list[str]:
    fresh = (one.condition.fresh.get(key) for key in FIGURES)
    return [_percent(one.ring.se), _percent(one.brightness.se), *(_exact(figure and figure.se) for figure in fresh)]


def _exact(value: float | None) -> str:
    return "" if value is None else f"{value:.7g}"


def _percent(ratio: float | None) -> str:
    return "" if ratio is None else f"{100.0 * ratio:.1f}"

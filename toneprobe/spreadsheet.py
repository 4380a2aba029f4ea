"""Text in a cell that a spreadsheet would reckon with: an apostrophe in front keeps it text, and is taken off again."""

from __future__ import annotations

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def as_text(cell: str) -> str:
    return f"'{cell}" if cell.startswith(FORMULA_STARTS) else cell


def from_text(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(FORMULA_STARTS) else cell

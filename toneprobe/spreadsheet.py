"""Text in a cell that a spreadsheet would reckon with: an apostrophe in front keeps it text, and is taken off again."""

from __future__ import annotations

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def as_text(cell: str) -> str:
    """Undone by `from_text`, so what has such an apostrophe of its own gets one more."""
    return f"'{cell}" if cell.lstrip("'").startswith(FORMULA_STARTS) else cell


def from_text(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and cell.lstrip("'").startswith(FORMULA_STARTS) else cell

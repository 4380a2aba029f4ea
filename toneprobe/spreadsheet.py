"""Text that a spreadsheet would take for a formula: an apostrophe in front keeps it text, and is taken off again."""

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def as_text(cell: str) -> str:
    """Undone by `from_text`: text that already has such an apostrophe gets one more."""
    return f"'{cell}" if cell.lstrip("'").startswith(FORMULA_STARTS) else cell


def from_text(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and cell.lstrip("'").startswith(FORMULA_STARTS) else cell

"""The mark of each verdict on pages, as in the pictures: a shape that is known without its colour."""

SHAPES = {
    "false": '<path d="M4.5 1 8 4.5 11.5 1 15 4.5 11.5 8 15 11.5 11.5 15 8 11.5 4.5 15 1 11.5 4.5 8 1 4.5z"/>',
    "dead": '<path d="M2 2h12v12H2z"/>',
    "watch": '<path d="M8 1.5 15 14H1z"/>',
    "settling": '<path class="open" d="M8 14 1.8 2.8h12.4z"/>',
    "unsure": '<path class="open" d="M8 1 12.5 8 8 15 3.5 8z"/>',
    "unrated": '<circle class="open" cx="8" cy="8" r="6"/>',
    "unheard": '<path d="M2 7h12v2.2H2z"/>',
    "sound": '<circle cx="8" cy="8" r="3"/>',
}


def mark_symbols() -> str:
    """All marks as one hidden drawing, which a page has once."""
    symbols = "".join(f'<symbol id="mark-{verdict}" viewBox="0 0 16 16">{shape}</symbol>' for verdict, shape in SHAPES.items())
    return f'<svg class="symbols" aria-hidden="true" width="0" height="0">{symbols}</svg>'


def mark_svg(verdict: str) -> str:
    """One mark; the word stands beside it, so it is hidden from screen readers."""
    return f'<svg class="mark v-{verdict}" aria-hidden="true" width="16" height="16"><use href="#mark-{verdict}"/></svg>'

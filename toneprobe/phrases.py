"""Parts of sentences for many rooms: things counted, things listed, what a string is made of."""

from collections.abc import Iterable, Sequence

HARP, NO_HARP = "harp", "instrument"  # what all strings together are called
LONGEST_LIST = 8  # items: nobody reads a longer one to its end (set here)


def technician_of(what: str) -> str:
    """Whom to ask about all but the strings. what: HARP or NO_HARP."""
    return "a harp technician" if what == HARP else "a technician"


def count_of(number: int, thing: str, things: str = "") -> str:
    """ "1 string", "3 strings"; things: the plural, where it is not the same with an s."""
    return f"{number} {thing if number == 1 else things or f'{thing}s'}"


def capital(text: str) -> str:
    """With a capital at the start and all else as it is."""
    return text[:1].upper() + text[1:]


def one_after_another(items: Sequence[str]) -> str:
    """ "a", "a and b", "a, b and c"; at least one."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"


def as_strings(names: Iterable[str], *, at_start: bool = False) -> list[str]:
    """Names of strings for a list in a sentence, or at its start: "4C", "5A"; but "strings 2", "5", as a number alone reads as a count."""
    found = list(names)
    if any(name.isdecimal() for name in found):
        found[0] = f"{'S' if at_start else 's'}tring{'s' if len(found) > 1 else ''} {found[0]}"
    return found


def as_string(name: str, *, at_start: bool = False) -> str:
    """ "4C"; "string 5"."""
    return as_strings([name], at_start=at_start)[0]


def was_or_were(items: Sequence[str]) -> str:
    """ "was" of one, "were" of several."""
    return "was" if len(items) == 1 else "were"


def listed(items: Sequence[str], most: int = LONGEST_LIST) -> str:
    """ "1.0 s, 2.5 s and 3 more"."""
    shown = list(items) if len(items) <= most else [*items[: most - 1], f"{len(items) - most + 1} more"]
    return one_after_another(shown)


def gauge_words(gauge_mm: float | None) -> str:
    """ "1.02 mm"; "" where it is not known."""
    return f"{gauge_mm:g} mm" if gauge_mm else ""


def kind_words(material: str | None, gauge_mm: float | None, *more: str | None) -> str:
    """What a string is, as far as it is known: "gut, 1.02 mm", and `more`."""
    return ", ".join(part for part in (material, gauge_words(gauge_mm), *more) if part)

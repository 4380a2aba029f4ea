"""Of which strings a sweep is the fresh baseline, and which keep the one that they have."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date

from toneprobe.book import read
from toneprobe.book.connect import Book
from toneprobe.judging.past import fittings_at

# Days within which fresh sweeps of one string make one baseline. No figure is published for how soon a settled string has aged; set here:
# half of the usual month between sweeps (`practice.SWEEP_EVERY_DAYS`), so that next month's sweep is never taken for a fresh one.
FRESH_DAYS = 14


@dataclass(frozen=True)
class FreshWish:
    """Of which strings a sweep shall be the fresh baseline."""

    all: bool = False  # that it heard, but for those that keep an older baseline
    named: frozenset[str] = frozenset()  # these whatever they have
    but_not: frozenset[str] = frozenset()  # these have not come to rest


@dataclass(frozen=True)
class FreshChoice:
    """What becomes of such a wish."""

    taken: tuple[str, ...] = ()  # strings of which the sweep is the fresh baseline
    kept: tuple[str, ...] = ()  # strings asked for that keep the one that they have


def choose_fresh(book: Book, harp_id: int, heard: Mapping[str, str], wish: FreshWish, *, on: date,
                 already: Collection[str] = (), owners: Mapping[str, int] | None = None) -> FreshChoice:
    """`heard`: the sweep's strings with their notes; `on`: its day; `already`: strings whose baseline it is; `owners`: as of `past_of`."""
    aged = set(baselines_kept(book, harp_id, heard, on=on, owners=owners)) - wish.named - set(already)
    stand_ins = {name for name, one in fittings_at(book, harp_id, on=on, owners=owners).items() if one.is_stand_in}
    asked = [name for name in heard if name not in stand_ins and (name in wish.named or (wish.all and name not in wish.but_not))]
    return FreshChoice(tuple(name for name in asked if name not in aged), tuple(name for name in asked if name in aged))


def baselines_kept(book: Book, harp_id: int, heard: Mapping[str, str], *, on: date, owners: Mapping[str, int] | None = None
                   ) -> dict[str, date]:
    """By string, the day of its baseline at the note heard, where a fresh sweep of `on` is too far from it to join it: the string has aged
    meanwhile."""
    known, fittings = read.fresh_days_by_note(book, harp_id), fittings_at(book, harp_id, on=on, owners=owners)
    days = {string: known[fittings[string].id, note] for string, note in heard.items()
            if string in fittings and (fittings[string].id, note) in known}
    return {string: first for string, (first, last) in days.items() if max((on - first).days, (last - on).days) > FRESH_DAYS}

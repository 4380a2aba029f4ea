"""Commands that a sentence tells the player to type. Where a book has several harps each must say which one it is for.

Sentences are made, and kept in the book, without that: only what shows them, a terminal, a page, a calendar, knows how many harps there
are, and passes them through here.
"""

import re
from collections.abc import Collection
from shlex import quote

PARTS = {  # the commands that take --harp, with their parts; a test holds this to the command line
    "sweep": (), "report": (), "restring": (), "settle": (), "ready": (), "note": (), "habits": (), "withdraw": (),
    "log": ("import", "export", "correct", "withdraw", "lives"),
    "spares": ("add", "arrived", "use", "move", "remove", "correct", "withdraw", "check", "order"),
}
_NAMED = "|".join(f"{name}(?: (?:{'|'.join(parts)}))?" if parts else name for name, parts in PARTS.items())
_COMMAND = re.compile(rf"\btoneprobe (?:{_NAMED})(?![\w-])")
_NEVER_IN_DOUBLE = frozenset("\"$`\\!")  # what a shell reads between double quotes


def for_harp(text: str, option: str) -> str:
    """The text, each command in it with the option that names the harp behind its name; as it is where there is none, ""."""
    return _COMMAND.sub(lambda found: f"{found[0]} {option}", text) if option else text


def harp_option(name: str) -> str:
    """ "--harp Wren", as a shell takes it; with double quotes where it can be, for commands stand between single ones in a sentence."""
    is_plain = quote(name) == name or _NEVER_IN_DOUBLE & set(name)
    return f"--harp {quote(name)}" if is_plain else f'--harp "{name}"'


def fresh_for(names: Collection[str]) -> str:
    """ "--fresh-for 3D,5F", as a shell takes it: whose baseline a sweep is to be. A name with a comma of its own has its own option."""
    alone = [name for name in names if "," in name]
    together = ",".join(name for name in names if "," not in name)
    return " ".join(f"--fresh-for {quote(part)}" for part in (together, *alone) if part)

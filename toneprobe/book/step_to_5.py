"""From schema 4 to 5: what programs ask of a sweep's remarks and of a verdict, until then read out of their words each time.

A sweep gets a column `remarks`: its `warnings`, each with its kind and the strings that it concerns. A verdict says whether its upper
partials decided, and whether a wavering is open, which some books of schema 4 have in words alone.
"""

import json
import re
from collections.abc import Collection
from typing import Any

from sqlalchemy import JSON, Column, Connection, text

from toneprobe.book.new_columns import AS_TEXT, add_columns, add_key

# How the remarks of schema 4 begin that are of a kind. Frozen: a book keeps its words.
KINDS = {
    "The plucks stand only": "too noisy",
    "The recorder changes its gain by itself": "gain moves",
    "It was recorded with eight bits": "eight bits",
    "Nearly every ring breaks off on its way down": "rings break off",
    "It is compressed to": "crushed",
    "Left out, because": "single sounds",
    "Not counted, because the name is doubtful": "single sounds",
    "Of doubtful name": "single sounds",
}
ALONG = re.compile(r"Left out, because (.+?) rang along: (.*)\.")
PLUCKED = re.compile(r"(?:^|, )(.+?) at [0-9.]+ s(?: and [0-9.]+ s)*")
AT_ONCE = re.compile(r"Left out, because (.+?) and (.+?) sound at once: ")  # as the first versions said it
# Which verdicts, with what in their JSON, state which fact.
FACTS = (
    ("verdict IN ('dead', 'false', 'watch')", '"reasons": ["Its colour fades early', "rests_on_upper_partials"),
    ("verdict = 'sound'", ', "Whether it wavers', "is_wavering_open"),
)


def keep_what_words_told(connection: Connection) -> None:
    """What is damaged stays as it is; damaged warnings stand in the new column too, and are named as before."""
    _add_remarks(connection)
    for which, worded, fact in FACTS:
        add_key(connection, fact, "true", where=f"{which} AND {AS_TEXT} LIKE :worded", worded=f"%{worded}%")


def _add_remarks(connection: Connection) -> None:
    """Each sweep's remarks from its warnings, which stay."""
    add_columns(connection, "sweeps", Column("remarks", JSON, nullable=False, server_default="[]"))
    connection.exec_driver_sql("UPDATE sweeps SET remarks = warnings")
    is_sqlite = connection.dialect.name == "sqlite"  # it keeps JSON as text, some of it perhaps no UTF-8
    octets = "CAST(warnings AS BLOB)" if is_sqlite else "CAST(warnings AS TEXT)"
    put = text(f"UPDATE sweeps SET remarks = {':remarks' if is_sqlite else 'CAST(:remarks AS JSON)'} WHERE id = :id")
    for number, warnings in connection.exec_driver_sql(f"SELECT id, {octets} FROM sweeps").all():
        texts = _texts(warnings)
        if texts:
            connection.execute(put, {"id": number, "remarks": json.dumps(_remarks(texts))})


def _texts(warnings: bytes | str) -> list[str]:
    """The sentences of a row, none where it is damaged."""
    try:
        told = json.loads(warnings if isinstance(warnings, str) else warnings.decode("utf-8"))
    except ValueError:
        return []
    return told if isinstance(told, list) and all(isinstance(one, str) for one in told) else []


def _remarks(texts: Collection[str]) -> list[dict[str, Any]]:
    found, lost = [], set()
    for told in texts:
        kind = next((kind for begins, kind in KINDS.items() if told.startswith(begins)), None)
        plucked, along = _rang_along(told, lost)
        lost |= set(plucked)
        found.append({"text": told, "kind": kind, "lost": plucked, "along": along})
    return found


def _rang_along(told: str, known: Collection[str]) -> tuple[list[str], str]:
    """Which strings' plucks were left out, and for which other. known: of which it was said already; the first versions named each pair."""
    if found := ALONG.fullmatch(told):
        return list(dict.fromkeys(PLUCKED.findall(found[2]))), found[1]
    found = AT_ONCE.match(told)
    return ([found[1]], found[2]) if found and found[1] not in known else ([], "")

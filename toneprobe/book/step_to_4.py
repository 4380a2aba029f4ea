"""From schema 3 to 4: a condition says what kind of step its next one is, which until then stood in the words of the step alone."""

from __future__ import annotations

from sqlalchemy import Connection, text

# How the steps of schema 3 are worded that are of a kind, as patterns of LIKE; the first that fits. Frozen: a book keeps its words.
WORDED = {
    "check first": "Check once more before you spend money: pluck again%",
    "otherwise condemned": "Condemned before%",
    "maybe room": "First make sure that it is not the room%",
    "elsewhere": "Record it once more close to the strings%",
    "other position": "Sweep again in the tuning of the fresh sweep.",
    "other strings": "Make sure which harp was recorded, and which strings are on it.",
    "check log": "Check in the log which string is on%",
    "technician": "%show it to a harp technician%",
}
KEY = '"next_step": "'  # within a string of JSON its quotes would be escaped, so it is found nowhere else


def add_step_kinds(connection: Connection) -> None:
    """Each stored condition of a worded kind gets its key. One whose JSON is damaged, be its step's column whole or not, stays as it lies.

    Where a letter within JSON is damaged and the JSON is none the less, the key is put in and all the rest stays, octet for octet.
    """
    is_sqlite = connection.dialect.name == "sqlite"  # it keeps JSON as text, and would take CAST AS JSON for a number
    is_whole = "typeof(condition) = 'text' AND json_valid(condition)" if is_sqlite else "TRUE"  # a server looks at what it is given
    as_text = "condition" if is_sqlite else "CAST(condition AS TEXT)"
    replaced = f"REPLACE({as_text}, :key, :with_kind)"
    assigned = replaced if is_sqlite else f"CAST({replaced} AS JSON)"
    unnamed = f"{is_whole} AND {as_text} NOT LIKE '%\"step_kind\"%'"
    update = text(f"UPDATE conditions SET condition = {assigned} WHERE next_step LIKE :pattern AND {unnamed}")
    for kind, pattern in WORDED.items():
        connection.execute(update, {"key": KEY, "with_kind": f'"step_kind": "{kind}", {KEY}', "pattern": pattern})

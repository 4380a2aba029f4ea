"""From schema 3 to 4: a condition says what kind of step its next one is, which until then stood in the words of the step alone."""

from sqlalchemy import Connection

from toneprobe.book.new_columns import add_key

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


def add_step_kinds(connection: Connection) -> None:
    for kind, pattern in WORDED.items():
        add_key(connection, "step_kind", f'"{kind}"', where="next_step LIKE :pattern", pattern=pattern)

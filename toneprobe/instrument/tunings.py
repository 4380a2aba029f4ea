"""Tunings: which accidental each letter carries.

Every tuning here is a key signature, a count of sharps (positive) or flats (negative): all pedals up is seven flats, all down seven sharps.
A pedal harp is tuned in `flats` (open strings, C-flat major), `naturals` or `sharps`; a lever harp in a major key, named by its tonic.
"""

import re

from toneprobe.errors import UsageError

PEDAL_TUNINGS = {"flats": -7, "naturals": 0, "sharps": 7}
LEVER_TUNINGS = {"C": 0, "Eb": -3, "F": -1, "Ab": -4, "Bb": -2, "G": 1, "D": 2, "A": 3, "E": 4}  # what levers on E-flat or A-flat reach
KINDS = {"pedal": PEDAL_TUNINGS, "lever": LEVER_TUNINGS}
DEFAULT_TUNINGS = {"pedal": "flats", "lever": "Eb"}

GERMAN_KEYS = {"es": "Eb", "as": "Ab"}  # what they are called here; the German B is another key than the English one, so it is no hint

_ORDER_OF_SHARPS = "FCGDAEB"
_FLAT_KEY = re.compile(r"^([a-g])[ -]?flat$")


def tunings_of(kind: str | None) -> dict[str, int]:
    """Signatures by name of the tunings that a kind of harp ("pedal", "lever") takes; an unknown kind takes all."""
    return KINDS.get(kind or "", {**PEDAL_TUNINGS, **LEVER_TUNINGS})


def find_tuning(text: str, kind: str | None) -> str:
    """The tuning's proper name: "eb", "E♭" and "E-flat" give "Eb". UsageError lists what this kind of harp takes."""
    wanted = _FLAT_KEY.sub(r"\1b", text.strip().replace("♭", "b").casefold())
    valid = tunings_of(kind)
    for name in valid:
        if name.casefold() == wanted:
            return name
    if GERMAN_KEYS.get(wanted) in valid:
        raise UsageError(f"unknown tuning {text[:24]!r}: write {GERMAN_KEYS[wanted]}")
    raise UsageError(f"unknown tuning {text[:24]!r}: {f'a {kind} harp takes' if kind else 'choose among'} {', '.join(valid)}")


def accidentals_of(signature: int) -> dict[str, str]:
    """Letter to "b", "" or "#" in a key of so many sharps, or flats where negative."""
    sharp, flat = _ORDER_OF_SHARPS[:max(signature, 0)], _ORDER_OF_SHARPS[::-1][:max(-signature, 0)]
    return {letter: "#" if letter in sharp else "b" if letter in flat else "" for letter in _ORDER_OF_SHARPS}

"""What the player does now. Advice only: the owner decides, and what is not the string goes to a technician."""

from __future__ import annotations

from collections.abc import Sequence

from toneprobe.instrument import Instrument

CAUTION = ("Wear eye protection, slacken it before you cut it, mind its ends, one string at a time, same material and gauge, never above "
           "its pitch. When in doubt, ask a harp technician.")
ENOUGH_PLUCKS = 3


def repluck(string: str, instrument: Instrument, times: str = "three times") -> str:
    near = neighbours(string, instrument)
    damped = f" with {' and '.join(near)} damped" if near else ""
    return f"Pluck {string} {times} more{damped}"


def dead_step(string: str, n_plucks: int, instrument: Instrument, *, set_aged: bool = False) -> str:
    """set_aged: most strings of the sweep lost their ring, so the room comes first."""
    change = f"change it, two to three weeks before it matters, so that the new one has settled. {CAUTION}"
    if set_aged:
        return f"First make sure that it is not the room (see the sweep's warnings); then {change}"
    if n_plucks >= ENOUGH_PLUCKS:
        return f"{change[0].upper()}{change[1:]}"
    return f"{repluck(string, instrument, 'twice')}; if it stays so, {change}"


def false_step(string: str, kind: str, instrument: Instrument) -> str:
    if kind == "stretch":
        return ("Check in the log which string is on. If it is the wrong one, change it for one of the fitting's own material and gauge. "
                f"{CAUTION}")
    sympathy = "a neighbour's answer is no fault"
    return f"{repluck(string, instrument)} ({sympathy}). If it still wavers, change it: no tuning helps a false string. {CAUTION}"


def fallen_step(rung_out: bool) -> str:
    if rung_out:
        return f"Do not pull it up to pitch; slacken it and change it. {CAUTION}"
    return "Check pedal or lever and the tuning pin, tune it, pluck it again. If the pin does not hold, show it to a harp technician."


def watch_step(string: str, instrument: Instrument) -> str:
    again = repluck(string, instrument)
    return f"Watch it: {again[:1].lower()}{again[1:]} at the next sweep, and have a spare ready."


def unsure_step(string: str, instrument: Instrument) -> str:
    return f"{repluck(string, instrument)}, and let it ring."


def neighbours(string: str, instrument: Instrument) -> Sequence[str]:
    names = [spec.name for spec in instrument.strings]
    place = names.index(string)
    return [names[i] for i in (place - 1, place + 1) if 0 <= i < len(names)]

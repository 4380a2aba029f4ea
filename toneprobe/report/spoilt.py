"""What to do where another pluck does not help, because the recording of this sweep or of the fresh one distorts every decay."""

from collections.abc import Collection, Mapping
from datetime import date

from toneprobe.condition.context import FRESH, NOW, Spoiler
from toneprobe.days import day_text
from toneprobe.phrases import one_after_another


def fresh_anew(spoiler: Spoiler, sweep: int | None) -> str:
    """What to do with a sweep, by its number, that cannot serve as the fresh baseline that it is."""
    return (f"{spoiler.mend}, record the sweep again and give that with --fresh; take this one back with "
            f"'toneprobe withdraw {sweep or 'NUMBER'}'.")


def spoilt_remedy(spoilt_by: Collection[str], sweep: int | None, fresh: Mapping[int, date]) -> str:
    """`sweep`: its number; `fresh`: numbers and days of the sweeps of the baseline. "" where no recording is at fault."""
    number, numbers = sweep or "NUMBER", sorted(fresh)
    if FRESH in spoilt_by and fresh:
        sweeps = one_after_another([f"{one} of {day_text(fresh[one])}" for one in numbers])
        commands = one_after_another([f"'toneprobe withdraw {one}'" for one in numbers])
        anew = (f"The fresh recording, sweep {sweeps}, is at fault, so plucking again does not help: take it back with {commands}, and "
                "record again, with --fresh, the strings that you know to be new or good. The others get a baseline when they are changed; "
                "until then 'toneprobe report --compare' sets two good sweeps side by side.")
        again_too = (" Then record this sweep again too, because its own recording has such a fault: "
                     f"'toneprobe withdraw {number}' takes it back.")
        return f"{anew}{again_too if NOW in spoilt_by else ''}"
    return ("This recording cannot tell which strings are at fault: record the whole sweep again as the notes on it say, and take this one "
            f"back with 'toneprobe withdraw {number}'.") if NOW in spoilt_by else ""

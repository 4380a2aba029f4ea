"""What a player must know of one recording, in plain sentences: what it lost, what in it was no pluck, which names are doubtful."""

from __future__ import annotations

from collections.abc import Sequence

from toneprobe.audio import Recording
from toneprobe.identify import Identification
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.measure.pluck import UNSURE_NAME

LONGEST_LIST = 8


def hearing_remarks(recording: Recording, identification: Identification, plucks: Sequence[PluckMeasurement]) -> tuple[str, ...]:
    remarks = [*recording.quality.warnings, *_left_out(identification)]
    doubtful = [f"{pluck.string} at {pluck.onset_s:.1f} s" for pluck in plucks if pluck.sureness < UNSURE_NAME]
    if doubtful:
        remarks.append(f"These names are doubtful: {listed(doubtful)}.")
    return tuple(remarks)


def listed(items: Sequence[str], most: int = LONGEST_LIST) -> str:
    """ "1.0 s, 2.5 s and 3 more"."""
    shown = list(items) if len(items) <= most else [*items[: most - 1], f"{len(items) - most + 1} more"]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"


def _left_out(identification: Identification) -> list[str]:
    times: dict[str, list[str]] = {}
    for one in identification.rejected:
        times.setdefault(one.reason, []).append(f"{one.span.onset_s:.1f} s")
    return [f"Left out, because {reason}: the sound{'s' if len(at) > 1 else ''} at {listed(at)}." for reason, at in times.items()]

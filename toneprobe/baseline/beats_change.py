"""Partials that beat at one rate now and did not when fresh: a second voice.

The mean ripple of all partials (`ripple_change`) sees what starts alike in all of them. A twisted string has its second voice in every
partial, but each pluck leaves it there at another strength and phase, so in the mean it cancels. Its rate stays, while the partials of a
healthy string each beat at their own (two polarisations, answering neighbours). So the partials that beat at one rate now and did not when
fresh are counted, whatever their phases. Three may coincide by chance unless another pluck shows it too; four did on no healthy string (564
of model harps, `tests/benchmarks/healthy_sweeps.py`, and a lever harp's takes). Where few partials are strong, the first decides: it beats
at that rate in several plucks, another partial does too, and none did when fresh (on no healthy string either).
"""

from dataclasses import dataclass
from math import log

from toneprobe.session.reading import Reading, StringBeat

ONE_RATE = 0.1  # natural log by which rates may differ and be one: a beat is short, and two slopes bend it (set)
LEAST_DB = 3.0  # shallower beats are everywhere (set)
LEAST_HEARD = 4  # beats of partials in plucks, for three partials alone may meet by chance (set)
LEAST_PLUCKS = 2  # when fresh: in one pluck half of the beats don't show
FIRST_DB = 5.0  # least depth of a beat by which the first partial alone tells (set)
TRACE_DB = 1.0  # a beat of this depth when fresh explains such a beat now (set)


@dataclass(frozen=True)
class BeatsChange:
    n_partials: int = 0  # that beat at one rate now, less those that did when fresh; 0 with too few beats
    rate_hz: float | None = None
    is_of_first: bool = False  # the first partial does so in several plucks, and none did when fresh


NO_COMMON_BEAT = BeatsChange()


def beats_change(now: Reading, fresh: Reading) -> BeatsChange:
    """The rate at which most partials have begun to beat."""
    if fresh.n_plucks < LEAST_PLUCKS:
        return NO_COMMON_BEAT
    found = [_begun(now, fresh, rate) for rate in sorted({one.rate_hz for one in now.beats})]
    return max(found, key=lambda one: (one.n_partials, one.is_of_first), default=NO_COMMON_BEAT)


def _begun(now: Reading, fresh: Reading, rate_hz: float) -> BeatsChange:
    """The partials that have begun to beat near that rate."""
    here, then = (_at(side, rate_hz, LEAST_DB) for side in (now, fresh))
    n = len({one.n for one in here}) - len({one.n for one in then})
    deep = [one.n for one in _at(now, rate_hz, FIRST_DB)]
    is_of_first = deep.count(1) >= LEAST_PLUCKS and len(set(deep)) > 1 and not _at(fresh, rate_hz, TRACE_DB)
    return BeatsChange(n, rate_hz, is_of_first) if n > 0 and (is_of_first or len(here) >= LEAST_HEARD) else NO_COMMON_BEAT


def _at(reading: Reading, rate_hz: float, least_db: float) -> list[StringBeat]:
    return [one for one in reading.beats if one.depth_db >= least_db and abs(log(one.rate_hz / rate_hz)) < ONE_RATE]

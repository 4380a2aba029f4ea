"""What an event did to a string (struck it, stopped it, or let it ring on), and how loud it is beside all that sounds.

Estimator: power of the string's partials before the event, just before and after it, at equal distances. A string that rings on goes on
falling, or swelling where it beats; one that is plucked rises by more, one that is touched falls by more.
A string plucked again while it rings may do neither: its strong low partials hardly faded and may even fall where the new motion opposes
the old. But those that had faded come back. So each partial is also compared with itself, in dB, and with what lies between them, because a
cough raises both.
A string plucked again at once has hardly faded, so nothing of it need seem new. But the returning finger stops it first, and the next pluck
is far louder than that last moment. If the string still rang, the whole sound gets louder, stays so after the noise of fingers, and the
string's partials do not sink, as those of a string that only rings on do.
What touched no string may be a clock or a cough, or too faint for anyone to hear: it is looked for octave by octave.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from scipy.fft import next_fast_len, rfft

from toneprobe.audio.band import HEARD_SHARE
from toneprobe.exponentials import exponentials

STRETCH_S = 0.18  # of sound whose level or spectrum is taken at once
CLEAR_S = 0.05  # after the event, while its own noise sounds
STEP_S = STRETCH_S + CLEAR_S  # from one such stretch to the next
STRUCK_DB = 2.0  # rise of its partials, beyond any just before, from which on a string was struck
STOPPED_DB = 6.0  # fall of its partials, beyond any just before, from which on it was stopped
ANEW_DB = 8.0  # mean rise of its partials over that between them: of real strings plucked again 13 to 27, one 6; under ticks up to 5
FINE = 4  # points of the spectrum for each that the stretch can tell apart
RISE_S = 0.1  # stretches before and after a moment whose power is compared
LAST_S = 0.03  # of what sounded before, the last moment: a finger may have been on the string no longer
STOPPED_BEFORE_DB = 10.0  # louder than that last moment: of real strings stopped and plucked again 15 to 35, without a finger up to 14
PIECE_S = 0.05  # pieces in which a sound is heard beside what rings
BEFORE_S, AFTER_S = (-0.16, -0.11), (-0.025, 0.0, 0.025, 0.05)  # when these pieces start, from the sound's onset
OCTAVES_HZ = (250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)  # edges of the octaves in which a sound is looked for
HEARD_DB = 6.0  # of a concert harp's plucks 2 of 23, in which something knocked, else up to 5; made-up ticks, coughs and creaks 25 dB below
# the harp 7 to 38 in most
LOUDER_DB, SINKING_DB = 1.0, -1.0  # where no finger stopped it: all that sounds, and the string's partials, each beside itself
WEAKER_DB = 15.0  # below its first pluck it is not what was plucked


class Course(NamedTuple):
    """Level of a string's partials, dB from a common zero."""

    early_db: float
    before_db: float
    after_db: float

    @property
    def is_struck(self) -> bool:
        return self.after_db - self.before_db > max(self.before_db - self.early_db, 0.0) + STRUCK_DB

    @property
    def is_stopped(self) -> bool:
        return self.before_db - self.after_db > max(self.early_db - self.before_db, 0.0) + STOPPED_DB


def course_at(read: Callable[[int, int], np.ndarray], *, rate_hz: float, at_s: float, partials_hz: np.ndarray) -> Course:
    """read: gives the samples between two indices; partials_hz: of the string, shape (n,)."""
    return Course(*(_level_db(read, rate_hz, at_s + CLEAR_S + k * STEP_S, partials_hz) for k in (-2, -1, 0)))


class Rise(NamedTuple):
    """Mean rise from one moment to another, dB."""

    partials_db: float
    between_db: float

    @property
    def is_anew(self) -> bool:
        return self.partials_db - max(self.between_db, 0.0) > ANEW_DB


def partials_rise(read: Callable[[int, int], np.ndarray], *, rate_hz: float, event_s: float, since_s: float | None = None,
                 series_hz: np.ndarray) -> Rise:
    """The mean rise of a string's partials, each beside itself, from just before an event or, given since_s, from as long after that
    earlier event. series_hz: where the partials may lie, shape (m, n); the loudest of the m at either moment counts."""
    series_hz = series_hz[:, (series_hz < HEARD_SHARE * rate_hz).all(axis=0)]
    before_s = event_s - STEP_S if since_s is None else since_s
    then, now = (_spectrum_db(read, rate_hz, start_s + CLEAR_S) for start_s in (before_s, event_s))
    bins = series_hz * 2 * (len(now) - 1) / rate_hz
    at = bins.round().astype(int)
    loudest = int(np.maximum(then[at], now[at]).mean(axis=1).argmax())
    between = (0.5 * (bins[loudest, 1:] + bins[loudest, :-1])).round().astype(int)
    rise = now - then
    return Rise(float(rise[at[loudest]].mean()), float(rise[between].mean()) if len(between) else 0.0)


def rise_db(read: Callable[[int, int], np.ndarray], *, rate_hz: float, at_s: float, before_s: float = RISE_S,
            clear_s: float = 0.0) -> float:
    """Power of the whole sound just after a moment, or `clear_s` later, over that of `before_s` just before, each without its mean."""
    at, n, n_before, clear, guard = (int(s * rate_hz) for s in (at_s, RISE_S, before_s, clear_s, 0.005))
    before, after = (float(piece.var()) for piece in (read(at - guard - n_before, at - guard), read(at + clear, at + clear + n)))
    return float(10.0 * np.log10((after + 1e-20) / (before + 1e-20)))


def is_heard(read: Callable[[int, int], np.ndarray], *, rate_hz: float, at_s: float) -> bool:
    """Whether a sound stands out of what rings: in at least one octave the power of the loudest short piece rises by HEARD_DB. Ringing
    strings fall there, and nobody hears what begins in the recording's noise, 40 dB below."""
    n = int(PIECE_S * rate_hz)
    hz = np.arange(n // 2 + 1) * rate_hz / n
    edges = np.searchsorted(hz, [0.0, *(edge for edge in OCTAVES_HZ if edge < HEARD_SHARE * rate_hz)])

    def powers(pieces_s: tuple[float, ...]) -> np.ndarray:
        starts = [int((at_s + piece_s) * rate_hz) for piece_s in pieces_s]
        power = np.array([np.abs(rfft(read(start, start + n) * np.hanning(n))) ** 2 for start in starts])
        return np.add.reduceat(power, edges, axis=1).max(axis=0) + 1e-20

    return bool((10.0 * np.log10(powers(AFTER_S) / powers(BEFORE_S))).max() > HEARD_DB)


def is_plucked_again(read: Callable[[int, int], np.ndarray], *, rate_hz: float, first_s: float, again_s: float, partials_hz: np.ndarray,
                     rise: Rise) -> bool:
    """Whether what followed a pluck at once was another pluck of the same string. rise: of its partials at the later event."""
    first_db, again_db = (_level_db(read, rate_hz, at_s + CLEAR_S, partials_hz) for at_s in (first_s, again_s))
    leap_db = rise_db(read, rate_hz=rate_hz, at_s=again_s, before_s=LAST_S, clear_s=CLEAR_S)  # once the event's own noise is over
    is_louder = leap_db > LOUDER_DB and rise_db(read, rate_hz=rate_hz, at_s=again_s) > LOUDER_DB and rise.partials_db > SINKING_DB
    return again_db > first_db - WEAKER_DB and (leap_db > STOPPED_BEFORE_DB or is_louder)


def _level_db(read: Callable[[int, int], np.ndarray], rate_hz: float, start_s: float, partials_hz: np.ndarray) -> float:
    start, n = int(start_s * rate_hz), int(STRETCH_S * rate_hz)
    heard_hz = partials_hz[partials_hz < HEARD_SHARE * rate_hz]
    waves = exponentials(-2j * np.pi * heard_hz, n, step_s=1.0 / rate_hz)
    return float(10.0 * np.log10((np.abs(waves @ (read(start, start + n) * np.hanning(n))) ** 2).sum() + 1e-20))


def _spectrum_db(read: Callable[[int, int], np.ndarray], rate_hz: float, start_s: float) -> np.ndarray:
    start, n = int(start_s * rate_hz), int(STRETCH_S * rate_hz)
    return 20.0 * np.log10(np.abs(rfft(read(start, start + n) * np.hanning(n), FINE * next_fast_len(n))) + 1e-10)

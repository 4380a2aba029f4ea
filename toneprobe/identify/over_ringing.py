"""Whether a higher string was struck over one that rings: then only every second or third partial of that one gets anything new.

The string an octave higher has the lower one's even partials, but for some cents, so over its ring it passes for that string plucked again:
the ring hides the odd partials. So does the string a twelfth higher (an octave and a fifth), with every third. By power a soft pluck after
a firm one adds as little to the others. But what rings goes on as before, phase and all: in a band about each partial it is predicted from
before the event and subtracted, and what is left is new, even 20 dB below the ring. A string may also be weak in its odd partials because
of board or finger. Plucked again these come weaker than their neighbours, but far above their predicted ring, which then hides nothing.

Estimator of the ring: linear prediction by least squares, small singular values left out (Tufts & Kumaresan, Proc. IEEE 70 (1982) 975, from
memory). It cannot tell a harmonic of the lower string from the upper string, nor the twelfth from another string with those partials, such
as that a fifth above, whose other ones lie between.
"""

from collections.abc import Callable

import numpy as np
from scipy.fft import ifft, ifftshift, next_fast_len, rfft

from toneprobe.audio.band import HEARD_SHARE
from toneprobe.identify.likeness import named_series_hz

N_PARTIALS = 12  # the lowest of the string that rings
HIGHEST_HZ = 6000.0  # partials above are not asked
TIMES = (2, 3)  # as high: an octave, an octave and a fifth
LEAST_PARTIALS = 6  # two of every third
BAND_SHARE, WIDEST_HZ = 0.45, 60.0  # half a band, of the first partial and at most
LEARNT_S = 0.6  # before the event, from which what rings is predicted
BEGUN_S = 0.05  # after the event before, from which on that may begin
HEARD_S = (0.05, 0.25)  # after the event: from where its own noise is over to where it is compared last
TAPER_S = 0.02  # at both ends of the samples, before they are split into bands
LEAST_LEARNT = 9  # values of a band
SMALLEST = 0.01  # singular value, of the largest
FARTHEST_DB, MOST_DB = -30.0, 10.0  # what one partial can say
OVER_DB = -13.0  # of 1121 repeats of real strings, softly after firmly and stopped first among them, -11 at the least; of 616 octaves 95 in
# 100 below it, half of them below -23, and of 747 twelfths 99 in 100
HIDES_DB = 20.0  # above the ring's own power, what the onset's noise leaves there: of 520 octaves of real strings 19.5 at the most


def times_over(read: Callable[[int, int], np.ndarray], *, rate_hz: float, event_s: float, since_s: float,
               named: tuple[float, float]) -> int | None:
    """Of an event named for a string that rang, how many times as high the struck string was, of TIMES; None if it was that string. read:
    gives the samples between two indices; since_s: onset of the event before; named: that string's pitch, Hz, roughly, and expected
    inharmonicity.
    """
    unshared_db = unshared_over_shared_db(read, rate_hz=rate_hz, event_s=event_s, since_s=since_s, named=named)
    times = min(unshared_db, key=unshared_db.__getitem__, default=None)
    return times if times is not None and unshared_db[times] < OVER_DB else None


def unshared_over_shared_db(read: Callable[[int, int], np.ndarray], *, rate_hz: float, event_s: float, since_s: float,
                            named: tuple[float, float]) -> dict[int, float]:
    """By TIMES: what an event brought to the partials that a string so many times as high lacks, each over the shared ones beside it, as a
    mean; only where the ring could hide it, and empty where too little rang before or too few partials are heard. Arguments as of
    `times_over`.
    """
    n = np.arange(1, N_PARTIALS + 1)
    ways_hz = named_series_hz(*named, n)
    ways_hz = ways_hz[:, (ways_hz < min(HIGHEST_HZ, HEARD_SHARE * rate_hz)).all(axis=0)]
    half_hz = min(BAND_SHARE * named[0], WIDEST_HZ)
    guard_s = max(TAPER_S, 0.7 / half_hz)  # by which a band smears what begins
    first_s = max(since_s + BEGUN_S, event_s - LEARNT_S - guard_s)
    samples = read(int(first_s * rate_hz), int((event_s + HEARD_S[1] + TAPER_S + guard_s) * rate_hz))
    if ways_hz.shape[1] < LEAST_PARTIALS or event_s - first_s < 2.0 * guard_s:
        return {}
    learn = int((event_s - first_s - guard_s) * rate_hz)
    z, band_hz = _bands(samples, _loudest(samples[:learn], ways_hz, rate_hz), half_hz, rate_hz)
    start, stop = int(TAPER_S * band_hz) + 1, int((event_s - first_s - guard_s) * band_hz)
    if stop - start < LEAST_LEARNT:
        return {}
    heard = slice(*(int(np.ceil((event_s - first_s + s) * band_hz)) for s in HEARD_S))
    rings_on = np.array([_predicted(one[start:stop], heard.stop - stop)[heard.start - stop:] for one in z])
    new_db, ring_db = _mean_db(z[:, heard] - rings_on), _mean_db(rings_on)
    return {times: _unshared_over_shared_db(new_db, times) for times in TIMES
            if np.median([new_db[n - 1] - ring_db[n - 1] for n in _unshared(len(z), times)]) < HIDES_DB}


def _mean_db(bands: np.ndarray) -> np.ndarray:
    return 10.0 * np.log10(np.mean(np.abs(bands) ** 2, axis=1) + 1e-20)


def _unshared(n_partials: int, times: int) -> list[int]:
    """Numbers of the partials that a string so many times as high lacks."""
    return [n for n in range(1, n_partials + 1) if n % times]


def _unshared_over_shared_db(new_db: np.ndarray, times: int) -> float:
    """new_db: of partials 1, 2, 3 …"""
    unshared = _unshared(len(new_db), times)
    beside = ([n - n % times, n - n % times + times] for n in unshared)
    shared_db = [np.mean([new_db[n - 1] for n in pair if 0 < n <= len(new_db)]) for pair in beside]
    return float(np.clip(new_db[[n - 1 for n in unshared]] - shared_db, FARTHEST_DB, MOST_DB).mean())


def _loudest(samples: np.ndarray, ways_hz: np.ndarray, rate_hz: float) -> np.ndarray:
    """Of the ways in which the partials may lie the one on which most sounds."""
    n_fft = 4 * next_fast_len(len(samples))
    level = np.log(np.abs(rfft(samples * np.hanning(len(samples)), n_fft)) + 1e-9)
    return ways_hz[int(level[(ways_hz * n_fft / rate_hz).round().astype(int)].mean(axis=1).argmax())]


def _bands(samples: np.ndarray, centres_hz: np.ndarray, half_hz: float, rate_hz: float) -> tuple[np.ndarray, float]:
    """Complex envelopes about the centres, shape (centres, m), and their rate, Hz."""
    n, n_taper = len(samples), int(TAPER_S * rate_hz)
    taper = np.hanning(2 * n_taper)
    spectrum = rfft(np.concatenate([samples[:n_taper] * taper[:n_taper], samples[n_taper:-n_taper], samples[-n_taper:] * taper[n_taper:]]))
    m = int(2.0 * half_hz * n / rate_hz)
    beside = np.arange(m) - m // 2
    at = (centres_hz * n / rate_hz).round().astype(int)[:, None] + beside
    zones = np.where(at >= 0, spectrum[at.clip(0, len(spectrum) - 1)], 0.0) * np.cos(np.pi * beside / m)
    return ifft(ifftshift(zones, axes=1), axis=1) * (2.0 * m / n), m * rate_hz / n


def _predicted(z: np.ndarray, n: int) -> np.ndarray:
    """The next n values of a band in which nothing new begins, none greater than what was last heard."""
    order = max(3, len(z) // 3)
    rows = np.lib.stride_tricks.sliding_window_view(z, order)[:-1]
    weights = np.linalg.lstsq(rows, z[order:], rcond=SMALLEST)[0]
    values = np.concatenate([z, np.zeros(n)])
    for i in range(len(z), len(values)):
        values[i] = values[i - order:i] @ weights
    predicted, most = values[len(z):], np.abs(z[len(z) // 2:]).max()
    return predicted * np.minimum(1.0, most / np.maximum(np.abs(predicted), 1e-20))

"""Pitch glide: a hard pluck starts sharp, because the swing stretches the string, and settles as it dies away.

Model: the mean rise of tension goes with the energy of the motion, so all partials are sharp by the same fraction γ(t) = G·e(t), e(t) the
string's energy relative to its start. The frequencies of all partials in short frames are fitted at once, y_n(t) = c_n + G·e(t), with one
settled frequency c_n per partial and one G ≥ 0. Robust, because two close modes of one partial wander in a way that no other partial
follows. The wide band of a low partial responds at once but may hold another tone, a string that still rings, whose turns mix in the more,
the farther this partial has died away. So a band reaches half way to the nearest tone that would pull the partial.

Where the energy barely falls while the string is heard G is poorly known, and its error says so. No string starts flat, so G is bounded: 0
± se means that no rise was heard and one up to about two errors may hide. It stays a number, because ratios of G (plus a few cents) compare
how hard strings were plucked.

Of 48 firm plucks of a lever harp most are followed better by a power, 0.5 to 0.7, of the heard energy. Yet c repeats better between takes
with the energy itself (0.24 against 0.45 cents, median), as both takes share its bias. So it stays, and the change of c by that power is
part of its error: much where noise leaves only the sharp beginning.
"""

from dataclasses import dataclass

import numpy as np

from toneprobe.measure.envelope import CLOCK_HZ, TOP_SHARE, Envelope, PluckSignal, band
from toneprobe.measure.series import Lines, Series
from toneprobe.units import CENTS, shift_hz

N_TRACKED = 12
FRAME_PERIODS = 6.0
SHORTEST_FRAME_S = 0.04
LONGEST_S = 4.0
LEAST_SNR = 8.0  # power ratio, per frame
RANGE_DB = 35.0  # frames lower than this under a partial's peak do not count
WANDER_CENTS = 1.5  # what two close modes of a partial move a frame by
OWN_HZ, OWN_CENTS = 1.5, 40.0  # a line so near a partial may be its other polarisation, and moves with it; no string lies so near another
NARROWEST_HZ = 1.0  # nothing can be followed in a narrower band
N_ROUNDS = 6
LEAST_FRAMES = 3
TOO_SHORT, IN_NOISE = "too short to hear a glide", "too near the noise to hear a glide"
SURE = 4.0  # errors: drawn plucks without a glide whose partials all beat have as much once in some hundreds (derived here)
LEAST_POWER = 0.5  # the board hardly radiates the low partials that stretch a wire most, so what is heard falls faster than its tension


@dataclass(frozen=True)
class Glide:
    """`cents` over the settled pitch in the first frame, which on a short string is late in the glide; `energy` per frame, mid-frame,
    relative to the first two; frames are `frame_s` long."""

    cents: float
    se_cents: float
    energy: np.ndarray
    first_s: float
    frame_s: float
    settled: dict[int, float]  # partial number → settled frequency, Hz
    settled_se_cents: dict[int, float]  # partial number → how unsure its place is because the glide is: all to the same side
    strength: dict[int, float]  # partial number → its energy, noise taken off

    @property
    def is_sure(self) -> bool:
        """So far beyond its error that even a partial which seems, in noise, to keep one frequency must glide."""
        return self.cents > SURE * self.se_cents

    def unsure_cents(self, n: int) -> float:
        """How unsure a partial's place is because of the glide, tracked or not."""
        return self.settled_se_cents.get(n, float(np.median(list(self.settled_se_cents.values()))))

    @property
    def is_heard(self) -> bool:
        """Beyond its error: removing a glide that is not there would bend the phases and shift slow beats by a tenth."""
        return self.cents > self.se_cents

    def advance(self, length_s: float) -> np.ndarray:
        """∫γ dt from the onset, in seconds: how far the string's clock runs ahead, on a grid of CLOCK_HZ."""
        grid_s = np.arange(int(length_s * CLOCK_HZ) + 2) / CLOCK_HZ
        frames_s = self.first_s + self.frame_s * (np.arange(len(self.energy)) + 0.5)
        sharp = (self.cents / CENTS) * np.interp(grid_s, frames_s, self.energy)
        return np.concatenate([[0.0], np.cumsum(0.5 * (sharp[1:] + sharp[:-1]))]) / CLOCK_HZ


def measure_glide(signal: PluckSignal, series: Series, lines: Lines) -> Glide | str:
    """Glide of one pluck, or the reason why there is none. `lines`: all that rings in the zones of its partials."""
    frame_s = max(SHORTEST_FRAME_S, FRAME_PERIODS / series.f1_hz)
    first_s = max(0.02, 1.0 / series.f1_hz)
    tracks = _tracks(signal, series, lines, first_s, frame_s)
    n_frames = min((len(track[1]) for track in tracks.values()), default=0)
    if n_frames < LEAST_FRAMES:
        return TOO_SHORT
    numbers = np.array(list(tracks))
    wander = np.array([tracks[n][0][:n_frames] for n in numbers])
    power = np.array([tracks[n][1][:n_frames] for n in numbers])
    noise, settle_s = (np.array([tracks[n][k] for n in numbers])[:, None] for k in (2, 3))
    weight = _frame_weights(power, noise, series.partial_hz(numbers)[:, None], frame_s)
    weight[first_s + frame_s * np.arange(n_frames) < settle_s] = 0.0
    use = weight.sum(axis=1) > 0
    if not use.any():
        return IN_NOISE
    energy = np.maximum(power - noise, 0.0).sum(axis=0)
    energy = energy / max(energy[:2].max(), 1e-30)
    cents, se_cents, offsets, offsets_se = fit_glide(wander[use], weight[use], energy)
    offsets_se = np.hypot(offsets_se, _law_cents(wander[use], weight[use], energy, offsets))
    settled = {int(n): float(shift_hz(series.partial_hz(n), c)) for n, c in zip(numbers[use], offsets, strict=True)}
    settled_se = {int(n): float(one) for n, one in zip(numbers[use], offsets_se, strict=True)}
    strength = {int(n): float(total) for n, total in zip(numbers, np.maximum(power - noise, 1e-30).sum(axis=1), strict=True)}
    return Glide(cents, se_cents, energy, first_s, frame_s, settled, settled_se, strength)


def _tracks(signal: PluckSignal, series: Series, lines: Lines, first_s: float,
            frame_s: float) -> dict[int, tuple[np.ndarray, np.ndarray, float, float]]:
    """Per partial: cents off the series and power in each frame, noise power, and settling time of its band, s."""
    tracks = {}
    for n in range(1, N_TRACKED + 1):
        freq_hz = float(series.partial_hz(n))
        half_hz = min(0.3 * series.f1_hz, max(20.0, 0.15 * series.f1_hz))
        if n > 4:
            half_hz = min(half_hz, max(6.0, 0.02 * freq_hz))
        half_hz = min(half_hz, max(NARROWEST_HZ, 0.5 * _nearest_other_hz(lines, freq_hz, half_hz)))
        if freq_hz + half_hz > TOP_SHARE * signal.rate_hz:
            break
        envelope = band(signal, freq_hz, half_hz)
        tracks[n] = (*_frames(envelope, first_s, frame_s), envelope.noise_power, envelope.settle_s)
    return tracks


def _nearest_other_hz(lines: Lines, freq_hz: float, reach_hz: float) -> float:
    """Distance to the nearest tone that would pull a partial, in a band of that half width, farther than its own two modes do (the tone's
    share times its distance); infinity if none."""
    off_hz = np.abs(lines.freq_hz - freq_hz)
    own_hz = max(OWN_HZ, OWN_CENTS / CENTS * freq_hz)
    own = lines.energy[off_hz <= own_hz].sum()
    others = (off_hz > own_hz) & (off_hz < 2.0 * reach_hz)
    pull_cents = lines.energy / max(own, 1e-30) * off_hz * CENTS / freq_hz
    return float(np.min(off_hz, where=others & (pull_cents > WANDER_CENTS), initial=np.inf))


def _frames(envelope: Envelope, start_s: float, frame_s: float) -> tuple[np.ndarray, np.ndarray]:
    """Frames are cut at the same times in every band, though a narrow band has only one to three values per frame."""
    z, rate_hz = envelope.z[: int(LONGEST_S * envelope.rate_hz)], envelope.rate_hz
    n = int(((len(z) - 1) / rate_hz + envelope.lag_s - start_s) / frame_s)
    if n < 1:
        return np.zeros(0), np.zeros(0)
    edges = (start_s - envelope.lag_s + frame_s * np.arange(n + 1)) * rate_hz  # in values: k stands for k ± ½, a turn for k to k + 1
    turn = _sums(z[1:] * np.conj(z[:-1]), edges)
    power = _sums(np.abs(z) ** 2, edges + 0.5) / (frame_s * rate_hz)
    return CENTS * np.angle(turn) * rate_hz / (2 * np.pi) / envelope.centre_hz, power


def _sums(values: np.ndarray, edges: np.ndarray) -> np.ndarray:
    """Sum between each two edges; a value that is cut counts in part. Value k reaches from k to k + 1."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    return np.diff(np.interp(edges, np.arange(len(total)), total))


def _frame_weights(power: np.ndarray, noise: np.ndarray, freq_hz: np.ndarray, frame_s: float) -> np.ndarray:
    snr = power / noise - 1.0
    phase_cents = CENTS / freq_hz / (2 * np.pi * frame_s)
    variance = phase_cents**2 * 2.0 / np.maximum(snr, 1e-3) + WANDER_CENTS**2
    heard = (snr > LEAST_SNR) & (power > power.max(axis=1, keepdims=True) * 10 ** (-RANGE_DB / 10))
    return np.where(heard, 1.0 / variance, 0.0)


def _law_cents(wander: np.ndarray, weight: np.ndarray, energy: np.ndarray, offsets: np.ndarray) -> np.ndarray:
    """Uncertainty of each c if any power of the heard energy from LEAST_POWER to 1 is equally likely: the rms distance from the end of a
    uniform distribution."""
    return np.abs(fit_glide(wander, weight, energy**LEAST_POWER)[2] - offsets) / np.sqrt(3.0)


def fit_glide(wander: np.ndarray, weight: np.ndarray, energy: np.ndarray) -> tuple[float, float, np.ndarray, np.ndarray]:
    """Weighted least squares, Huber-robust, for one G and a c per partial: G, its error, c, and the part of G's error in each c."""
    trust = np.ones_like(weight)
    for _ in range(N_ROUNDS):
        w = weight * trust
        total = w.sum(axis=1)
        mean, mean_energy = (w * wander).sum(axis=1) / total, (w * energy).sum(axis=1) / total
        across = energy - mean_energy[:, None]
        curvature = max((w * across**2).sum(), 1e-9)
        glide = max(0.0, float((w * (wander - mean[:, None]) * across).sum() / curvature))
        offsets = mean - glide * mean_energy
        misfit = np.sqrt(weight) * (wander - offsets[:, None] - glide * energy)
        trust = 1.0 / np.maximum(1.0, np.abs(misfit) / 1.5)
    se = _glide_error(trust * np.sqrt(weight) * misfit * across, misfit[weight > 0], curvature)
    return glide, se, offsets, se * mean_energy


def _glide_error(pulls: np.ndarray, misfit: np.ndarray, curvature: float) -> float:
    """Of G. `pulls`: (partials, frames), by how much each frame's misfit pulls G, times the curvature. The modes of a partial wander
    together for a whole beat, so errors are clustered by partial (Liang & Zeger, Biometrika 73, 1986, from memory). A few may agree by
    chance, so the error is never below that from the scatter of all frames, nor from the noise.
    """
    n = len(pulls)
    together = np.sqrt((pulls.sum(axis=1) ** 2).sum() * n / max(n - 1, 1)) / curvature
    return float(max(together, np.sqrt(max(1.0, (misfit**2).mean()) / curvature)))

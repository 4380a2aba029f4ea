"""How near the limit of physics: one damped partial in white noise, 200 times a cell, against the Cramér–Rao bound.

    python tests/benchmarks/bound.py [--runs 200] [--quick]

Prints a Markdown table: standard deviation and bias, over the bound, of the frequency and decay time that the whole measurement of a
pluck reports for its first partial, here its only one. 1.00 is as good as any estimator without bias can be; "lost" are draws in which it
was not told from the noise. The bound is that of the Fisher information of a real damped sinusoid, A·exp(−δt)·cos(2πft + φ) with
all four unknown, over the stretch that is recorded after the onset. Cells whose bound is above 5 cents or 5 % are left out: there is
nothing to be measured.
"""

import argparse
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from sounds.formula_plucks import PRE_S, damped, spec_of, time_grid_s

from toneprobe.measure.pluck import measure_samples
from toneprobe.units import cents_between

CENTS = 1200.0 / np.log(2.0)
LARGEST_CENTS, LARGEST_SHARE = 5.0, 0.05  # bounds above are not asked for
RISE_S = 0.004  # the tone swells to its height within this, as a finger lets go; a click would be a signal of its own
LENGTHS = 4.0  # record length over τ …
LONGEST_S, SHORTEST_S = 12.0, 0.25  # … within these


@dataclass(frozen=True)
class Cell:
    freq_hz: float
    tau_s: float
    snr_db: float  # A²/2 over σ²
    rate_hz: int = 44100

    @property
    def length_s(self) -> float:
        return float(np.clip(LENGTHS * self.tau_s, SHORTEST_S, LONGEST_S))


@dataclass(frozen=True)
class Bound:
    """Standard deviations that no estimator without bias can undercut."""

    freq_hz: float
    delta: float  # 1/s

    def pitch_cents(self, cell: Cell) -> float:
        return CENTS * self.freq_hz / cell.freq_hz

    def decay_share(self, cell: Cell) -> float:
        """Of T60, relative; the same as of δ."""
        return self.delta * cell.tau_s


@dataclass(frozen=True)
class Row:
    cell: Cell
    bound: Bound
    n_runs: int
    n_lost: int  # runs without a figure
    pitch_cents: np.ndarray  # errors
    decay_share: np.ndarray  # errors of ln T60


def cramer_rao(cell: Cell, *, length_s: float | None = None, phase: float = 0.3) -> Bound:
    """From the Fisher information: derivatives of the signal to f, δ, A and φ, over σ²."""
    time_s = np.arange(round((length_s or cell.length_s) * cell.rate_hz)) / cell.rate_hz
    sigma = np.sqrt(0.5) * 10.0 ** (-cell.snr_db / 20.0)
    fall, turn = np.exp(-time_s / cell.tau_s), 2.0 * np.pi * cell.freq_hz * time_s + phase
    wave, across = fall * np.cos(turn), -fall * np.sin(turn)
    slopes = np.stack([2.0 * np.pi * time_s * across, -time_s * wave, wave, across])
    spread = np.linalg.inv(slopes @ slopes.T) * sigma**2
    return Bound(float(np.sqrt(spread[0, 0])), float(np.sqrt(spread[1, 1])))


def first_partial(samples: np.ndarray, cell: Cell) -> tuple[float | None, float | None]:
    """Frequency in Hz and T60 in s of the first partial, as reported by the whole measurement of a pluck."""
    measured = measure_samples(samples, cell.rate_hz, spec_of(cell.freq_hz), pitch_hz=cell.freq_hz * 1.002, pre_s=PRE_S)
    first = [partial for partial in measured.partials if partial.n == 1]
    return (first[0].freq_hz, first[0].t60_s) if first else (None, None)


def run(cell: Cell, *, n_runs: int, listen: Callable = first_partial, seed: int = 0) -> Row:
    """Errors of `listen` (pitch in Hz, T60 in s) in n_runs draws of phase and noise."""
    time_s, rng = time_grid_s(cell.rate_hz, cell.length_s), np.random.default_rng([seed, round(cell.freq_hz), round(cell.tau_s * 1e3)])
    sigma = np.sqrt(0.5) * 10.0 ** (-cell.snr_db / 20.0)
    rise = np.sin(np.pi / 2 * np.clip(time_s / RISE_S, 0.0, 1.0)) ** 2
    cents, shares, n_lost = [], [], 0
    for _ in range(n_runs):
        clean = rise * damped(time_s, cell.freq_hz, 1.0 / cell.tau_s, phase=rng.uniform(-np.pi, np.pi))
        pitch_hz, t60_s = listen(0.2 * (clean + rng.normal(0.0, sigma, len(clean))), cell)
        if pitch_hz is None or t60_s is None:
            n_lost += 1
            continue
        cents.append(cents_between(pitch_hz, cell.freq_hz))
        shares.append(np.log(t60_s / (cell.tau_s * np.log(1000.0))))
    return Row(cell, cramer_rao(cell), n_runs, n_lost, np.array(cents), np.array(shares))


def is_asked_for(cell: Cell) -> bool:
    bound = cramer_rao(cell)
    return bound.pitch_cents(cell) < LARGEST_CENTS and bound.decay_share(cell) < LARGEST_SHARE


def table(cells: Iterable[Cell], *, n_runs: int) -> Iterator[str]:
    """Lines of the table, each as soon as its cell is done."""
    yield "| Hz | τ s | dB | rate Hz | bound cents | pitch: sd, bias ÷ bound | bound % | decay: sd, bias ÷ bound | lost |"
    yield "|---:|---:|---:|---:|---:|---:|---:|---:|---:|"
    for cell in cells:
        row = run(cell, n_runs=n_runs)
        cents, share = row.bound.pitch_cents(cell), row.bound.decay_share(cell)
        yield (f"| {cell.freq_hz:g} | {cell.tau_s:g} | {cell.snr_db:g} | {cell.rate_hz} | {cents:.5f} "
               f"| {over_bound(row.pitch_cents, cents)} | {100 * share:.4f} | {over_bound(row.decay_share, share)} "
               f"| {row.n_lost} of {n_runs} |")


def over_bound(errors: np.ndarray, limit: float) -> str:
    return f"{np.std(errors) / limit:.2f}, {np.mean(errors) / limit:+.2f}" if len(errors) else "–"


# One row a register, with the decays that strings there have, and the ends of the range.
REGISTERS = ((31.0, 3.0), (65.4, 10.0), (130.8, 1.0), (261.6, 0.6), (523.3, 0.3), (1046.5, 0.15), (2093.0, 0.08), (3136.0, 0.03))
CELLS = tuple(Cell(freq_hz, tau_s, snr_db, rate_hz)
              for rate_hz in (44100, 48000) for freq_hz, tau_s in REGISTERS for snr_db in (20, 40, 60))
QUICK_CELLS = (Cell(261.6, 0.6, 20), Cell(523.3, 0.3, 20), Cell(523.3, 0.3, 40), Cell(1046.5, 0.15, 40), Cell(2093.0, 0.1, 40))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--quick", action="store_true", help="five cells only")
    args = parser.parse_args()
    cells = [cell for cell in (QUICK_CELLS if args.quick else CELLS) if is_asked_for(cell)]
    for line in table(cells, n_runs=args.runs):
        print(line, flush=True)


if __name__ == "__main__":
    main()

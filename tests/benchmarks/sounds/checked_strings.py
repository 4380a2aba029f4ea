"""Strings whose law of stretch is known, checked by a player who reads with noise, retunes, and has weather in the room.

The simulated strings are written independently of the package: one obeys the logarithmic law with every retuning adding its share of load,
the other a rate law in which stress drives the creep and hardening slows it (Eyring flow with linear hardening, integrated exactly).
"""

import math
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np

from sounds.heard_pitch import heard
from toneprobe.settling import PitchReading

PUT_ON = datetime(2024, 5, 1, 10)


@dataclass
class LogString:
    """Falls A·ln of time since put on; a retuning by u cents starts the same law again with its share u/866 of the load."""

    amplitude: float
    tau_days: float = 0.01
    restart: float = 1.0
    steps: list = field(default_factory=list)

    def fall(self, start, end):
        total = math.log((end + self.tau_days) / (start + self.tau_days))
        for when, cents in self.steps:
            if when <= start + 1e-9:
                share = self.restart * cents * 2.0 * math.log(2.0) / 1200.0
                total += share * math.log((end - when + self.tau_days) / (start - when + self.tau_days))
        return self.amplitude * total

    def retune(self, when, cents):
        self.steps.append((when, cents))

    def quiet_at(self, when, tolerance, ahead):
        return self.fall(when, when + ahead) <= tolerance


@dataclass
class FlowString:
    """dq/dt = c·exp((pitch − h·q)/s): q the cents fallen so far, pitch the present distance from where it was tuned to first."""

    softness: float
    hardening: float
    speed: float
    fallen: float = 0.0
    pitch: float = 0.0
    history: list = field(default_factory=list)

    def fall(self, start, end):
        self.history.append((start, end, self.pitch, self.fallen))
        drop = self._drop(self.pitch, self.fallen, end - start)
        self.fallen, self.pitch = self.fallen + drop, self.pitch - drop
        return drop

    def _drop(self, pitch, fallen, days):
        slope = self.softness / (1.0 + self.hardening)
        return slope * math.log1p(self.speed * math.exp((pitch - self.hardening * fallen) / self.softness) * days / slope)

    def retune(self, when, cents):
        self.pitch += cents

    def quiet_at(self, when, tolerance, ahead):
        start, _, pitch, fallen = next(row for row in reversed(self.history) if row[0] <= when)
        return self._drop(pitch, fallen, when - start + ahead) - self._drop(pitch, fallen, when - start) <= tolerance


@dataclass
class SlippingString:
    """A pin that slips: so many cents every day."""

    cents_per_day: float

    def fall(self, start, end):
        return self.cents_per_day * (end - start)

    def retune(self, when, cents):
        pass


def check_times(rng, n_days):
    """Days since put on: three times on the first day, and then two or three times daily for a week, then daily."""
    times = [0.0, 0.05, 0.2, 0.4]
    for day in range(1, n_days):
        times.append(day + rng.uniform(-0.05, 0.05))
        if day < 3:
            times.append(day + 0.2 + rng.uniform(-0.03, 0.03))
        if day < 7:
            times.append(day + 0.4 + rng.uniform(-0.03, 0.03))
    return np.array(times)


def weather_cents(rng, times, swing):
    """What the room does to all strings at once: a daily swing and a slow wandering."""
    return swing * rng.uniform(0.3, 1.0) * np.sin(2 * np.pi * (times + rng.uniform())) + np.cumsum(rng.normal(0, swing / 4, len(times)))


def play(string, rng, n_days=20, noise=1.0, n_neighbours=8, swing=5.0, retune_beyond=3.0):
    """Checks of a new string, as found and as left, and of its neighbours: (readings, neighbours). Retuned when it is too far off."""
    times = check_times(rng, n_days)
    weather = weather_cents(rng, times, swing)
    pitch = -weather[0]
    own, neighbours = [], {f"n{k}": [] for k in range(n_neighbours)}
    for k, when in enumerate(times):
        at = PUT_ON + timedelta(days=float(when))
        pitch -= string.fall(times[k - 1], when) if k else 0.0
        off = pitch + weather[k]
        found = heard(off + rng.normal(0, noise), noise) if k else None
        left = None if k else heard(off + rng.normal(0, noise), noise)
        if k and abs(off) > retune_beyond:
            step = rng.normal(0, 0.3) - off
            pitch += step
            string.retune(when, step)
            left = heard(off + step + rng.normal(0, noise), noise)
        own.append(PitchReading("3C", "Cb5", at, found, left))
        for name, readings in neighbours.items():
            readings.append(PitchReading(name, "Db5", at, heard(weather[k] + rng.normal(0, noise), noise)))
    return own, neighbours


def play_daily(string, rng, n_days=10, scatter=0.3, reading=0.4, n_neighbours=3):
    """A new string tuned each day after its check, beside neighbours: all wander by `scatter` cents from day to day, read with an error."""
    def read(cents):
        return heard(cents + rng.normal(0, scatter) + rng.normal(0, reading), reading)

    own, neighbours, pitch = [], {f"n{k}": [] for k in range(n_neighbours)}, 0.0
    for day in range(n_days + 1):
        at = PUT_ON + timedelta(days=day)
        pitch -= string.fall(day - 1.0, float(day)) if day else 0.0
        found = read(pitch) if day else None
        step = rng.normal(0, 0.2) - pitch
        if day:
            string.retune(float(day), step)
        pitch += step
        own.append(PitchReading("3C", "Cb5", at, found, read(pitch)))
        for name, readings in neighbours.items():
            readings.append(PitchReading(name, "Db5", at, read(0.0)))
    return own, neighbours


def true_day(string, tolerance=3.0, ahead=3.0, stays=2.2, last=19.0):
    """The first moment from which the fall over the days ahead stays within the tolerance, with the retunings that were made."""
    times = np.arange(0.01, last, 0.01)
    quiet = np.array([string.quiet_at(t, tolerance, ahead) for t in times])
    n = int(stays / 0.01)
    first = next(k for k in range(len(times)) if quiet[k : k + n].all())
    return PUT_ON + timedelta(days=float(times[first]))

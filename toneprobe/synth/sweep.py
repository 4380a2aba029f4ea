"""A whole sweep: every string plucked in turn, the player's hand, the neighbours, the room and the recorder."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from toneprobe.instrument import Instrument, StringSpec
from toneprobe.synth.pluck import ATTACK_S, Pluck, pluck_glide, string_modes, sum_tone_modes, thump_modes, with_angle
from toneprobe.synth.recorder import USUAL_RECORDER, Recorder, record
from toneprobe.synth.ringing import NO_GLIDE, Stretch, add_ringing, join
from toneprobe.synth.string_model import StringModel
from toneprobe.synth.sympathy import carried_on, neighbour_modes
from toneprobe.synth.truth import TruePartials, true_partials

FADE_S = 0.25  # the hand laid on the string
_HAND_FREE_S = 0.1  # between the damping and the next pluck
_LONGEST_S = 12.0  # a string let ring, or its neighbours' answer, is not followed further


def register_gap_s(spec: StringSpec) -> float:
    """Time until the next pluck: long for low strings, short for high ones."""
    return float(np.clip(2.2 * (440.0 / spec.expected_hz) ** 0.45, 1.5, 8.0))


@dataclass(frozen=True)
class Player:
    """How the sweep is played."""

    direction: str = "down"  # "down": from the top string to the lowest; "up"
    order: tuple[str, ...] | None = None  # names in the order played, instead of every string in turn; skips and repeats allowed
    n_each: int = 1  # plucks a string
    strength: float = 0.5
    place: float = 0.36
    width_mm: float = 12.0
    scatter: float = 1.0  # scale of how strength, place and time differ from pluck to pluck; 0 is a machine
    gap_s: Callable[[StringSpec], float] = register_gap_s
    damped: bool = True  # each string is stopped by hand before the next pluck
    sympathy: float = 1.0  # scale of the neighbours' answer; 0: they are damped
    lead_s: float = 2.0  # silence before the first pluck


USUAL_PLAYER = Player()


@dataclass(frozen=True)
class SweepRender:
    samples: np.ndarray  # float32, shape (n,), full scale ±1
    rate_hz: int
    plucks: tuple[Pluck, ...]  # as played, in time order

    @property
    def truth(self) -> tuple[tuple[str, float], ...]:
        """String name and onset in s of each pluck, in time order."""
        return tuple((pluck.string, pluck.onset_s) for pluck in self.plucks)


def plucks_of(instrument: Instrument, player: Player, *, seed: int = 0) -> tuple[tuple[Pluck, ...], float]:
    """The plucks in time order, and when the last one's gap ends, in s."""
    rng, specs = np.random.default_rng([seed, 1]), {spec.name: spec for spec in instrument.strings}
    plucks, now_s = [], player.lead_s
    order = player.order or tuple(specs if player.direction == "down" else reversed(specs))
    for name in (name for name in order for _ in range(player.n_each)):
        louder, further, later = player.scatter * rng.normal(size=3)
        place = float(np.clip(player.place + 0.012 * further, 0.05, 0.95))
        plucks.append(Pluck(name, now_s, player.strength * 10.0 ** (louder * 1.5 / 20.0), place, player.width_mm))
        now_s += player.gap_s(specs[name]) * float(np.exp(0.06 * later))
    return tuple(plucks), now_s


def render_sweep(instrument: Instrument, models: Mapping[str, StringModel], *, player: Player = USUAL_PLAYER,
                 recorder: Recorder = USUAL_RECORDER, seed: int = 0) -> SweepRender:
    """The recording of one sweep. Strings of `models` that are not played still respond in sympathy; that faint ring goes on when the hand
    lands on its string to pluck it. Same seed, same recording."""
    plucks, end_s = plucks_of(instrument, player, seed=seed)
    tail_s = 1.0 if player.damped else 3.0
    partials = {name: true_partials(model) for name, model in models.items()}
    out = np.zeros(int((end_s + tail_s) * recorder.rate_hz), dtype=np.float32)
    harp, played = _Harp(partials, player, recorder.rate_hz, np.random.default_rng([seed, 2])), []
    for pluck, stop_s in zip(plucks, _stops_s(plucks, end_s, player), strict=True):
        played.append(with_angle(pluck, harp.rng))
        _add_pluck(out, models[pluck.string], played[-1], stop_s, harp)
    return SweepRender(record(out, recorder, seed=seed), recorder.rate_hz, tuple(played))


@dataclass(frozen=True)
class _Harp:
    """What all plucks of one sweep share."""

    partials: Mapping[str, TruePartials]
    player: Player
    rate_hz: int
    rng: np.random.Generator


def _stops_s(plucks: tuple[Pluck, ...], end_s: float, player: Player) -> list[float]:
    """When each pluck's string is silent: before the next pluck by hand, or let ring until it is plucked again."""
    stops = []
    for index, pluck in enumerate(plucks):
        later = [one.onset_s for one in plucks[index + 1:] if player.damped or one.string == pluck.string]
        at_last_s = end_s if player.damped else pluck.onset_s + _LONGEST_S
        stops.append([*later, at_last_s][0] - _HAND_FREE_S)
    return stops


def _add_pluck(out: np.ndarray, model: StringModel, pluck: Pluck, stop_s: float, harp: _Harp) -> None:
    """Add one pluck's string, board and neighbours to the dry sound."""
    own = harp.partials[pluck.string]
    modes, glide = string_modes(model, own, pluck), pluck_glide(model, own, pluck)
    thump = thump_modes(model, pluck, harp.rng)
    driven, free = neighbour_modes(pluck.string, modes.where(slice(own.n.size)), harp.partials, harp.player.sympathy)
    sounds = [(join([modes, sum_tone_modes(model, own, pluck), thump, driven]), Stretch(pluck.onset_s, stop_s, ATTACK_S, FADE_S)),
              (free, Stretch(pluck.onset_s, pluck.onset_s + _LONGEST_S, ATTACK_S, FADE_S))]
    if harp.player.damped:
        handed_s = stop_s - FADE_S / 2.0
        sounds.append((carried_on(driven, free, handed_s - pluck.onset_s), Stretch(handed_s, handed_s + _LONGEST_S, FADE_S / 2.0, FADE_S)))
    for tones, stretch in sounds:
        add_ringing(out, tones, stretch, rate_hz=harp.rate_hz, glide=glide if stretch.start_s == pluck.onset_s else NO_GLIDE)

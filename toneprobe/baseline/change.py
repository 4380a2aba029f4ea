"""All that has changed on one string since it was fresh."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import log

from toneprobe.baseline.beats_change import NO_COMMON_BEAT, BeatsChange, beats_change
from toneprobe.baseline.brightness_change import brightness_change
from toneprobe.baseline.decay_change import DecayChange, decay_change, is_contradicted, whole_ring_change
from toneprobe.baseline.fresh import Baseline
from toneprobe.baseline.hand import hand_change, hand_difference
from toneprobe.baseline.level_curve import LevelCurve
from toneprobe.baseline.longer_room import room_loss
from toneprobe.baseline.lost_partials import lost_partials
from toneprobe.baseline.pairing import Band, Pairs, pair_partials
from toneprobe.baseline.pitch_fall import PitchFall, pitch_fall
from toneprobe.baseline.place_in_room import longest_room_s
from toneprobe.baseline.ripple_change import RippleChange, ripple_change
from toneprobe.baseline.scatter import Scatter
from toneprobe.baseline.series_change import LEAST_FOR_ASTRAY, SeriesChange, series_change
from toneprobe.baseline.sinking import Sinking, sinking
from toneprobe.baseline.slow_plane import keeps_slow_plane, slow_change
from toneprobe.baseline.wave_change import NO_WAVE, WaveChange, wave_change
from toneprobe.measure.figure import Figure, errors_together
from toneprobe.session.reading import Reading
from toneprobe.units import CENTS, cents_between


@dataclass(frozen=True)
class Change:
    """Now against fresh. Positive is worse, except for pitch and stretch, which are now over fresh."""

    string: str
    n_now: int  # plucks
    n_fresh: int
    decay: DecayChange
    brightness: Figure  # natural log of fresh over present brightness, what all strings share removed
    series: SeriesChange
    ripple: RippleChange  # that all partials share; untouched strings show limits.RIPPLE_USUAL_DB
    stiffness: Figure  # natural log of present over fresh B, each as its own plucks gave it; `series.stretch`: from paired partials
    hand: float  # how differently it was plucked, log ratio of pitch glides, at least 0
    pitch_hz: float  # fresh, roughly; where the string stands
    snr_db: float | None  # of the present plucks; None where none has partials
    wave: WaveChange = NO_WAVE  # of its pitch, while it rings
    beats: BeatsChange = NO_COMMON_BEAT  # partials that have begun to beat at one rate
    pitch_fall: PitchFall = PitchFall()  # from its first pluck of the sweep to its last
    sinking: Sinking = Sinking()  # while it rings
    pitch_cents: Figure = Figure(None, None, "not compared")  # the pitch now against fresh, as each side's own figure gives it
    room_loss: Mapping[str, float] = field(default_factory=dict)  # as of `longer_room`, where the fresh sweep's room rang longer
    crushed: bool = False  # one of the two recordings is compressed so hard that only loud partials can be trusted


def change_since(now: Reading, fresh: Baseline, *, scatter: Scatter, curve: LevelCurve | None, band: Band, hand_of_sweep: float,
                 room_s: float | None, longer_s: float | None = None) -> Change:
    """What moved on one string. scatter: how far its plucks scatter; curve: what the recorders differ by; band: what both carry;
    hand_of_sweep: how differently the whole sweep was plucked, log ratio of pitch glides; room_s: how long the room rings, where known;
    longer_s: how much longer that of the fresh sweep rang, as of `longer_room`."""
    pairs = pair_partials(now, fresh.reading, band)
    counts = {"n_now": now.n_plucks, "n_fresh": fresh.n_plucks}
    hand = hand_difference(hand_change(now, fresh), hand_of_sweep)
    return Change(
        now.string,
        **counts,
        decay=_decay(pairs, now, fresh, scatter, hand=hand, room_s=room_s, crushed=band.is_codecs),
        brightness=brightness_change(pairs, curve, **counts),
        series=_series(pairs, now, fresh, band, hand=hand, room_s=longest_room_s(pairs, room_s), longer_s=longer_s),
        ripple=ripple_change(now, fresh.reading, pitch_hz=_pitch_hz(fresh)),
        stiffness=_stiffness_ratio(now, fresh),
        hand=hand,
        pitch_hz=_pitch_hz(fresh),
        snr_db=now.snr_db,
        wave=wave_change(now, fresh.reading),
        beats=beats_change(now, fresh.reading),
        pitch_fall=pitch_fall(now, fresh.reading),
        sinking=sinking(now, fresh, hand_of_sweep=hand_of_sweep),
        pitch_cents=_pitch_moved(now, fresh),
        room_loss=room_loss(pairs, longer_s),
        crushed=band.is_codecs,
    )


def _decay(pairs: Pairs, now: Reading, fresh: Baseline, scatter: Scatter, *, hand: float, room_s: float | None,
           crushed: bool) -> DecayChange:
    """From paired partials; with too few of them, from the rings as a whole."""
    counts = {"n_now": now.n_plucks, "n_fresh": fresh.n_plucks}
    rings = now.figures["t60_s"], fresh.figures["t60_s"]
    decay = decay_change(pairs, scatter, **counts, hand=hand, room_s=room_s, crushed=crushed)
    if not decay.all.known:
        return replace(decay, all=whole_ring_change(*rings, **counts))
    return replace(decay, contradicted=crushed and is_contradicted(decay, *rings),
                   keeps_slow_plane=keeps_slow_plane(slow_change(now, fresh.reading)))


def _series(pairs: Pairs, now: Reading, fresh: Baseline, band: Band, *, hand: float, room_s: float | None,
            longer_s: float | None) -> SeriesChange:
    lost = lost_partials(now, fresh.reading, band, hand=hand, room_s=room_s, longer_s=longer_s)
    found = series_change(pairs, _stiffness(now, fresh), lost, hand=hand, room_s=room_s, longer_s=longer_s)
    enough = max(len(now.partials), len(fresh.reading.partials)) >= LEAST_FOR_ASTRAY
    return replace(found, hidden=band.is_codecs and enough and not found.astray_cents.known)


def _stiffness(now: Reading, fresh: Baseline) -> Figure:
    """The fresh B, its error enlarged by what the plucks of either side disagree by."""
    here, then = now.figures["inharmonicity"], fresh.figures["inharmonicity"]
    if not then.known:
        return then
    errors = [f.se / f.value for f in (here, then) if f.known and f.se]
    return Figure(then.value, then.value * sum(e**2 for e in errors) ** 0.5)


def _stiffness_ratio(now: Reading, fresh: Baseline) -> Figure:
    here, then = now.figures["inharmonicity"], fresh.figures["inharmonicity"]
    return Figure(log(here.value / then.value)) if here.known and then.known else Figure(None, None, here.reason or then.reason)


def _pitch_moved(now: Reading, fresh: Baseline) -> Figure:
    """Cents, of the figures, with their errors. `series.pitch_cents` is fitted beside a stretch, which takes part of what moved."""
    here, then = now.figures["pitch_hz"], fresh.figures["pitch_hz"]
    if not (here.known and then.known):
        return Figure(None, None, here.reason or then.reason)
    errors = (None if one.se is None else CENTS * one.se / one.value for one in (here, then))
    return Figure(cents_between(here.value, then.value), errors_together(*errors))


def _pitch_hz(fresh: Baseline) -> float:
    pitch, partials = fresh.figures["pitch_hz"], fresh.reading.partials
    return pitch.value if pitch.known else partials[0].freq_hz.value / partials[0].n if partials else 440.0

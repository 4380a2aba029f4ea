"""What an event did to a string that rings: struck, stopped or neither. Signals of the formula; thresholds derived here."""

import numpy as np
import pytest
from sounds.formula_plucks import REGISTERS, FormulaPluck, render
from sounds.knocks import added, cough, creak, tick, wood

from toneprobe.identify.touch import course_at, is_heard, is_plucked_again, partials_rise, rise_db

RATE_HZ, LENGTH_S, AT_S = 44100, 4.0, 2.0


def ringing(name: str) -> tuple[np.ndarray, np.ndarray]:
    """A pluck and its ten lowest partials."""
    pluck = REGISTERS[name].pluck()
    return render(pluck, length_s=LENGTH_S, pre_s=0.0, snr_db=50.0, rate_hz=RATE_HZ), pluck.freq_hz[:10]


def read(sound: np.ndarray):
    return lambda start, stop: np.concatenate([np.zeros(max(0, -start)), sound[max(0, start):stop], np.zeros(max(0, stop - len(sound)))])


def course(sound: np.ndarray, partials_hz: np.ndarray, at_s: float = AT_S):
    return course_at(read(sound), rate_hz=RATE_HZ, at_s=at_s, partials_hz=partials_hz)


@pytest.mark.parametrize("name", ["C2", "C4", "C5"])
def test_a_string_that_rings_on_is_neither_struck_nor_stopped(name):
    sound, partials_hz = ringing(name)
    for what in (sound, added(sound, tick, [AT_S], peak=0.02 * np.abs(sound).max())):
        told = course(what, partials_hz)
        assert not told.is_struck and not told.is_stopped


@pytest.mark.parametrize("name", ["C2", "C4", "C5"])
def test_a_damped_string_is_stopped(name):
    sound, partials_hz = ringing(name)
    damped = sound.copy()
    damped[int(AT_S * RATE_HZ):] *= 10 ** (-20 / 20)
    assert course(damped, partials_hz).is_stopped and not course(damped, partials_hz).is_struck


@pytest.mark.parametrize("name", ["C2", "C4", "C5"])
@pytest.mark.parametrize("ringing_on", [True, False])
def test_a_new_pluck_strikes_it(name, ringing_on):
    sound, partials_hz = ringing(name)
    at = int(AT_S * RATE_HZ)
    again = 0.1 * sound if ringing_on else np.zeros_like(sound)  # what still rang; the finger stops it, then lets go
    again[at:] = sound[: len(sound) - at]
    assert course(again, partials_hz).is_struck


@pytest.mark.parametrize("name", ["C4", "C5"])
def test_what_is_done_to_another_string_is_not_done_to_this_one(name):
    """A tritone above, of whose partials none lies near (derived: 2^(1/2) is no ratio of small numbers), plucked or stopped meanwhile."""
    sound, partials_hz = ringing(name)
    other, at = np.interp(np.arange(0.0, len(sound) - 1, 2.0**0.5), np.arange(len(sound)), sound), int(AT_S * RATE_HZ)
    plucked, stopped = sound.copy(), sound.copy()
    plucked[at:at + len(other)] += other[: len(sound) - at]
    stopped[:at] += other[:at]
    for what in (plucked, stopped):
        told = course(what, partials_hz)
        assert not told.is_struck and not told.is_stopped


@pytest.mark.parametrize("name", ["C2", "C4", "C5"])
@pytest.mark.parametrize("make", [tick, cough, creak, wood])
def test_what_sounds_beside_a_string_is_heard_where_it_is_loud_enough(name, make):
    """Peaks 25 dB under the pluck's, and 80: 30 dB under its noise, which lies 50 under it (derived here)."""
    sound, _ = ringing(name)
    for level_db, is_told in ((-25, True), (-80, False)):
        what = added(sound, make, [AT_S], peak=10 ** (level_db / 20) * np.abs(sound).max())
        assert is_heard(read(what), rate_hz=RATE_HZ, at_s=AT_S) == is_told
    assert not any(is_heard(read(sound), rate_hz=RATE_HZ, at_s=at_s) for at_s in np.arange(0.5, 3.5, 0.05))


@pytest.mark.parametrize("rate_hz", [16000, 22050, 44100])
def test_a_click_an_octave_above_what_rings_is_heard_at_any_rate(rate_hz):
    """A string at 3 kHz and a click of 5 to 6 kHz, 10 dB weaker: 0.4 dB more in all (derived), and 40 in its own octave."""
    time_s = np.arange(int(2.0 * rate_hz)) / rate_hz
    noise = 1e-4 * np.random.default_rng(1).standard_normal(len(time_s))
    rings = 0.1 * np.exp(-time_s) * np.sin(2.0 * np.pi * 3000.0 * time_s) + noise
    click = 0.03 * np.sin(np.pi * np.clip((time_s - 1.0) / 0.03, 0.0, 1.0)) * np.sin(2.0 * np.pi * 5500.0 * time_s)
    assert is_heard(read(rings + click), rate_hz=rate_hz, at_s=1.0) and not is_heard(read(rings), rate_hz=rate_hz, at_s=1.0)


WIRE = FormulaPluck(70.0, 3e-4, t60_s=40.0, n_partials=20, loss_power=1.0, seed=2)


def wire_rise(sound: np.ndarray, since_s: float | None = None):
    """Of a wire whose inharmonicity is known to a factor of two."""
    series = np.array([70.0 * WIRE.n * np.sqrt((1.0 + b * WIRE.n**2) / (1.0 + b)) for b in 3e-4 * np.array([0.5, 0.7, 1.0, 1.4, 2.0])])
    return partials_rise(read(sound), rate_hz=RATE_HZ, event_s=AT_S, since_s=since_s, series_hz=series)


def test_a_wire_plucked_again_while_it_rings_is_struck_anew_though_it_grows_no_louder():
    """18 dB weaker after 2 s, in which partial n fell by 3·n dB: the strong lowest do not rise, the faded ones do."""
    ring = render(WIRE, length_s=LENGTH_S, pre_s=0.0, snr_db=80.0, rate_hz=RATE_HZ)
    at, weaker_db = int(AT_S * RATE_HZ), 18.0
    again = ring.copy()
    again[at:] += 10 ** (-weaker_db / 20) * ring[: len(ring) - at]
    assert not course(again, WIRE.freq_hz[:10]).is_struck
    rise = wire_rise(again)
    # Derived here: the stretches' middles lie 0.09 s before and 0.14 s after the pluck; over all phases the mean level, in dB, of
    # old and new together is that of the stronger (Jensen's formula).
    old_db, new_db = -1.5 * WIRE.n * 0.23, -weaker_db + 1.5 * WIRE.n * (AT_S - 0.09 - 0.14)
    expected_db = float(np.mean(np.maximum(old_db, new_db)))
    assert rise.is_anew and rise.partials_db == pytest.approx(expected_db, abs=1.0)
    assert abs(rise.between_db) < 3.0


def test_how_much_weaker_a_repeat_is_each_partial_tells_beside_itself():
    """Damped, then plucked again 10 dB more softly."""
    ring = render(WIRE, length_s=LENGTH_S, pre_s=0.0, snr_db=80.0, rate_hz=RATE_HZ)
    at = int(AT_S * RATE_HZ)
    again = np.concatenate([ring[:at], 10 ** (-10 / 20) * ring[: len(ring) - at]])
    assert wire_rise(again, since_s=0.0).partials_db == pytest.approx(-10.0, abs=0.2)


@pytest.mark.parametrize("make, level_db", [(tick, -20.0), (tick, -40.0), (wood, -20.0), (cough, -20.0), (cough, -35.0)])
def test_a_wire_that_rings_on_under_a_knock_is_not_struck_anew(make, level_db):
    ring = render(WIRE, length_s=LENGTH_S, pre_s=0.0, snr_db=80.0, rate_hz=RATE_HZ)
    assert not wire_rise(added(ring, make, [AT_S], peak=np.abs(ring).max() * 10 ** (level_db / 20))).is_anew


def test_how_loud_it_is_beside_what_rings():
    rng = np.random.default_rng(0)
    sound = rng.normal(0.0, 1e-3, 4 * RATE_HZ)
    sound[2 * RATE_HZ:] += rng.normal(0.0, 3e-3, 2 * RATE_HZ)
    assert rise_db(read(sound), rate_hz=RATE_HZ, at_s=2.0) == pytest.approx(10.0, abs=0.5)  # derived: 1 + 3² = 10 times the power
    assert abs(rise_db(read(sound), rate_hz=RATE_HZ, at_s=1.0)) < 0.5
    assert rise_db(read(sound + 0.05), rate_hz=RATE_HZ, at_s=2.0) == pytest.approx(10.0, abs=0.5)  # a constant is no sound
    assert rise_db(read(np.zeros(RATE_HZ)), rate_hz=RATE_HZ, at_s=0.5) == 0.0


def test_the_input_stays_as_it_was():
    sound, partials_hz = ringing("C4")
    kept = sound.copy()
    course(added(sound, wood, [AT_S], peak=0.1), partials_hz)
    assert np.array_equal(sound, kept)


def again(sound: np.ndarray, partials_hz: np.ndarray, first_s: float, again_s: float) -> bool:
    look = dict(rate_hz=RATE_HZ)
    rise = partials_rise(read(sound), event_s=again_s, series_hz=partials_hz[None, :], **look)
    return is_plucked_again(read(sound), first_s=first_s, again_s=again_s, partials_hz=partials_hz, rise=rise, **look)


@pytest.mark.parametrize("name", ["C2", "C4", "C5"])
def test_a_string_that_is_stopped_and_plucked_again_a_quarter_of_a_second_later(name):
    """6 dB weaker than before, after a finger that stops it by 30 dB within 80 ms (set here). Without the pluck it is only stopped; the
    string a tone above plucked instead is not this one again; and under a tick or a knock a string that rings on is not plucked."""
    pluck, partials_hz = ringing(name)
    first, wait, n_stop = round(1.0 * RATE_HZ), round(0.25 * RATE_HZ), round(0.08 * RATE_HZ)
    late, at_s = first + wait, 1.25
    rings = np.concatenate([np.zeros(first), pluck])
    stopped = rings.copy()
    stopped[late - n_stop : late] *= 10 ** (-30 / 20 * np.linspace(0.0, 1.0, n_stop))
    stopped[late:] *= 10 ** (-30 / 20)
    second = np.concatenate([np.zeros(late), 0.5 * pluck])[: len(rings)]
    tone_up = np.interp(np.arange(0.0, len(pluck) - 1, 9 / 8), np.arange(len(pluck)), pluck)
    other = np.concatenate([np.zeros(late), tone_up, np.zeros(len(rings))])[: len(rings)]
    assert again(stopped + second, partials_hz, 1.0, at_s)
    assert not again(stopped, partials_hz, 1.0, at_s) and not again(rings, partials_hz, 1.0, at_s)
    assert name == "C2" or not again(stopped + other, partials_hz, 1.0, at_s)  # so low a tone is 8 Hz, too near for 0.18 s
    for make in (tick, wood):
        assert not again(added(rings, make, [at_s], peak=0.3 * np.abs(rings).max()), partials_hz, 1.0, at_s)


@pytest.mark.parametrize("name", ["C4", "C5"])
def test_a_string_plucked_again_while_it_rings_makes_all_louder_and_its_partials_do_not_sink(name):
    """As loud as before, with no finger that stopped it; what rang is 5 dB down by then and more. The string a tone above plucked instead
    makes all that sounds louder too, while this one's partials fall on."""
    pluck, partials_hz = ringing(name)
    first, late = RATE_HZ, round(1.4 * RATE_HZ)
    rings = np.concatenate([np.zeros(first), pluck])
    tone_up = np.interp(np.arange(0.0, len(pluck) - 1, 9 / 8), np.arange(len(pluck)), pluck)
    same, other = (rings + np.concatenate([np.zeros(late), one, np.zeros(len(rings))])[: len(rings)] for one in (pluck, tone_up))
    assert again(same, partials_hz, 1.0, 1.4) and not again(other, partials_hz, 1.0, 1.4)

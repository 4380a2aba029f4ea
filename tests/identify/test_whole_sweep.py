"""Naming the plucks of a sweep: order, slips, detuning, what is no pluck, and how sure."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import butter, resample_poly, sosfilt
from sounds.formula_plucks import FormulaPluck, render
from sounds.formula_sweeps import FormulaSweep, pluck_of, sweep_of
from sounds.knocks import added, cough, tick, wood

from toneprobe.audio import recording_from_samples
from toneprobe.identify.candidates import AGAIN, PART_OF_IT
from toneprobe.identify.likeness import NewLines, match_strings, new_lines
from toneprobe.identify.named import ABOVE, ABOVE_OF_BOTH, EITHER, OCTAVE_BELOW, OUT_OF_ORDER, Identification
from toneprobe.identify.whole_sweep import identify
from toneprobe.instrument import Instrument, StringSpec, load_instrument, respelled
from toneprobe.segment import Span, find_spans
from toneprobe.stiffness import stiff_partial_hz
from toneprobe.units import hz_of_note

RATE_HZ = 22050
NATURALS, FLATS, SHARPS = (load_instrument("pedal-47", tuning=tuning) for tuning in ("naturals", "flats", "sharps"))
LEVERS = load_instrument("lever-34", tuning="Eb")
OCTAVE = ("3E", "3D", "3C", "3B", "3A", "3G", "3F", "4E", "4D", "4C")


def heard(samples: np.ndarray, harp: Instrument = NATURALS, *, rate_hz: int = RATE_HZ) -> Identification:
    recording = recording_from_samples(samples, rate_hz)
    return identify(recording, find_spans(recording), harp)


def assert_named(sweep: FormulaSweep, found: Identification) -> None:
    """Every pluck by its name, at its time; none invented."""
    assert [one.string.name for one in found.named] == [name for name, _ in sweep.truth]
    assert [one.span.onset_s for one in found.named] == pytest.approx([onset_s for _, onset_s in sweep.truth], abs=0.010)
    assert all(0.5 <= one.sureness <= 1.0 for one in found.named)


# A whole sweep, by register and direction

@pytest.mark.parametrize(("names", "down"), [
    (("0G", "0F", "1E", "1D", "1C", "1B", "1A"), False), (OCTAVE, True), (("5C", "5B", "5A", "5G", "5F", "6E", "6D"), False),
    (("6B", "6A", "6G", "6F", "7E", "7D", "7C"), True)], ids=["top up", "middle down", "low up", "bass down"])
def test_plucks_in_a_row(names, down):
    sweep = sweep_of(NATURALS, names if down else names[::-1], rate_hz=44100 if names[0] == "0G" else RATE_HZ)
    found = heard(sweep.samples, rate_hz=sweep.rate_hz)
    assert_named(sweep, found)
    assert [string.name for string in found.unheard] == [string.name for string in NATURALS.strings if string.name not in names]
    assert found.kind == "pedal"


@pytest.mark.parametrize("material", ["wire", "wound nylon", None, "fluorocarbon", "nylon"])
@pytest.mark.parametrize(("note", "b"), [("C2", 4.7e-4), ("C3", 2.9e-4)])
def test_a_plain_bass_string_is_itself_whatever_the_file_calls_it(material, note, b):
    """Bare lines of strings of 2.2 mm at 1.08 m and 1.5 mm at 0.8 m (derived by Fletcher's formula) on a harp whose preset says wire; an
    octave below lies a string of the same kind, or none that the harp has but one that slipped (see `likeness`)."""
    n = np.arange(1, 17)
    at_hz = np.array([stiff_partial_hz(hz_of_note(note), b, k) for k in n])
    lines = NewLines(at_hz, np.linspace(35.0, 10.0, len(n)), 2.5, 1.0, np.zeros(4000, bool), 1.0)
    own, below = (StringSpec(name, note, hz, material) for name, hz in (("own", hz_of_note(note)), ("below", 0.5 * hz_of_note(note))))
    score = match_strings(lines, (own, below)).score
    assert score[0] > 0.7 and score[0] > 1.5 * score[1]


def test_strings_an_octave_above_the_instruments_highest_are_refused():
    """The upper octave of a harp given to the file of one that lacks it: their partials are the even ones of the octave below."""
    lower = Instrument("lower", 440.0, "naturals", tuple(one for one in NATURALS.strings if one.expected_hz < hz_of_note("F5")))
    above, own = ("2E", "2D", "2C", "2B", "2A", "2G", "2F"), OCTAVE[:6]
    sweep = sweep_of(NATURALS, above + own, rate_hz=44100)
    found = heard(sweep.samples, lower, rate_hz=sweep.rate_hz)
    assert [one.string.name for one in found.named] == list(own)
    assert [one.span.onset_s for one in found.rejected] == pytest.approx([at_s for _, at_s in sweep.truth[: len(above)]], abs=0.010)
    assert sum(one.reason == ABOVE[2] for one in found.rejected) >= len(above) - 1  # the first may be refused for its place


def test_never_damped():
    sweep = sweep_of(NATURALS, OCTAVE, damped=False, t60_s=6.0)
    assert_named(sweep, heard(sweep.samples))


@pytest.mark.parametrize("names", [
    ("3E", "3D", "3B", "3A", "3F", "4E"),  # two skipped
    ("3E", "3D", "3C", "3C", "3B", "3A", "3A", "3A", "3G"),  # some twice and three times
    ("3E", "3C", "3D", "3B", "3A", "3G"),  # two swapped
    ("3E", "3D", "3C", "3B", "3C", "3B", "3A"),  # back one and on
    ("3E", "3D", "3C", "3B", "3A", "3G", "3F", "3G", "3A", "3B")],  # down and up again
    ids=["skips", "repeats", "swap", "back", "turn"])
def test_slips_of_the_player(names):
    sweep = sweep_of(NATURALS, names)
    assert_named(sweep, heard(sweep.samples))


# A player who does not run along the harp (orders made up here, each string's octave by the theory of music)

LOWER, UPPER = ("4E", "4D", "4C", "4B", "4A", "4G", "4F"), ("3E", "3D", "3C", "3B", "3A", "3G", "3F")
TUNED_BY_HAND = dict(zip((*LOWER, *UPPER), (4.0, -3.0, 1.0, 6.0, -5.0, 2.0, -2.0, -4.0, 3.0, 5.0, -1.0, 2.0, -6.0, 4.0), strict=True))


@pytest.mark.parametrize("names", [
    [name for pair in zip(LOWER, UPPER, strict=True) for name in pair],
    [name for pair in zip(UPPER, LOWER, strict=True) for name in pair],
    [name for pair in zip(reversed(LOWER), reversed(UPPER), strict=True) for name in pair],
    [name for pair in zip(reversed(UPPER), LOWER, strict=True) for name in pair]],
    ids=["octaves", "upper first", "octaves upwards", "two hands in turn"])
def test_a_player_who_leaps(names):
    """Of pairs the upper string was told as the lower one plucked again or left out, of two hands one was left out."""
    sweep = sweep_of(NATURALS, names, cents=TUNED_BY_HAND)
    assert_named(sweep, heard(sweep.samples))


@pytest.mark.parametrize("harmonic_first", [True, False])
def test_harmonics_of_every_string_are_no_octave_pairs(harmonic_first):
    """A string touched at its middle has its even partials alone (theory of music): 2n·f0·sqrt(1 + B·(2n)²), as a string of twice the pitch
    and four times the B would (derived here)."""
    specs, gap, samples = {string.name: string for string in NATURALS.strings}, round(1.3 * RATE_HZ), []
    for place, name in enumerate(LOWER):
        string = pluck_of(specs[name], cents=TUNED_BY_HAND[name], seed=place)
        touched = replace(string, f1_hz=float(string.freq_hz[1]), b=4.0 * string.b, n_partials=string.n_partials // 2)
        for one in (touched, string) if harmonic_first else (string, touched):
            sound = render(one, rate_hz=RATE_HZ, length_s=1.2, pre_s=0.0, snr_db=None)
            samples.append(np.append(sound * np.minimum(1.0, np.arange(len(sound), 0, -1) / (0.15 * RATE_HZ)), np.zeros(gap))[:gap])
    samples = np.concatenate([np.zeros(gap), *samples[harmonic_first:]])  # begins with a string: alone, a harmonic might be another's
    found = heard(samples + np.random.default_rng(7).normal(0.0, 1.8e-4, len(samples)))
    assert [one.string.name for one in found.named] == list(LOWER)
    reasons = [one.reason for one in found.rejected]
    assert reasons.count(ABOVE_OF_BOTH[2]) >= len(LOWER) - 2 and ABOVE[2] not in reasons  # this harp has every string an octave up


TWELFTH, OCTAVE_UP, LOW = (StringSpec(name, note, hz, "wire")
                           for name, note, hz in (("twelfth", "G#3", 210.0), ("octave", "C#3", 140.0), ("low", "C#2", 70.0)))


@pytest.mark.parametrize(("strings", "times", "cents", "told"), [
    ((LOW,), 2, 5.0, ABOVE[2]), ((OCTAVE_UP, LOW), 2, 5.0, "octave"), ((OCTAVE_UP, LOW), 2, 0.0, ABOVE_OF_BOTH[2]),
    ((OCTAVE_UP, LOW), 3, 5.0, ABOVE[3]), ((TWELFTH, LOW), 3, 5.0, "twelfth"), ((TWELFTH, LOW), 3, 0.0, ABOVE_OF_BOTH[3])],
    ids=["no octave", "octave", "harmonic", "no twelfth", "twelfth", "harmonic at a third"])
def test_what_is_struck_over_the_string_that_rings_and_shares_its_partials_is_not_that_one_again(strings, times, cents, told):
    """An octave's partials are that one's even ones, but for some cents and its stiffness (half the length, four times the B: Fletcher
    1964), a twelfth's every third (a third, nine times); the others, which it lacks, are hidden by what rings (was named for the lower
    string). Of a harmonic they are the very same."""
    upper_hz = times * 70.0 * np.sqrt((1.0 + times**2 * 3e-4) / (1.0 + 3e-4)) * 2 ** (cents / 1200)
    low, high = (render(FormulaPluck(hz, b, t60_s=t60_s, n_partials=n, loss_power=1.0, seed=n), length_s=3.0, pre_s=0.0, snr_db=None)
                 for hz, b, t60_s, n in ((70.0, 3e-4, 40.0, 20), (upper_hz, times**2 * 3e-4, 20.0, 14)))
    at, second = 22050, 88200
    samples = np.random.default_rng(1).normal(0.0, 1e-5, at + len(low))
    samples[at:] += low
    samples[second:] += 0.5 * high[: len(samples) - second]
    spans = Span(0.5, 1.98, 2.0), Span(2.0, 3.4, 3.45)
    found = identify(recording_from_samples(samples, 44100), spans, Instrument("a string or two", 440.0, None, strings))
    assert [one.string.name for one in found.named] + [one.reason for one in found.rejected] == ["low", told]


def test_a_clear_pluck_out_of_order_is_not_called_faint():
    """As loud and clean as the others (made so here), far off the run."""
    names = (*OCTAVE[:5], "6E", *OCTAVE[5:])
    sweep = sweep_of(NATURALS, names)
    (left_out,) = heard(sweep.samples).rejected
    assert left_out.span.onset_s == pytest.approx(dict(sweep.truth)["6E"], abs=0.010) and left_out.reason == OUT_OF_ORDER


# Tuning

@pytest.mark.parametrize("cents", [-60.0, -30.0, 35.0])
def test_a_whole_harp_out_of_tune(cents):
    sweep = sweep_of(NATURALS, OCTAVE, cents=cents)
    found = heard(sweep.samples)
    assert_named(sweep, found)
    assert [one.offset_cents for one in found.named] == pytest.approx([cents] * len(OCTAVE), abs=8.0)


@pytest.mark.parametrize("off", [{"3A": 95.0, "4D": -95.0}, {"3A": -95.0, "3D": 95.0}, {"4E": -95.0, "3C": 95.0}, {"3F": 95.0, "3B": -95.0},
                                 {"4E": 45.0, "3C": -45.0}])
def test_two_strings_up_to_a_semitone_out(off):
    sweep = sweep_of(NATURALS, OCTAVE, cents=off)
    found = heard(sweep.samples)
    assert_named(sweep, found)
    assert [one.offset_cents for one in found.named] == pytest.approx([off.get(name, 0.0) for name in OCTAVE], abs=8.0)


@pytest.mark.parametrize(("name", "cents", "n_plucks"), [
    ("3C", -150.0, 1), ("3A", -150.0, 2), ("3A", -260.0, 1), ("3C", -260.0, 2), ("3C", -430.0, 1), ("3A", -430.0, 2), ("3A", -1200.0, 1),
    ("3C", -1200.0, 2)])
def test_a_string_semitones_low_is_itself_and_no_neighbour(name, cents, n_plucks):
    """A loosened winding: by its pitch it is another string, by the order of the sweep it is none but itself."""
    names = [one for one in OCTAVE for _ in range(n_plucks)]
    sweep = sweep_of(NATURALS, names, cents={name: cents})
    found = heard(sweep.samples)
    assert_named(sweep, found)
    assert [one.offset_cents for one in found.named if one.string.name == name] == pytest.approx([cents] * n_plucks, abs=12.0)


SHORT = replace(NATURALS, strings=tuple(one for one in NATURALS.strings if one.expected_hz > hz_of_note("B3")))  # ends at 4C


@pytest.mark.parametrize(("cents", "n_plucks", "down"), [
    (-170.0, 1, True), (-170.0, 2, False), (-200.0, 2, True), (-200.0, 3, False), (-300.0, 1, False), (-300.0, 3, True), (-500.0, 1, True),
    (-500.0, 2, False)])
def test_the_lowest_string_slipped_below_all_notes_is_not_the_one_an_octave_above(cents, n_plucks, down):
    """4C at B flat has every second partial of 3B, and no string of this harp has the others (theory of music)."""
    names = [one for one in (OCTAVE if down else OCTAVE[::-1]) for _ in range(n_plucks)]
    sweep = sweep_of(NATURALS, names, cents={"4C": cents})
    found = heard(sweep.samples, SHORT)
    assert_named(sweep, found)
    assert [one.offset_cents for one in found.named if one.string.name == "4C"] == pytest.approx([cents] * n_plucks, abs=12.0)


def test_of_strings_far_apart_one_that_slipped_between_two_notes_is_itself():
    """Six strings a fourth or a third apart, tuned as usual (common practice), the lowest a whole tone down: an octave under D3."""
    notes = ("E4", "B3", "G3", "D3", "A2", "E2")
    six = Instrument("six", 440.0, None, tuple(StringSpec(str(n), note, hz_of_note(note)) for n, note in enumerate(notes, 1)))
    sweep = sweep_of(six, [name for name in "123456" for _ in range(2)], cents={"6": -200.0})
    assert_named(sweep, heard(sweep.samples, six))


def test_what_sounds_an_octave_below_a_string_is_not_that_string():
    """A lone B flat 3, on a harp that ends at C4: it may be 4C, slipped, or no string of this harp; 3B it is not."""
    sweep = sweep_of(NATURALS, ("4C", "4C"), cents={"4C": -200.0})
    found = heard(sweep.samples, SHORT)
    assert not found.named and [one.reason for one in found.rejected] == [OCTAVE_BELOW] * 2


@pytest.mark.parametrize("string, order, cents", [("3D", ("3E", "3D", "3D", "4C"), 60.0), ("3D", ("3E", "3D", "3D", "4C"), -60.0),
                                                  ("3A", (*OCTAVE, "3A"), -60.0)], ids=["check, sharp", "check, flat", "sweep"])
def test_a_string_tuned_between_its_plucks_keeps_its_name(string, order, cents):
    """Three plucks each, the string's second three at another pitch: of old neighbours and a new string, or after a whole sweep."""
    names, seen, parts = [name for name in order for _ in range(3)], 0, []
    for place, name in enumerate(names):
        seen += name == string
        off = cents if name == string and seen <= 3 else 0.0
        parts.append(sweep_of(NATURALS, (name,), cents=off, lead_s=0.3, gap_s=1.5).samples[: round(1.8 * RATE_HZ)] * (1.0 + 0.01 * place))
    assert [one.string.name for one in heard(np.concatenate(parts)).named] == names


THREE_OCTAVES = tuple(f"{octave}{letter}" for octave in (2, 3, 4) for letter in "EDCBAGF")
E_FLAT_MAJOR = respelled(NATURALS, {"B": "b", "E": "b", "A": "b"})


@pytest.mark.parametrize(("told", "played", "said"), [
    (FLATS, NATURALS, {f"{letter}b": letter for letter in "CDEFGAB"}),
    (NATURALS, E_FLAT_MAJOR, {"E": "Eb", "A": "Ab", "B": "Bb"}),
    (SHARPS, E_FLAT_MAJOR, {"E#": "Eb", "D#": "D", "C#": "C", "B#": "Bb", "A#": "Ab", "G#": "G", "F#": "F"}),
    (FLATS, respelled(FLATS, {"E": ""}), {"Eb": "E"}),  # sounds as F flat does
    (load_instrument("lever-34", tuning="Eb"), load_instrument("lever-34", tuning="C"), {"Eb": "E", "Ab": "A", "Bb": "B"}),
], ids=["naturals for flats", "flat keys for naturals", "flat keys for sharps", "one pedal", "levers"])
def test_strings_keep_their_names_in_another_tuning_than_was_told(told, played, said):
    """By pitch alone all names slide to the next string: E sounds as F flat does. Letters of the keys: theory of music."""
    sweep = sweep_of(played, THREE_OCTAVES)
    found = heard(sweep.samples, told)
    assert_named(sweep, found)
    notes = {string.name: string.note for string in played.strings}
    assert [one.string.note for one in found.named] == [notes[name] for name, _ in sweep.truth]
    assert dict(found.respelled) == said
    assert max(abs(one.offset_cents) for one in found.named) < 12.0


def test_levers_up_that_bring_the_lowest_string_to_the_note_of_the_next():
    """A harp from 2C to 4A told E flat, all A levers up: 4A sounds a semitone under 4B, which has its two plucks (theory of music). So it
    is 4A, and of three A strings all three are sharp: B flat was played."""
    names = [string.name for string in LEVERS.strings]
    told = replace(LEVERS, strings=LEVERS.strings[names.index("2C"):names.index("4A") + 1])
    played = respelled(told, {"A": ""})
    sweep = sweep_of(played, twice([string.name for string in told.strings]))
    found = heard(sweep.samples, told)
    assert_named(sweep, found)
    assert found.respelled == (("Ab", "A"),)


def test_what_has_no_disc_is_not_moved_by_a_pedal():
    """The lowest two strings of most pedal harps are set by hand."""
    played = respelled(FLATS, {"D": "", "C": ""}, set_by_hand=False)
    names = tuple(string.name for string in played.strings[-28:])
    sweep = sweep_of(played, names, gap_s=2.0)
    found = heard(sweep.samples, FLATS)
    assert_named(sweep, found)
    assert {one.string.note for one in found.named if one.string.name[-1] in "DC"} == {"D4", "C4", "D3", "C3", "D2", "C2", "Db1", "Cb1"}


@pytest.mark.parametrize("cents", [{"3D": -98.0, "4D": -103.0, "3A": 96.0, "2F": -400.0}, 60.0, -60.0], ids=["slipped", "sharp", "flat"])
def test_strings_off_their_notes_are_no_other_tuning(cents):
    sweep = sweep_of(NATURALS, THREE_OCTAVES, cents=cents)
    found = heard(sweep.samples)
    assert_named(sweep, found)
    assert found.respelled == ()


def twice(names):
    return [name for name in names for _ in range(2)]


def test_a_string_whose_lever_was_forgotten_is_told_by_the_number_of_plucks():
    """In E flat major D and E flat are a semitone apart (theory of music): D with its lever up sounds as E flat, and only the order of the
    plucks, as many of each string, tells the two apart. Other numbers and ways: test_naming.py."""
    names = twice(OCTAVE[::-1])
    found = heard(sweep_of(LEVERS, names, cents={"4D": 100.0}).samples, LEVERS)
    assert [one.string.name for one in found.named] == names and found.respelled == ()
    assert all(one.sureness >= 0.8 for one in found.named)
    assert {one.string.name for one in found.named if abs(one.offset_cents) > 80.0} == {"4D"}


def test_strings_left_out_at_the_end_are_not_taken_for_slipped_ones():
    sweep = sweep_of(NATURALS, [*OCTAVE[:6], "4D"])
    assert_named(sweep, heard(sweep.samples))


def test_two_strings_of_one_pitch_go_by_the_order():
    """A 4B set natural while 4C stands flat: both sound 246.942 Hz."""
    strings = tuple(StringSpec(one.name, "B3", hz_of_note("B3"), one.material, one.length_mm, one.gauge_mm) if one.name == "4B" else one
                    for one in FLATS.strings)
    harp = Instrument("odd pedals", 440.0, None, strings)
    names = ("4E", "4D", "4C", "4B", "4A", "4G")
    for order in (names, names[::-1]):
        sweep = sweep_of(harp, order)
        assert [one.string.name for one in heard(sweep.samples, harp).named] == list(order)


@pytest.mark.parametrize("tuning", ["flats", "naturals", "sharps"])
def test_4c_in_each_pedal_position(tuning):
    """246.942, 261.626 and 277.183 Hz (derived from A4 = 440 Hz)."""
    harp = load_instrument("pedal-47", tuning=tuning)
    spec = next(string for string in harp.strings if string.name == "4C")
    assert spec.expected_hz == pytest.approx({"flats": 246.942, "naturals": 261.626, "sharps": 277.183}[tuning], abs=1e-3)
    sweep = sweep_of(harp, ("4E", "4D", "4C", "4B"))
    assert_named(sweep, heard(sweep.samples, harp))


def test_of_ten_strings_in_another_tuning_each_is_taken_for_the_next():
    """E flat is D a semitone sharp, C flat is B: too few to tell the tuning (`as_played` asks for twelve), but seven lie a semitone off."""
    found = heard(sweep_of(FLATS, OCTAVE).samples, NATURALS).named
    assert [one.string.name for one in found] == [*OCTAVE[1:], "4B"]
    expected = [0.0 if one.string.name in ("3B", "4E", "4B") else 100.0 for one in found]
    assert [one.offset_cents for one in found] == pytest.approx(expected, abs=5.0)


# Recorders and noise

def test_without_fundamentals():
    """A recorder that cuts off below 250 Hz: octaves 5 and 6 lose their first one to four partials."""
    sweep = sweep_of(NATURALS, ("5C", "5B", "5A", "5G", "5F", "6E", "6D", "6C"), noise_db=-90.0)
    cut = sosfilt(butter(6, 250.0, "high", fs=RATE_HZ, output="sos"), sweep.samples)
    cut = cut + np.random.default_rng(0).normal(0.0, 10 ** (-75 / 20), len(cut))
    assert_named(sweep, heard(cut))


@pytest.mark.parametrize("noise_db", [-55.0, -40.0])
def test_in_noise(noise_db):
    sweep = sweep_of(NATURALS, OCTAVE, noise_db=noise_db)  # plucks of about −20 dBFS
    assert_named(sweep, heard(sweep.samples))


@pytest.mark.parametrize("rate_hz", [8000, 48000])
def test_any_sample_rate(rate_hz):
    sweep = sweep_of(NATURALS, OCTAVE[:6], rate_hz=rate_hz)
    assert_named(sweep, heard(sweep.samples, rate_hz=rate_hz))


@pytest.mark.parametrize("within_hz", [None, 44100])
def test_a_voice_memo_holds_one_partial_of_the_top_strings(within_hz):
    """At 8 kHz, or as such a memo put into another file: what lies above cannot be missed."""
    names = ("0G", "0F", "1E", "1D", "1C", "1B", "1A", "1G", "1F", "2E")
    sweep = sweep_of(NATURALS, names, rate_hz=8000)
    samples = resample_poly(sweep.samples, 441, 80) if within_hz else sweep.samples
    noise = np.random.default_rng(0).normal(0.0, 1e-5, len(samples))
    found = heard(samples + noise, rate_hz=within_hz or 8000)
    assert [one.string.name for one in found.named] == list(names)


def test_volume_and_polarity_do_not_count():
    sweep = sweep_of(NATURALS, OCTAVE)
    before, after = heard(sweep.samples), heard(-0.02 * sweep.samples)
    assert [one.string.name for one in after.named] == [one.string.name for one in before.named]
    assert [one.sureness for one in after.named] == pytest.approx([one.sureness for one in before.named], abs=0.02)


def test_soft_and_loud_plucks():
    sweep = sweep_of(NATURALS, OCTAVE, louder_db={2: -15.0, 5: -20.0, 8: 6.0})
    assert_named(sweep, heard(sweep.samples))


@pytest.mark.parametrize("louder_db, gap_s, t60_s, loss_power", [(-9.0, 3.0, 60.0, 1.2), (-12.0, 2.5, 30.0, 1.0)])
def test_wires_plucked_again_while_they_ring(louder_db, gap_s, t60_s, loss_power):
    """The lowest partials still ring and hide what is new of them; the faded ones come back, far weaker."""
    names = ("5D", "5D", "5C", "5C", "5B", "5B", "5A", "5A")
    sweep = sweep_of(NATURALS, names, gap_s=gap_s, damped=False, t60_s=t60_s, loss_power=loss_power, level_power=1.0,
                     louder_db=dict.fromkeys(range(1, len(names), 2), louder_db))
    assert_named(sweep, heard(sweep.samples))


# What is no pluck

def test_taps_and_clicks_are_left_out():
    sweep = sweep_of(NATURALS, OCTAVE[:6])
    samples, rng = sweep.samples.copy(), np.random.default_rng(2)
    for at_s, kind in ((1.25, "tap"), (3.7, "click"), (6.1, "tap")):
        start, n = round(at_s * RATE_HZ), round(0.06 * RATE_HZ)
        time_s = np.arange(n) / RATE_HZ
        thump = np.cos(2 * np.pi * 110.0 * time_s) * np.exp(-70 * time_s) + 0.3 * rng.normal(size=n) * np.exp(-200 * time_s)
        samples[start : start + n] += 0.15 * (thump if kind == "tap" else rng.normal(size=n) * np.exp(-1500 * time_s))
    assert_named(sweep, heard(samples))


@pytest.mark.parametrize("make, level_db, known", [(tick, -35.0, 0.8), (tick, -45.0, 0.3), (wood, -30.0, 0.8)])
def test_a_clock_ticks_through_the_sweep(make, level_db, known):
    """Once a second, low strings that ring on: all are named, none is invented, and each pluck knows what fell into it, if it matters."""
    sweep = sweep_of(NATURALS, ("4F", "5E", "5E", "5D", "5D", "5C", "5B"), gap_s=3.3, lead_s=1.7, rate_hz=44100)
    ticks_s = np.arange(0.3, len(sweep.samples) / 44100 - 0.2, 1.0)
    peak = np.abs(sweep.samples).max() * 10 ** (level_db / 20)
    found = heard(added(sweep.samples, make, ticks_s, peak=peak), rate_hz=44100)
    assert_named(sweep, found)
    known_s = np.array([at_s for one in found.named for at_s in one.knocks_s])
    meant_s = [at_s for at_s in ticks_s if any(0.3 < at_s - one.span.onset_s < 1.5 for one in found.named)]
    assert np.mean([np.abs(known_s - at_s).min() < 0.02 for at_s in meant_s]) > known


def test_a_sound_that_drowns_what_still_rings_ends_the_pluck():
    sweep = sweep_of(NATURALS, ("3E", "3D", "3C"), gap_s=3.0, rate_hz=44100)
    late_s = sweep.truth[1][1] + 2.0
    found = heard(added(sweep.samples, cough, [late_s], peak=0.3 * np.abs(sweep.samples).max()), rate_hz=44100)
    assert_named(sweep, found)
    assert found.named[1].span.end_s == pytest.approx(late_s, abs=0.05) and found.named[1].knocks_s == ()


def test_a_string_that_was_touched_is_cut_there_and_its_touch_is_no_pluck():
    """A finger stops it to a twentieth: what then sounds is 26 dB weaker."""
    sweep = sweep_of(NATURALS, ("4E", "4D", "4C"), gap_s=3.0, rate_hz=44100)
    touched_s = sweep.truth[1][1] + 1.0
    samples, first, last = sweep.samples.copy(), round(touched_s * 44100), round((sweep.truth[2][1] - 0.1) * 44100)
    again = 0.03 * samples[round(sweep.truth[1][1] * 44100):][: last - first]
    samples[first:last] = 0.02 * samples[first:last] + again + np.random.default_rng(3).normal(0.0, 1e-4, last - first)
    found = heard(samples, rate_hz=44100)
    assert_named(sweep, found)
    assert found.named[1].span.end_s == pytest.approx(touched_s, abs=0.05)


@pytest.mark.parametrize("wait_s, stopped", [(0.23, True), (0.3, True), (0.3, False)])
def test_of_a_string_plucked_twice_at_once_the_second_pluck_counts(wait_s, stopped):
    """A finger stops it by 30 dB within 80 ms (set here), or it rings on; the second pluck is as strong as the first, and does not happen
    to cancel it."""
    sweep = sweep_of(NATURALS, ("4E", "4D", "4C", "4B"), gap_s=3.0, rate_hz=44100)
    first_s = sweep.truth[1][1]
    samples, at, again = sweep.samples.copy(), round(first_s * 44100), round((first_s + wait_s) * 44100)
    pluck, n_stop = sweep.samples[at:][: round(2.6 * 44100)], round(0.08 * 44100)
    if stopped:
        samples[again - n_stop : again] *= 10 ** (-30 / 20 * np.linspace(0.0, 1.0, n_stop))
        samples[again : again + len(pluck)] *= 10 ** (-30 / 20)
    samples[again : again + len(pluck)] += pluck
    found = heard(samples, rate_hz=44100)
    assert [one.string.name for one in found.named] == ["4E", "4D", "4C", "4B"]
    assert found.named[1].span.onset_s == pytest.approx(first_s + wait_s, abs=0.010)
    assert [one.span.onset_s for one in found.rejected if one.reason == AGAIN] == pytest.approx([first_s], abs=0.010)


def test_a_knock_right_after_a_pluck_is_no_second_one_and_is_told():
    sweep = sweep_of(NATURALS, ("4E", "4D", "4C", "4B"), gap_s=3.0, rate_hz=44100)
    late_s = sweep.truth[1][1] + 0.27
    found = heard(added(sweep.samples, tick, [late_s], peak=0.2 * np.abs(sweep.samples).max()), rate_hz=44100)
    assert_named(sweep, found)
    assert [one.reason for one in found.rejected] == [PART_OF_IT]
    assert found.rejected[0].span.onset_s == pytest.approx(late_s, abs=0.010)


@pytest.mark.parametrize("base_hz, turn", [(110.0, 0.5), (130.0, 0.0), (180.0, 2.0), (220.0, 4.0)])
def test_talk_is_no_pluck(base_hz, turn):
    """A voice after the sweep: harmonics of a pitch that slides by some semitones, twelve syllables (from memory)."""
    sweep = sweep_of(NATURALS, OCTAVE[:5])
    time_s = np.arange(4 * RATE_HZ) / RATE_HZ
    pitch_hz = base_hz * 2 ** (0.15 * np.sin(2 * np.pi * 0.7 * time_s + turn) + 0.05 * np.sin(2 * np.pi * 2.3 * time_s))
    phase = 2 * np.pi * np.cumsum(pitch_hz) / RATE_HZ
    voice = sum(np.sin(n * phase) / n for n in range(1, 20)) * np.clip(np.sin(2 * np.pi * 3.1 * time_s), 0.0, 1.0) ** 0.5
    samples = np.concatenate([sweep.samples, 0.02 * voice + np.random.default_rng(1).normal(0.0, 2e-4, len(voice))])
    found = heard(samples)
    assert [one.string.name for one in found.named][:5] == list(OCTAVE[:5])
    assert len(found.named) <= 7  # a syllable cut short, or one on a level, may pass
    assert sum("voice" in one.reason for one in found.rejected) >= 2


@pytest.mark.parametrize("level", [1e-4, 0.1])
def test_noise_alone_names_nothing(level):
    found = heard(np.random.default_rng(4).normal(0.0, level, 8 * RATE_HZ))
    assert found.named == () and len(found.unheard) == 47


def test_hum_alone_names_nothing():
    time_s = np.arange(6 * RATE_HZ) / RATE_HZ
    hum = sum(0.05 / k * np.cos(2 * np.pi * 50.0 * k * time_s + k) for k in range(1, 8))
    assert heard(hum + np.random.default_rng(0).normal(0.0, 1e-3, len(time_s))).named == ()


def test_digital_silence_between_plucks():
    """As a noise gate leaves it, and a click at the very end, after which there is nothing at all."""
    sweep = sweep_of(NATURALS, OCTAVE[:4], noise_db=-400.0)
    samples = sweep.samples.copy()
    samples[-3] = 0.2
    assert_named(sweep, heard(samples))
    assert new_lines(recording_from_samples(samples, RATE_HZ), Span(0.2, 0.5, 0.6)).freq_hz.size == 0


def test_everything_left_out_has_a_reason():
    sweep = sweep_of(NATURALS, OCTAVE[:4])
    samples = sweep.samples.copy()
    samples[round(1.3 * RATE_HZ)] += 0.5
    found = heard(samples)
    click, = found.rejected
    assert click.span.onset_s == pytest.approx(1.3, abs=0.010) and click.reason == "nothing new rings after it"


# How sure

@pytest.mark.parametrize("cents", [44.0, 46.0, 48.0, 50.0])
def test_a_sweep_makes_names_surer_than_a_lone_pluck(cents):
    """Half-way between E and F: alone it may be either and gets neither name, and that is less sure than in the sweep, which knows."""
    alone = heard(sweep_of(NATURALS, ("4E",), cents=cents).samples)
    among = heard(sweep_of(NATURALS, ("3F", "4E", "4D", "4C"), cents={"4E": cents}).samples).named
    assert alone.named == () and [one.between for one in alone.rejected] == [("4E", "3F")]
    assert [one.string.name for one in among] == ["3F", "4E", "4D", "4C"]
    assert among[1].sureness > 0.85


def test_pitch_alone_would_name_another_string():
    """The naive way, nearest expected pitch, goes wrong where the whole harp is 60 cents sharp: E is called F; the sweep knows better."""
    sweep = sweep_of(NATURALS, OCTAVE, cents=60.0)
    found = heard(sweep.samples)
    assert_named(sweep, found)
    nearest = [min(NATURALS.strings, key=lambda string: abs(np.log(string.expected_hz / one.pitch_hz))).name for one in found.named]
    assert nearest != list(OCTAVE)


def test_no_spans_no_names():
    recording = recording_from_samples(sweep_of(NATURALS, ("4C",)).samples, RATE_HZ)
    found = identify(recording, (), NATURALS)
    assert found.named == () and found.rejected == () and found.unheard == NATURALS.strings


@pytest.mark.parametrize("name", ["4E", "3F"])
def test_a_lone_pluck_that_two_strings_might_have_made_gets_neither_s_name(name):
    """F flat sounds as E does: by itself such a pluck is either string's with even chances, and better unnamed than wrong half of the time.
    Where the strings beside it were plucked too, their order tells."""
    harp = respelled(NATURALS, {"F": "b"})
    alone = heard(sweep_of(harp, (name,)).samples, harp)
    assert alone.named == () and [one.reason for one in alone.rejected] == [EITHER]
    beside = ("4D", "4E") if name == "4E" else ("3G", "3F")
    assert [one.string.name for one in heard(sweep_of(harp, beside).samples, harp).named] == list(beside)


def test_the_input_stays_as_it_was():
    sweep = sweep_of(NATURALS, OCTAVE[:3])
    before = sweep.samples.copy()
    sweep.samples.flags.writeable = False
    heard(sweep.samples)
    assert np.array_equal(sweep.samples, before)

"""What is said of a recording, and what of it is asked again for the rows of single strings."""

import re
from collections.abc import Mapping
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from toneprobe.audio import Remark
from toneprobe.audio.remark import BEND_DECAYS, KINDS, RINGS_BREAK_OFF, SINGLE_SOUNDS, TOO_NOISY
from toneprobe.audio.remarks import remarks_on_recorder, remarks_on_sound
from toneprobe.identify.candidates import AGAIN, PART_OF_IT
from toneprobe.identify.named import ABOVE, BETWEEN, LIKE_NO_STRING, NOTHING_NEW, TOO_FAINT, VOICE, Identification, Rejected
from toneprobe.instrument import load_instrument
from toneprobe.instrument.tunings import accidentals_of
from toneprobe.measure.figure import BROKEN_OFF, FIGURES, Figure, Partial, PluckMeasurement
from toneprobe.measure.steps import SUNK
from toneprobe.remarks.recording import hearing_remarks, is_noisy, rang_along
from toneprobe.remarks.tuning import another_tuning, between_notches, tuning_remarks
from toneprobe.segment import Span
from toneprobe.session.sweep import plucks_that_count

PLAIN = {"codec": "wav/PCM_16", "rate_hz": 44100}
SILENT = SimpleNamespace(quality=SimpleNamespace(eight_bits=False), remarks=(Remark("A hum."),), source=None, **PLAIN)
LOSSY = SimpleNamespace(quality=SimpleNamespace(eight_bits=False), remarks=(), source=SimpleNamespace(lossy=True), **PLAIN)

PLUCK = PluckMeasurement("", "", 0.0, 1.0, 1.0, 40.0, **dict.fromkeys(FIGURES, Figure(None, None, "none")), partials=(), flags=())


def sentences(*heard, **more):
    """What a player reads."""
    return tuple(one.text for one in hearing_remarks(*heard, **more))


def left_out(*rejected):
    """Each: when, and the string and the one that rang along, or another reason."""
    return Identification((), (), tuple(Rejected(Span(onset_s, onset_s + 1.0, onset_s + 1.1), "any", *why) if len(why) == 2 else
                                        Rejected(Span(onset_s, onset_s + 1.0, onset_s + 1.1), *why) for onset_s, *why in rejected))


def remarks(*rejected):
    return sentences(SILENT, left_out(*rejected), ())


def test_what_rang_along_is_said_once_with_every_string_that_it_cost():
    told = remarks((5.3, "0F", "5D"), (14.1, "1B", "5D"), (15.2, "1B", "5D"), (20.0, "2C", "4C"), (30.0, "too quiet"))
    assert told == ("A hum.", "Left out, because 5D rang along: 0F at 5.3 s, 1B at 14.1 s and 15.2 s.",
                    "Left out, because 4C rang along: 2C at 20.0 s.", "Left out, because too quiet: the sound at 30.0 s.")


@pytest.mark.parametrize(("reason", "said"), [
    (VOICE, ("taken for talk before the first pluck: the sounds from 1.1 to 3.1 s.", f"{TOO_FAINT}: the sound at 34.6 s.")),
    (LIKE_NO_STRING, (f"{LIKE_NO_STRING}: ", f"{TOO_FAINT}: the sounds at 1.4 s and 34.6 s.", f"{NOTHING_NEW}: "))])
def test_talk_before_the_first_pluck_is_one_remark(reason, said):
    """A recorder is set going, somebody says what it is, and plays (common practice). What is left out later stays as it is."""
    sounds = left_out((1.1, reason), (1.4, TOO_FAINT), (3.1, NOTHING_NEW), (34.6, TOO_FAINT))
    told = sentences(SILENT, replace(sounds, named=(SimpleNamespace(span=Span(4.0, 6.0, 6.1), knocks_s=(), is_knocked=False),)), ())[1:]
    assert len(told) == len(said) and all(f"Left out, because {why}" in one for one, why in zip(told, said, strict=True))


def test_when_something_was_left_out_of_several_recordings_it_is_said_of_which():
    """ "At 5.3 s" alone is a moment of each of five files."""
    heard = Identification((), (), (Rejected(Span(5.3, 6.0, 6.1), "any", "0F", "5D"), Rejected(Span(9.0, 9.5, 9.6), "too quiet"),
                                    Rejected(Span(12.0, 13.0, 13.1), BETWEEN, between=("3C", "3D"))))
    plucks = [SimpleNamespace(string="3D", note="D5", onset_s=10.0 + place, sureness=1.0, cents_off=Figure(one, 0.3), partials=(), flags=())
              for place, one in enumerate((0.0, 40.0))]
    told = sentences(SILENT, heard, plucks, swept=plucks, file_name="third.wav")[1:]
    assert len(told) == 4 and all(" s in third.wav." in text for text in told)
    assert not any(".wav" in text for text in sentences(SILENT, heard, plucks, swept=plucks))


def test_a_harp_recorded_in_parts_is_asked_as_a_whole_for_noise_suppression():
    """The lowest four strings of a lever harp bend by 0.065, its others by 0 to 0.02, through a suppressor all by 0.12 (measured)."""
    def bent(strings, bend):
        falls = tuple(Partial(n, 100.0 * n, 0.02, 0.0, 40.0, 2.0, 0.4, 0.0, bend=bend) for n in range(1, 25))
        return [replace(PLUCK, string=string, partials=falls) for string in strings]

    def is_told(plucks, swept=()):
        told = hearing_remarks(SILENT, Identification((), (), ()), plucks, swept=swept)
        assert all(("noise suppression" in one.text) == (one.kind == RINGS_BREAK_OFF) for one in told)
        return any("noise suppression" in one.text for one in told)

    low, others = ("5G", "5F", "6D", "6C"), tuple(f"{octave}{letter}" for octave in (2, 3, 4) for letter in "DCAGF")
    part, rest = bent(low, 0.065), bent(others, 0.01)
    assert not is_told(part) and not is_told(part, [*rest, *part])
    part, rest = bent(low, 0.12), bent(others, 0.12)
    assert is_told(part, [*rest, *part]) and is_told([*rest, *part])
    assert not is_told(part)  # of so few nobody can say


def test_many_plucks_an_octave_above_ask_about_the_instrument():
    few, many = (remarks(*((float(at_s), ABOVE[2]) for at_s in range(n))) for n in (2, 3))
    assert not [text for text in few if "right instrument file" in text]
    assert many[-1] == ("3 plucks sound an octave above strings of this instrument and were left out: is this the right instrument file or "
                        "preset?")


def test_a_string_plucked_twice_is_told_in_words():
    assert remarks((12.3, AGAIN), (20.0, PART_OF_IT), (31.0, PART_OF_IT))[1:] == (
        "Left out, because the same string was plucked again right after: the sound at 12.3 s.",
        "Left out, because what comes right after a pluck is taken for a part of it: the sounds at 20.0 s and 31.0 s.")


def test_what_lies_between_two_strings_is_left_out_with_what_to_do():
    spans = tuple(Rejected(Span(at_s, at_s + 1.0, at_s + 1.1), BETWEEN, between=strings)
                  for at_s, strings in ((12.0, ("3D", "3E")), (14.0, ("3D", "3E")), (20.0, ("4B", "4C"))))
    assert sentences(SILENT, Identification((), (), spans), ())[1:] == (
        "Left out, because they lie between 3D and 3E, and nothing tells which was plucked: the sounds at 12.0 s and 14.0 s. "
        "Pluck both in one recording, and it can be told.",
        "Left out, because it lies between 4B and 4C, and nothing tells which was plucked: the sound at 20.0 s. "
        "Pluck both in one recording, and it can be told.")


def test_a_noisy_room_is_spoken_of_where_many_plucks_were_disturbed():
    def told(n_knocked: int, n_named: int = 20):
        named = tuple(SimpleNamespace(knocks_s=(1.0,), is_knocked=i < n_knocked) for i in range(n_named))
        return [text for text in sentences(SILENT, Identification(named, (), ()), ()) if text.startswith("Something else sounded")]

    assert told(2) == []  # in quiet rooms a pluck in twenty is (measured)
    assert len(told(3)) == 1 and "3 of the 20 plucks" in told(3)[0]
    assert told(1, 2) == []


@pytest.mark.parametrize(("codec", "rate_hz", "eight_bits", "lossy", "own"), [
    ("wav/PCM_16", 44100, False, False, ""), ("wav/PCM_16", 8000, False, False, "coarse recording"),
    ("wav/PCM_U8", 44100, True, False, "coarse recording"), ("wav/IMA_ADPCM", 44100, False, False, "compression"),
    ("ogg/OPUS", 48000, False, True, "compression")])
def test_a_clock_is_not_blamed_alone_where_the_recording_itself_may_sound_so(codec, rate_hz, eight_bits, lossy, own):
    quality = SimpleNamespace(eight_bits=eight_bits)
    recording = SimpleNamespace(quality=quality, remarks=(), source=SimpleNamespace(lossy=lossy), codec=codec, rate_hz=rate_hz)
    named = tuple(SimpleNamespace(knocks_s=(1.0,) if i < 6 else (), is_knocked=i < 6) for i in range(48))
    text, = sentences(recording, Identification(named, (), ()), ())
    assert ("(a clock, a chair, a cough?)" in text) != bool(own)
    assert not own or f"a cough, or the {own} itself?)" in text


def test_a_recording_that_is_too_quiet_for_its_bits_is_named_with_the_remedy():
    sunk = [replace(PLUCK, flags=(SUNK,))] * 3
    text = " ".join(sentences(SILENT, Identification((), (), ()), sunk))
    assert "3 of the 3 plucks sink among the steps" in text and "24 bits" in text


def test_what_was_said_of_a_clock_is_not_said_again_of_every_tick():
    named = tuple(SimpleNamespace(knocks_s=(10.0 * i + 1.0, 10.0 * i + 2.0), is_knocked=True) for i in range(5))
    reasons = {1.0: NOTHING_NEW, 2.0: LIKE_NO_STRING, 11.0: "it may be a pluck, but it does not fit the sweep's order", 99.0: NOTHING_NEW}
    rejected = tuple(Rejected(Span(at_s, at_s + 0.5, at_s + 0.6), reason) for at_s, reason in reasons.items())
    told = sentences(SILENT, Identification(named, (), rejected), ())
    assert [text for text in told if text.startswith("Left out")] == [
        "Left out, because it may be a pluck, but it does not fit the sweep's order: the sound at 11.0 s.",
        "Left out, because nothing new rings after it: the sound at 99.0 s."]


@pytest.mark.parametrize(("recording", "n_knocked", "is_codec"), [(LOSSY, 36, True), (LOSSY, 10, False), (SILENT, 36, False)])
def test_what_compression_leaves_under_most_plucks_is_no_clock_and_is_not_listed(recording, n_knocked, is_codec):
    """48 plucks; in an MP3 of 32 kbit/s 36 of 48 real ones had such sounds under them, at 48 kbit/s three (measured)."""
    named = tuple(SimpleNamespace(knocks_s=(10.0 * i + 1.0,) if i < n_knocked else (), is_knocked=i < n_knocked) for i in range(48))
    rejected = tuple(Rejected(Span(at_s, at_s + 0.5, at_s + 0.6), TOO_FAINT) for at_s in (1.0, 11.0, 999.0))
    text = " ".join(sentences(recording, Identification(named, (), rejected), ()))
    assert ("compression left sounds of its own under 36 of the 48 plucks" in text) == is_codec
    assert ("a clock" in text) != is_codec
    assert ("the sound at 999.0 s" in text) == is_codec and ("1.0 s, 11.0 s and 999.0 s" in text) != is_codec


def test_which_strings_were_lost_is_kept_with_the_remark():
    """Also where many strings are concerned, and whatever an owner calls them."""
    lost = {**{f"{n}{letter}": "5D" for n in range(5) for letter in "CDE"}, "bass, the wound one": "top string",
            "2C at 3.1 s, 2D": "one that rang along: 4A"}
    told = hearing_remarks(SILENT, left_out(*((float(place), name, other) for place, (name, other) in enumerate(lost.items()))), ())
    assert rang_along(told) == lost and rang_along(hearing_remarks(SILENT, left_out((5.3, "too quiet")), ())) == {}


def test_what_is_asked_of_a_remark_is_read_from_no_words():
    """A note, a file's name or an owner's name for a string may be worded as any remark is."""
    worded = [Remark(text) for text in ("The plucks stand only here.", "Left out, because 5D rang along: 1B at 14.1 s.")]
    assert not is_noisy(worded) and rang_along(worded) == {}
    assert is_noisy([Remark("In other words.", TOO_NOISY)]) and rang_along([Remark("In other words.", None, ("1B",), "5D")]) == {"1B": "5D"}


def test_every_kind_is_one_of_the_few():
    """What a book keeps of a remark is asked for by these names; a new one needs a reader."""
    recorded = [*remarks_on_sound(clipped_s=0.1, range_db=20.0, hum=(50.0, -40.0), n_gaps=1),
                *(one for eight_bits in (True, False) for one in remarks_on_recorder(
                    low_cut_hz=80.0, high_cut_hz=9000.0, rate_hz=44100, gain_riding=True, eight_bits=eight_bits, codec_kbit_s=24.0,
                    coarse=None))]
    heard = hearing_remarks(SILENT, left_out((5.3, "0F", "5D"), (6.0, "too quiet")), [pluck("2C", 9.2, 0.53)])
    assert {one.kind for one in (*recorded, *heard)} == {None, *KINDS} - {RINGS_BREAK_OFF} and RINGS_BREAK_OFF in BEND_DECAYS
    assert [one.kind for one in heard] == [None, SINGLE_SOUNDS, SINGLE_SOUNDS, SINGLE_SOUNDS]


def pluck(string, onset_s, sureness, note="C6"):
    return SimpleNamespace(string=string, note=note, onset_s=onset_s, sureness=sureness, partials=(), flags=(),
                           cents_off=Figure(None, None, "none"))


@pytest.mark.parametrize(("elsewhere", "said"), [
    ([pluck("2C", 20.0, 0.9)], "Not counted, because the name is doubtful: 2C at 9.2 s and 2C at 10.3 s in again.flac. "),
    ([pluck("2C", 20.0, 0.9, note="Cb6")], "Of doubtful name: 2C at 9.2 s and 2C at 10.3 s in again.flac. "),  # another string length
    ([pluck("3A", 20.0, 0.9)], "Of doubtful name: 2C at 9.2 s and 2C at 10.3 s in again.flac. "),
])
def test_plucks_that_were_not_counted_are_said_to_be(elsewhere, said):
    """As a sweep reads them: those of a doubtful name go where others of the string have a sure one. Else they are all there is."""
    own = [pluck("2C", 9.2, 0.53), pluck("2C", 10.3, 0.56), pluck("5D", 11.3, 0.87)]
    told = sentences(SILENT, Identification((), (), ()), own, swept=[*elsewhere, *own], file_name="again.flac")
    assert told[1].startswith(said) and "pluck it again between its two neighbours" in told[1] and "5D" not in told[1]
    alone = sentences(SILENT, Identification((), (), ()), own)
    assert alone[1].startswith("Of doubtful name: 2C at 9.2 s and 2C at 10.3 s. ")
    assert plucks_that_count_of("2C", [*elsewhere, *own]) == (["2C at 20.0"] if said.startswith("Not") else ["2C at 9.2", "2C at 10.3"])


def plucks_that_count_of(string, plucks):
    """What a sweep does with them, of the note of the doubtful ones."""
    own = [replace(PLUCK, string=one.string, note=one.note, onset_s=one.onset_s, sureness=one.sureness) for one in plucks
           if one.string == string and one.note == "C6"]
    return [f"{one.string} at {one.onset_s}" for one in plucks_that_count(own)]


@pytest.mark.parametrize(("respelled", "said"), [
    ((("Eb", "E"),), "Played in another tuning than the one given: E instead of Eb."),
    ((("Eb", "E"), ("Bb", "B"), ("Ab", "A")),
     "Played in another tuning than the one given: E instead of Eb, B instead of Bb and A instead of Ab."),
    (tuple((f"{letter}b", letter) for letter in "GFEDCBA"), "Played in another tuning than the one given: naturals instead of flats."),
])
def test_another_tuning_than_told_is_said(respelled, said):
    told = sentences(SILENT, Identification((), (), (), respelled), ())
    assert [text.startswith(said) for text in told] == [False, True]


@pytest.mark.parametrize(("cents", "se", "is_told"), [((0.0, 0.3, 40.0), 0.3, True), ((0.0, 12.0), 0.3, False), ((0.0, 40.0), 15.0, False),
                                                    ((0.0, 40.0), None, False)])
def test_a_string_at_two_pitches_is_asked_about(cents, se, is_told):
    """40 cents are seven times what two takes of an untouched string differ by (5.6 cents at the most, measured)."""
    told = [text.split(". ")[0] for text in asked_about(cents, se)]
    assert told == ["Heard at two pitches: 3D by 40 cents, at 10.0 s and 12.0 s"] * is_told


@pytest.mark.parametrize(("cents", "slips"), [((0.0, -30.0), True), ((0.0, 30.0), False)])
def test_a_string_that_sounds_far_lower_at_the_later_pluck_may_slip(cents, slips):
    assert [("its knot or its pin slips" in text) for text in asked_about(cents)] == [slips]


def asked_about(cents, se=0.3):
    """What is said of 3D, plucked once at each of the `cents`, as of a string at two pitches."""
    plucks = [SimpleNamespace(string="3D", note="D5", onset_s=10.0 + place, sureness=1.0, cents_off=Figure(one, se), partials=(), flags=())
              for place, one in enumerate(cents)]
    return [text for text in sentences(SILENT, Identification((), (), ()), plucks) if text.startswith("Heard at two pitches")]


def test_a_string_that_was_tuned_is_asked_about_by_that_and_not_as_one_at_two_pitches():
    plucks = [replace(PLUCK, string="3C", note="C5", onset_s=10.0 + 2.0 * place, cents_off=Figure(cents, 0.5)) for place, cents in
              enumerate((-36.0, -24.0, -12.0, 1.0, 0.5))]
    told, = sentences(SILENT, Identification((), (), ()), plucks)[1:]
    assert told.startswith("Tuned meanwhile, as it seems: 3C (up by 36 cents from 10.0 s to 18.0 s). What was")


@pytest.mark.parametrize(("n", "what"), [(1, "3D at 0.0 s in b.wav"), (4, "4 of the 5 plucks in b.wav")])
def test_where_all_sound_breaks_off_is_said_once(n, what):
    plucks = [replace(PLUCK, string="3D", onset_s=float(place), flags=(BROKEN_OFF,) * (place < n)) for place in range(5)]
    told, = sentences(SILENT, Identification((), (), ()), plucks, file_name="b.wav")[1:]
    assert told.startswith(f"All sound breaks off at once while it rings: {what} (a plug")


def test_a_pluck_of_doubtful_name_says_nothing_of_the_strings_pitch():
    """Named 4C by its place, it was 4A, three semitones off: the same page said that it is not counted."""
    plucks = [SimpleNamespace(string="4C", note="C4", onset_s=at_s, sureness=sureness, cents_off=Figure(cents, 0.3), partials=(), flags=())
              for at_s, sureness, cents in ((10.0, 1.0, 0.0), (12.0, 0.4, -304.0))]
    told = sentences(SILENT, Identification((), (), ()), plucks, swept=plucks)
    assert [text.split(",")[0] for text in told] == ["A hum.", "Not counted"]


def plucks_of(tuned: str, told: str, *, more_cents: float = 0.0, slipped: Mapping[str, float] | None = None):
    """A lever harp of 34 strings tuned in one key and measured as if in another, a few cents of untidiness on each string."""
    true, asked = (load_instrument("lever-34", tuning=key).strings for key in (tuned, told))
    rng, slipped = np.random.default_rng(1), slipped or {}
    return [SimpleNamespace(string=spec.name, note=spec.note, onset_s=0.0, sureness=1.0, cents_off=Figure(
        1200.0 * np.log2(own.expected_hz / spec.expected_hz) + rng.normal(0.0, 8.0) + more_cents + slipped.get(spec.name, 0.0), 0.5))
            for own, spec in zip(true, asked, strict=True)]


@pytest.mark.parametrize(("times", "is_told"), [({"B": 2, "C": 0}, True), ({"B": 1, "C": 0}, False), ({"B": 2}, False), ({}, False)])
def test_of_two_letters_at_one_note_nobody_can_tell_which_was_plucked(times, is_told):
    """B sharp sounds as C (theory of music): where all plucks of both went to B, no C was heard. Each was plucked twice (decided here)."""
    harp = load_instrument("pedal-40", tuning="sharps")
    plucked = [spec for spec in harp.strings for _ in range(2 * times.get(spec.note[0], 1))]
    plucks = [replace(PLUCK, string=spec.name, note=spec.note) for spec in plucked]
    unheard = tuple(spec for spec in harp.strings if spec not in plucked)
    told = [text for text in sentences(SILENT, Identification((), unheard, ()), plucks) if text.startswith("No ")]
    assert [text.startswith("No C string was heard, but the B strings have twice as many plucks") for text in told] == [True] * is_told


@pytest.mark.parametrize(("kind", "told", "played", "way"), [
    ("pedal-47", -7, -2, "below"), ("lever-34", -3, 2, "below"), ("lever-34", 2, -3, "above"),  # C flat and B flat, E flat and D major
    ("pedal-47", -7, 0, None), ("pedal-47", -7, -6, None), ("lever-34", -3, 0, None)])  # seven letters up: none slides; other keys
def test_a_key_that_is_the_one_told_a_semitone_off_may_be_another_a_and_each_string_the_one_beside(kind, told, played, way):
    """The key signatures (theory of music): a key a semitone lower has five sharps more, or seven flats more."""
    letters = [accidentals_of(signature) for signature in (told, played)]
    respelled = tuple((f"{one}{letters[0][one]}", f"{one}{letters[1][one]}") for one in "CDEFGAB" if letters[0][one] != letters[1][one])
    plucks = [replace(PLUCK, string=spec.name, note=f"{spec.note[0]}{letters[1][spec.note[0]]}{spec.note[-1]}")
              for spec in load_instrument(kind).strings]
    text, = (one for one in tuning_remarks(Identification((), (), (), respelled), plucks) if one.startswith("Played"))
    assert (f"a semitone {way} the A given" in text) is (way is not None) and ("--a4" in text) is (way is not None)


def test_a_letter_between_two_notes_names_its_pedal():
    """F strings 45 cents above their notes, with the 8 cents of untidiness of all strings (see `plucks_of`): no pins slip so together. Of
    lever-34 there are five F (its preset). Not where half of them lie so, nor where the harp does as a whole."""
    f_strings = [spec.name for spec in load_instrument("lever-34", tuning="Eb").strings if spec.name[-1] == "F"]
    text, = between_notches(plucks_of("Eb", "Eb", slipped=dict.fromkeys(f_strings, 45.0)), "pedal")
    assert re.match(r"The F strings sound \d\d to \d\d cents above the others: is the F pedal", text)
    text, = between_notches(plucks_of("Eb", "Eb", more_cents=-30.0, slipped=dict.fromkeys(f_strings, -45.0)), "pedal")
    assert "cents below the others: is the F pedal" in text
    assert between_notches(plucks_of("Eb", "Eb", slipped=dict.fromkeys(f_strings[:2], 45.0)), "pedal") == ()
    assert between_notches(plucks_of("Eb", "Eb", more_cents=40.0), "pedal") == () == between_notches((), "pedal")


def test_of_strings_set_by_hand_no_lever_or_pedal_is_asked_about():
    """A kantele, a wire harp: one that lies between two notes is out of tune, and is told so itself."""
    plucks = plucks_of("Eb", "Eb", slipped=dict.fromkeys(("3F", "4F", "2F", "5F", "1F"), 40.0))
    by_hand = frozenset(pluck.string for pluck in plucks)
    told = [[text for text in tuning_remarks(Identification((), (), (), set_by_hand=hand), plucks) if "F" in text]
            for hand in (frozenset(), by_hand)]
    assert ["pedal" in " ".join(texts) for texts in told] == [True, False]


def test_a_harp_without_pedals_is_not_asked_about_one():
    """A lever harp has none; what an owner's file says of neither may have either (how harps are built)."""
    plucks = plucks_of("Eb", "Eb", slipped=dict.fromkeys(("3F", "4F", "2F", "5F", "1F"), 45.0))
    lever, = between_notches(plucks, "lever")
    assert lever.startswith("The F strings sound") and "pedal" not in lever and "levers" in lever
    unknown, = between_notches(plucks, None)
    assert "pedal or levers" in unknown


@pytest.mark.parametrize(("tuned", "told", "said"), [
    ("C", "Eb", "Nearly all E, A and B strings sound a semitone above their notes."),  # E-flat major has B, E and A flat: the key signature
    ("Eb", "C", "Nearly all E, A and B strings sound a semitone below their notes."),
    ("F", "Eb", "Nearly all E and A strings sound a semitone above their notes."),
])
def test_a_harp_in_another_key_is_asked_about(tuned, told, said):
    assert [text.startswith(said) for text in another_tuning(plucks_of(tuned, told))] == [True]


@pytest.mark.parametrize("cents, is_rate", [(-53.3, True), (46.7, True), (80.0, False)])
def test_a_whole_harp_between_its_notes_and_the_next_ones_is_asked_about(cents, is_rate):
    """1200·log2(48000/44100) is 146.7 cents: from the string a whole tone up 53.3 less, from the one a semitone up 46.7 more."""
    text, = another_tuning(plucks_of("Eb", "Eb", more_cents=cents))
    assert f"{abs(cents):.0f} cents" in text and "Is it the right instrument" in text
    assert ("48000 for 44100" in text) == is_rate


def test_a_harp_that_lies_a_semitone_off_as_a_whole_is_asked_about():
    told = another_tuning(plucks_of("Eb", "Eb", more_cents=99.0))
    assert len(told) == 1 and told[0].startswith("Nearly all strings sound 9") and "above their notes" in told[0]


def test_the_middle_between_two_groups_is_no_level_of_nearly_all_strings():
    """Four strings at their notes, three a semitone and one an octave below: the middle is 50 cents below, where none lies."""
    off = {"2C": 0.0, "2G": 0.0, "3D": 0.0, "3C": 0.0, "2B": -100.0, "2A": -100.0, "3E": -100.0, "2F": -1200.0}
    assert another_tuning([pluck for pluck in plucks_of("Eb", "Eb", slipped=off) if pluck.string in off]) == ()


@pytest.mark.parametrize("slipped", [{}, {"4C": -100.0, "3A": -80.0, "2G": 100.0, "5D": -120.0, "3C": -90.0}])
@pytest.mark.parametrize("more_cents", [0.0, -40.0, 8.0])
def test_a_harp_out_of_tune_is_not_asked_about(more_cents, slipped):
    """Forty cents flat as a whole after a cold night, or five strings slipped: no key does that."""
    assert another_tuning(plucks_of("Eb", "Eb", more_cents=more_cents, slipped=slipped)) == ()
    assert another_tuning(()) == ()

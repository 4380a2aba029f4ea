"""Presets and owners' files: what they give, and what they refuse. Ranges and materials of the trade are common practice or from memory."""

import os
from dataclasses import replace

import pytest

from toneprobe.errors import InstrumentError, UsageError
from toneprobe.instrument import find_string, load_instrument, preset_names, preset_words, retune, string_expected_b
from toneprobe.units import cents_between, hz_of_note


@pytest.fixture
def owners(tmp_path):
    """Loads an owner's file of the given text."""
    def load(text, **options):
        path = tmp_path / "my-harp.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return load_instrument(path, **options)
    return load


def listed(*strings):
    return 'name = "my harp"\n' + "".join(f'[[strings]]\nname = "{name}"\nnote = "{note}"\n' for name, note in strings)


# --- presets

RANGES = [  # preset, highest, lowest, their natural notes
    ("pedal-47", "0G", "7C", "G7", "C1"), ("pedal-46", "0G", "7D", "G7", "D1"), ("pedal-44", "1E", "7D", "E7", "D1"),  # common practice
    ("pedal-40", "1C", "6F", "C7", "F1"),  # memory
    ("lever-34", "1A", "6C", "A6", "C2"), ("lever-36", "1C", "6C", "C7", "C2"),  # common practice
    ("lever-22", "2C", "5C", "C6", "C3"), ("lever-26", "1G", "5C", "G6", "C3"), ("lever-27", "1A", "5C", "A6", "C3"),  # memory
    ("lever-38", "1C", "6A", "C7", "A1"),  # memory
    ("lever-40", "1D", "6G", "D7", "G1"),  # lowest from memory, highest derived from the count
]


@pytest.mark.parametrize("preset, highest, lowest, top_note, bottom_note", RANGES)
def test_presets_have_their_range(preset, highest, lowest, top_note, bottom_note):
    harp = load_instrument(preset, tuning="naturals" if preset.startswith("pedal") else "C")
    assert len(harp.strings) == int(preset.split("-")[1])
    assert (harp.strings[0].name, harp.strings[-1].name) == (highest, lowest)
    assert (harp.strings[0].note, harp.strings[-1].note) == (top_note, bottom_note)
    pitches = [string.expected_hz for string in harp.strings]
    assert pitches == sorted(pitches, reverse=True) and len({string.name for string in harp.strings}) == len(pitches)


def test_all_presets_are_listed():
    assert set(preset_names()) == {row[0] for row in RANGES}
    kinds = [kind.split(", -") for kind in preset_words().split("; ")]  # each once, the largest of it first: "pedal-47, -46; lever-40, -38"
    whole = [[first, *(f"{first.split('-')[0]}-{size}" for size in others)] for first, *others in kinds]
    assert [one[0].split("-")[0] for one in whole] == ["pedal", "lever"] and sorted(sum(whole, [])) == sorted(preset_names())
    assert all(sizes == sorted(sizes, reverse=True) for one in whole for sizes in [[int(name.split("-")[1]) for name in one]])


@pytest.mark.parametrize("preset", ["pedal-47", "pedal-46", "pedal-44", "pedal-40"])
def test_materials_of_pedal_harps(preset):
    material = {string.name: string.material for string in load_instrument(preset).strings}
    # common practice: nylon in octaves 0 and 1, gut from 2E to 5A, wound wires from 5G down
    assert {material[name] for name in material if name[0] in "01"} == {"nylon"}
    assert material["2E"] == material["5A"] == material["4C"] == "gut"
    assert material["5G"] == material[list(material)[-1]] == "wire"


def test_a_concert_harp_has_twelve_wires():
    materials = [string.material for string in load_instrument("pedal-47").strings]
    assert materials.count("wire") == 12  # common practice
    assert materials.count("nylon") == 9 and materials.count("gut") == 26  # derived: 2 + 7, and what is left of 47


@pytest.mark.parametrize("preset", [row[0] for row in RANGES if row[0].startswith("lever")])
def test_lever_presets_say_a_material_for_each_string(preset):
    strings = load_instrument(preset).strings
    assert {string.material for string in strings} <= {"nylon", "wound nylon", "wire"}  # common practice
    assert strings[0].material == "nylon" and strings[-1].material != "nylon"


def test_the_concert_harp_carries_a_published_scale():
    strings = load_instrument("pedal-47").strings
    lengths = {string.name: string.length_mm for string in strings}
    assert (lengths["0G"], lengths["4C"], lengths["7C"]) == (60.6, 570.6, 1514.9)  # published scale of 1901, second hand
    assert sorted(lengths.values()) == list(lengths.values())  # longer towards the bass
    assert all(string.gauge_mm is None for string in strings)


def test_strings_without_mechanism():
    hand_set = {p: [s.name for s in load_instrument(p).strings if not s.mechanism] for p in preset_names()}
    assert hand_set["pedal-47"] == ["0G", "7D", "7C"]  # common practice
    assert hand_set["lever-34"] == []


# --- tunings and A

def test_pedals_up_sound_a_semitone_below_naturals_and_two_below_sharps():
    flats, naturals, sharps = (load_instrument("pedal-47", tuning=t).strings for t in ("flats", "naturals", "sharps"))
    for low, middle, high in zip(flats, naturals, sharps, strict=True):
        assert cents_between(middle.expected_hz, low.expected_hz) == pytest.approx(100.0)  # common practice: each pedal step a semitone
        assert cents_between(high.expected_hz, middle.expected_hz) == pytest.approx(100.0)
    # derived: 4C with the pedal up, middle, down
    found = [find_string(load_instrument("pedal-47", tuning=t), "4C") for t in ("flats", "naturals", "sharps")]
    assert [s.note for s in found] == ["Cb4", "C4", "C#4"]
    assert [s.expected_hz for s in found] == pytest.approx([246.942, 261.626, 277.183], abs=1e-3)


def test_pedal_harps_are_open_by_default():
    harp = load_instrument("pedal-47")
    assert harp.tuning == "flats" and harp.a4_hz == 440.0
    assert [s.note for s in harp.strings[2:9]] == ["Eb7", "Db7", "Cb7", "Bb6", "Ab6", "Gb6", "Fb6"]  # C-flat major


@pytest.mark.parametrize("tuning, altered", [
    # major keys, common practice of notation
    (None, {"E": "b", "A": "b", "B": "b"}), ("Eb", {"E": "b", "A": "b", "B": "b"}), ("C", {}), ("F", {"B": "b"}),
    ("Ab", {"E": "b", "A": "b", "B": "b", "D": "b"}), ("Bb", {"B": "b", "E": "b"}), ("G", {"F": "#"}), ("D", {"F": "#", "C": "#"}),
    ("A", {"F": "#", "C": "#", "G": "#"}), ("E", {"F": "#", "C": "#", "G": "#", "D": "#"}),
])
def test_lever_harps_take_a_key(tuning, altered):
    strings = load_instrument("lever-34", tuning=tuning).strings
    assert {s.note[0]: s.note[1:-1] for s in strings} == {letter: altered.get(letter, "") for letter in "CDEFGAB"}


@pytest.mark.parametrize("preset, tuning, offered", [("lever-34", "flats", "C, Eb, F, Ab"), ("pedal-47", "Eb", "flats, naturals, sharps")])
def test_a_tuning_of_another_kind_of_harp_is_refused(preset, tuning, offered):
    with pytest.raises(UsageError, match=offered):
        load_instrument(preset, tuning=tuning)


def test_another_a_moves_all_strings_alike():
    plain, high = load_instrument("lever-34").strings, load_instrument("lever-34", a4_hz=443.0).strings
    assert {round(h.expected_hz / p.expected_hz, 12) for p, h in zip(plain, high, strict=True)} == {round(443 / 440, 12)}


@pytest.mark.parametrize("a4_hz", [379.9, 480.1, 0.0, -440.0, float("nan"), float("inf"), True, "440"])
def test_an_impossible_a_is_refused(a4_hz):
    with pytest.raises(UsageError, match="A4"):
        load_instrument("pedal-47", a4_hz=a4_hz)


# --- an owner's file

def test_a_single_string_file(owners):
    harp = owners('name = "sharpened lever harp"\na4_hz = 440.0\n[[strings]]\nname = "1"\nnote = "G#6"\n')
    assert (harp.name, harp.a4_hz, harp.tuning) == ("sharpened lever harp", 440.0, None)
    assert [(s.name, s.note) for s in harp.strings] == [("1", "G#6")]
    assert harp.strings[0].expected_hz == pytest.approx(1661.219, abs=1e-3)  # ISO 16, derived
    assert find_string(harp, "1").name == "1"


def test_all_fields_of_a_string(owners):
    harp = owners(listed(("low", "c2")) + 'material = "wire"\nlength_mm = 1200\ngauge_mm = 1.5\nmechanism = false\n')
    string = harp.strings[0]
    assert (string.note, string.material, string.length_mm, string.gauge_mm, string.mechanism) == ("C2", "wire", 1200.0, 1.5, False)


def test_strings_are_sorted_from_the_top(owners):
    harp = owners(listed(("a", "B3"), ("b", "G#4"), ("c", "Cb4"), ("d", "D2")))
    assert [s.note for s in harp.strings] == ["G#4", "Cb4", "B3", "D2"]  # Cb4 and B3 sound alike, the C string stands above


def test_a_file_over_a_preset(owners):
    harp = owners("""
name = "school harp"
preset = "pedal-47"
a4_hz = 442
tuning = "naturals"
lowest = "7D"
[materials]
gut = "1E..1F"
nylon = ["2E..2F", "3E"]
[gauges_mm]
4C = 1.3
[[strings]]
name = "0G"
mechanism = true
[[strings]]
name = "7D"
note = "Db1"
""")
    strings = {s.name: s for s in harp.strings}
    assert (len(strings), harp.a4_hz, harp.tuning, harp.kind) == (46, 442.0, "naturals", "pedal")
    assert [strings[name].material for name in ("1F", "2E", "3E", "3D")] == ["gut", "nylon", "nylon", "gut"]
    assert strings["4C"].gauge_mm == 1.3 and strings["4C"].length_mm == 570.6 and strings["4C"].note == "C4"
    assert strings["0G"].mechanism and not strings["7D"].mechanism and strings["7D"].note == "Db1"


def test_hand_set_strings_follow_the_tuning_unless_the_file_gives_their_note(owners):
    assert find_string(load_instrument("pedal-47", tuning="naturals"), "7C").note == "C1"
    harp = owners('name = "h"\npreset = "pedal-47"\n[[strings]]\nname = "7C"\nnote = "C1"\n')
    assert [find_string(retune(harp, tuning=t), "7C").note for t in ("flats", "naturals", "sharps")] == ["C1", "C1", "C1"]
    assert [find_string(retune(harp, tuning=t), "7D").note for t in ("flats", "sharps")] == ["Db1", "D#1"]


def test_the_owners_list_of_hand_set_strings_replaces_the_presets(owners):
    harp = owners('name = "h"\npreset = "pedal-47"\nhand_set = ["7C"]\n')
    assert [s.name for s in harp.strings if not s.mechanism] == ["7C"]


def test_a_material_of_one_string_is_no_others_of_its_letter(owners):
    """A double or chromatic harp has two strings of one letter and octave, and a range from string to string holds both."""
    text = 'name = "h"\n[materials]\n{}' + listed(
        ("D C4", "C4"), ("X C4", "C#4"), ("D D4", "D4"), ("X D4", "D#4")).split("\n", 1)[1]
    one_by_one = 'nylon = ["X C4", "D D4"]\ngut = ["D C4", "X D4"]\n'
    of_each = {"X D4": "gut", "D D4": "nylon", "X C4": "nylon", "D C4": "gut"}
    assert {s.name: s.material for s in owners(text.format(one_by_one)).strings} == of_each
    of_all = 'wire = "D C4..X D4"\n'
    assert {s.material for s in owners(text.format(of_all)).strings} == {"wire"}
    for both in (of_all + one_by_one, one_by_one + of_all):  # one named alone is an exception, wherever it stands
        assert {s.name: s.material for s in owners(text.format(both)).strings} == of_each


def test_a_range_between_names_of_ones_own_goes_by_the_order_of_the_file(owners):
    """A ukulele is tuned g' c' e' a', its lowest number the highest string but one (common practice)."""
    def with_material(ends, *rows):
        text = listed(*rows).replace("[[", f'[materials]\nnylon = "{ends}"\n[[', 1)
        return {string.name for string in owners(text).strings if string.material}

    ukulele = (("4", "G4"), ("3", "C4"), ("2", "E4"), ("1", "A4"))
    assert with_material("1..4", *ukulele) == {"1", "2", "3", "4"} and with_material("2..3", *ukulele) == {"2", "3"}
    lettered = (("4G", "G4"), ("3C", "C4"), ("2E", "E4"), ("1A", "A4"))  # no harp's 4G, 3C, 2E and 1A
    assert with_material("4G..3C", *lettered) == {"4G", "3C"} and with_material("1A", *lettered) == {"1A"}
    rows = (("white D4", "D4"), ("white C4", "C4"), ("black D4", "D#4"), ("black C4", "C#4"))
    assert with_material("white D4..white C4", *rows) == {"white D4", "white C4"}


@pytest.mark.parametrize(("typed", "said"), [
    ("7", "there is no string '7', only 1, 2, 3, 4, 5 and 6$"), ("e", "there is no string 'e', only"),
    ("4C", "there is no string '4C', only"),
    ("A2", "'A2' is a note: write the string, 5$"), ("E4", "'E4' is a note: write the string, 1$")])
def test_no_harps_names_are_asked_for_where_strings_have_others(owners, typed, said):
    """The open strings of a guitar (common practice): of its own names none counts octaves, so a note means one string."""
    guitar = owners(listed(*zip("123456", ("E4", "B3", "G3", "D3", "A2", "E2"), strict=True)))
    assert find_string(guitar, "5").note == "A2" and not guitar.is_harp
    with pytest.raises(UsageError, match=said):
        find_string(guitar, typed)


@pytest.mark.parametrize(("names", "notes", "typed", "meant"), [
    ("1D 2A 3G 4D 5A 6D", "D4 A3 G3 D3 A2 D2", "D4", "1D"),  # on a harp D4 is 4D, here that is D3
    ("1E 2B 3G 4D 5A 6E", "E4 B3 G3 D3 A2 E2", "E2", "6E"),  # and E2 may be the top octave's 2E
    ("1E 2A 3D 4G", "E5 A4 D4 G3", "A4", "2A")])  # a mandolin's one of each course: its 4G is a harp's by chance
def test_a_name_that_a_harps_string_has_means_another_where_the_notes_say_so(owners, names, notes, typed, meant):
    """A guitar in two tunings, a mandolin: number, then note, as their players call strings (common practice)."""
    names, notes = names.split(), notes.split()
    played = owners(listed(*zip(names, notes, strict=True)))
    assert played.has_own_names and [find_string(played, name).note for name in names] == notes
    with pytest.raises(UsageError, match=f"{typed!r} is a note: write the string, {meant}$"):
        find_string(played, typed)
    with pytest.raises(InstrumentError, match=f"{typed!r} is a note: write the string, {meant}$"):
        owners(listed(*zip(names, notes, strict=True)).replace("[[", f'[materials]\nnylon = "{typed}"\n[[', 1))


def test_only_a_kind_that_has_a_mechanism_gives_strings_one(owners):
    """Pedals and levers are of harps (common practice): of other instruments only the file can say so."""
    def with_one(fields):
        return [string.name for string in owners(fields + listed(("a", "C5"), ("b", "B4"))).strings if string.mechanism]

    assert (with_one(""), with_one('hand_set = ["a"]\n'), with_one('kind = "lever"\n')) == ([], ["b"], ["a", "b"])
    assert (with_one('tuning = "G"\n'), with_one('tuning = "flats"\n')) == ([], [])  # a key is no word of levers: a wire harp has none
    assert not owners(listed(("low", "c2")) + "mechanism = false\n").strings[0].mechanism
    assert owners(listed(("low", "c2")) + "mechanism = true\n").strings[0].mechanism


def test_a_range_without_a_preset(owners):
    harp = owners('name = "h"\nkind = "lever"\nhighest = "1A"\nlowest = "6C"\nhand_set = ["6C"]\n')
    assert len(harp.strings) == 34 and harp.tuning == "Eb" and not harp.strings[-1].mechanism


def test_a_string_beyond_the_preset(owners):
    harp = owners('name = "h"\npreset = "lever-34"\n[[strings]]\nname = "1B"\n')
    assert len(harp.strings) == 35 and (harp.strings[0].name, harp.strings[0].note) == ("1B", "Bb6")


def test_the_callers_tuning_respells_a_listed_harp(owners):
    text = 'tuning = "flats"\n' + listed(("4C", "Cb4"), ("4B", "Bb3"))
    assert [s.note for s in owners(text).strings] == ["Cb4", "Bb3"]
    assert [s.note for s in owners(text, tuning="naturals").strings] == ["C4", "B3"]
    with pytest.raises(UsageError, match="same note G6"):
        owners(listed(("1", "G#6"), ("2", "G6")), tuning="C")


@pytest.mark.parametrize("written", ["Eb", "eb", "EB", "E♭", " Eb ", "E-flat", "e flat", " E flat "])
def test_a_flat_key_is_taken_as_players_write_it(written):
    assert load_instrument("lever-34", tuning=written).tuning == "Eb"


@pytest.mark.parametrize("written, meant", [("Es", "Eb"), ("as", "Ab")])
def test_a_key_named_in_german_is_refused_with_its_name_here(written, meant):
    with pytest.raises(UsageError, match=f"unknown tuning '{written}': write {meant}$"):
        load_instrument("lever-34", tuning=written)
    with pytest.raises(UsageError, match="a pedal harp takes flats, naturals, sharps"):
        load_instrument("pedal-47", tuning=written)


ERRORS = [
    (listed(("1", "A4"), ("1", "G4")), "two strings are named '1'"),
    (listed(("e", "E4"), ("E", "E2")), "'e' and 'E' are one name, capitals or not: call one of them otherwise"),  # a guitar's
    (listed(("1", "A4"), ("2", "A4")), "strings 1 and 2 have the same note A4: .* List one of them here, and the other"),
    ('name = "h"\na4 = 440.0\n' + listed(("1", "A4")).split("\n", 1)[1], "unknown field 'a4', nearest: a4_hz"),
    (listed(("1", "A4")) + "lenght_mm = 400.0\n", "strings: number 1, '1': unknown field 'lenght_mm', nearest"),
    (listed(("1", "C0")).replace("C0", "C-1"), "string 1: note C-1 at 8 Hz lies outside 15 to 5000 Hz"),
    (listed(("1", "E8")), "outside 15 to 5000 Hz"),
    (listed(("1", "A4"), ("2", "H4")), "strings: number 2, '2': note = 'H4' is not a note"),
    (listed(("1", "A4"), ("2", "G4")) + "length_mm = 0.57\n", "strings: number 2, '2': length_mm = 0.57 lies outside 20 to 3000"),
    (listed(("1", "A4")) + '[[strings]]\nname = 4\nnote = "G4"\n', "strings: number 2: name must be text in quotes, not a number"),
    (listed(("4C", "C4")).replace("[[strings]]", "[strings]"), r"write \[\[strings\]\] with two brackets on either side"),
    (listed(("1", "A4")).replace('"A4"', "440"), "note must be text in quotes, not a number"),
    (listed(("1", "A4")) + 'length_mm = "long"\n', "length_mm must be a number, not text"),
    (listed(("1", "A4")) + "length_mm = nan\n", "length_mm = nan lies outside 20 to 3000"),
    (listed(("1", "A4")) + "gauge_mm = 0\n", "gauge_mm = 0 lies outside"),
    (listed(("1", "A4")) + f"gauge_mm = 1{'0' * 400}\n", "gauge_mm = 10{23} lies outside"),
    (listed(("1", "A4")) + f"gauge_mm = 1{'0' * 5000}\n", "not valid TOML: a number has thousands of digits$"),
    (listed(("1", "A4")) + "mechanism = 1\n", "mechanism must be true or false, not a number"),
    ('name = "h"\nstrings = []\n', "strings is empty"),
    ('name = "h"\nstrings = "4C"\n', "strings must be a list, not text"),
    ('name = "h"\nstrings = ["4C"]\n', "strings: number 1 must be a table, not text"),
    ('name = "h"\n[[strings]]\nnote = "A4"\n', "number 1 has no name"),
    ('name = "h"\n[[strings]]\nname = "one"\n', "string 'one' has no note"),
    ('name = "h"\n', "lists no strings"),
    ("", "has no name"),
    ('name = "h"\na4_hz = 500.0\npreset = "lever-34"\n', "a4_hz = 500.0 lies outside 380 to 480"),
    ('name = "h"\na4_hz = true\npreset = "lever-34"\n', "a4_hz must be a number, not true or false"),
    ('name = "h"\ntuning = "H"\npreset = "lever-34"\n', "unknown tuning 'H': a lever harp takes C, Eb, F, Ab"),
    ('name = "h"\npreset = "pedal-48"\n', "no preset is called 'pedal-48': choose pedal-47"),
    ('name = "h"\npreset = "../pedal-47"\n', "no preset is called"),
    ('name = "h"\nkind = "cross"\n', "kind must be one of pedal, lever, or left out where no string has lever or disc$"),
    ('name = "h"\nhighest = "1C"\nlowest = "6C"\n', "says nothing of the notes"),
    ('name = "h"\nhighest = "1C"\n', "highest and lowest are needed together"),
    ('name = "h"\ntuning = "C"\nhighest = "6C"\nlowest = "1C"\n', "lowest 1C lies above highest 6C"),
    ('name = "h"\ntuning = "C"\nhighest = "C7"\nlowest = "6C"\n', "C7 can mean string 7C"),
    ('name = "h"\npreset = "lever-34"\nhand_set = ["7C"]\n', "there is no string '7C', nearest: 6C"),
    ('name = "h"\npreset = "lever-34"\n[lengths_mm]\n7C = 1500.0\n', "there is no string '7C'"),
    ('name = "h"\npreset = "lever-34"\n[materials]\ngut = "7C"\n', "there is no string '7C', nearest: 6C"),
    ('name = "h"\npreset = "lever-34"\n[materials]\ngut = "7C..7F"\n', "'7C..7F' names no string of this instrument"),
    ('name = "h"\npreset = "lever-34"\n[materials]\ngut = "2C-4E"\n', r"a range is written 2C\.\.4E"),
    ('name = "h"\npreset = "lever-34"\n[materials]\ngut = "2C to 4E"\n', r"a range is written 2C\.\.4E"),
    ('name = "h"\npreset = "lever-34"\n[materials]\ngut = "B3"\n', "B3 can mean string 3B .* write 3B or 4B"),
    (listed(("1", "E4"), ("2", "B3")) + '[materials]\nnylon = ["B3"]\n', "'B3' is a note: write the string, 2$"),
    (listed(("1", "E4"), ("2", "B3")) + '[materials]\nnylon = "B3..E4"\n', "'B3' is a note: write the string, 2$"),
    (listed(("1", "E4"), ("2", "B3")) + '[materials]\nnylon = ["3A"]\n', "there is no string '3A'$"),
    ('name = "h"\npreset = "lever-34"\n[materials]\nnylon = "1A..4C"\ngut = "4C..5C"\n', "string '4C' is both nylon and gut: say one"),
    ('name = "h"\npreset = "lever-34"\n[materials]\nnylon = "4C"\ngut = ["4c"]\n', "string '4C' is both nylon and gut: say one"),
    ('name = "h"\npreset = "lever-34"\n[materials]\ngut = "1A..2A..3A"\n', "is no range of strings"),
    ('name = "h"\npreset = "lever-34"\n[[strings]]\nname = "C5"\n', "C5 can mean string 5C"),
    ('name = "h"\n[[strings]\n', "not valid TOML: .*line 2"),
    ('name = "h"\nname = "i"\n', "not valid TOML: .*line 2"),
    (listed(("3C", "C#4")).replace("[[", 'kind = "pedal"\n[[', 1), "string '3C' can mean C5, .* or C#4"),  # design: 8 - 3 = 5
    (listed(("3A", "G4")).replace("[[", 'kind = "lever"\n[[', 1), "string '3A' can mean A4, .* or G4"),  # design: 7 - 3 = 4
    ('name = "h"\npreset = "lever-34"\n[[strings]]\nname = "4B"\nnote = "Bb4"\n', "string '4B' can mean B3, .* or Bb4"),
    (b"\xff\xfe\x00h", "not UTF-8"),
    (b"x = " + b"[" * 50_000, "not valid TOML"),
    (b"#" * 1_000_001, "larger than 1000 kB"),
    (listed(("../../etc", "A4")), "write at most 16 of letters"),
    (listed(("-1", "A4")), "write at most 16 of letters"),
    (listed(("x" * 17, "A4")), "write at most 16 of letters"),
    (listed((" ", "A4")), "1 to 80 printable"),
    ('name = "' + "x" * 81 + '"\n', "name must be 1 to 80 printable characters"),
    ('name = "a\\u202eb"\n', "name must be 1 to 80 printable characters"),
    ('name = "a\\nb"\n', "name must be 1 to 80 printable characters"),
    ('name = "h"\n[materials]\ngut = 3\n', "materials.gut must be text in quotes"),
    ('name = "h"\nstrings = [' + "{}," * 201 + "]\n", "lists 201, more than 200"),
]


@pytest.mark.parametrize("text, message", ERRORS, ids=[str(number) for number in range(len(ERRORS))])
def test_a_file_that_cannot_serve_is_refused_in_one_line(owners, text, message):
    with pytest.raises(InstrumentError, match=message) as refusal:
        owners(text)
    assert "\n" not in str(refusal.value) and "my-harp.toml" in str(refusal.value) and len(str(refusal.value)) < 400


def test_a_harp_string_may_have_any_accidental_and_another_instruments_any_name(owners):
    assert [s.note for s in owners(listed(("3C", "C#5"), ("3B", "Bb4")).replace("[[", 'kind = "pedal"\n[[', 1)).strings] == ["C#5", "Bb4"]
    assert [s.note for s in owners(listed(("3C", "C#4"), ("1E", "E4"))).strings] == ["E4", "C#4"]


def test_a_byte_order_mark_does_no_harm(owners):
    assert owners(b"\xef\xbb\xbf" + listed(("1", "A4")).encode()).strings[0].note == "A4"


@pytest.mark.parametrize("path", ["missing.toml", "no/such/folder/harp.toml", "x" * 5000 + ".toml", "nul\0.toml"])
def test_a_file_that_is_not_there(tmp_path, path):
    with pytest.raises(InstrumentError, match="not found|cannot be read"):
        load_instrument(f"{tmp_path}/{path}")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_what_never_ends_or_begins_is_no_file(tmp_path):
    os.mkfifo(tmp_path / "pipe.toml")
    for path in (tmp_path / "pipe.toml", "/dev/zero"):
        with pytest.raises(InstrumentError, match="cannot be read: it is not a file"):
            load_instrument(path)


def test_a_folder_is_no_file(tmp_path):
    (tmp_path / "harp.toml").mkdir()
    with pytest.raises(InstrumentError, match="cannot be read"):
        load_instrument(tmp_path / "harp.toml")


def test_an_unknown_preset_lists_the_presets():
    with pytest.raises(UsageError, match="no preset is called 'pedal-48': choose pedal-47"):
        load_instrument("pedal-48")


# --- finding a string

@pytest.mark.parametrize("text, name", [("4C", "4C"), ("4c", "4C"), ("C4", "4C"), ("00G", "0G"), (" 7c ", "7C")])
def test_find_string_by_harp_name(text, name):
    assert find_string(load_instrument("pedal-47"), text).name == name


@pytest.mark.parametrize("text, message", [
    ("C5", "C5 can mean string 5C .sounds C3. or scientific C5, which is string 3C: write 5C or 3C"),
    ("8C", "8C is not on this harp .0G to 7C., nearest: 7C$"),
    ("0A", "0A is not on this harp .0G to 7C., nearest: 0G, 1A$"),  # by place from the top (… 0A, 0G, 0F …), and by letter: derived here
    ("7B", "7B is not on this harp .0G to 7C., nearest: 7C, 6B$"),
    ("Cb4", "'Cb4' is a note: write the string, 4C"),
    ("3", "'3' is not a string name here: the string counted from the top is 1E"),
    ("0000471234", "string name"),
    ("", "is not a string name"), ("xyz", "is not a string name"), ("4C\n5C", "is not a string name"),
])
def test_find_string_refuses(text, message):
    with pytest.raises(UsageError, match=message):
        find_string(load_instrument("pedal-47"), text)


def test_the_owners_names_come_first(owners):
    harp = owners(listed(("C5", "C5"), ("Red", "C4"), ("4C", "A2")))
    assert [find_string(harp, text).note for text in ("c5", "RED", "4c")] == ["C5", "C4", "A2"]
    with pytest.raises(UsageError, match="'C4' is a note: write the string, Red$"):  # and not the 4C that is A2
        find_string(harp, "C4")


# --- what inharmonicity to expect

def test_expected_b_comes_from_physics_where_the_build_is_known():
    top = load_instrument("pedal-47", tuning="naturals").strings[0]
    known = string_expected_b(replace(top, gauge_mm=0.635))
    assert 0.5 < known[0] / 4.6e-3 < 2.0  # nylon law of Woodhouse & Lynch-Aird on a published scale, derived: an order
    assert known[1] < string_expected_b(top)[1]  # not knowing the gauge costs certainty
    doubled = string_expected_b(replace(top, gauge_mm=1.27))
    assert doubled[0] / known[0] == pytest.approx(4.0)  # derived: d⁴ over a tension that grows as d²


def test_expected_b_of_every_preset_string_is_plausible():
    for preset in preset_names():
        for string in load_instrument(preset).strings:
            centre, factor = string_expected_b(string)
            assert 1e-6 < centre < 2e-2 and 1.0 < factor <= 5.0, (preset, string)  # from memory: the span of plucked and piano strings


def test_expected_pitch_is_that_of_the_note():
    for string in load_instrument("pedal-47", a4_hz=441.0).strings:
        assert string.expected_hz == pytest.approx(hz_of_note(string.note, 441.0), rel=1e-12)

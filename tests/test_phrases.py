"""Pieces of sentences."""

import pytest

from toneprobe.phrases import as_string, as_strings, count_of, gauge_words, kind_words, listed, one_after_another, was_or_were


@pytest.mark.parametrize(("items", "told"), [(["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")])
def test_a_list(items, told):
    assert one_after_another(items) == told


def test_of_a_long_list_the_rest_is_counted():
    assert listed(list("abcdefgh")) == "a, b, c, d, e, f, g and h"  # eight are read to their end
    assert listed(list("abcdefghi")) == "a, b, c, d, e, f, g and 2 more" and listed(["a", "b", "c"], 2) == "a and 2 more"


def test_one_was_and_several_were():
    assert (was_or_were(["3C"]), was_or_were(["3C", "3D"]), was_or_were([])) == ("was", "were", "were")  # as English has it: none were


def test_what_a_string_is():
    assert kind_words("gut", 1.02) == "gut, 1.02 mm" and kind_words("gut", None, None, "lot 17") == "gut, lot 17"
    assert kind_words(None, 1.0) == gauge_words(1.0) == "1 mm" and kind_words(None, None) == gauge_words(None) == ""


def test_a_count():
    assert (count_of(1, "day"), count_of(0, "day"), count_of(3, "string")) == ("1 day", "0 days", "3 strings")
    assert (count_of(1, "entry", "entries"), count_of(2, "entry", "entries")) == ("1 entry", "2 entries")


def test_a_string_whose_name_is_a_number_is_not_read_as_a_count():
    """ "Dead: 2." of one dead string, and "2 has a new string since", were; "1 × 3 (G3)" too (as English has it)."""
    assert (as_strings(["5"]), as_strings(["2", "5"]), as_strings([])) == (["string 5"], ["strings 2", "5"], [])
    assert as_strings(iter(["4C", "0G"])) == ["4C", "0G"] and as_strings(["5 octave", "6"], at_start=True) == ["Strings 5 octave", "6"]
    assert (as_string("5"), as_string("5", at_start=True), as_string("low e", at_start=True)) == ("string 5", "String 5", "low e")

"""What the terminal shows."""

import csv
import html
import io
import math
import re
from dataclasses import replace

import pytest
from rich.console import Console

from toneprobe.condition.next_steps import fell_step
from toneprobe.measure.figure import FIGURES, Figure
from toneprobe.report.page import sweep_page
from toneprobe.report.rows import figure_rows
from toneprobe.report.sheet import sweep_csv
from toneprobe.report.tables import condition_table, print_report
from toneprobe.report.view import sweep_view
from toneprobe.report.words import sentence


def printed(thing, encoding="utf-8", width=80):
    raw = io.BytesIO()
    console = Console(file=io.TextIOWrapper(raw, encoding=encoding, errors="strict"), width=width, color_system=None, legacy_windows=False)
    if callable(thing):
        thing(console)
    else:
        console.print(thing)
    console.file.flush()
    return raw.getvalue().decode(encoding)


def report(view, **how):
    return printed(lambda console: print_report(view, console), **how)


def test_fits_eighty_columns(view):
    assert max(map(len, report(view).splitlines())) <= 80


@pytest.mark.parametrize("end", ["", "."])
def test_a_brightness_that_no_row_has_is_said_once_with_its_reason(facts, end):
    """Of all strings alike, then of all but one: there its own page says why (decided here)."""
    def shown(n_known):
        none, known = Figure(None, None, f"too few other strings were heard both now and then{end}"), Figure(0.1, 0.1)
        return " ".join(report(sweep_view(replace(facts, conditions=tuple(
            replace(one, changes={**one.changes, "brightness": known if place < n_known else none}) if one.changes else one
            for place, one in enumerate(facts.conditions))))).split())

    assert any(one.changes for one in facts.conditions)
    assert shown(0).count("Brightness was not compared: too few other strings were heard both now and then. ") == 1
    assert "Brightness was not compared" not in shown(len(facts.conditions))


def test_a_fine_string_that_fell_alone_is_named_over_the_table_with_what_to_do(facts, view):
    step, reason = fell_step(), "Its pitch lies 79 cents below the others: tune it."
    conditions = tuple(replace(one, reasons=(reason, *one.reasons), next_step=step.text, step_kind=step.kind) if one.string == "4C" else one
                       for one in facts.conditions)
    fallen = sweep_view(replace(facts, conditions=conditions))
    shown = " ".join(report(fallen).split())
    assert f"Fine, but fallen out of tune: 4C (C♭4) {reason} {step.text}" in shown
    assert "Fine, but fallen out of tune: 4C." in shown.partition("strings measured")[0]  # with the headline
    assert reason.replace("79 ", "79\N{NO-BREAK SPACE}") in sweep_page(fallen)
    assert "fallen out of tune" not in report(view) + sweep_page(view)


def test_every_string_once_in_its_octave(view):
    lines = [line.split() for line in printed(condition_table(view)).splitlines()]
    names = [words[0] for words in lines if words and words[0] in {one.name for one in view.strings}]
    assert names == [one.name for one in view.strings]
    assert lines.index(["Octave", "4"]) == 1 + lines.index(next(words for words in lines if words[0] == "3F"))


def test_a_caution_s_second_line_stands_under_the_words_of_its_first(view):
    lines = report(view).split("Before you change a string")[1].splitlines()[1:]
    assert all(re.match("  - |    [^- ]", line) for line in lines if line.strip())
    assert any(line.startswith("    ") for line in lines)


def test_no_two_lines_are_left_blank_where_nothing_needs_attention(facts):
    fine = tuple(replace(one, verdict="unsure" if one.string == "5G" else "sound", reasons=("It may waver.",)) for one in facts.conditions)
    text = report(sweep_view(replace(facts, conditions=fine)))
    assert "Needs attention" not in text and "Not sure: 5G" in text
    assert not re.search(r"\n *\n *\n", text)


def test_a_row_says_what_the_view_says(view):
    row = next(line for line in printed(condition_table(view)).splitlines() if line.strip().startswith("5G"))
    assert row.split() == ["5G", "G♭2", "dead", "−48", "%", "±", "6", "−30", "%", "±", "10", "+1.8", "±", "0.6", "2"]


def test_an_unsure_string_says_why(view):
    unsure = next(one for one in view.strings if one.verdict == "unsure")
    lines = report(view).splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("Not sure"))
    assert unsure.brief and " ".join(lines[at + 1].split()).startswith(f"{unsure.name}: {unsure.brief[:20]}")


def test_the_ring_of_the_upper_partials_has_its_row_where_it_may_decide(facts):
    """A string may be dead by that alone; ln 2 lost is half of it (derived)."""
    one = next(one for one in facts.conditions if one.string == "5G")
    told = replace(one, changes={**one.changes, "decay_high": Figure(math.log(2.0), 0.05)})
    rows = {row.key: row.change for row in figure_rows(told, Figure(1.0, 0.1), Figure(1.0, 0.1))}
    assert rows["highs"] == "−50 % ± 5"
    assert "highs" not in {row.key for row in figure_rows(replace(one, changes={}), Figure(1.0, 0.1), Figure(1.0, 0.1))}


def test_a_string_condemned_by_its_upper_partials_alone_shows_theirs(facts):
    """9 % shorter, known to 34 % (ln 0.91), would not condemn it; its upper partials at half, ln 2, do (derived)."""
    changes = {"ring": Figure(-math.log(0.91), 0.17 / 0.91), "decay_high": Figure(math.log(2.0), 0.05)}
    for is_high in (True, False):
        conditions = tuple(replace(one, verdict="dead", rests_on_upper_partials=is_high, changes=changes) if one.string == "1A" else one
                           for one in facts.conditions)
        view = sweep_view(replace(facts, conditions=conditions))
        line = next(line for line in report(view).splitlines() if line.startswith("  1A  "))
        assert ("upper −50 % ± 5" in line, "−9 % ± 34" in line) == (is_high, not is_high)


def test_headline_then_list_then_table_then_cautions(view):
    text = report(view)
    parts = ["sweep of 3 May 2025", view.headline, "False: 2C. Dead: 5G, 6D.", view.left_open, "Note: A hum", "Needs attention",
             "False first, then dead",
             "2C (C♭6)  false", "5G (G♭2)  dead", "Next for 5G, 6D:", "Change the string.",
             "Before a concert: 'toneprobe ready --on DATE'", "Not heard: 0G", "Octave 0",
             "The figure after ±", "Before you change a string"]
    assert [text.index(part) for part in parts] == sorted(text.index(part) for part in parts)


def test_where_no_change_is_shown_none_is_explained(facts):
    """A fresh sweep has ± beside its cents alone."""
    conditions = tuple(replace(one, verdict="unrated", fresh={}, changes={}) for one in facts.conditions)
    text = " ".join(report(sweep_view(replace(facts, conditions=conditions, is_fresh=True))).split())
    assert "two plucks of one healthy string may differ." in text and "a change within it" not in text and "As fresh:" not in text
    assert "a change within it means nothing. As fresh:" in " ".join(report(sweep_view(facts)).split())


def test_a_long_list_is_cut_and_says_so(facts):
    aged = tuple(replace(one, verdict="watch") for one in facts.conditions)
    assert "… and 35 more, in the table below." in report(sweep_view(replace(facts, conditions=aged)))
    doubtful = tuple(replace(one, verdict="unsure", reasons=(f"Too few of {one.string}.",)) for one in facts.conditions)
    assert "… and 35 more." in report(sweep_view(replace(facts, conditions=doubtful)))


@pytest.mark.parametrize(("width", "left_out"), [
    (80, ""), (64, "plucks"), (52, "note, plucks"), (44, "note, cents off, plucks"), (37, "note, bright, cents off, plucks"),
    (30, "note, bright, cents off, plucks")])
def test_a_narrow_terminal_shows_whole_columns_and_says_which_it_leaves_out(view, width, left_out):
    """By hand: "Octave 0", "settling", "−48 % ± 6" and "−30 % ± 10" are 8, 8, 9 and 10 wide, "+1.8 ± 0.6" 10 too, a space between."""
    text = printed(condition_table(view), width=width)
    assert max(map(len, text.splitlines())) <= width and "…" not in text
    said = re.search(r"Left out, for want of room: (.*?)\.", " ".join(text.split()))
    assert (said[1] if said else "") == left_out
    assert "Octave 7" in text and re.search(r"5G .*dead +−48 % ± 6", text)


def test_names_are_not_markup(hostile_view):
    text = report(hostile_view)
    assert "<script>" in text
    assert "[red]" in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_terminal_that_knows_only_ascii_is_served(view):
    text = report(view, encoding="ascii")
    assert "Gb2" in text
    assert "-48 % +/- 6" in text


def test_without_cautions_where_none_are_due(facts):
    calm = tuple(replace(one, verdict="sound") for one in facts.conditions)
    assert "Before you change" not in report(sweep_view(replace(facts, conditions=calm)))


def rows_of(view):
    return list(csv.DictReader(io.StringIO(sweep_csv(view), newline="")))


def test_csv_holds_the_numbers(view):
    rows = rows_of(view)
    assert [row["string"] for row in rows] == [one.name for one in view.strings]
    dead = next(row for row in rows if row["string"] == "5G")
    condition = next(one.condition for one in view.strings if one.name == "5G")
    assert float(dead["t60_s"]) == pytest.approx(condition.figures["t60_s"].value, rel=1e-6)
    assert float(dead["t60_s_fresh"]) == pytest.approx(condition.fresh["t60_s"].value, rel=1e-6)
    assert float(dead["ring_percent_of_fresh"]) == pytest.approx(52.0)
    assert (dead["verdict"], dead["dead_score"], dead["note"], dead["date"]) == ("dead", "93.0", "Gb2", "2025-05-03")
    assert all(column in dead for key in FIGURES for column in (key, f"{key}_se", f"{key}_fresh"))
    scores = {row["string"]: (row["verdict"], row["dead_score"], row["false_score"]) for row in rows}  # as `made_up_report` has them
    assert [scores[name] for name in ("5G", "2C", "5F", "7D")] == [
        ("dead", "93.0", "4.0"), ("false", "6.0", "78.0"), ("watch", "41.0", "4.0"), ("unsure", "", "")]


def test_csv_has_the_error_of_every_figure_and_new_columns_last(view):
    """ "−48 % ± 6" in the terminal's table: two errors of 3 per cent of fresh; where columns stand counted by hand."""
    rows = rows_of(view)
    dead = next(row for row in rows if row["string"] == "5G")
    condition = next(one.condition for one in view.strings if one.name == "5G")
    assert float(dead["ring_percent_of_fresh_se"]) == pytest.approx(3.0, abs=0.26) and float(dead["brightness_percent_of_fresh_se"]) > 0.0
    assert float(dead["t60_s_fresh_se"]) == pytest.approx(condition.fresh["t60_s"].se, rel=1e-6)
    columns = list(dead)
    numbers = {name for name in columns if name.endswith("_of_fresh")} | {name for key in FIGURES for name in (key, f"{key}_fresh")}
    assert {f"{name}_se" for name in numbers} <= set(columns)
    places = [columns.index(name) for name in ("harp", "string", "how_sure", "pitch_hz", "pitch_hz_se", "pitch_hz_fresh", "cents_off")]
    assert places == [0, 2, 12, 13, 14, 15, 16]


@pytest.mark.parametrize(("score", "shown"), [(49.97, "49.9"), (50.0, "50.0"), (37.49, "37.4"), (100.0, "100.0"), (0.0, "0.0"), (None, "")])
def test_a_score_below_what_names_a_string_is_not_shown_as_that(facts, score, shown):
    """50 names a string: beside *watch* no 50 may stand. Tenths counted by hand, never upwards."""
    watched = tuple(replace(one, verdict="watch", dead_score=score) for one in facts.conditions)
    assert {row["dead_score"] for row in rows_of(sweep_view(replace(facts, conditions=watched)))} == {shown}


def test_the_table_of_a_few_strings_plucked_again_has_no_rows_of_nothing(facts):
    """Three of 47 were plucked; all that were not are named before the table. Where most were heard the table has all."""
    heard = {"4A", "5G", "6D"}
    few, most = (sweep_view(replace(facts, conditions=tuple(replace(one, verdict="unheard") if (one.string in heard) == is_most else one
                                                            for one in facts.conditions))) for is_most in (False, True))
    table = report(few).partition("string   note")[2].partition("The figure after")[0]
    assert re.findall(r"^  ([0-7][A-G]) ", table, re.MULTILINE) == ["4A", "5G", "6D"]
    assert re.findall(r"Octave \d", table) == ["Octave 4", "Octave 5", "Octave 6"] and "Left out: 44 strings not heard." in table
    assert len(re.findall(r"^  ([0-7][A-G]) ", report(most).partition("string   note")[2], re.MULTILINE)) == 47


def test_terminal_csv_and_page_say_the_same(view):
    """The words of every string that needs attention, and the verdict of all."""
    terminal = " ".join(report(view, width=500).split())
    page = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", sweep_page(view))).replace("\N{NO-BREAK SPACE}", " ").split())
    rows = {row["string"]: row for row in rows_of(view)}
    assert view.headline in terminal and view.headline in page
    for one in view.strings:
        assert rows[one.name]["verdict"] == one.verdict
        assert f"{one.name} {one.note} {one.word} " in terminal
        assert f"{one.name} {one.note} {one.word} " in page
    assert len(view.attention) == 8
    for one in view.attention:
        row = rows[one.name]
        assert (row["reasons"], row["next_step"], row["how_sure"]) == ("; ".join(one.condition.reasons), one.next_step, one.sureness)
        for said in (*map(sentence, one.condition.reasons), sentence(one.next_step), one.sureness):
            assert said in terminal and said in page


def test_csv_leaves_the_unknown_empty(view):
    silent = rows_of(view)[0]
    assert (silent["verdict"], silent["t60_s"], silent["dead_score"], silent["glide_cents"]) == ("unheard", "", "", "")


def test_csv_gives_no_formula_to_a_spreadsheet(hostile_view):
    rows = rows_of(hostile_view)
    assert rows[0]["harp"].startswith("'=harp")
    assert rows[0]["string"].startswith("'=1+1")

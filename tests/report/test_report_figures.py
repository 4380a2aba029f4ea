"""Pictures against the numbers that they draw: positions and labels, never pixels."""

import io
import math
import re
import subprocess
import sys
from dataclasses import replace
from datetime import date
from itertools import pairwise
from xml.etree import ElementTree

import matplotlib.colors
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.patches import PathPatch
from pypdf import PdfReader
from small_picture import small_picture

from toneprobe.condition import VERDICTS
from toneprobe.measure.figure import Figure
from toneprobe.report import figures
from toneprobe.report.figures.lanes import NOT_OF_CENTS, NOTE, percent_scale
from toneprobe.report.figures.look import MARKERS, OPEN_MARKS, ROLES, VERDICT_COLOURS
from toneprobe.report.figures.saving import figure_bytes
from toneprobe.report.picture_words import history_title, history_words
from toneprobe.report.view import find_string_view, sweep_view


def points(axes, label):
    """All points that one label draws, as {x: y}."""
    lines = [line for line in axes.lines if line.get_label() == label]
    return {float(x): float(y) for line in lines for x, y in zip(*line.get_data(), strict=True)}


@pytest.mark.parametrize("layout", [figures.NARROW, figures.MIDDLE, figures.WIDE])
@pytest.mark.parametrize("n_strings", [6, 21, 47])
def test_names_under_the_strings_stand_clear_of_each_other(facts, layout, n_strings):
    """Of what is no harp all are named that have room, the lowest string first: 7.2 units a letter, "L" and a number here."""
    strings = tuple(replace(spec, name=f"L{n}") for n, spec in enumerate(facts.instrument.strings[:n_strings], 1))
    odd = replace(facts, instrument=replace(facts.instrument, kind=None, strings=strings), conditions=())
    axes = figures.harp_alone(sweep_view(odd), layout).axes[0]
    ends = sorted((text.get_position()[0], 3.6 * len(text.get_text())) for text in axes.texts if text.get_va() == "top")
    assert len(ends) > 1 and all(b - half_b >= a + half_a - 1e-6 for (a, half_a), (b, half_b) in pairwise(ends))


def texts(axes):
    return [text.get_text() for text in axes.texts]


@pytest.fixture(scope="module")
def harp_axes(view):
    """The harp, the ring, the brightness, the partials, the key, the title."""
    axes = figures.harp_picture(view).axes
    harp, *lanes, key, title = axes
    return [harp, *reversed(lanes), key, title]


@pytest.mark.parametrize(("place", "of", "unit"), [(1, lambda one: one.ring, 100), (2, lambda one: one.brightness, 100),
                                                   (3, lambda one: one.astray, 1)], ids=["ring", "brightness", "astray"])
def test_every_string_stands_at_its_change(view, harp_axes, place, of, unit):
    drawn = {x: y for verdict in VERDICT_COLOURS for x, y in points(harp_axes[place], verdict).items()}
    expected = {float(one.place): unit * of(one).value for one in view.strings if of(one).known}
    assert drawn == pytest.approx(expected)
    assert len(drawn) == 44  # 47 less one unheard, one settling, one unsure


def test_marks_are_those_of_the_verdicts(view, harp_axes):
    for verdict in ("dead", "false", "watch", "sound"):
        places = sorted(points(harp_axes[1], verdict))
        assert places == [one.place for one in view.strings if one.verdict == verdict]
        line = next(line for line in harp_axes[1].lines if line.get_label() == verdict)
        assert line.get_marker() == MARKERS[verdict]


def test_the_zone_is_what_plucks_alone_make_of_a_string_as_fresh(view, harp_axes):
    """Two errors either way of the logarithm about 100 % (derived here): a dead string's mark lies outside, a fine one's inside."""
    zone = next(part for part in harp_axes[1].patches if part.get_label() == "plucks alone").get_path()
    for one in (one for one in view.strings if one.ring.known):
        heights = [y for x, y in zone.vertices if abs(x - one.place) <= 0.5 + 1e-9 and y > 0]
        share = math.exp(2 * one.ring.se / one.ring.value)
        assert any(y == pytest.approx(100 / share) for y in heights) and any(y == pytest.approx(100 * share) for y in heights)
        if one.verdict in ("dead", "sound"):
            assert zone.contains_point((one.place + 0.01, 100 * one.ring.value)) == (one.verdict == "sound")


def test_false_strings_stand_out_of_what_plucks_alone_make_of_their_partials(view, harp_axes):
    """Two errors upwards from 0 (derived here), where a ring or brightness as fresh tells nothing of them."""
    zone = next(part for part in harp_axes[3].patches if part.get_label() == "plucks alone").get_path()
    for one in (one for one in view.strings if one.verdict in ("false", "sound") and one.astray.known):
        heights = [y for x, y in zone.vertices if abs(x - one.place) <= 0.5 + 1e-9]
        assert any(y == pytest.approx(2 * one.astray.se) for y in heights)
        assert (one.astray.value > 2 * one.astray.se) == (one.verdict == "false")


def test_a_lane_without_a_point_is_left_out(facts):
    """Of a first sweep nothing can be compared; of one whose partials were not, two lanes are left."""
    bare = sweep_view(replace(facts, conditions=tuple(replace(one, verdict="unrated", fresh={}, changes={}) for one in facts.conditions)))
    assert [figures.lanes_picture(bare, figures.WIDE), figures.tall_lanes_picture(bare)] == [None, None]
    assert len(figures.harp_picture(bare).axes) == 3  # harp, key, title
    some = tuple(replace(one, changes={}) for one in facts.conditions)
    assert len(figures.lanes_picture(sweep_view(replace(facts, conditions=some)), figures.WIDE).axes) == 3  # two lanes and the key


def test_every_string_is_named_in_every_lane(view, harp_axes):
    for axes in harp_axes[1:4]:
        names = {text.get_text(): text.get_position()[0] for text in axes.texts if text.get_text() in {one.name for one in view.strings}}
        assert names == {one.name: one.place for one in view.strings}
        bold = {text.get_text(): text.get_color() for text in axes.texts if text.get_weight() == "bold"}
        assert bold == {one.name: VERDICT_COLOURS[one.verdict] for one in view.attention}
    assert " ".join(NOTE) in texts(harp_axes[3])


def test_a_false_string_whose_partials_keep_their_places_is_explained_in_the_picture(facts, view):
    """They lie less far off than the 2.2 cents that are noticed (verdicts.md of the benchmarks, Scores): what it is false for, no lane
    shows, whether its mark stands in the shade or just out of it."""
    hidden = {"astray_cents": Figure(0.85, 0.35)}
    conditions = tuple(replace(one, changes=hidden) if one.verdict == "false" else one for one in facts.conditions)
    told = sweep_view(replace(facts, conditions=conditions))
    for draw in (figures.harp_picture, figures.tall_lanes_picture):
        with_it, without = (" ".join(text for axes in draw(one).axes for text in texts(axes)) for one in (told, view))
        assert "False within the broken line of cents: it wavers, or has another stiffness." in with_it
        assert "False within" not in without  # its partials lie 7 cents off
    assert all(len(line) <= 40 for line in (*NOTE, *NOT_OF_CENTS))  # 7.2 units a letter, in 288


def test_a_phone_s_labels_stand_clear_of_each_other(view):
    figure = figures.tall_lanes_picture(view)
    renderer = FigureCanvasAgg(figure).get_renderer()
    for axes in figure.axes[1:4]:
        boxes = [text.get_window_extent(renderer) for text in axes.texts if text.get_text().isdigit()]
        assert len(boxes) >= 4  # two ticks above and below
        assert not any(one.overlaps(other) for place, one in enumerate(boxes) for other in boxes[:place])
    assert {one.name for one in view.strings} <= set(texts(figure.axes[0]))


def test_labels_in_per_cent_stand_clear_of_each_other_whatever_the_lane_holds():
    """From 50 to 150 %, from 10 and from 5 to 900: 12 units of letters at least between the middles of two, in the 86 that the lowest
    picture has; what a reader looks for first, fresh and the half and the quarter of it, is labelled where there is room."""
    for reach in (0.55, 0.105, 0.05):
        scale = percent_scale([Figure(reach, 0.01), Figure(1.4, 0.02), Figure(8.0 if reach < 0.1 else 1.0, 0.1)])
        places = [86.0 * math.log(tick / scale.low) / math.log(scale.high / scale.low) for tick in scale.ticks]
        assert min(np.diff(places)) >= 12.0
        assert 100 in scale.ticks and (reach < 0.1 or 50 in scale.ticks) and (reach > 0.25 or 25 in scale.ticks)
        assert scale.labels == [f"{tick} %" for tick in scale.ticks]


def pieces(part):
    """The straight pieces of one path, each ((x0, y0), (x1, y1))."""
    points = part.get_path().vertices
    return [(tuple(start), tuple(end)) for start, end in zip(points[::2], points[1::2], strict=True)]


def segments(axes):
    return [piece for part in axes.patches if isinstance(part, PathPatch) for piece in pieces(part)]


def test_strings_are_drawn_at_their_length(view, harp_axes):
    """To one scale, thin and thick ones, the longest at the left."""
    spans = [(piece[0][0], piece[1][1] - piece[0][1]) for piece in segments(harp_axes[0]) if piece[0][0] == piece[1][0]]
    spans += [(line.get_xdata()[0], np.ptp(line.get_ydata())) for line in harp_axes[0].lines if line.get_label().endswith(" strings")]
    drawn = [length for _, length in sorted(spans)]
    lengths_mm = [one.spec.length_mm for one in reversed(view.strings)]
    assert drawn == pytest.approx([drawn[0] * length / lengths_mm[0] for length in lengths_mm])


@pytest.mark.parametrize("layout", [figures.WIDE, figures.MIDDLE, figures.NARROW], ids=["wide", "middle", "narrow"])
def test_strings_that_need_attention_are_thick_over_their_whole_length_and_told_apart_without_colour(view, layout):
    """A bar, a wave, a broken bar; all others thin."""
    axes = figures.harp_alone(view, layout).axes[0]
    thin = max(part.get_linewidth() for part in axes.patches if part.get_label().endswith(" strings"))
    thick = {line.get_label(): line for line in axes.lines if line.get_label().endswith(" strings")}
    assert set(thick) == {"dead strings", "false strings", "watch strings"}
    assert min(line.get_linewidth() for line in thick.values()) > 1.5 * thin
    assert np.ptp(thick["false strings"].get_xdata()) > thin and np.ptp(thick["dead strings"].get_xdata()) == 0
    assert thick["watch strings"].is_dashed() and not thick["dead strings"].is_dashed()


@pytest.mark.parametrize("layout", [figures.WIDE, figures.MIDDLE, figures.NARROW], ids=["wide", "middle", "narrow"])
@pytest.mark.parametrize("n_dead", [2, 9, 40])
def test_words_over_the_strings_stand_clear_of_each_other(facts, layout, n_dead):
    """Neighbours too; where there are more than have room, the worst are named."""
    bad = tuple(replace(one, verdict="dead", dead_score=60.0 + place) if place < n_dead else replace(one, verdict="sound")
                for place, one in enumerate(facts.conditions))
    figure = figures.harp_alone(sweep_view(replace(facts, conditions=bad)), layout)
    renderer = FigureCanvasAgg(figure).get_renderer()
    words = [text for text in figure.axes[0].texts if text.get_text().endswith(" dead")]
    boxes = [text.get_window_extent(renderer) for text in words]
    assert not any(one.overlaps(other) for place, one in enumerate(boxes) for other in boxes[:place])
    assert len(words) == min(n_dead, 19 if layout is figures.NARROW else 40)  # 288 units take 19 words, 15 apart (derived here)
    assert f"{bad[n_dead - 1].string} dead" in {text.get_text() for text in words}
    assert min(box.x0 for box in boxes) >= 0 and max(box.x1 for box in boxes) <= layout.width
    assert max(box.y1 for box in boxes) <= figure.get_size_inches()[1] * 72


def test_a_first_sweep_is_no_row_of_marks(facts):
    """What is said of most strings is the key's thin line; all of them would be fresh."""
    fresh = tuple(replace(one, verdict="unrated", reasons=(), next_step="", fresh={}, changes={}) for one in facts.conditions)
    first = sweep_view(replace(facts, conditions=fresh, is_fresh=True, first_baselines=frozenset(one.string for one in fresh)))
    harp, key = figures.harp_alone(first, figures.WIDE).axes
    assert not any(line.get_label() == "unrated" for line in (*harp.lines, *key.lines))
    assert texts(key) == ["fresh", "C", "F"]


@pytest.mark.parametrize(("verdict", "word"), [("unsure", "unsure"), ("unheard", "unheard"), ("unrated", "unrated")])
@pytest.mark.parametrize("layout", [figures.WIDE, figures.NARROW], ids=["wide", "narrow"])
def test_a_harp_that_was_not_judged_does_not_look_like_a_healthy_one(facts, verdict, word, layout):
    """Every one of the 47 strings carries its mark though all share it, and the key says what it means."""
    conditions = tuple(replace(one, verdict=verdict, reasons=(), next_step="", changes={}) for one in facts.conditions)
    harp, key = figures.harp_alone(sweep_view(replace(facts, conditions=conditions)), layout).axes
    marks = [line for line in harp.lines if line.get_label() == verdict]
    assert sum(len(line.get_xdata()) for line in marks) == 47
    assert texts(key) == [word, "C", "F"] and any(line.get_label() == verdict for line in key.lines)


def test_c_and_f_carry_their_names_and_colours(view, harp_axes):
    feet = [text for text in texts(harp_axes[0]) if re.fullmatch("[0-7][CF]", text)]
    assert sorted(feet) == sorted([f"{n}C" for n in range(1, 8)] + [f"{n}F" for n in range(7)])  # common practice: 7 C, 7 F
    reds = [part for part in harp_axes[0].patches if part.get_label() == "C strings"]
    needing = sum(one.letter == "C" and one.verdict in ("dead", "false", "watch") for one in view.strings)
    assert len(pieces(reds[0])) == 7 - needing > 0
    red, green, blue = matplotlib.colors.to_rgb(reds[0].get_edgecolor())
    assert red > 2 * max(green, blue)


def test_each_string_that_is_not_fine_is_named_at_its_head(view, harp_axes):
    named = {f"{one.name} {one.verdict}" for one in view.strings if one.verdict != "sound"}
    assert named == {text for text in texts(harp_axes[0]) if " " in text}


def test_legend_has_the_verdicts_that_occur(harp_axes):
    assert texts(harp_axes[4]) == ["false", "dead", "watch", "settling", "unsure", "unheard", "fine", "C", "F"]


def test_the_key_shows_an_unheard_string_as_it_is_drawn(harp_axes):
    """A dash at its head is lost in the neck: its line is dotted."""
    drawn = next(part for part in harp_axes[0].patches if part.get_label().endswith(", unheard"))
    assert drawn.get_linestyle() in [part.get_linestyle() for part in harp_axes[4].patches]


def test_tall_picture_holds_the_same_points(view):
    axes = figures.tall_lanes_picture(view).axes
    drawn = {y: x for verdict in VERDICT_COLOURS for x, y in swapped(axes[1], verdict)}
    assert drawn == pytest.approx({float(one.place): 100 * one.ring.value for one in view.strings if one.ring.known})
    low, high = axes[1].get_ylim()
    assert low > high  # the highest string at the top


def swapped(axes, label):
    return [(float(x), float(y)) for line in axes.lines if line.get_label() == label for x, y in zip(*line.get_data(), strict=True)]


def test_a_change_beyond_the_picture_stands_at_its_edge(facts):
    mad = tuple(replace(one, figures={**one.figures, "t60_s": Figure(1e6, 1.0)}) if one.string == "4C" else one for one in facts.conditions)
    axes = figures.lanes_picture(sweep_view(replace(facts, conditions=mad)), figures.WIDE).axes[-2]  # the last lane drawn is the first
    place = next(place for place, one in enumerate(facts.instrument.strings) if one.name == "4C")
    assert points(axes, "sound")[place] == pytest.approx(1000.0)
    assert axes.get_ylim()[1] == pytest.approx(1000.0)


@pytest.mark.parametrize(("kind", "value_now", "value_fresh"), [
    ("levels", lambda point: point.level_db, lambda point: point.level_db),
    ("decays", lambda point: point.t60_s, lambda point: point.t60_s),
    ("astray", lambda point: point.cents, lambda point: 0.0)])
def test_partials_now_over_fresh(view, kind, value_now, value_fresh):
    """How far they moved is drawn as the verdict has it, against nothing when fresh."""
    one = find_string_view(view, "5G")
    axes = small_picture(one, kind).axes[0]
    now, fresh = (one.condition.partials_moved.each,) * 2 if kind == "astray" else (one.now, one.fresh)
    for label, drawn, value in (("now", now, value_now), ("fresh", fresh, value_fresh)):
        known = {float(point.n): value(point) for point in drawn if value(point) is not None}
        assert points(axes, label) == pytest.approx(known) and len(known) > 5
    low, high = axes.get_ylim()
    assert all(low <= y <= high for label in ("now", "fresh") for y in points(axes, label).values())


def test_the_first_sweep_of_a_history_has_its_month_written_under_it(view):
    """Sweeps of 6 December, 3 January and 7 February: three months, and each lies right of the first of its own."""
    one = find_string_view(view, "5G")
    days = (date(2025, 12, 6), date(2026, 1, 3), date(2026, 2, 7))
    axes = small_picture(replace(one, history=tuple(replace(one.history[-1], date=day) for day in days), fittings=()), "history").axes[0]
    assert [text.get_text() for text in axes.texts if text.get_text().endswith(("2025", "2026"))] == ["Dec 2025", "Jan 2026", "Feb 2026"]
    assert axes.get_xlim()[0] <= date(2025, 12, 1).toordinal()


def test_history_breaks_where_a_new_string_went_on(view):
    one = find_string_view(view, "5G")
    half = len(one.history) // 2
    changed = replace(one, history=(*one.history[:half], *(replace(point, fitting_id=2) for point in one.history[half:])),
                      fittings=(*one.fittings, replace(one.fittings[-1], id=2, fitted_on=date(2024, 5, 20))))
    axes = small_picture(changed, "history").axes[0]
    rings = [line for line in axes.lines if line.get_label() == "ring"]
    assert [len(line.get_xdata()) for line in rings] == [half, len(one.history) - half]
    assert points(axes, "ring") == pytest.approx({float(p.date.toordinal()): 100 * p.ring.value for p in one.history})
    assert points(axes, "brightness") == pytest.approx({float(p.date.toordinal()): 100 * p.brightness.value for p in one.history})
    marks = [part for part in axes.patches if part.get_label() == "new string"]
    assert [start[0] for start, _ in pieces(marks[0])] == [date(2024, 5, 20).toordinal()]


@pytest.mark.parametrize(("verdict", "moved", "waver", "label", "title"), [
    ("false", 5.0, 0.2, "moved", "Over the months: partials moved"),
    ("false", 1.0, 3.0, "waver", "Over the months: how deep it wavers"),
    ("false", 5.0, 9.0, "moved", "Over the months: partials moved"),  # lanes and seasons tell these cents
    ("watch", 1.0, 0.2, "ring", "Over the months: ● ring, □ brightness"),  # a ring shortened by half is the larger
    ("dead", 5.0, 3.0, "ring", "Over the months: ● ring, □ brightness"),
])
def test_the_history_of_a_string_shows_what_called_it(view, verdict, moved, waver, label, title):
    """The ring of a false string may be as fresh throughout. Beyond 2.2 cents and 0.87 dB a listener notices (`limits`). By hand."""
    one = find_string_view(view, "5G")
    last = replace(one.history[-1], verdict=verdict, ring=Figure(0.5, 0.02), moved_cents=Figure(moved, 0.5),
                   waver_db=Figure(waver, 0.4))
    false = replace(one, history=(*one.history[:-1], last))
    axes = small_picture(false, "history").axes[0]
    assert history_title(false) == title and {line.get_label() for line in axes.lines} & {"ring", "moved", "waver"} == {label}
    day, value = float(last.date.toordinal()), {"moved": moved, "waver": waver, "ring": 50.0}[label]
    assert points(axes, label)[day] == pytest.approx(value)
    if label != "ring":
        bar = next((low[1], high[1]) for low, high in segments(axes) if low[0] == high[0] == day)
        assert bar[1] == pytest.approx(value + {"moved": 1.0, "waver": 0.8}[label]) and bar[1] <= axes.get_ylim()[1]
        assert f"{value:.1f} {'cents' if label == 'moved' else 'dB'} on 3 May 2025." in history_words(false)


def test_no_error_bar_is_cut(view):
    """Two errors either way of each partial's decay time, and of ring and brightness over the months, within the picture."""
    one = find_string_view(view, "5G")
    doubtful = replace(one, fresh=tuple(replace(point, t60_se_s=0.4 * point.t60_s) for point in one.fresh))
    axes = small_picture(doubtful, "decays").axes[0]
    assert axes.get_ylim()[1] >= max(1.8 * point.t60_s for point in doubtful.fresh)  # 1 + 2 · 0.4, derived here
    axes = small_picture(one, "history").axes[0]
    bars = {(start[0], round(end[1] - start[1], 6)) for start, end in segments(axes) if start[0] == end[0] and start[1] != end[1]}
    assert {(point.date.toordinal(), round(400 * point.brightness.se, 6)) for point in one.history} <= bars


def test_a_month_s_name_ends_within_the_picture(view):
    one = find_string_view(view, "5G")
    for n in range(2, len(one.history)):
        figure = small_picture(replace(one, history=one.history[-n:]), "history")
        renderer = FigureCanvasAgg(figure).get_renderer()
        months = [text for text in figure.axes[0].texts if re.fullmatch("[A-Z][a-z]{2} [0-9]{4}", text.get_text())]
        boxes = [text.get_window_extent(renderer) for text in months]
        assert boxes and max(box.x1 for box in boxes) <= figure.get_size_inches()[0] * 72 + 1
        assert not any(one.overlaps(other) for place, one in enumerate(boxes) for other in boxes[:place])


def test_nothing_to_draw_is_no_picture(view):
    silent = find_string_view(view, "0G")
    assert [small_picture(silent, kind) for kind in ("levels", "decays", "astray")] == [None, None, None]
    sheet = figures.string_picture(view, "0G")
    assert sum("Nothing was measured" in text for axes in sheet.axes for text in texts(axes)) >= 3


def test_ticks_are_round(view):
    axes = small_picture(find_string_view(view, "5G"), "decays").axes[0]
    numbers = [float(text) for text in texts(axes) if re.fullmatch(r"[0-9.]+", text)]
    assert {0.0, 5.0, 10.0} <= set(numbers)  # the longest partial rings 7.3 s


@pytest.mark.parametrize("ending", [".png", ".svg", ".pdf"])
def test_the_same_view_gives_the_same_bytes(view, tmp_path, ending):
    for name in ("one", "two"):
        figures.save_figure(figures.string_picture(view, "5G"), tmp_path / f"{name}{ending}")
    first, second = ((tmp_path / f"{name}{ending}").read_bytes() for name in ("one", "two"))
    assert first == second
    assert {".png": b"\x89PNG", ".svg": b"<?xml", ".pdf": b"%PDF"}[ending] == first[:4 if ending != ".svg" else 5]


LONG = "The harp that my aunt in the mountains had made for her by a builder whose name nobody remembers " * 2
HEBREW = "הנבל של מרים (שני)"


@pytest.mark.parametrize("name", [LONG, "A" * 150, HEBREW], ids=["long", "one word", "right to left"])
@pytest.mark.parametrize("draw", [figures.harp_picture, lambda view: figures.string_picture(view, "5G")], ids=["harp", "string"])
def test_a_name_of_any_length_leaves_the_verdict_in_the_picture(view, draw, name):
    """Nothing is written beyond the edges, and a name from right to left turns nothing but itself (Unicode: U+2068 name U+2069)."""
    figure = draw(replace(view, harp=name))
    renderer = FigureCanvasAgg(figure).get_renderer()
    width, height = figure.get_size_inches() * 72
    for axes in figure.axes:
        for text in axes.texts:
            box = text.get_window_extent(renderer)
            assert box.x0 >= -1 and box.x1 <= width + 1 and box.y0 >= -1 and box.y1 <= height + 1, text.get_text()
    said = [text for axes in figure.axes for text in texts(axes)]
    assert "dead" in said and any("3 May 2025" in text for text in said)
    assert (f"\u2068{name}\u2069" in said) == (name == HEBREW)


def test_a_file_says_what_it_is(view):
    """SVG 1.1, 5.4: <title> and <desc> as first children; the title of a PDF in its document information."""
    told = {"title": "Wren & <more>, 3 May 2025", "words": "5G dead & <more>"}
    root = ElementTree.fromstring(figure_bytes(figures.harp_picture(view), ".svg", **told))
    assert [(part.tag.partition("}")[2], part.text) for part in list(root)[:2]] == [("title", told["title"]), ("desc", told["words"])]
    assert PdfReader(io.BytesIO(figure_bytes(figures.string_picture(view, "5G"), ".pdf", **told))).metadata.title == told["title"]


def test_inline_pictures_take_their_colours_from_the_page(view):
    text = figures.inline_svg(figures.harp_picture(view), 'the <harp> & "all"', "a")
    root = ElementTree.fromstring(text)
    assert root.attrib["aria-label"] == 'the <harp> & "all"'
    assert not re.search("#[0-9a-f]{6}", text)
    assert {f"var(--{role})" for role in ("c-string", "f-string", "v-dead")} <= set(re.findall(r"var\(--[a-z-]+\)", text))
    assert not re.search(r"<(metadata|style|image)|\bhttps?://(?!www\.w3\.org/)", text)


def test_the_look_of_a_mark_stands_with_its_shape_and_not_with_each_point(view):
    """Whatever matplotlib writes: every point takes a shape that is there, and the shape has a filling and an edge."""
    text = figures.inline_svg(figures.lanes_picture(view, figures.WIDE), "x", "p")
    shapes = dict(re.findall(r'<path id="([^"]+)" d="[^"]*" style="([^"]*)"', text))
    uses = re.findall(r'<use href="#([^"]+)" x="[^"]+" y="[^"]+"/>', text)
    n_points = sum(one.known for string in view.strings for one in (string.ring, string.brightness, string.astray))
    assert len(uses) >= n_points and set(uses) == set(shapes)
    assert all(re.search(r"fill: var\(--[a-z-]+\); stroke: var", look) for look in shapes.values())


def test_inner_names_of_two_pictures_do_not_meet(view):
    one = find_string_view(view, "5G")
    with figures.sketcher() as sketch:
        drawn = {kind: sketch(one, kind, "x", kind) for kind in ("levels", "decays", "history")}
    names = [set(re.findall(r' id="([^"]+)"', text)) for text in drawn.values()]
    assert all(names)
    assert not names[0] & names[1] | names[1] & names[2] | names[0] & names[2]
    for text in drawn.values():
        assert set(re.findall(r'(?:href="#|url\(#)([^")]+)', text)) <= set(re.findall(r' id="([^"]+)"', text))


def test_a_canvas_used_again_draws_as_a_new_one(view):
    with figures.sketcher() as sketch:
        for one in (find_string_view(view, name) for name in ("5G", "2C", "0F")):
            for kind in ("levels", "history", "decays"):
                assert sketch(one, kind, "x", "p") == figures.inline_svg(small_picture(one, kind), "x", "p")


def test_names_are_no_mathematics(hostile_view):
    assert any("$x^{2$" in text for axes in figures.harp_picture(hostile_view).axes for text in texts(axes))
    figures.inline_svg(figures.harp_picture(hostile_view), "x", "p")


def test_verdicts_are_told_apart_without_colour():
    """By shape, or by an open against a filled one."""
    assert len({(marker, verdict in OPEN_MARKS) for verdict, marker in MARKERS.items()}) == len(VERDICTS)
    assert len(ROLES) == len(set(ROLES.values()))


@pytest.mark.parametrize("colour", sorted(set(VERDICT_COLOURS.values())))
def test_contrast_of_marks(colour):
    """WCAG 2.2, 1.4.3: at least 4.5 to 1 for the words in that colour; relative luminance as defined there."""
    channels = np.array(matplotlib.colors.to_rgb(colour))
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    assert 1.05 / (linear @ [0.2126, 0.7152, 0.0722] + 0.05) >= 4.5


def test_tables_and_words_do_not_load_matplotlib_and_pictures_do_without_pyplot():
    """Which would keep every picture, and look for a screen."""
    program = ("import sys, toneprobe.report.tables, toneprobe.report.sheet; assert 'matplotlib' not in sys.modules; "
               "import toneprobe.report.figures; assert 'matplotlib' in sys.modules and 'matplotlib.pyplot' not in sys.modules")
    subprocess.run([sys.executable, "-c", program], check=True)


def test_scale_of_levels_reaches_below_the_weakest(view):
    low, high = small_picture(find_string_view(view, "5G"), "levels").axes[0].get_ylim()
    weakest = min(point.level_db for point in find_string_view(view, "5G").now)
    assert low <= weakest
    assert math.isclose(low % 20, 0)
    assert high >= 0


def test_a_name_that_the_font_lacks_is_drawn_without_a_warning():
    """The character for a koto's highest string: warnings are errors here, and a player would read them between the lines."""
    from matplotlib.figure import Figure

    figure = Figure()
    figure.text(0.5, 0.5, "為")
    assert figure_bytes(figure, ".png").startswith(b"\x89PNG")
    assert "為" in figures.inline_svg(figure, "a name", "p")

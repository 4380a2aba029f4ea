"""One sweep, ready to be shown."""

import math
import re
from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace

import pytest
from made_up_report import fitting_of

from toneprobe.audio import Remark
from toneprobe.audio.remark import SINGLE_SOUNDS
from toneprobe.audio.remarks import remarks_on_sound
from toneprobe.book.entries import StoredCondition
from toneprobe.condition.next_steps import CAUTION, ELSEWHERE, FIRST_ROOM, WATCH_STEP, dead_step, false_step, two_strings_step, unsure_step
from toneprobe.condition.unjudged import other_position_condition, sounded_as_condition, two_strings_condition
from toneprobe.condition.verdict import PartialsMoved
from toneprobe.errors import UsageError
from toneprobe.instrument import load_instrument
from toneprobe.measure.figure import Figure
from toneprobe.report.fitting_words import material_words
from toneprobe.report.glossary import FRESH, STAND_IN
from toneprobe.report.page import sweep_page
from toneprobe.report.panels import Panel, Sound
from toneprobe.report.picture_words import decays_words, places_title, places_words
from toneprobe.report.rows import figure_rows
from toneprobe.report.series import PartialPoint
from toneprobe.report.view import Background, find_string_view, sweep_view
from toneprobe.session import Reading

PARTIALS = (PartialPoint(1, 100.0, 0.0, 2.0, 0.1, 0.0),)


def test_only_the_facts_are_needed(facts):
    view = sweep_view(facts)
    assert len(view.strings) == 47
    assert all(one.now == () and one.history == () and one.clip_now is None for one in view.strings)


def test_worst_first(view):
    """A false one, two dead ones at 93 from the top down, then those to watch; the headline names them in that order."""
    assert [one.name for one in view.attention] == ["2C", "5G", "6D", "1B", "3E", "4G", "5F", "6A"]
    assert re.findall(r"[0-7][A-G]", view.named) == [one.name for one in view.attention]
    assert view.order == "false first, then dead, then watch; in each the clearest first, of equals the most changed"


def test_the_first_screen_has_the_step_of_every_string_that_wants_changing(facts):
    """Four steps of strings to change and one of a string to watch: the four, whole, then what settles the largest group left open."""
    steps = {"1D": ("dead", dead_step(2)), "4A": ("dead", dead_step(3)), "6D": ("false", false_step("beat_db")),
             "3C": ("false", false_step("stretch")), "5G": ("watch", WATCH_STEP)}
    left = {"2C": "unsure", "2D": "unsure", "0G": "unheard"}
    conditions = tuple(replace(one, verdict=steps[one.string][0], next_step=steps[one.string][1].text) if one.string in steps
                       else replace(one, verdict=left.get(one.string, "sound"), next_step="") for one in facts.conditions)
    shown = sweep_view(replace(facts, conditions=conditions)).first_steps
    assert sorted(line.what for line in shown[:4]) == ["Next for 1D", "Next for 3C", "Next for 4A", "Next for 6D"]
    assert all("change" in line.text.casefold() for line in shown[:4]) and [line.what for line in shown[4:]] == ["Not sure"]


def test_within_a_verdict_the_worst_score_comes_first(facts):
    scores = {"1A": 55.0, "4D": 99.0, "6B": 70.0}
    conditions = tuple(replace(one, verdict="dead", dead_score=scores[one.string], false_score=100.0) if one.string in scores else one
                       for one in facts.conditions)
    dead = [one.name for one in sweep_view(replace(facts, conditions=conditions)).attention if one.verdict == "dead"]
    assert [name for name in dead if name in scores] == ["4D", "6B", "1A"]  # a dead string by its dead score alone


def test_a_step_is_given_once_for_all_its_strings(view):
    assert [(step.names, step.text) for step in view.steps][:2] == [
        ("2C", "Damp 2D and 2B, pluck it again; change it if it still wavers."), ("5G, 6D", "Change the string.")]
    assert sum(len(step.strings) for step in view.steps) == len(view.attention)


def test_a_string_that_was_left_out_says_why(facts):
    conditions = tuple(replace(one, verdict="unheard", n_plucks=0) if one.string == "1B" else one for one in facts.conditions)
    remark = Remark("Left out, because 5D rang along: 1B at 14.1 s and 15.2 s, 4C at 20.0 s.", SINGLE_SOUNDS, ("1B", "4C"), "5D")
    view = sweep_view(replace(facts, conditions=conditions, warnings=(remark,)))
    one = find_string_view(view, "1B")
    assert (one.verdict, one.word, one.brief) == ("unheard", "left out", "It was heard, but 5D rang along.")
    assert one.next_step == "Damp 5D and pluck it again."
    group = next(group for group in view.not_judged if one in group.strings)
    assert (group.words, group.remedy[:26]) == ("heard, but 5D rang along", "Damp 5D and pluck these ag")
    assert "1 heard, but another string rang along" in view.left_open
    assert find_string_view(view, "4C").word == "fine"  # enough of its plucks were used


def test_two_strings_under_one_name_are_told_apart_before_any_is_plucked_again(facts):
    """More plucks of either, given with the sweep, would only be mixed in too."""
    reading = Reading("1C", "C7", 4, 4, {}, (), ())
    of = {"1C": two_strings_condition(reading, None, other="1D", n_usual=2)}
    of["1D"] = sounded_as_condition(replace(of["1C"], string="1D", note="D7", verdict="unheard", n_plucks=0), "1C")
    view = sweep_view(replace(facts, conditions=tuple(of.get(one.string, one) for one in facts.conditions)))
    told = {group.names: group.remedy for group in view.not_judged if group.names in of}
    assert told == {"1C": two_strings_step().text, "1D": "Play it beside 1C, and do what is said of 1C."}


def test_a_string_tuned_otherwise_than_when_fresh_wants_its_pedal_set_not_another_pluck(facts):
    spec = next(one for one in facts.instrument.strings if one.name == "1B")
    fresh = SimpleNamespace(reading=SimpleNamespace(note=spec.note))
    now = SimpleNamespace(string="1B", note="B6", n_plucks=2, figures={})
    conditions = tuple(other_position_condition(now, fresh) if one.string == "1B" else one for one in facts.conditions)
    view = sweep_view(replace(facts, conditions=conditions))
    one = find_string_view(view, "1B")
    assert (one.verdict, one.word, one.note) == ("unsure", "other note", "B6")
    group = next(group for group in view.not_judged if one in group.strings)
    assert group.words == "tuned otherwise than when fresh" and "set it as for the fresh sweep" in group.remedy
    assert "1 tuned otherwise than when fresh" in view.left_open
    assert "tuned in" not in view.subline and "tuned in flats" in sweep_view(facts).subline


@pytest.mark.parametrize("n_hidden, groups", [(0, [("1A 1B 1C 1D 1E", "Pluck these again")]),
                                              (2, [("1D 1E", "Make another sweep, in the usual room"), ("1A 1B 1C", "Pluck these again")]),
                                              (3, [("1A 1B 1C 1D 1E", "Make another sweep, in the usual room")])])
def test_what_the_room_hides_is_not_to_be_plucked_again_in_it(facts, n_hidden, groups):
    """Of five unsure strings. Where it hides most, the rest too are left alone: at home they would be of another room than their sweep."""
    names = ("1E", "1D", "1C", "1B", "1A")
    conditions = tuple(
        replace(one, verdict="unsure", next_step=step.text, step_kind=step.kind) if one.string in names
        else replace(one, verdict="sound") for one in facts.conditions
        for step in [unsure_step(room_step=ELSEWHERE if one.string in names[:n_hidden] else "")])
    told = sweep_view(replace(facts, conditions=conditions)).not_judged
    assert [(" ".join(sorted(one.name for one in group.strings)), group.remedy.startswith(remedy)) for group, (_, remedy) in
            zip(told, groups, strict=True)] == [(strings, True) for strings, _ in groups]
    assert all("together with those of this sweep" not in group.remedy for group in told if group.remedy.startswith("Make"))


def test_where_the_room_hides_half_of_them_the_others_are_plucked_again(facts):
    """Two of four are not most of them."""
    conditions = tuple(
        replace(one, verdict="unsure", next_step=step.text, step_kind=step.kind) if one.string in ("1E", "1D", "1C", "1B")
        else replace(one, verdict="sound") for one in facts.conditions
        for step in [unsure_step(room_step=ELSEWHERE if one.string in ("1E", "1D") else "")])
    groups = sweep_view(replace(facts, conditions=conditions)).not_judged
    told = {frozenset(one.name for one in group.strings): group.remedy for group in groups}
    assert told[frozenset({"1E", "1D"})].startswith("Make another sweep, in the usual room")
    assert told[frozenset({"1C", "1B"})].startswith("Pluck these again")


def test_what_may_have_been_the_fresh_sweep_s_room_is_not_to_be_plucked_again_in_this_one(facts):
    step = unsure_step(room_step=FIRST_ROOM)
    conditions = tuple(replace(one, verdict="unsure", next_step=step.text, step_kind=step.kind) if one.string in ("1E", "1D") else one
                       for one in facts.conditions)
    groups = sweep_view(replace(facts, conditions=conditions)).not_judged
    told = {frozenset(one.name for one in group.strings): group.remedy for group in groups}
    assert told[frozenset({"1E", "1D"})].startswith("Sweep again in the room of the fresh sweep")


def test_what_an_unsure_string_lost_to_another_is_said(facts):
    conditions = tuple(replace(one, verdict="unsure", reasons=("Too few.",)) if one.string == "1B" else one for one in facts.conditions)
    remark = Remark("Left out, because 5D rang along: 1B at 14.1 s.", SINGLE_SOUNDS, ("1B",), "5D")
    view = sweep_view(replace(facts, conditions=conditions, warnings=(remark,)))
    assert find_string_view(view, "1B").condition.reasons[1].startswith("A pluck of it was left out, because 5D rang along")


def test_the_list_says_what_to_order(view, facts):
    """The log's string first, the instrument's where the log knows nothing."""
    spec = replace(find_string_view(view, "5G").spec, material="wire", gauge_mm=1.2)
    fitting = find_string_view(view, "5G").fittings[-1]
    assert material_words([replace(fitting, material="gut", gauge_mm=1.02)], spec, on=facts.date) == "gut, 1.02 mm"
    assert material_words([replace(fitting, material=None, gauge_mm=None)], spec, on=facts.date) == "wire, 1.2 mm"
    came_off = replace(fitting, material="gut", gauge_mm=None, removed_on=facts.date)
    assert material_words([came_off], spec, on=facts.date) == "wire, 1.2 mm"
    assert find_string_view(view, "5G").material == "wire"


def test_ring_has_one_percentage_everywhere(facts):
    """ln 2 of paired partials is half; the decay times alone, at 0.52 of fresh, would have said 48 %."""
    changes = {"ring": Figure(math.log(2.0), 0.05), "decay": Figure(0.9, 0.02)}
    conditions = tuple(replace(one, changes=changes) if one.string == "5G" else one for one in facts.conditions)
    one = find_string_view(sweep_view(replace(facts, conditions=conditions)), "5G")
    changed = {row.key: row.change for row in one.rows}
    assert (changed["ring"], changed["t60_s"]) == ("−50 % ± 5", "")
    assert "−50 % ± 5" in decays_words(replace(one, now=PARTIALS, fresh=PARTIALS))
    assert not any(changed[key] for key in ("centroid_hz", "centroid_partials_hz", "centroid_ratio") if key in changed)


def test_a_reason_that_two_plucks_give_with_two_numbers_is_told_once(facts):
    flags = ("only 4 low partials could be followed", "hum at 50 Hz", "only 3 low partials could be followed", "only 3 partials rang")
    heard = Reading("4C", "C4", 2, 40.0, {}, (), flags)
    one = find_string_view(sweep_view(facts, {"4C": Background(now=heard)}), "4C")
    assert one.remarks == ("only 4 low partials could be followed", "hum at 50 Hz", "only 3 partials rang")


def test_where_no_place_is_known_it_is_not_said_that_nothing_was_measured(facts):
    point = PartialPoint(1, 100.0, 0.0, 2.0, 0.1, None)
    told = places_words(moved(replace(find_string_view(sweep_view(facts), "4C"), now=(point,)), None))
    assert "stiffness is not known" in told and "No partial could be measured" not in told


def test_one_partial_lies_and_two_lie(facts):
    one = find_string_view(sweep_view(facts), "4C")
    for cents, words in (((5.0, 0.0, 0.0), "1 of 3 partials lies more than"), ((5.0, 5.0, 0.0), "2 of 3 partials lie more than"),
                         ((0.0,), "Its one partial lies within"), ((0.0, 0.0), "All 2 partials lie within")):
        points = tuple(PartialPoint(n, 100.0 * n, 0.0, 2.0, 0.1, astray) for n, astray in enumerate(cents, 1))
        assert places_words(moved(replace(one, now=points), None)).startswith(words)


def test_of_partials_that_are_compared_it_is_said_which_moved(facts):
    """Beyond 3 cents and two errors: the third, not the second, which plucks alone may have moved so far. By hand."""
    one = find_string_view(sweep_view(facts), "4C")
    far = "moved more than 3 cents against the others since fresh"
    for cents, words in (((0.5, 6.0, -9.0), f"1 of 3 partials {far}, beyond what plucks alone make: 3."),
                         ((0.5, 6.0, 0.0), f"None of 3 partials {far}, beyond what plucks alone make.")):
        told = moved(one, PartialsMoved((1, 2, 3), cents, (4.0, 4.0, 4.0), 1))
        assert places_words(told) == words and places_title(told).endswith("moved")


def moved(one, compared, **changes):
    return replace(one, condition=replace(one.condition, partials_moved=compared, changes=changes))


def test_a_partial_that_the_figure_in_cents_leaves_out_is_named_where_it_is_said_to_have_moved(facts):
    """Else the words beside the picture and the figure of the row would tell of different partials. By hand."""
    one = find_string_view(sweep_view(facts), "4C")
    far, near = (PartialsMoved((1, 2, 3), cents, (1.0, 1.0, 1.0), 2) for cents in ((9.0, -15.0, 0.1), (0.3, 1.5, 0.1)))
    assert places_words(moved(one, far)).endswith(
        "beyond what plucks alone make: 1, 2. The farthest, 2, may be another sound: the figure in cents leaves it out.")
    assert "leaves" not in places_words(moved(one, near))


def test_where_how_far_each_partial_moved_was_not_kept_it_is_said_beside_where_they_lie(facts):
    """Sweeps that were judged before it was kept; of a string that is compared with nothing there is nothing to say."""
    one = replace(find_string_view(sweep_view(facts), "4C"), now=PARTIALS)
    old = moved(one, None, moved_cents=Figure(6.0, 0.5))
    assert places_words(old).endswith("even string has them. How far each moved since fresh was not kept when this sweep was judged.")
    assert places_title(old) == "How far they lie off their places"
    assert "not kept" not in places_words(moved(one, None)) + places_words(replace(old, now=()))


def test_what_is_judged_of_the_partials_has_lines_of_its_own(facts):
    """Beside a beat of one partial, 4.1 dB, and 7.2 cents off an even string's places: other figures, under other names."""
    changes = {"moved_cents": Figure(3.5, 0.3), "astray_cents": Figure(3.5, 0.2), "waver_db": Figure(4.0, 0.6), "beat_db": Figure(4.4, 0.5)}
    conditions = tuple(replace(one, changes=changes) if one.string == "2C" else one for one in facts.conditions)
    rows = {row.key: row for row in find_string_view(sweep_view(replace(facts, conditions=conditions)), "2C").rows}
    assert (rows["moved"].label, rows["moved"].change) == ("Partials moved since fresh (cents)", "3.5 ± 0.6")
    assert (rows["waver"].label, rows["waver"].change) == ("Partials waver together (dB)", "4.0 ± 1.2")
    assert "the hand and the room are in it too" in rows["centroid_hz"].meaning  # it may have halved where the row says "as fresh"
    assert "not what is judged" in rows["trueness_cents"].meaning and "Single partial" in rows["beat_hz"].label
    assert rows["beat_hz"].change == rows["beat_depth_db"].change == ""
    assert len({row.label for row in rows.values()}) == len(rows)


def test_partials_known_too_coarsely_have_no_figure(facts):
    """Two errors of 5 cents: 8 cents astray could hide in it."""
    conditions = tuple(replace(one, changes={"moved_cents": Figure(9.0, 5.0)}) if one.string == "4C" else one for one in facts.conditions)
    row = next(row for row in find_string_view(sweep_view(replace(facts, conditions=conditions)), "4C").rows if row.key == "moved")
    assert row.change == "–" and row.why == "2 plucks are not enough"


def test_equal_scores_are_listed_by_size_and_the_sentence_names_them_in_that_order(facts):
    """Three strings beyond argument, whose rings fell to 0.5, 0.3 and 0.4: ln 2, ln 3.3 and ln 2.5, derived here."""
    left = {"1D": 0.5, "4A": 0.3, "6D": 0.4}
    conditions = tuple(replace(one, verdict="dead", dead_score=100.0, changes={"ring": Figure(-math.log(left[one.string]), 0.05)})
                       if one.string in left else replace(one, verdict="sound") for one in facts.conditions)
    view = sweep_view(replace(facts, conditions=conditions))
    assert [one.name for one in view.attention] == ["4A", "6D", "1D"]
    assert view.named == "Dead: 4A, 6D, 1D."  # as the list below it


def unheard_but(facts, *heard, before="sound", new=()):
    """What is asked for the strings that were not heard; an earlier sweep found all but the new `before`, "" for none."""
    conditions = tuple(replace(one, verdict="sound" if one.string in heard else "unheard") for one in facts.conditions)
    said = {one.string: Background(history=[StoredCondition(1, facts.date - timedelta(days=2), 1, replace(one, verdict=before))])
            for one in conditions if before and one.string not in new}
    found = sweep_view(replace(facts, conditions=conditions), said).not_judged
    return next(group.remedy for group in found if group.state == "unheard")


def test_who_plucks_a_few_strings_again_is_not_sent_to_record_the_others(facts):
    """As `ready` and the steps ask for. Of 47 strings 24 are most."""
    names = [one.string for one in facts.conditions]
    asked = "Record these strings and give"
    assert unheard_but(facts, *names[:2]).startswith("What was last said of these stands. If you meant to sweep them too, record them")
    assert "stands" in unheard_but(facts, *names[:23]) and unheard_but(facts, *names[:24]).startswith(asked)
    assert unheard_but(facts, *names[:2], before="").startswith(asked)
    assert unheard_but(facts, *names[:2], before="unheard").startswith(asked)
    assert "stands" in unheard_but(facts, *names[:2], new=names[2:4])  # two were changed since: of 45 an earlier sweep speaks of 43
    assert unheard_but(facts, *names[:2], new=names[2:25]).startswith(asked)  # of 45 only of 22


def test_a_sweep_drowned_in_noise_is_to_be_recorded_again(facts):
    noise, = remarks_on_sound(clipped_s=0.0, n_gaps=0, range_db=9.0, hum=None)
    drowned = tuple(replace(one, verdict="unheard" if one.string == "0G" else "unsure") for one in facts.conditions)
    view = sweep_view(replace(facts, conditions=drowned, warnings=(noise,), sweep_id=7))
    assert view.headline.startswith("Too noisy to judge from")
    assert [group.state for group in view.not_judged] == ["unsure", "unheard"]
    assert all("record the whole sweep again" in group.remedy and "'toneprobe withdraw 7'" in group.remedy for group in view.not_judged)
    assert find_string_view(view, "4C").next_step == view.not_judged[0].remedy
    assert "toneprobe withdraw" not in sweep_view(replace(facts, conditions=drowned)).not_judged[0].remedy


def test_the_commands_that_follow_are_named_where_something_is_to_be_done(facts):
    """They are those of the README's table."""
    def told(**verdicts):
        conditions = tuple(replace(one, verdict=verdicts.get(f"s{one.string}", "sound")) for one in facts.conditions)
        return sweep_view(replace(facts, conditions=conditions)).what_next

    assert told(s5G="dead", s1D="watch") == ("Before a concert: 'toneprobe ready --on DATE' gives the days and the orders. "
                                             "After a change: 'toneprobe restring 5G'.")
    assert told(s1D="watch") == "Before a concert: 'toneprobe ready --on DATE' gives the days and the orders."
    assert told() == ""


def test_a_fresh_string_is_not_said_to_lack_what_it_is_itself(facts):
    one = replace(find_string_view(sweep_view(facts), "5G"), now=PARTIALS, fresh=())
    assert decays_words(replace(one, state="fresh")) == (
        "1 partial; this sweep is the baseline that later ones are compared with.")
    assert decays_words(replace(one, state="unrated")) == "1 partial; there is no fresh baseline."


def test_an_unrated_string_is_told_as_what_it_is(facts):
    """Without a baseline are: one with a stand-in, one whose first baseline the sweep is, one whose stand-in came off that day, and 3E."""
    names = ("5G", "6D", "4C", "3E")
    conditions = tuple(replace(one, verdict="unrated" if one.string in names else one.verdict) for one in facts.conditions)
    specs = {one.name: one for one in facts.instrument.strings}
    known = {"5G": Background(fittings=(fitting_of(specs["5G"], is_stand_in=True),)),
             "4C": Background(fittings=(fitting_of(specs["4C"], is_stand_in=True, removed_on=facts.date),))}
    view = sweep_view(replace(facts, conditions=conditions, first_baselines=frozenset({"6D", "5F"})), known)
    assert [find_string_view(view, name).state for name in names] == [STAND_IN, FRESH, "unrated", "unrated"]
    assert find_string_view(view, "5F").state == "watch"  # judged, so it keeps its verdict


def test_what_is_known_too_coarsely_has_no_figure(facts):
    """±2 errors of 0.5 in the logarithm span a factor of 7 (derived here); a verdict that rests on it keeps its figure."""
    wide = tuple(replace(one, changes={"ring": Figure(1.9, 0.5)}) if one.string in ("5G", "4D") else one for one in facts.conditions)
    view = sweep_view(replace(facts, conditions=wide))
    assert find_string_view(view, "4D").ring == Figure(None, reason="2 plucks are not enough")
    assert find_string_view(view, "5G").ring.known


def test_octaves_count_from_the_top(view):
    """Octaves run from E down to F, the first and last not whole (common practice)."""
    whole = [(f"Octave {n}", f"{n}E to {n}F", 7) for n in range(1, 7)]
    found = [(octave.title, octave.span, len(octave.strings)) for octave in view.octaves]
    assert found == [("Octave 0", "0G to 0F", 2), *whole, ("Octave 7", "7E to 7C", 3)]


def no_harp(facts):
    """The same sweep of strings that are called by numbers, of no known kind."""
    names = {spec.name: str(spec_no) for spec_no, spec in enumerate(facts.instrument.strings, 1)}
    strings = tuple(replace(spec, name=names[spec.name], mechanism=False) for spec in facts.instrument.strings)
    return replace(facts, instrument=replace(facts.instrument, kind=None, strings=strings), first_baselines=frozenset(),
                   conditions=tuple(replace(one, string=names[one.string]) for one in facts.conditions))


def test_of_what_is_no_harp_no_octave_is_counted_no_string_red_and_no_number_a_count(facts):
    """Red C strings and octaves from the top down are a harp's (common practice)."""
    view = sweep_view(no_harp(facts))
    assert [(octave.title, octave.span) for octave in view.octaves] == [("All strings", "1 to 47")]
    assert {one.letter for one in view.strings} == {""} and view.named.startswith("False: string 12. Dead: strings 36, 39.")
    assert not [one for one in view.cautions if "harp" in one or "disc" in one]
    page = sweep_page(view)
    assert "C strings" not in page and "harp technician" not in page and ">Octave" not in page
    assert "C strings are red" in sweep_page(sweep_view(facts))


def test_names_stand_beside_their_notes(view):
    assert find_string_view(view, "4c").title == "4C (C♭4)"
    assert find_string_view(view, "0G").title == "0G (G♭7)"


def test_a_string_without_a_condition_is_unheard(facts):
    view = sweep_view(replace(facts, conditions=facts.conditions[1:]))
    assert view.strings[0].verdict == "unheard"
    assert len(view.strings) == 47


def test_a_string_whose_note_lies_on_no_harp_is_in_no_octave(facts):
    conditions = (*facts.conditions[:-1], replace(facts.conditions[-1], note="C9"))
    assert sweep_view(replace(facts, conditions=conditions)).octaves[-1].title == "Other strings"


def test_cautions_stand_where_a_string_should_come_off(facts, view):
    text = " ".join(view.cautions)
    for word in ("eye protection", "ends", "One string at a time", "no more tension", "technician"):
        assert word in text
    calm = tuple(replace(one, verdict="watch" if one.verdict in ("dead", "false") else one.verdict) for one in facts.conditions)
    assert sweep_view(replace(facts, conditions=calm)).cautions == ()


def test_the_common_caution_is_not_said_with_each_string(facts):
    conditions = tuple(replace(one, next_step=f"Change it. {CAUTION}") for one in facts.conditions)
    assert sweep_view(replace(facts, conditions=conditions)).strings[5].next_step == "Change it."


def test_figures_that_could_not_be_had_say_why(view):
    rows = {row.key: row for row in find_string_view(view, "4C").rows}
    assert rows["glide_cents"].now == "–"
    assert rows["glide_cents"].why == "too quiet in the first tenth of a second"
    assert (rows["t60_s"].label, rows["t60_s"].why) == ("Decay time (s)", "")
    assert rows["inharmonicity"].now == "3.00 ± 0.24"  # in ten-thousandths: B 3e-4, two errors of 1.2e-5


@pytest.mark.parametrize(("figure", "now", "why"), [
    (Figure(46.7, 36.55), "–", "it may be off by more than itself"),  # two errors are 73.1
    (Figure(46.7, 1.0), "46.7 ± 2.0", ""), (Figure(46.7, 0.001), "46.7 ± 0.1", ""), (Figure(4.67, 0.1), "4.67 ± 0.20", ""),
])
def test_a_size_known_to_no_more_than_itself_is_not_told_and_an_error_has_its_places(facts, figure, now, why):
    one = next(one for one in facts.conditions if one.string == "4C")
    rows = {row.key: row for row in figure_rows(replace(one, figures={**one.figures, "t60_s": figure, "cents_off": Figure(0.2, 0.6)}),
                                                Figure(1.0, 0.1), Figure(1.0, 0.1))}
    assert (rows["t60_s"].now, rows["t60_s"].why) == (now, why)
    assert rows["cents_off"].now == "+0.2 ± 1.2"  # a place, which may lie on either side


def test_subline_counts_plucks(view):
    assert view.subline == "46 of 47 strings measured, 92 plucks · A 440 Hz, tuned in flats"


@pytest.mark.parametrize(("name", "words"), [
    ("9C", "is not a string name"), ("0A", "nearest: 0G, 1A"),
    ("G2", "string 2G .sounds G5. or scientific G2, which is string 5G: write 2G or 5G")])  # octaves count down from the top: design
def test_an_unknown_string_is_explained_as_everywhere(view, name, words):
    with pytest.raises(UsageError, match=words):
        find_string_view(view, name)


def test_a_string_is_found_by_what_can_only_mean_it(view):
    assert [find_string_view(view, name).name for name in ("4C", " 4c ", "C4")] == ["4C"] * 3


def test_lever_harps_have_their_octaves_too(facts):
    view = sweep_view(replace(facts, instrument=load_instrument("lever-34"), conditions=()))
    assert view.octaves[0].span == "1A to 1F"
    assert view.headline == "No string could be judged."


@pytest.mark.parametrize(("verdict", "dead", "false", "words"), [
    ("dead", 80.0, 0.0, "a dead string falls silent sooner"), ("false", 0.0, 80.0, "a false string wavers"),
    ("watch", 40.0, 5.0, "whether you hear it fall silent sooner"), ("watch", None, 45.0, "whether you hear it waver more"),
])
def test_beside_the_sounds_stands_what_to_listen_for(view, verdict, dead, false, words):
    """By what called it; of one sound alone nothing can be compared."""
    one = find_string_view(view, "5G")
    one = replace(one, condition=replace(one.condition, verdict=verdict, dead_score=dead, false_score=false))
    panel = Panel(one, (), (Sound("fresh", "x"), Sound("now", "y")))
    assert words in panel.listen_for and replace(panel, sounds=panel.sounds[1:]).listen_for == ""

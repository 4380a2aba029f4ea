"""The page as text: whole, self-contained, escaped, the same twice, small and quick."""

import base64
import hashlib
import os
import re
import subprocess
import sys
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser
from pathlib import Path

import made_up_report
import pytest
from drawn_once import drawn_anew

from toneprobe.condition.next_steps import short_step
from toneprobe.errors import BookError
from toneprobe.instrument import load_instrument
from toneprobe.report.page import glued, heading, sweep_page, write_page
from toneprobe.report.view import sweep_view
from toneprobe.report.words import sentence, told_change

LIMIT_BYTES = 8_000_000
DOUBLES = str(Path(made_up_report.__file__).parent)


class Reader(HTMLParser):
    """Elements, identities, links and words of a page."""

    def __init__(self, page):
        super().__init__()
        self.elements, self.ids, self.links, self.words, self._open = [], [], [], [], []
        self.feed(page)
        self.text = re.sub(r"\s+", " ", " ".join(self.words).replace("\N{NO-BREAK SPACE}", " "))

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.elements.append((tag, given))
        self._open.append(tag)
        self.ids += [given["id"]] if "id" in given else []
        self.links += [given[key] for key in ("src", "href", "xlink:href", "srcset", "action", "data", "poster") if key in given]

    def handle_endtag(self, tag):
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data):
        if not {"style", "script"} & set(self._open):
            self.words.append(data)


@pytest.fixture(scope="module")
def page(view):
    return sweep_page(view)


@pytest.fixture(scope="module")
def read(page):
    return Reader(page)


def test_same_view_same_bytes_but_for_the_day(view, page):
    with drawn_anew():
        assert sweep_page(view) == page
    dated = [sweep_page(view, made_on=date(2025, 5, day)) for day in (4, 5)]
    assert dated[0] != dated[1]
    assert dated[0].replace("4 May 2025", "5 May 2025") == dated[1]


def test_a_page_with_all_its_sounds_is_small_and_the_same_each_time(sounding_view):
    """47 strings, two sounds each, 24 months of history."""
    first, second = (sweep_page(sounding_view, made_on=date(2025, 5, day)) for day in (4, 5))
    assert len(first.encode()) < LIMIT_BYTES
    assert first.count("data:audio/mpeg") == 92
    assert first != second and first.replace("4 May 2025", "5 May 2025") == second


def test_another_run_of_the_program_makes_the_same_bytes():
    """Whatever order Python gives to sets and dictionaries of names there."""
    program = ("import hashlib; from made_up_report import small_view_of; from toneprobe.instrument import load_instrument; "
               "from toneprobe.report.page import sweep_page; "
               "print(hashlib.sha256(sweep_page(small_view_of(load_instrument('lever-22'))).encode()).hexdigest())")
    doubles = os.pathsep.join((DOUBLES, os.environ.get("PYTHONPATH", "")))
    other = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True,
                           env={**os.environ, "PYTHONPATH": doubles, "PYTHONHASHSEED": "1"}).stdout
    assert other.strip() == hashlib.sha256(sweep_page(made_up_report.small_view_of(load_instrument("lever-22"))).encode()).hexdigest()


def test_every_string_has_a_row_with_its_change(view, read):
    for one in view.strings:
        ring, brightness = (told_change(one.verdict, change) for change in (one.ring, one.brightness))
        assert f"{one.name} {one.note} {one.word} ring {ring} brightness {brightness}" in read.text


def test_says_what_the_terminal_says(view, read):
    for said in (view.headline, view.named, view.left_open, view.subline, *(one.text for one in view.warnings), *view.cautions):
        assert said in read.text


def test_each_card_tells_its_own_step(view, page):
    """At the width of a phone a list of steps after the cards lies screens away from them."""
    cards = re.findall(r'<li class="row card.*?</li>', page, re.S)
    assert len(cards) == len(view.attention)
    for one, card in zip(view.attention, cards, strict=True):
        assert f"<b>Next:</b> {sentence(one.short_step)}" in card


def test_rows_open_to_figures_partials_history_and_log(read):
    assert "too quiet in the first tenth of a second" in read.text
    assert "hum at 50 Hz covers partials 1 and 2" in read.text.replace("Hum", "hum")
    assert "2 February 2019 to 20 April 2023: wire, Reed & Daughters, lot 17; broke at the tuning pin." in read.text
    assert "taken together they give the string’s ring, −48 % ± 6." in read.text
    told = "9 of 9 partials moved more than 3 cents against the others since fresh, beyond what plucks alone make: 1, 2, 3, 4, 5, 6, 7, 8, "
    assert f"{told}9. The farthest, 8, may be another sound: the figure in cents leaves it out." in read.text
    n_pictures = sum(tag == "svg" and given.get("role") == "img" for tag, given in read.elements)
    assert n_pictures == 3 + 3 + 4 * 46  # harp and lanes at three widths, and four of each string but 0G, of which nothing is known


def test_nothing_comes_from_elsewhere(page, read):
    assert all(link.startswith(("#", "data:")) for link in read.links)
    assert not re.search(r"url\((?!#)|@import|fetch\(|XMLHttpRequest|sendBeacon", page)
    assert not re.findall(r"https?://[^\"' <]+", page)


def test_policy_lets_only_our_script_run(page):
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', page)[1]
    script = re.search(r"<script>(.*?)</script>", page, re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src &#39;sha256-{digest}&#39;" in policy
    assert "default-src &#39;none&#39;" in policy


def test_names_inside_the_page_are_unique_and_links_lead_somewhere(read):
    assert len(read.ids) == len(set(read.ids))
    assert {link[1:] for link in read.links if link.startswith("#")} <= set(read.ids)


def test_a_harp_called_script_is_only_a_name(hostile_view):
    page = sweep_page(hostile_view, made_on=date(2025, 5, 3))
    assert page.count("<script>") == 1
    assert "onerror=" not in re.sub(r"&[a-z#0-9]+;", "", re.sub(r"&lt;img[^>]*?&gt;", "", page))
    read = Reader(page)
    assert not any(name.startswith("on") for _, given in read.elements for name in given)
    assert all(link.startswith(("#", "data:")) for link in read.links)
    assert "<script>window.bitten=1</script>" in read.text


def test_anything_may_be_absent(facts):
    bare = sweep_page(sweep_view(replace(facts, conditions=(), warnings=())))
    assert "No string could be judged." in bare
    assert "Before you change a string" not in Reader(bare).text


def test_the_first_screen_answers_which_strings_and_what_next(view, page):
    """Sentence, names, harp, what next, then the list; the words are explained at the end, and linked."""
    shown = page[page.index("<body>"):]
    places = [shown.index(part) for part in (heading(view.headline), view.named, 'class="harp-picture"', "Next for 2C", 'id="attention"',
                                             'class="harp-picture lanes"', 'id="strings"', 'id="words"')]
    assert places == sorted(places)
    assert shown.index('href="#words"') < shown.index('id="attention"')
    assert shown.index("Next for") < shown.index('href="#cautions"') < shown.index('id="attention"') < shown.index('id="cautions"')
    largest = max(view.not_judged, key=lambda group: len(group.strings))
    assert [step.text for step in view.first_steps] == [*map(short_step, (view.steps[0].text, view.steps[1].text)), largest.remedy]


def test_a_first_sweep_shows_no_empty_lanes(facts):
    conditions = tuple(replace(one, verdict="unrated", reasons=(), next_step="", fresh={}, changes={}) for one in facts.conditions)
    assert "All strings against fresh" not in sweep_page(sweep_view(replace(facts, conditions=conditions, is_fresh=True)))


def test_a_fresh_sweep_says_so(facts):
    conditions = tuple(replace(one, verdict="unrated", reasons=(), next_step="") for one in facts.conditions)
    text = Reader(sweep_page(sweep_view(replace(facts, conditions=conditions, is_fresh=True)))).text
    assert "Fresh baseline of 47 strings recorded." in text
    assert "fresh sweep of 3 May 2025" in text


def test_numbers_stay_with_their_units():
    assert glued("rings 41 % shorter, 2.1 s, at 98 Hz and 2 strings") == "rings 41\u00a0% shorter, 2.1\u00a0s, at 98\u00a0Hz and 2 strings"
    assert glued("A 440 Hz on 3 May 2025: partial 7") == "A\u00a0440\u00a0Hz on 3\u00a0May 2025: partial\u00a07"


def test_a_heading_keeps_what_it_counts_beside_its_number():
    assert heading("8 strings likely want changing, 1 to watch.") == "8\u00a0strings likely want changing, 1\u00a0to watch."


def test_written_as_utf8(page, tmp_path):
    write_page(page, tmp_path / "page.html")
    assert (tmp_path / "page.html").read_bytes().decode("utf-8") == page
    assert '<meta charset="utf-8">' in page


def test_partials_are_explained_where_they_are_first_named(read):
    assert read.text.casefold().index("partials") == read.text.index("Partials are the tones that a string sounds at once")


def test_a_sound_that_the_book_has_lost_is_said(small_view):
    def lost():
        raise BookError("gone")

    one = small_view.strings[3]
    strings = tuple(replace(each, clip_now=lost) if each is one else each for each in small_view.strings)
    page = sweep_page(replace(small_view, strings=strings))
    said = f"Sounds that the book has lost, or that are damaged in it, are left out: {one.name} (now)."
    assert said in page and "The book has lost the sound of it now" in page and said not in sweep_page(small_view)

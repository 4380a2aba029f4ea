"""The sample pages in `reports/` are what the pages' code makes today of the facts kept in `fixtures/demo_facts.json`.

Frozen behaviour, no outside truth: whether today's hearing still gives these facts is not asked here (`test_demo` lives the year).
Dates of making and versions are scrubbed; words must be the same, drawn numbers to a hundredth, as fonts and libraries differ a little.
"""

import io
import re
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from toneprobe.demo.facts import facts_json, facts_of_json, views_of
from toneprobe.demo.samples import FACTS, FOLDER, PICTURES, sample_pages
from toneprobe.demo.story import DAYS, FAULTS, HARP
from toneprobe.report.figures import harp_picture
from toneprobe.report.figures.saving import figure_bytes
from toneprobe.report.picture_words import harp_words, picture_title

ROOT = Path(__file__).parents[1]
SAMPLES = ROOT / FOLDER
LARGEST_BYTES = 600_000
NUMBER = re.compile(r"-?\d+\.\d+(?:e-?\d+)?")


@pytest.fixture(scope="module")
def kept():
    return (ROOT / FACTS).read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def facts(kept):
    return facts_of_json(kept)


@pytest.fixture(scope="module")
def pages(facts):
    return sample_pages(facts)


def taken_apart(text):
    """Words and numbers of a page, without when and by which version it was made."""
    text = re.sub(r"Made on [^.<]+\.|Measured with toneprobe [\w.+]+", "", text)
    return NUMBER.split(text), [float(number) for number in NUMBER.findall(text)]


def assert_same(made, stored):
    (words, numbers), (stored_words, stored_numbers) = taken_apart(made), taken_apart(stored)
    assert words == stored_words
    assert numbers == pytest.approx(stored_numbers, abs=0.011)


def test_every_sample_is_what_its_page_is_today(pages):
    assert set(pages) | set(PICTURES) == {path.name for path in SAMPLES.iterdir()}
    for name, text in pages.items():
        assert_same(text, (SAMPLES / name).read_text(encoding="utf-8"))


def test_the_pictures_are_too(facts):
    latest = views_of(facts)[-1]
    figure = harp_picture(latest)
    drawn = figure_bytes(figure, ".svg", title=picture_title(latest), words=harp_words(latest))
    assert_same(drawn.decode(), (SAMPLES / "harp.svg").read_text(encoding="utf-8"))
    sizes = [Image.open(io.BytesIO(png)).size for png in (figure_bytes(figure, ".png"), (SAMPLES / "harp.png").read_bytes())]
    assert sizes[0] == sizes[1]  # not its pixels: letters are drawn a little differently from one machine to the next


def test_another_verdict_would_be_seen(facts, pages):
    """Shows that the comparison can fail."""
    last = facts.conditions[-1]
    other = replace(last, condition=replace(last.condition, verdict="watch" if last.condition.verdict != "watch" else "sound"))
    changed = sample_pages(replace(facts, conditions=(*facts.conditions[:-1], other)))
    for name in ("sweep.html", "season.html", "comparison.html"):
        with pytest.raises(AssertionError):
            assert_same(changed[name], pages[name])


def test_scrubbing_takes_out_versions_and_days_of_making_alone():
    first, second = "<p>Made on 3 May 2025. Measured with toneprobe 0.1.</p>", "<p>Made on 4 June 2026. Measured with toneprobe 2.3.</p>"
    assert_same(first, second)
    with pytest.raises(AssertionError):
        assert_same("<p>sweep of 1 March 2025</p>", "<p>sweep of 2 March 2025</p>")


def test_the_facts_kept_are_the_whole_story(facts, kept):
    assert facts_json(facts) == kept
    assert tuple(one.date for one in facts.sweeps) == DAYS
    assert {view.harp for view in views_of(facts)} == {HARP}
    assert {one.condition.string for one in facts.conditions} >= {fault.string for fault in FAULTS}
    assert len({one.condition.string for one in facts.conditions}) == 47


def test_samples_are_small_and_silent(pages):
    assert max(path.stat().st_size for path in (*SAMPLES.iterdir(), ROOT / FACTS)) <= LARGEST_BYTES
    assert not [name for name, text in pages.items() if "data:audio" in text]

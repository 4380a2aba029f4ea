"""The last line of a page: when and with what it was made."""

from dataclasses import replace
from datetime import date

from toneprobe.report.life import life_view
from toneprobe.report.page import index_page, life_page, season_page, sweep_page, technician_page
from toneprobe.report.season import season_view
from toneprobe.report.technician import technician_view


def test_sentences_of_the_footer_stand_apart(view):
    made = replace(view, program="0.1.0")
    for page in (index_page(made, {"Pages": [("One", "one.html")]}, made_on=date(2026, 5, 3)), sweep_page(made, made_on=date(2026, 5, 3))):
        assert "Made on 3 May 2026. Measured with toneprobe 0.1.0." in page


def test_the_footer_explains_no_sign_that_its_page_does_not_have(view):
    """"±" and "as fresh" stand in a string's figures, "±" in the reasons that a technician reads; the first page and a season's have
    neither, and a sweep's own words tell of them."""
    season = season_view(view.harp, view.instrument, (), span=(view.date, view.date))
    pages = {"index": index_page(view, {}), "season": season_page(season), "technician": technician_page(technician_view(view)),
             "life": life_page(life_view(view, "5G")), "sweep": sweep_page(view)}
    assert {name: page.count("The figure after ±") for name, page in pages.items()} == {
        "index": 0, "season": 0, "technician": 1, "life": 1, "sweep": 1}
    assert {name for name, page in pages.items() if "As fresh: a change of ring" in page} == {"life", "sweep"}

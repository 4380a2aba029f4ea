"""The last line of a page: when and with what it was made."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from toneprobe.report.page import index_page, sweep_page


def test_sentences_of_the_footer_stand_apart(view):
    made = replace(view, program="0.1.0")
    for page in (index_page(made, [("One", "one.html")], made_on=date(2026, 5, 3)), sweep_page(made, made_on=date(2026, 5, 3))):
        assert "Made on 3 May 2026. Measured with toneprobe 0.1.0." in page

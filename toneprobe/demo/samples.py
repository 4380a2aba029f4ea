"""The sample pages in `reports/`: one of each kind, of the demo's harp at the end of its year, without sounds.

    python -m toneprobe.demo.samples                 live the year, keep its facts in fixtures/demo_facts.json, and write the pages
    python -m toneprobe.demo.samples --pages-only    write the pages from the facts kept

Run it in a checkout's top folder.
"""

import argparse
from collections.abc import Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from toneprobe.demo.facts import AFTER, BEFORE, DemoFacts, facts_json, facts_of_json, facts_of_year, views_of
from toneprobe.demo.story import BROKEN
from toneprobe.demo.year import live_year
from toneprobe.report.compare import comparison_view
from toneprobe.report.life import life_view
from toneprobe.report.page import comparison_page, life_page, season_page, sweep_page, technician_page, write_page
from toneprobe.report.picture_files import save_harp
from toneprobe.report.season import season_view
from toneprobe.report.technician import technician_view

FACTS = Path("fixtures/demo_facts.json")
FOLDER = Path("reports")
PICTURES = ("harp.png", "harp.svg")


def sample_pages(facts: DemoFacts) -> Mapping[str, str]:
    """The text of each page by its file name."""
    views = views_of(facts)
    latest = views[-1]
    season = season_view(latest.harp, latest.instrument, facts.conditions, fittings=facts.fittings, span=(views[0].date, latest.date))
    return {
        "sweep.html": sweep_page(latest),
        "comparison.html": comparison_page(comparison_view(views[BEFORE], views[AFTER], {one.string: one for one in facts.steps})),
        f"string-{BROKEN}.html": life_page(life_view(latest, BROKEN)),
        "season.html": season_page(season),
        "technician.html": technician_page(technician_view(latest)),
    }


def write_samples(facts: DemoFacts, folder: Path) -> None:
    """All pages, and the picture of the whole harp."""
    for name, text in sample_pages(facts).items():
        write_page(text, folder / name)
    latest = views_of(facts)[-1]
    for name in PICTURES:
        save_harp(latest, folder / name)


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m toneprobe.demo.samples", description="Make the sample pages in reports/ again.")
    parser.add_argument("--pages-only", action="store_true", help="from the facts kept, without living the year again")
    if not parser.parse_args(arguments).pages_only:
        with TemporaryDirectory() as folder:
            FACTS.write_text(facts_json(facts_of_year(live_year(Path(folder) / "year", tell=print))), encoding="utf-8")
    write_samples(facts_of_json(FACTS.read_text(encoding="utf-8")), FOLDER)


if __name__ == "__main__":
    main()

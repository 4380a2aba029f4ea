"""`toneprobe restring`: log that a string came off and another went on."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.options import BookOption, DateOption, HarpOption, day_of, open_harp
from toneprobe.cli.screen import screen

if TYPE_CHECKING:
    from toneprobe.book.entries import Fitting


class Why(StrEnum):
    broke = "broke"
    dead = "dead"
    false = "false"
    planned = "planned"
    stand_in = "stand-in"


class Place(StrEnum):
    knot = "knot"
    playing_area = "playing area"
    disc_or_lever = "disc or lever"
    bridge_pin = "bridge pin"
    tuning_pin = "tuning pin"


def restring(
    string: Annotated[str, typer.Argument(metavar="STRING", help="Which string, 4C for instance.")],
    date: DateOption = None,
    material: Annotated[str | None, typer.Option(help="Of the new string; else the old one's.")] = None,
    gauge: Annotated[float | None, typer.Option("--gauge", metavar="MM", min=0.1, max=10.0, help="The same.")] = None,
    why: Annotated[Why | None, typer.Option(help="Why the old one came off.")] = None,
    broke_at: Annotated[Place | None, typer.Option(help="Where it broke.")] = None,
    stand_in: Annotated[bool, typer.Option("--stand-in", help="Put on in need: it never becomes a baseline.")] = False,
    supplier: Annotated[str | None, typer.Option(help="Who sold it.")] = None,
    batch: Annotated[str | None, typer.Option(help="The maker's batch.")] = None,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Log a string change: the new string starts without a baseline."""
    from toneprobe.book import read
    from toneprobe.book.entries import NewFitting, Removal
    from toneprobe.book.stringing import replace_fitting
    from toneprobe.checkup import judge_again
    from toneprobe.instrument import find_string

    opened, chosen = open_harp(book, harp)
    name, day = find_string(chosen.instrument, string).name, day_of(date)
    old = next((one for one in read.fitting_log(opened, chosen.id, name) if one.removed_on is None), None)
    material = material or (old.material if old else None)
    gauge = gauge or (old.gauge_mm if old else None)
    new = NewFitting(name, day, material, gauge, supplier, batch, stand_in)
    fitting = replace_fitting(opened, chosen.id, new, Removal(day, why.value if why else None, broke_at.value if broke_at else None))
    judge_again(opened, chosen.id, since=day)
    _tell(fitting, old)


def _tell(fitting: Fitting, old: Fitting | None) -> None:
    from toneprobe.practice import CAUTIONS, USUAL_HABITS

    console = screen()
    what = ", ".join(text for text in (fitting.material, f"{fitting.gauge_mm:g} mm" if fitting.gauge_mm else None) if text)
    console.print(f"{fitting.string}: a new string since {fitting.fitted_on}{f' ({what})' if what else ''}.")
    if old and old.material and fitting.material != old.material:
        console.print(f"It was {old.material}: another material is another string, with another tension. Ask a harp technician whether it "
                      "belongs there.")
    if fitting.is_stand_in:
        console.print("It stands in: log the right string when it goes on.")
    else:
        usual, late = USUAL_HABITS.settle_days_of(fitting.material)
        console.print(f"It settles in {usual:g} to {late:g} days as a rule. Then sweep, and keep its fresh baseline: "
                      f"toneprobe sweep RECORDING --fresh-for {fitting.string}")
    console.print("\nTake care:")
    for caution in CAUTIONS:
        console.print(f"- {caution}")

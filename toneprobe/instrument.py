"""An instrument: which strings it has, and what each of them should sound like.

Strings are listed from the highest to the lowest, as they stand on a harp from the player outwards.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class StringSpec:
    """One string position of an instrument, in its present tuning."""

    name: str  # harp name, "4C"; an owner's file may use any unique name
    note: str  # as tuned, scientific pitch, "Cb4"
    expected_hz: float  # the note's equal-tempered frequency at the instrument's A
    material: str | None = None  # nylon, gut, wire, wound nylon, fluorocarbon, …
    length_mm: float | None = None
    gauge_mm: float | None = None
    mechanism: bool = True  # False: no disc or lever, set by hand


@dataclass(frozen=True)
class Instrument:
    """All strings of one instrument, highest first."""

    name: str
    a4_hz: float
    tuning: str | None
    strings: tuple[StringSpec, ...]

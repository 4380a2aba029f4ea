"""A harp's scale: length, material and gauge that a string of a given pitch has, where its owner has not said.

Lengths are those published for a 1901 concert harp; gauges are interpolated between published or plausible ones. Between the listed
pitches everything is interpolated over log pitch; beyond the ends a string keeps the end's slope.
"""

import numpy as np

_LENGTHS_MM = (
    60.6, 70.7, 80.8, 90.9, 101.0, 111.1, 121.2, 131.3, 146.4, 161.6, 176.7, 191.9, 207.0, 222.2, 237.3, 262.6,
    277.7, 303.0, 328.2, 353.5, 383.8, 414.1, 449.4, 484.8, 525.2, 570.6, 621.1, 666.6, 732.2, 792.8, 863.5, 924.1,
    989.8, 1055.4, 1110.9, 1186.7, 1222.0, 1242.2, 1282.6, 1318.0, 1348.3, 1378.6, 1408.9, 1439.2, 1464.4, 1489.7, 1514.9,
)
_NOTES = np.array([midi for midi in range(24, 104) if midi % 12 in (0, 2, 4, 5, 7, 9, 11)], float)  # C1 to G7, as MIDI
_GAUGES_MM = {  # (pitch in semitones above C-1, gauge), lowest first
    "plain": ((24, 3.2), (45, 2.4), (60, 1.27), (72, 1.016), (84, 0.813), (96, 0.635), (103, 0.635)),
    "wire": ((24, 2.40), (31, 1.95), (43, 1.30), (60, 0.80)),
    "wound nylon": ((24, 2.8), (43, 1.75), (60, 1.1)),
}


def _semitones(freq_hz: float) -> float:
    return 69.0 + 12.0 * float(np.log2(freq_hz / 440.0))


def length_mm(freq_hz: float) -> float:
    """Sounding length of a concert harp's string of this pitch."""
    semitones = _semitones(freq_hz)
    logs = np.log(_LENGTHS_MM[::-1])
    inside = float(np.interp(semitones, _NOTES, logs))
    beyond = semitones - float(np.clip(semitones, _NOTES[0], _NOTES[-1]))
    slope = (logs[-1] - logs[-8]) / (_NOTES[-1] - _NOTES[-8]) if beyond > 0 else (logs[7] - logs[0]) / (_NOTES[7] - _NOTES[0])
    return float(np.exp(inside + slope * beyond))


def material_name(freq_hz: float) -> str:
    """Nylon in octaves 0 and 1, gut from 2E to 5A, wire from 5G down (common practice on pedal harps)."""
    semitones = _semitones(freq_hz)
    if semitones < 44.5:
        return "wire"
    return "gut" if semitones < 88.5 else "nylon"


def gauge_mm(freq_hz: float, material: str) -> float:
    """Outside diameter of a string of this pitch and material."""
    table = _GAUGES_MM.get(material, _GAUGES_MM["plain"])
    notes, gauges = zip(*table, strict=True)
    gauge = float(np.exp(np.interp(_semitones(freq_hz), notes, np.log(gauges))))
    return gauge * (1067.0 / 7850.0) ** 0.5 if material == "steel" else gauge

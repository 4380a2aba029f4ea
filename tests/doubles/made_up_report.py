"""A made-up harp over two years, as values: what the rooms above would hand to the report. All numbers derived here, from simple laws."""

import math
from dataclasses import replace
from datetime import date, timedelta
from functools import partial

import numpy as np
from scipy.signal import lfilter

from toneprobe.audio import Remark
from toneprobe.book.entries import Clip, StoredCondition
from toneprobe.condition import Condition
from toneprobe.condition.verdict import PartialsMoved
from toneprobe.fittings import Fitting
from toneprobe.instrument import load_instrument
from toneprobe.measure.figure import Figure
from toneprobe.report.view import Background, SweepFacts, sweep_view
from toneprobe.session import PartialReading, Reading

HARP = "Wren, the hall harp"
TODAY = date(2025, 5, 3)
FAULTS = {"5G": "dead", "6D": "dead", "2C": "false", "5F": "watch", "6A": "watch", "3E": "watch", "1B": "watch", "4G": "watch",
          "4D": "settling", "0G": "unheard", "7D": "unsure"}
RING_LEFT = {"dead": 0.52, "watch": 0.76, "false": 0.93}
BRIGHT_LEFT = {"dead": 0.70, "watch": 0.86, "false": 0.97}


def ring_s(freq_hz):
    return 9.0 * (freq_hz / 65.4) ** -0.62


def figures_of(spec, ring, bright, astray):
    t60, centroid = ring_s(spec.expected_hz) * ring, spec.expected_hz * (2.0 + 6.0 * (65.4 / spec.expected_hz) ** 0.5) * bright
    return {
        "pitch_hz": Figure(spec.expected_hz * 2 ** (1.8 / 1200), spec.expected_hz * 2e-4), "cents_off": Figure(1.8, 0.3),
        "inharmonicity": Figure(3e-4, 1.2e-5), "t60_s": Figure(t60, 0.04 * t60), "centroid_hz": Figure(centroid * 1.06, 0.08 * centroid),
        "centroid_ratio": Figure(centroid / spec.expected_hz, 0.3), "centroid_partials_hz": Figure(centroid, 0.05 * centroid),
        "beat_hz": Figure(2.3, 0.1) if astray else Figure(None, reason="no beat within the ring"),
        "beat_depth_db": Figure(4.1, 0.4) if astray else Figure(None, reason="no beat within the ring"),
        "trueness_cents": Figure(7.2 if astray else 0.8, 0.3),
        "glide_cents": Figure(None, reason="too quiet in the first tenth of a second"),
    }


def n_partials(spec):
    return max(3, min(14, int(9000 / spec.expected_hz)))


def reading_of(spec, ring, bright, astray, flags=()):
    rng = np.random.default_rng(int(spec.expected_hz))
    figures = figures_of(spec, ring, bright, astray)
    b = figures["inharmonicity"].value
    f0 = figures["pitch_hz"].value / math.sqrt(1 + b)
    partials = []
    for n in range(1, n_partials(spec) + 1):
        t60 = figures["t60_s"].value / (1 + 0.12 * (n - 1) / max(bright, 0.3))
        off = (astray * (-1) ** n if astray else 0) + rng.normal(0, 0.5)
        freq = n * f0 * math.sqrt(1 + b * n * n) * 2 ** (off / 1200)
        partials.append(PartialReading(n, Figure(freq, freq * 1e-4), Figure(math.log(math.log(1000) / t60), 0.05),
                                       Figure(-3.0 * (n - 1) / bright + rng.normal(0, 1.5), 1.0)))
    return Reading(spec.name, spec.note, 2, 38.0, figures, tuple(partials), tuple(flags))


def condition_of(spec, verdict, *, ring=None, bright=None, astray=0.0):
    ring, bright = ring or RING_LEFT.get(verdict, 0.99), bright or BRIGHT_LEFT.get(verdict, 0.99)
    if verdict == "unheard":
        return Condition(spec.name, spec.note, verdict, None, None, 0, ("not in the recording",), "Pluck it and record it again.", {}, {})
    now, fresh = figures_of(spec, ring, bright, astray), figures_of(spec, 1.0, 1.0, 0)
    judged = verdict in ("dead", "false", "watch", "sound")
    percent = round(100 * (1 - ring))
    reasons = {"dead": (f"rings {percent} % shorter than fresh, well beyond what two plucks differ by",
                        f"brightness down {round(100 * (1 - bright))} %"),
               "watch": (f"rings {percent} % shorter than fresh, more than two plucks differ by",),
               "false": ("its partials lie 7 cents off the series of a whole string, and did not when fresh",
                         "a beat of 2.3 Hz in the third partial"),
               "unsure": ("the hum of the room covers its two lowest partials",),
               "settling": ("put on 6 days ago and still sinking 2 cents a day",)}.get(verdict, ())
    step = {"dead": "Change the string.", "false": "Damp 2D and 2B, pluck it again; change it if it still wavers.",
            "watch": "Listen again next month.", "unsure": "Pluck it again away from the lamp.",
            "settling": "Tune it daily."}.get(verdict, "")
    dead, false = {"dead": 93.0, "watch": 41.0}.get(verdict, 6.0), {"false": 78.0}.get(verdict, 4.0)
    cents = {n: (7.0 if verdict == "false" else 0.0) * (-1) ** n + 0.1 * n for n in range(1, n_partials(spec) + 1)}
    moved = PartialsMoved(tuple(cents), tuple(cents.values()), (0.6,) * len(cents), max(cents, key=lambda n: abs(cents[n])))
    return Condition(spec.name, spec.note, verdict, dead if judged else None, false if judged else None, 2, reasons, step, now,
                     fresh if judged else {}, {"astray_cents": Figure(astray, 0.4)} if judged else {},
                     partials_moved=moved if judged else None)


def clip_of(spec, ring, bright, astray):
    """A plain sum of decaying sines, each the answer of two poles to one impulse: enough to be heard."""
    rate_hz, t60 = 44100, ring_s(spec.expected_hz) * ring
    impulse = np.zeros(int(rate_hz * min(8.0, t60 + 0.3)))
    impulse[0] = 0.1
    sound = 1e-5 * np.random.default_rng(1).standard_normal(len(impulse))
    for n in range(1, max(3, min(16, int(9000 / spec.expected_hz))) + 1):
        freq = n * spec.expected_hz * math.sqrt(1 + 3e-4 * n * n)
        rate = math.log(1000) / t60 * (1 + 0.12 * (n - 1) / bright)
        level = 10 ** (-3.0 * (n - 1) / bright / 20)
        for split_hz in ((0.0,) if not astray else (-0.6, 0.6)):
            pole = np.exp((-rate + 2j * math.pi * (freq + split_hz)) / rate_hz)
            sound += level * lfilter([0.0, pole.imag], [1.0, -2.0 * pole.real, abs(pole) ** 2], impulse)
    return Clip(sound, rate_hz)


def history_of(spec, verdict, n_months=24):
    stored = []
    for month in range(n_months, -1, -1):
        day = TODAY - timedelta(days=30 * month)
        share = (n_months - month) / n_months
        ring, bright = 1 - (1 - RING_LEFT.get(verdict, 0.99)) * share**2, 1 - (1 - BRIGHT_LEFT.get(verdict, 0.99)) * share**2
        then = verdict if month == 0 else "sound" if ring > 0.85 else "watch" if ring > 0.6 else "dead"
        if then in ("unheard", "settling", "unsure"):
            then = "sound"
        stored.append(StoredCondition(n_months - month, day, 1, condition_of(spec, then, ring=ring, bright=bright)))
    return tuple(stored)


def fitting_of(spec, number=1, fitted_on=date(2023, 4, 20), **more):
    blank = Fitting(number, 1, spec.name, fitted_on, None, spec.material, spec.gauge_mm, "Reed & Daughters", "lot 17")
    return replace(blank, **more)


def evidence_of(spec, *, verdict=None, n_months=24, with_clips=True):
    verdict = verdict or FAULTS.get(spec.name, "sound")
    astray = 7.0 if verdict == "false" else 0.0
    ring, bright = RING_LEFT.get(verdict, 0.99), BRIGHT_LEFT.get(verdict, 0.99)
    if verdict == "unheard":
        return Background(fittings=(fitting_of(spec),))
    flags = ("hum at 50 Hz covers partials 1 and 2",) if verdict == "unsure" else ()
    earlier = fitting_of(spec, 0, date(2019, 2, 2), removed_on=date(2023, 4, 20), why_removed="broke", broke_at="tuning pin")
    clips = {"clip_now": partial(clip_of, spec, ring, bright, astray), "clip_fresh": partial(clip_of, spec, 1.0, 1.0, 0.0)}
    known = clips if with_clips else {}
    return Background(now=reading_of(spec, ring, bright, astray, flags), fresh=reading_of(spec, 1.0, 1.0, 0.0),
                    history=history_of(spec, verdict, n_months), fittings=(earlier, fitting_of(spec)), **known)


def facts_of(harp=HARP, instrument=None, faults=None, warnings=None, **more):
    instrument = instrument or load_instrument("pedal-47")
    chosen = FAULTS if faults is None else faults
    conditions = tuple(condition_of(spec, chosen.get(spec.name, "sound"), astray=7.0 if chosen.get(spec.name) == "false" else 0.0)
                       for spec in instrument.strings)
    given = ("A hum at 50 Hz lies 38 dB under the strings: strings below 6G are judged less surely.",) if warnings is None else warnings
    return SweepFacts(harp, instrument, TODAY, conditions, tuple(map(Remark, given)), **more)


def whole_view(*, n_months=24, with_clips=True):
    facts = facts_of()
    return sweep_view(facts, {spec.name: evidence_of(spec, n_months=n_months, with_clips=with_clips) for spec in facts.instrument.strings})


def sounding_view_of(facts):
    """The whole harp with two clips a string, made beforehand so that the report's own time can be taken."""
    evidence = {spec.name: evidence_of(spec) for spec in facts.instrument.strings}
    for name, one in evidence.items():
        if one.clip_now:
            now, fresh = one.clip_now(), one.clip_fresh()
            evidence[name] = replace(one, clip_now=partial(_given, now), clip_fresh=partial(_given, fresh))
    return sweep_view(facts, evidence)


def small_view_of(instrument):
    """A lever harp of 22 strings with every verdict, no sound but for two strings."""
    verdicts = ("dead", "false", "watch", "settling", "unsure", "unrated", "unheard")
    faults = {spec.name: verdict for spec, verdict in zip(instrument.strings, verdicts, strict=False)}
    facts = facts_of("A small harp", instrument, faults)
    evidence = {spec.name: evidence_of(spec, verdict=faults.get(spec.name, "sound"), n_months=4, with_clips=place in (3, 9))
                for place, spec in enumerate(instrument.strings)}
    return sweep_view(facts, evidence)


def _given(clip):
    return clip

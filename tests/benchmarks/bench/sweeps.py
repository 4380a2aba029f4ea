"""Which sweeps the bench judges: faults of every kind and strength planted in a third of the strings, and sweeps in which nothing is wrong.

A case says what is done to the later sweep. For a fault, three sweeps are judged, each with another third of the strings faulty, so every
string is faulty once and healthy twice. Plucks: 1, 2 or 3 a string in the later sweep; fresh has two (real) or three (model). Where nothing
is wrong, real sweeps are judged both ways, take 2 against take 1 and take 1 against take 2, for more readings.

Beats are planted twice: at a spacing or rate that is the same for all strings, of which short strings ring for less than one swing; and
so that the first partial swings three times while it falls by 30 dB, which is a beat that can be heard. What must be shown is asked
of the latter; both are printed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

from sounds.model_plucks import ModelPluck, measure_model, pedal_harp
from sounds.pluck_cache import N_JOBS, measure_all
from sounds.real_plucks import RealPluck, available, lever_harp, measure_real

from toneprobe.audio import Quality
from toneprobe.baseline import fresh_baseline
from toneprobe.condition import Condition
from toneprobe.condition.context import Capture, SweepContext
from toneprobe.condition.judgement import judge
from toneprobe.session.sweep import read_sweep

GOOD = Quality(-6.0, 0.0, -80.0, None, None, None, None, False, ())
RIDING_NOW = SweepContext((Capture(replace(GOOD, gain_riding=True), 44100.0),), {"": (Capture(GOOD, 44100.0),)})
RIDING_FRESH = SweepContext((Capture(GOOD, 44100.0),), {"": (Capture(replace(GOOD, gain_riding=True), 44100.0),)})
CUT_NOW = SweepContext((Capture(replace(GOOD, low_cut_hz=250.0), 44100.0),), {"": (Capture(GOOD, 44100.0),)})
DEAD, FALSE, BOTH = frozenset({"dead"}), frozenset({"false"}), frozenset({"dead", "false"})


@dataclass(frozen=True)
class Case:
    name: str
    strength: str = ""
    names: frozenset = frozenset()  # verdicts that name it rightly; empty: nothing is wrong
    real: tuple[tuple, ...] | None = None  # what is done to a real pluck
    model: tuple | None = None  # fault of the model string
    how: tuple[tuple, ...] = ()  # how the model's later sweep is played and recorded: (field, value)
    fresh_real: tuple[tuple, ...] = ()  # what is done to the fresh plucks
    fresh_how: tuple[tuple, ...] = ()
    hands: tuple[str, str] = ("both", "both")  # fresh, later: soft, firm or both
    everywhere: bool = False  # all strings faulty in one sweep
    context: SweepContext = SweepContext()


FAULTS = (
    *(Case("decay shorter", f"to {r:.0%}", DEAD, (("lose", r),), ("age", r)) for r in (0.85, 0.7, 0.5, 0.35)),
    Case("decay shorter, highs more", "to 50%", DEAD, (("lose", 0.5, 0.5),)),
    *(Case("dirt in the windings", f"x {s:g}", DEAD, (("dirt", s),)) for s in (1.0, 3.0)),
    *(Case("dirt in the windings", f"{s:g} /s", DEAD, None, ("dirt", s)) for s in (2.0, 8.0)),
    *(Case("dead winding", f"{c:g} cents, to {r:.0%}", BOTH, None, ("dead winding", c, r)) for c, r in ((3.0, 0.7), (6.0, 0.5))),
    *(Case("partials astray", f"{c:g} cents", FALSE, (("stray", c),)) for c in (2.0, 5.0, 8.0, 15.0)),
    *(Case("mass", f"{m:.1%} at {p:g}", FALSE, (("mass", m, p),), ("mass", m, p))
      for m, p in ((0.003, 0.3), (0.01, 0.5), (0.01, 0.1), (0.03, 0.4))),
    *(Case("uneven gauge", f"{c:g} cents", FALSE, None, ("uneven", c)) for c in (3.0, 8.0)),
    *(Case("beat, split", f"{d:g} dB, {c:g} cents", FALSE, (("beat", d, c),)) for d, c in ((1.0, 4.0), (2.0, 4.0), (4.0, 4.0))),
    *(Case("beat, pulse", f"{d:g} dB at {f:g} Hz", FALSE, (("pulse", d, f),)) for d, f in ((2.0, 3.0), (4.0, 2.0))),
    *(Case("heard beat, split", f"{d:g} dB, 3 swings", FALSE, (("heard beat", d, 3.0),)) for d in (2.0, 4.0)),
    *(Case("heard beat, pulse", f"{d:g} dB, 3 swings", FALSE, (("heard pulse", d, 3.0, 2.0),)) for d in (2.0, 4.0)),
    *(Case("polarisations split", f"{c:g} cents", FALSE, None, ("split", c)) for c in (2.0, 5.0)),
    *(Case("wrong gauge", f"x {g:g}", BOTH, None, ("gauge", g)) for g in (0.85, 1.1, 1.2)),
    *(Case("fallen and thudding", f"{s:g} semitones", DEAD, None, ("fallen", s)) for s in (2.0, 4.0, 12.0)),
    *(Case("whole set aged", f"to {r:.0%}", DEAD, (("lose", r),), everywhere=True) for r in (0.85, 0.6)),
    Case("whole set aged", "to 60%, model", DEAD, None, ("age", 0.6), everywhere=True),
)

NO_FAULTS = (
    Case("nothing", real=()),
    Case("played softly, fresh firm", real=(), hands=("firm", "soft")),
    Case("played firmly, fresh soft", real=(), hands=("soft", "firm")),
    Case("duller microphone", real=(("dull",),), how=(("microphone", "dull"),)),
    Case("brighter microphone", real=(("bright",),), how=(("microphone", "bright"),)),
    Case("room of 0.4 s", real=(("room", 0.4),), how=(("room_s", 0.4),)),
    Case("fresh in a room of 0.6 s, now dry", real=(), fresh_real=(("room", 0.6),), fresh_how=(("room_s", 0.6),), how=(("room_s", 0.0),)),
    Case("10 dB louder", real=(("gain", 10.0),), how=(("gain_db", 10.0),)),
    Case("10 dB quieter", how=(("gain_db", -10.0),)),
    Case("noise 30 dB below", real=(("noise", 30.0),), how=(("noise_db", -55.0),)),
    Case("gain riding, known", real=(("riding",),), context=RIDING_NOW),
    Case("gain riding, not known", real=(("riding",),), how=(("after", "riding"),)),
    Case("fresh gain riding, known", real=(), fresh_real=(("riding",),), context=RIDING_FRESH),
    Case("fresh gain riding, not known", real=(), fresh_real=(("riding",),)),
    *(Case(f"next pluck after {s:g} s", real=(("cut", s),)) for s in (0.8, 2.0)),
    Case("next pluck after 1 s when fresh", real=(), fresh_real=(("cut", 1.0),)),
    Case("input overdriven, 3 dB off the peaks", real=(("overdriven", 1.2),)),
    Case("high-pass at 250 Hz, known", real=(("high-pass",),), context=CUT_NOW),
    Case("high-pass at 250 Hz, not known", real=(("high-pass",),), how=(("after", "high-pass"),)),
    Case("A = 442", real=(("retuned", 7.85),), how=(("cents", 7.85),)),
    Case("15 cents flat", real=(("retuned", -15.0),), how=(("cents", -15.0),)),
    Case("firmer", how=(("strength", 1.0),)),
    Case("gentler", how=(("strength", 0.2),)),
    Case("plucked nearer the board", how=(("place", 0.25),)),
    Case("neighbours damped, left to ring when fresh", how=(("sympathy", 0.0),)),
    Case("neighbours left to ring, damped when fresh", how=(("noise_db", -75.0),), fresh_how=(("sympathy", 0.0),)),
)


@dataclass(frozen=True)
class Outcome:
    case: Case
    source: str  # real, model
    n_plucks: int
    faulty: bool  # this string
    condition: Condition
    warnings: tuple[str, ...]


def outcomes(cases: tuple[Case, ...], *, plucks: tuple[int, ...] = (1, 2, 3), say: Callable[[str], None] = print) -> list[Outcome]:
    """Measure all that is wanted, then judge every sweep."""
    sweeps = [sweep for case in cases for sweep in _sweeps(case, plucks)]
    real = measure_all([p for s in sweeps if s.source == "real" for p in s.plucks()], measure_real)
    say(f"{len(real)} real plucks measured")
    model = measure_all([p for s in sweeps if s.source == "model" for p in s.plucks()], measure_model)
    say(f"{len(model)} plucks of the model measured")
    with ProcessPoolExecutor(N_JOBS, initializer=_share, initargs=(sweeps, real, model)) as pool:
        return [outcome for judged in pool.map(_judged, range(len(sweeps)), chunksize=4) for outcome in judged]


_shared: dict = {}  # of one process: what all its verdicts need, handed over once


def _share(sweeps: list[_Sweep], real: dict, model: dict) -> None:
    _shared.update(sweeps=sweeps, real=real, model=model)


def _judged(index: int) -> list[Outcome]:
    sweep = _shared["sweeps"][index]
    return sweep.judged(_shared[sweep.source])


@dataclass(frozen=True)
class _Sweep:
    case: Case
    source: str
    n_plucks: int
    fresh: dict[str, list]
    now: dict[str, list]
    faulty: frozenset

    def plucks(self) -> Iterator:
        for group in (*self.fresh.values(), *self.now.values()):
            yield from group

    def judged(self, measured: dict) -> list[Outcome]:
        instrument = lever_harp() if self.source == "real" else pedal_harp()
        baselines = fresh_baseline([[measured[p] for group in self.fresh.values() for p in group]])
        sweep = read_sweep([measured[p] for group in self.now.values() for p in group])
        judgement = judge(sweep, baselines, instrument=instrument, context=self.case.context)
        return [Outcome(self.case, self.source, self.n_plucks, c.string in self.faulty, c, judgement.warnings) for c in judgement.conditions
                if c.verdict != "unheard"]


def _sweeps(case: Case, plucks: tuple[int, ...]) -> Iterator[_Sweep]:
    if case.real is not None and available():
        names = [s.name for s in lever_harp().strings]
        for n in plucks:
            if n < 3:
                yield from (_real_sweep(case, n, bad) for bad in _thirds(case, names))
                if not case.names and case.hands == ("both", "both"):
                    yield _real_sweep(case, n, frozenset(), later=1)
    names = [s.name for s in pedal_harp().strings]
    if case.names and case.model is not None:
        bad = frozenset(names) if case.everywhere else frozenset(names[::3])
        yield from (_model_sweep(case, n, bad, names) for n in plucks)
    if not case.names and (case.how or case.fresh_how or case.name == "nothing"):
        fewer = names if case.name == "nothing" else names[::2]
        yield from (_model_sweep(case, n, frozenset(), fewer) for n in plucks if n < 3)


def _thirds(case: Case, names: list[str]) -> list[frozenset]:
    if not case.names:
        return [frozenset()]
    if case.everywhere:
        return [frozenset(names)]
    return [frozenset(names[i::3]) for i in range(3)]


def _real_sweep(case: Case, n: int, bad: frozenset, *, later: int = 2) -> _Sweep:
    """later: the take that serves as the later sweep."""
    def group(note: str, index: int, take: int, done: tuple, hands: str, count: int) -> list[RealPluck]:
        wanted = ["soft", "firm"] if hands == "both" else [hands] * 2
        takes = [take, take] if hands == "both" else [1, 2]
        pairs = list(zip(wanted, takes, strict=True))
        chosen = pairs if count == 2 else [pairs[index % 2]]
        return [RealPluck(note, hand, k, done) for hand, k in chosen]

    names = [s.name for s in lever_harp().strings]
    fresh = {name: group(name, i, 3 - later, case.fresh_real, case.hands[0], 2) for i, name in enumerate(names)}
    done = {name: case.real if name in bad or not case.names else () for name in names}
    now = {name: group(name, i, later, done[name], case.hands[1], n) for i, name in enumerate(names)}
    return _Sweep(case, "real", n, fresh, now, bad)


def _model_sweep(case: Case, n: int, bad: frozenset, names: list[str]) -> _Sweep:
    fresh = {name: [replace(ModelPluck(name, take), **dict(case.fresh_how)) for take in range(3)] for name in names}
    now = {name: [replace(ModelPluck(name, 10 + take, case.model if name in bad and case.model else ()), **dict(case.how))
                  for take in range(n)] for name in names}
    return _Sweep(case, "model", n, fresh, now, bad)

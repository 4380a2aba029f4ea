"""Strings at half their ring where both sweeps were made in one room: python tests/benchmarks/same_room.py [--quick]

Real plucks of the lever harp, two a string, each heard alone and told its note, the room put on both takes: a shoebox by pyroomacoustics,
the microphone 1.3 m from the strings, of such a decay time by Sabine's formula. Every third string is at half its ring, in three sweeps, so
that each is once. Then the same, fresh in a far livelier room than now. Then the string model's 16 top strings, three plucks each, in the
model's own diffuse room. Counted are the verdicts on the faulty and on the healthy strings, as if the sweeps told no room that both share
(`baseline/room_ring`) and as they do. A room is put on by convolution, so the strings sound from one point, and a real pluck's own room is
still in it. --quick: without the model. Takes five minutes, quick three.
"""

import argparse
from collections import Counter
from collections.abc import Callable
from unittest import mock

from sounds.model_plucks import ModelPluck, measure_model, pedal_harp
from sounds.pluck_cache import measure_all
from sounds.real_plucks import RealPluck, lever_harp, measure_real

from toneprobe.baseline import fresh_baseline
from toneprobe.condition import sweep_change
from toneprobe.condition.judgement import judge
from toneprobe.instrument import Instrument
from toneprobe.session.sweep import read_sweep

REAL_S = ((0.0, 0.0), (0.2, 0.2), (0.35, 0.35), (0.5, 0.5), (0.9, 0.35))  # fresh, now; beyond, image sources need gigabytes
MODEL_S = ((0.0, 0.0), (0.17, 0.17), (0.35, 0.35), (0.5, 0.5))
N_TOP, N_SWEEPS = 16, 3
VERDICTS = ("dead", "false", "watch", "unsure", "sound")
Made = Callable[[str, bool, bool], list]  # string, whether it is fresh, whether faulty → its plucks


def real_plucks(fresh_s: float, now_s: float) -> Made:
    def made(string: str, is_fresh: bool, is_bad: bool) -> list[RealPluck]:
        room_s = fresh_s if is_fresh else now_s
        done = (*((("lose", 0.5),) if is_bad else ()), *((("shoebox", room_s),) if room_s else ()))
        return [RealPluck(string, hand, 1 if is_fresh else 2, done) for hand in ("soft", "firm")]

    return made


def model_plucks(fresh_s: float, now_s: float) -> Made:
    def made(string: str, is_fresh: bool, is_bad: bool) -> list[ModelPluck]:
        first, room_s = (0, fresh_s) if is_fresh else (10, now_s)
        return [ModelPluck(string, first + take, ("age", 0.5) if is_bad else (), room_s=room_s) for take in range(3)]

    return made


def verdicts(made: Made, measure: Callable, harp: Instrument, strings: list[str]) -> list[tuple[Counter[str], Counter[str]]]:
    """On the faulty strings of all sweeps, and on the healthy ones; as if the sweeps told no room, and as they do."""
    kinds = ((True, False), (False, False), (False, True))
    measured = measure_all([pluck for string in strings for kind in kinds for pluck in made(string, *kind)], measure)
    baselines = fresh_baseline([[measured[one] for string in strings for one in made(string, True, False)]])
    found = [(Counter(), Counter()), (Counter(), Counter())]
    for third in range(N_SWEEPS):
        bad = strings[third::N_SWEEPS]
        sweep = read_sweep([measured[one] for string in strings for one in made(string, False, string in bad)])
        for told, room_of in zip(found, (lambda *_: None, sweep_change.room_ring_s), strict=True):
            with mock.patch.object(sweep_change, "room_ring_s", room_of):
                for one in judge(sweep, baselines, instrument=harp).conditions:
                    if one.verdict != "unheard":
                        told[one.string not in bad][one.verdict] += 1
    return found


def row(name: str, rooms_s: tuple[float, float], found: list[tuple[Counter[str], Counter[str]]]) -> str:
    fresh, now = (f"{one:g} s" if one else "none" for one in rooms_s)
    room = now if fresh == now else f"{fresh} when fresh, now {now}"
    counts = (" → ".join(str(told[which][verdict]) for told in found) for which in (0, 1) for verdict in VERDICTS)
    return f"| {name}, {room} | {' | '.join(counts)} |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true")
    is_quick = parser.parse_args().quick
    print(f"| plucks, room | {' | '.join(VERDICTS)} | healthy: {' | '.join(VERDICTS)} |\n|---|{'---:|' * 2 * len(VERDICTS)}")
    strings = [spec.name for spec in lever_harp().strings]
    for rooms_s in REAL_S:
        print(row("real", rooms_s, verdicts(real_plucks(*rooms_s), measure_real, lever_harp(), strings)), flush=True)
    top = [spec.name for spec in pedal_harp().strings][:N_TOP]
    for rooms_s in () if is_quick else MODEL_S:
        print(row("model", rooms_s, verdicts(model_plucks(*rooms_s), measure_model, pedal_harp(), top)), flush=True)


if __name__ == "__main__":
    main()

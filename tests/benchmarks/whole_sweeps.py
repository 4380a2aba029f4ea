"""Planted faults in whole sweeps of real plucks, heard from the recording on: python tests/benchmarks/whole_sweeps.py [OPTION ...]

The lever harp's 24 strings, each plucked softly and firmly, five seconds apart; take 1 is fresh, take 2 the later sweep with a fault in a
third of the strings, three sweeps for each fault so that every string is faulty once and healthy twice, each third in a noise of its own
(74 dB under full scale). Unlike the fault bench nothing is told: not where a pluck begins, nor its note, and each is cut where the next
begins. --undamped: three seconds apart, every pluck ringing on under the next ones. --noise: the later sweeps in white noise so far under
their peak. Needs the recordings of real plucks beside the project.
"""

import argparse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor

from sounds.heard_sweeps import NOISE, PEAK, RATE_HZ, recorded
from sounds.real_plucks import lever_harp

from toneprobe.audio import recording_from_samples
from toneprobe.baseline import fresh_baseline
from toneprobe.condition import Condition
from toneprobe.condition.judgement import judge
from toneprobe.hearing import hear
from toneprobe.session.sweep import read_sweep

FAULTS = {
    "nothing": ((), ""),
    "decay to 50 %": ((("lose", 0.5),), "dead"),
    "decay to 70 %": ((("lose", 0.7),), "dead"),
    "partials 5 cents astray": ((("stray", 5.0),), "false"),
    "partials 8 cents astray": ((("stray", 8.0),), "false"),
    "1 % of mass at the middle": ((("mass", 0.01, 0.5),), "false"),
    "second voice, 4 dB, 3 swings": ((("heard beat", 4.0, 3.0),), "false"),
    "swelling, 4 dB, 3 swings": ((("heard pulse", 4.0, 3.0, 2.0),), "false"),
}


def heard(job: tuple) -> tuple:
    take, done, bad, gap_s, damped, seed, noise = job
    sound = recorded(take, done, bad, gap_s=gap_s, damped=damped, seed=seed, noise=noise)
    found = hear(recording_from_samples(sound, RATE_HZ), lever_harp())
    return found.plucks


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--undamped", action="store_true")
    parser.add_argument("--noise", type=float, metavar="DB")
    asked = parser.parse_args()
    damped, noise = not asked.undamped, NOISE if asked.noise is None else PEAK * 10 ** (-abs(asked.noise) / 20)
    how = (5.0, True) if damped else (3.0, False)
    strings = [spec.name for spec in lever_harp().strings]
    thirds = [(fault, done, k, strings[k::3]) for fault, (done, _) in FAULTS.items() for k in range(3)]
    sweeps = [(fault, bad if done else [], (2, done, bad, *how, 2 + k, noise)) for fault, done, k, bad in thirds]
    with ProcessPoolExecutor(2) as pool:
        fresh, *later = pool.map(heard, [(1, (), [], *how, 1, NOISE), *(job for _, _, job in sweeps)])
    baselines = fresh_baseline([fresh])
    rows: dict[str, list[tuple[bool, Condition]]] = {fault: [] for fault in FAULTS}
    for (fault, bad, _), plucks in zip(sweeps, later, strict=True):
        conditions = judge(read_sweep(plucks), baselines, instrument=lever_harp()).conditions
        rows[fault] += [(one.string in bad, one) for one in conditions]
    print(f"{'fault':<32}{'faulty strings: named, watched':>32}   healthy strings")
    for fault, (_, wanted) in FAULTS.items():
        bad, well = ([one for is_bad, one in rows[fault] if is_bad == faulty] for faulty in (True, False))
        named, watched = sum(one.verdict == wanted for one in bad), sum(one.verdict == "watch" for one in bad)
        told = ", ".join(f"{n} {verdict}" for verdict, n in Counter(one.verdict for one in well).most_common())
        print(f"{fault:<32}{f'{named} and {watched} of {len(bad)}' if bad else '':>32}   {told}", flush=True)


if __name__ == "__main__":
    main()

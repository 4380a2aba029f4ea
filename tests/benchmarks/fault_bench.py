#!/usr/bin/env python3
"""Can the verdicts be trusted? Planted faults and things that are no fault, on real plucks and on the string model.

    python tests/benchmarks/fault_bench.py [--quick] [--real] [--only WORD]

Prints how often each fault is named, false alarms, areas under the curve, what the scores mean, and verdicts to be read aloud.
Everything is drawn from fixed seeds; measurements are kept in the temporary folder and made anew when the measuring code changes.
"""

import argparse
import time
from dataclasses import replace

from bench.chance import chance_table
from bench.must import must_table
from bench.sweeps import FAULTS, NO_FAULTS, outcomes
from bench.tables import calibration_table, false_alarm_line, fault_table, no_fault_doubt_table, no_fault_table
from bench.words import spoken


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--quick", action="store_true", help="two plucks a string only")
    arguments.add_argument("--real", action="store_true", help="real plucks only")
    arguments.add_argument("--only", default="", help="cases whose name has this in it")
    asked, start_s = arguments.parse_args(), time.time()
    cases = [case for case in (*NO_FAULTS, *FAULTS) if asked.only in case.name]
    if asked.real:
        cases = [replace(case, model=None, how=(), fresh_how=()) for case in cases if case.real is not None]
    found = outcomes(tuple(cases), plucks=(2,) if asked.quick else (1, 2, 3))
    tables = {"No fault": no_fault_table(found), "No fault, with doubt": no_fault_doubt_table(found), "Faults": fault_table(found),
              "Scores": calibration_table(found), "By chance": chance_table() if not asked.only else [], "Read aloud": spoken(found),
              "Must show": must_table(found)}
    for title, lines in tables.items():
        print(f"\n{title}\n" + "\n".join(lines))
    print(f"\n{false_alarm_line(found)}\n{time.time() - start_s:.0f} s")


if __name__ == "__main__":
    main()

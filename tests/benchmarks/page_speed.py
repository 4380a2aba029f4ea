"""How long a report page of 47 strings with two sounds each and 24 months of history takes, and how large it is.

    PYTHONPATH=tests/doubles python tests/benchmarks/page_speed.py [--repeat N]

Prints a Markdown table: the whole page, and the same without sounds. Best and median of N runs in one process, after one that is not
counted: by the clock and by the processor. Sounds are compressed beside the drawing, so on two free cores the clock shows less than the
processor; on a busy machine the clock says little.
"""

from __future__ import annotations

import argparse
import os
import statistics
import time
from dataclasses import replace

from made_up_report import facts_of, sounding_view_of

from toneprobe.report.octaves import octave_views
from toneprobe.report.page import sweep_page
from toneprobe.report.view import SweepView


def without_sounds(view: SweepView) -> SweepView:
    strings = tuple(replace(one, clip_now=None, clip_fresh=None) for one in view.strings)
    return replace(view, strings=strings, octaves=octave_views(strings))


def timed(view: SweepView, n_times: int) -> tuple[list[float], list[float], int]:
    """Seconds by the clock, seconds by the processor, and bytes."""
    clock_s, processor_s, page = [], [], sweep_page(view)
    for _ in range(n_times):
        clock, processor = time.perf_counter(), time.process_time()
        page = sweep_page(view)
        clock_s.append(time.perf_counter() - clock)
        processor_s.append(time.process_time() - processor)
    return clock_s, processor_s, len(page.encode())


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--repeat", type=int, default=5)
    n_times, view = arguments.parse_args().repeat, sounding_view_of(facts_of())
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    print(f"{os.cpu_count()} cores{load}\n")
    print("| page | clock, s: best, median | processor, s: best, median | MB |\n|---|---:|---:|---:|")
    for name, shown in (("47 strings, 92 sounds", view), ("without sounds", without_sounds(view))):
        clock_s, processor_s, n_bytes = timed(shown, n_times)
        told = [f"{min(taken):.2f}, {statistics.median(taken):.2f}" for taken in (clock_s, processor_s)]
        print(f"| {name} | {told[0]} | {told[1]} | {n_bytes / 1e6:.2f} |")


if __name__ == "__main__":
    main()

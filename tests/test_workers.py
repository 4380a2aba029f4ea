"""Work shared out to processes: the same results in the same order, whatever becomes of the processes.

Each runs in a fresh interpreter: the tests' own has threads, beside which nothing is forked.
"""

import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path
from textwrap import dedent

import pytest
from threadpoolctl import threadpool_info

from toneprobe import workers
from toneprobe.workers import shared_out, usable_cores

THREE_PLUCKS = Path(__file__).parents[1] / "fixtures" / "three_plucks.flac"


def square(offset, number):
    return offset + number * number


def answer(code: str) -> str:
    code = dedent("""
        import os, signal
        from pathlib import Path
        from toneprobe.workers import shared_out
        first = os.getpid()
        def who(base, item): return base + item, os.getpid()
        def die(base, item):
            if item == 3 and os.getpid() != first: os.kill(os.getpid(), signal.SIGKILL)
            return base + item
        def fail(base, item): raise OSError(f"no. {item}")
    """) + dedent(code)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


linux = pytest.mark.skipif(sys.platform != "linux", reason="elsewhere a process imports its work from a file, which these have not")


@linux
def test_results_come_in_order_and_from_other_processes():
    told = answer("""
        with shared_out(100, processes=2) as each:
            results, pids = zip(*each(who, range(20)))
        print(list(results) == [100 + i for i in range(20)], first not in pids, len(set(pids)) <= 2)
    """)
    assert told == "True True True"


@linux
def test_a_killed_process_loses_no_result_and_the_next_map_works_too():
    told = answer("""
        with shared_out(10, processes=2) as each:
            print(list(each(die, range(8))), list(each(die, [1, 2])))
    """)
    assert told == f"{[10 + i for i in range(8)]} [11, 12]"


@linux
def test_an_error_of_the_work_is_the_callers():
    told = answer("""
        try:
            with shared_out(0, processes=2) as each:
                list(each(fail, [4, 5]))
        except OSError as error:
            print(error)
    """)
    assert told == "no. 4"


@linux
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_processes_end_when_the_first_one_is_killed(how):
    """Killed, it can stop nobody: without a watch on it the others sleep on for a minute, and then wait for work for ever."""
    code = dedent("""
        import os, time
        from toneprobe.workers import shared_out
        def who(seconds, item):
            time.sleep(seconds * (item > 1))
            return os.getpid()
        with shared_out(60, processes=2) as each:
            for pid in each(who, range(8)): print(pid, flush=True)
    """)
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as first:
        others = {int(first.stdout.readline()) for _ in range(2)}
        first.send_signal(how)
    try:
        assert ends_within(others, seconds=20.0)
    finally:
        for pid in others:
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)


def ends_within(pids, *, seconds):
    """A process that has ended may stay in the list until someone asks what became of it, as a zombie (state Z)."""
    def runs(pid):
        with suppress(FileNotFoundError, ProcessLookupError):
            return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
        return False

    until = time.monotonic() + seconds
    while any(map(runs, pids)) and time.monotonic() < until:
        time.sleep(0.05)
    return not any(map(runs, pids))


def test_where_processes_are_started_and_not_forked_the_figures_are_the_same(tmp_path):
    """As on macOS and Windows: each loads the program and gets the recording anew."""
    program = tmp_path / "program.py"
    program.write_text(dedent("""
        import os

        def who(base, item): return os.getpid()

        if __name__ == "__main__":  # what is imported above, each process imports
            import multiprocessing, sys
            from types import SimpleNamespace
            from toneprobe import hearing, workers
            from toneprobe.audio import open_recording
            from toneprobe.instrument import load_instrument
            multiprocessing.set_start_method("spawn")
            workers.sys = SimpleNamespace(platform="not linux")
            with workers.shared_out(100, processes=2) as each:
                print(os.getpid() not in set(each(who, range(8))))
            hearing.LEAST_SHARED_SPANS = 3
            harp, recording = load_instrument("pedal-47", tuning="naturals"), open_recording(sys.argv[1])
            steps, one = [], hearing.hear(recording, harp)
            two, n = hearing.hear(recording, harp, processes=2, progress=lambda *step: steps.append(step)), len(one.plucks)
            print(repr(one) == repr(two), n >= hearing.LEAST_SHARED_SPANS, steps == [(i + 1, n) for i in range(n)])
    """))
    done = subprocess.run([sys.executable, program, THREE_PLUCKS], capture_output=True, text=True, timeout=120)
    assert done.stdout.split() == ["True"] * 4, done.stderr


def test_where_no_process_can_be_started_it_is_done_here(monkeypatch):
    def none(*_, **__):
        raise NotImplementedError("no semaphores")

    monkeypatch.setattr(workers, "ProcessPoolExecutor", none)
    monkeypatch.setattr(threading, "active_count", lambda: 1)
    with shared_out(1, processes=4) as each:
        assert list(each(square, [1, 2, 3])) == [2, 5, 10]


def test_nothing_is_forked_beside_other_threads(monkeypatch):
    monkeypatch.setattr(workers.sys, "platform", "linux")
    monkeypatch.setattr(threading, "active_count", lambda: 2)
    monkeypatch.setattr(workers, "ProcessPoolExecutor", None)  # would fail if it were called
    with shared_out(1, processes=4) as each:
        assert list(each(square, [4])) == [17]


def test_linear_algebra_has_one_thread_in_the_tests_too():
    assert {library["num_threads"] for library in threadpool_info() if library["user_api"] == "blas"} == {1}


def test_cores():
    assert 1 <= usable_cores() <= workers.MOST

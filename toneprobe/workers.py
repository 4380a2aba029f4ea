"""Work on many items shared out to the machine's cores, each in a process of its own: plucks are measured, and pages written.

Each process is given one thing once (the recording), and then functions of it and an item. Results come in the order of the items and are
the same as without processes. Where none can be started, or one is killed, the work is done in this process instead.
"""

import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from typing import Any, TypeVar

Progress = Callable[[int, int], None]  # called with how much is done, and how much there is in all
MOST = 4  # each needs memory, and the part that cannot be shared out soon takes longer than the rest
T = TypeVar("T")
R = TypeVar("R")
Each = Callable[[Callable[[Any, T], R], Sequence[T]], Iterator[R]]  # function(thing, item) for every item, in order
_thing: Any = None


def usable_cores() -> int:
    """Cores that this process may use, at most MOST."""
    allowed = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return min(allowed, MOST)


def one_by_one(thing: Any) -> Each:
    """The same map, run here."""
    return lambda function, items: (function(thing, item) for item in items)


@contextmanager
def shared_out(thing: Any, *, processes: int) -> Iterator[Each]:
    """A map over items that runs in so many processes; with one, here."""
    pool = _pool(thing, processes) if processes > 1 else None
    if pool is None:
        yield one_by_one(thing)
        return
    try:
        yield lambda function, items: _there(pool, function, items, otherwise=one_by_one(thing))
    finally:
        pool.shutdown(cancel_futures=True)


def _there(pool: ProcessPoolExecutor, function: Callable[[Any, T], R], items: Sequence[T], *, otherwise: Each) -> Iterator[R]:
    jobs, done = [], 0
    with suppress(BrokenProcessPool, OSError):  # what got no job is done here below
        jobs += (pool.submit(_work, function, item) for item in items)
    try:
        for job in jobs:
            result = job.result()
            done += 1
            yield result
    except BrokenProcessPool:
        pass
    yield from otherwise(function, items[done:])


def _pool(thing: Any, processes: int) -> ProcessPoolExecutor | None:
    """None where processes cannot be started (no semaphores, a limit on processes) or not safely."""
    if sys.platform != "linux":
        context = multiprocessing.get_context()
    elif threading.active_count() == 1:
        context = multiprocessing.get_context("fork")  # the libraries are loaded already
    else:
        return None  # a fork may wait for ever for what another thread held
    try:
        return ProcessPoolExecutor(processes, mp_context=context, initializer=_begin, initargs=(thing,))
    except (ImportError, NotImplementedError, OSError):
        return None


def _begin(thing: Any) -> None:
    global _thing
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the first process is told to stop, and stops the others
    threading.Thread(target=_end_with_first, daemon=True).start()
    _thing = thing


def _end_with_first() -> None:
    """Ends this process when the first one ends: killed, it stops no others, and they would wait for work for ever."""
    first = multiprocessing.parent_process()
    if first is not None:
        first.join()
        os._exit(1)


def _work(function: Callable[[Any, T], R], item: T) -> R:
    return function(_thing, item)

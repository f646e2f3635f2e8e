"""Many: a function and jobs -> its answers in the jobs' order, worked out by one process or by several."""

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from itertools import islice

from rigkit.require import RigError

FEW = 24  # jobs; for fewer a second process takes longer to start than it saves
CHUNK, AHEAD = 4, 4  # jobs that are given out together, and how many such for each process are given out ahead


def processes(asked: int | None, jobs: int) -> int:
    """How many processes share the work: what was asked, or one for each core where there is work enough."""
    if asked is not None:
        return min(asked, max(jobs, 1))
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return cores if jobs > FEW else 1


def in_order(work: Callable, jobs: Iterable, count: int, load: Callable, arguments: tuple) -> Iterator:
    """The answers of `work` to each job, in order, worked out by `count` processes. `load(*arguments)` is called first
    in each; jobs are taken as they are needed.

    Raises RigError where a process was ended from outside, as by a machine that runs out of memory.
    """
    if count <= 1:
        load(*arguments)
        yield from map(work, jobs)
        return
    from concurrent.futures import Future, ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool

    pool = ProcessPoolExecutor(count, multiprocessing.get_context("spawn"), _start, (load, arguments))
    waiting: deque[Future] = deque()
    rest = iter(jobs)
    try:
        while chunk := list(islice(rest, CHUNK)):
            with _deaf():
                waiting.append(pool.submit(_each, work, chunk))
            if len(waiting) > AHEAD * count:
                yield from waiting.popleft().result()
        while waiting:
            yield from waiting.popleft().result()
    except BrokenProcessPool:
        raise RigError("all processes to work to the end", "one that was ended",
                       "the machine had no memory left", "Run the same command again; it goes on where it stopped",
                       "marking") from None  # fmt: skip
    finally:
        pool.shutdown(cancel_futures=True)


@contextmanager
def _deaf() -> Iterator[None]:
    """Processes that are started meanwhile do not hear Ctrl+C, which stops the first one, and it the others; that one
    hears it afterwards, for a process that is cut off as it starts would tell of it in a traceback."""
    if threading.current_thread() is not threading.main_thread() or not hasattr(signal, "pthread_sigmask"):
        yield
        return
    heard: list[int] = []
    handler = signal.signal(signal.SIGINT, lambda *_: heard.append(1))  # another thread may take the signal in
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
        if handler is not None:  # None: set by something else than Python
            signal.signal(signal.SIGINT, handler)
        if heard:
            raise KeyboardInterrupt


def _each(work: Callable, chunk: list) -> list:
    return [work(job) for job in chunk]


def _start(load: Callable, arguments: tuple) -> None:
    """Begin in a new process, which ends when the one that started it does, however that ends."""
    parent = multiprocessing.parent_process()

    def follow() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=follow, daemon=True).start()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    load(*arguments)

"""Captures judged in processes of this computer. They are started afresh (spawn), as on every system."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from typing import ParamSpec, TypeVar

from relearn.survey.columns import Row
from relearn.survey.find import Found
from relearn.survey.flow import Meanwhile, Work, died_row, flowing, nothing, row_of
from relearn.survey.judge import judge
from relearn.survey.questions import Asked

P = ParamSpec("P")
T = TypeVar("T")
AHEAD = 2  # captures handed over for each process: one in hand and one next, so that a death leaves few suspects
MOST_WORKERS = 61  # what Windows can wait for
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""How many threads a process may take for linear algebra, as the libraries below numpy ask for it."""


def usual_workers() -> int:
    """One for each core."""
    return min(os.cpu_count() or 1, MOST_WORKERS)


def judged(
    captures: Iterable[Found], asked: Asked, workers: int, work: Work = judge, *, meanwhile: Meanwhile = nothing
) -> Iterator[tuple[Found, Row]]:
    """Every capture with its row, as they are done. meanwhile: as flow.flowing has it.

    When a process dies (out of memory, a fault in a library), what was handed over is judged again one by one. One
    whose process dies even then gets a row that says so, and the rest goes on in new processes.
    """
    waiting = deque(captures)
    while waiting:
        suspects = []
        with processes(min(workers, len(waiting))) as pool:
            for found, future in flowing(pool, work, waiting, asked, AHEAD * workers, meanwhile):
                if isinstance(future.exception(), BrokenExecutor):
                    suspects.append(found)
                else:
                    yield found, row_of(found, future, asked)
        for found in suspects:
            yield found, _alone(found, asked, work, meanwhile)


def _alone(found: Found, asked: Asked, work: Work, meanwhile: Meanwhile) -> Row:
    with processes(1) as pool:
        for _, future in flowing(pool, work, deque([found]), asked, 1, meanwhile):
            if not isinstance(future.exception(), BrokenExecutor):
                return row_of(found, future, asked)
    return died_row(found, asked, "twice")


class _Pool(ProcessPoolExecutor):
    """Ctrl-C is for the command alone: its processes, started while it hands something over, are born deaf to it."""

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        with _ctrl_c_waiting():
            return super().submit(fn, *args, **kwargs)


@contextmanager
def _ctrl_c_waiting() -> Iterator[None]:
    """Held back from this thread until the end, and for good from a process that is started meanwhile."""
    if not hasattr(signal, "pthread_sigmask"):  # Windows
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def processes(count: int) -> Iterator[ProcessPoolExecutor]:
    """A pool that is gone afterwards. Left early (an error, Ctrl-C), its processes are ended and not waited for."""
    others = set(multiprocessing.active_children())
    pool = _Pool(count, multiprocessing.get_context("spawn"), _worker)
    try:
        with _one_thread_each():
            yield pool
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        for child in set(multiprocessing.active_children()) - others:
            child.terminate()
        raise
    pool.shutdown()


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Processes started meanwhile calculate in one thread, unless the user said otherwise: there is a process for each
    core already, and threads that wait for each other between small matrices took four times as long as none."""
    ours = [name for name in THREADS if name not in os.environ]
    os.environ.update(dict.fromkeys(ours, "1"))
    try:
        yield
    finally:
        for name in ours:
            os.environ.pop(name, None)


def _worker() -> None:
    """In each process: deaf to Ctrl-C on every system, and it does not outlive the command, even a killed one."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_the_command, daemon=True).start()


def _end_with_the_command() -> None:
    command = multiprocessing.parent_process()
    if command is not None:
        command.join()
        os._exit(1)

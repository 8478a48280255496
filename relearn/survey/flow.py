"""Captures through any executor of concurrent.futures, a few ahead at a time, each handed back as it is done."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, wait

from relearn.survey.columns import Row
from relearn.survey.find import Found
from relearn.survey.judge import unreadable_row
from relearn.survey.questions import Asked

Work = Callable[[Found, Asked], Row]
DIED = "the process that judged it died"
LOOK_S = 1.0  # so often `meanwhile` is called while nothing is done
Meanwhile = Callable[[], None]


def flowing(
    executor: Executor, work: Work, waiting: deque[Found], asked: Asked, ahead: int, meanwhile: Meanwhile
) -> Iterator[tuple[Found, Future[Row]]]:
    """Takes from `waiting` until it is empty or the executor is broken; what is left there was never begun.

    meanwhile: called whenever a second went by in which nothing was done; it may raise to end the flow.
    """
    running: dict[Future[Row], Found] = {}
    while _filled(executor, work, waiting, asked, running, ahead):
        done, _ = wait(running, LOOK_S, FIRST_COMPLETED)
        if not done:
            meanwhile()
        for future in done:
            yield running.pop(future), future


def _filled(
    executor: Executor, work: Work, waiting: deque[Found], asked: Asked, running: dict[Future[Row], Found], ahead: int
) -> bool:
    """Hand over as many as may be ahead; whether anything is running then."""
    try:
        while waiting and len(running) < ahead:
            running[executor.submit(work, waiting[0], asked)] = waiting[0]
            waiting.popleft()
    except BrokenExecutor:
        return bool(running)
    return bool(running)


def nothing() -> None:
    """What is done meanwhile where there is nothing to do."""


def row_of(found: Found, future: Future[Row], asked: Asked) -> Row:
    """What the worker made of it; where it ended with an error that nobody foresaw, a row that says so."""
    wrong = future.exception()
    if wrong is None:
        return future.result()
    what = f"was not foreseen ({type(wrong).__name__}: {wrong})"
    return unreadable_row(found, asked, f"this input {what}; report it.", what)


def died_row(found: Found, asked: Asked, how_often: str) -> Row:
    """A capture whose workers died."""
    return unreadable_row(found, asked, f"{DIED}, {how_often}; it may need more memory than there is.", DIED)

"""Captures judged by the workers of a Dask cluster, with the function that local processes run.

Every worker must see the files under the same path as this computer, and have the same relearn installed.
"""

from __future__ import annotations

import asyncio
import importlib
import logging
import time
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from relearn import __version__
from relearn.errors import ChoiceError
from relearn.survey.columns import Row
from relearn.survey.find import Found
from relearn.survey.flow import Meanwhile, Work, died_row, flowing, nothing, row_of
from relearn.survey.judge import judge, unreadable_row
from relearn.survey.questions import Asked

if TYPE_CHECKING:
    from distributed import Client

CONNECT_S = 4.0
NO_WORKER_S = 30.0  # so long a cluster that lost its workers is waited for: one that is restarted comes back
FIRST_WORKER_S = 5.0  # and so long one in which none was ever seen
LOGGERS = ("distributed", "distributed.client")  # Dask gives each a level of its own
UNSEEN = "is here, but the worker does not see it"
AHEAD = 256  # captures handed over at a time: enough for a hundred cores, few enough to end soon


def judged(
    captures: Iterable[Found], asked: Asked, address: str, work: Work = judge, *, meanwhile: Meanwhile = nothing
) -> Iterator[tuple[Found, Row]]:
    """Every capture with its row, as they are done. When a worker dies Dask tries its captures elsewhere; one that goes
    on killing workers is a row that says so. meanwhile: as flow.flowing has it.

    ChoiceError: no Dask here, nobody at the address, another relearn on a worker, no worker left, the scheduler gone.
    """
    _check_installed()
    with _hushed(), _connected(address) as client:
        _same_program(client, address)
        executor = client.get_executor(pure=False)  # type: ignore[no-untyped-call]
        watch = _Watch(client, address, meanwhile)
        for found, future in flowing(executor, work, deque(captures), asked, AHEAD, watch):
            yield found, _row(found, _whole(future, address), asked)


class _Watch:
    """Ends the wait for a cluster in which nobody works, or nobody any more. no_worker_s: how long that may last."""

    def __init__(self, client: Client, address: str, meanwhile: Meanwhile, no_worker_s: float = NO_WORKER_S) -> None:
        self.client, self.address, self.meanwhile, self.no_worker_s = client, address, meanwhile, no_worker_s
        self.ever, self.seen_s = self._working(), time.monotonic()

    def __call__(self) -> None:
        self.meanwhile()
        now_s = time.monotonic()
        if self._working():
            self.ever, self.seen_s = True, now_s
        elif now_s - self.seen_s >= (self.no_worker_s if self.ever else FIRST_WORKER_S):
            raise _nobody_works(self.address, self.ever)

    def _working(self) -> bool:
        return bool(self.client.scheduler_info()["workers"])


def _nobody_works(address: str, ever: bool) -> ChoiceError:
    if ever:
        what, besides = f"no worker is left at the scheduler {address}", "; with --out the rows so far are kept"
    else:
        what, besides = f"no worker has come to the scheduler {address} in {FIRST_WORKER_S:g} s", ""
    return ChoiceError(what, remedy=f"start workers there and give the same command again{besides}")


def _row(found: Found, future: Future[Row], asked: Asked) -> Row:
    from distributed import KilledWorker

    if isinstance(future.exception(), KilledWorker):
        return died_row(found, asked, "on several workers")
    row = row_of(found, future, asked)
    unseen = row["decided_by"] == "does not exist" and Path(found.path).exists()
    return (
        unreadable_row(found, asked, f"{UNSEEN}; every worker needs it under the same path.", UNSEEN) if unseen else row
    )


def version() -> str:
    """The relearn that a worker runs."""
    return __version__


def _same_program(client: Client, address: str) -> None:
    """Rows made by different programs do not belong in one table."""
    for worker, answer in client.run(version, on_error="return").items():
        if answer != __version__:
            said = f"has relearn {answer}" if isinstance(answer, str) else f"cannot run relearn ({answer})"
            raise ChoiceError(
                f"the worker {worker} of {address} {said}, and here is {__version__}",
                remedy="install the same relearn on every worker",
            )


def _whole(future: Future[Row], address: str) -> Future[Row]:
    """A future that was not cancelled: Dask cancels what it can no longer hear of."""
    if future.cancelled():
        raise ChoiceError(
            f"the scheduler {address} is gone",
            remedy="start it and give the same command again; with --out the rows so far are kept",
        )
    return future


def _check_installed() -> None:
    """Imports Dask, which sets the levels of its loggers."""
    try:
        importlib.import_module("distributed")
    except ImportError:
        raise ChoiceError(
            "--scheduler needs Dask, which is not installed", remedy='install it with pip install "relearn[cluster]"'
        ) from None


@contextmanager
def _connected(address: str) -> Iterator[Client]:
    """A client of the scheduler. Somebody must answer first: a client that finds nobody cannot be closed in time."""
    from distributed import Client

    if asyncio.run(_answering(address)) != "Scheduler":
        raise ChoiceError(f"there is no scheduler at {address}", remedy="give its address like tcp://10.0.0.5:8786")
    client = Client(address, timeout=CONNECT_S, set_as_default=False)  # type: ignore[no-untyped-call]
    try:
        yield client
    finally:
        client.close(timeout=CONNECT_S)  # type: ignore[no-untyped-call]


async def _answering(address: str) -> str:
    """What the other end calls itself; '' where nobody answers who speaks as Dask does.

    ValueError: no such address. MemoryError: another program's greeting, taken for the length of a message.
    """
    try:
        return await asyncio.wait_for(_identity(address), CONNECT_S)
    except (OSError, ValueError, MemoryError):
        return ""


async def _identity(address: str) -> str:
    from distributed.core import rpc
    from distributed.security import Security

    tls = Security().get_connection_args("client")  # type: ignore[no-untyped-call]
    async with rpc(address, connection_args=tls) as far:  # type: ignore[no-untyped-call]
        return str((await far.identity())["type"])


@contextmanager
def _hushed() -> Iterator[None]:
    """What Dask logs when it loses a worker or the scheduler is said here, in a row or a sentence."""
    loggers = [logging.getLogger(name) for name in LOGGERS]
    levels = [one.level for one in loggers]
    for one in loggers:
        one.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for one, level in zip(loggers, levels, strict=True):
            one.setLevel(level)

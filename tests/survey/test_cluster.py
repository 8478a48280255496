"""A real Dask scheduler and its workers, on the loopback."""

from __future__ import annotations

import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from functools import partial
from pathlib import Path
from threading import Thread

import pytest

from relearn.errors import ChoiceError
from relearn.survey import cluster
from relearn.survey.find import Found
from tests.survey.demo import CAPTURES, here, settle
from tests.survey.demo import found as one_found
from tests.survey.odd_work import work

pytest.importorskip("distributed")
ROOT = Path(__file__).parents[2]
NAMES = ("demo-after.log", "stall.log", "hunting.log", "gone.log")


def found(*names: str) -> list[Found]:
    return [one_found(name) for name in names]


@contextmanager
def process(program: str, *words: str) -> Iterator[subprocess.Popen[str]]:
    """One of Dask's own commands, ended afterwards."""
    command = [sys.executable, "-m", f"distributed.cli.{program}", *words, "--no-dashboard"]
    with subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, text=True) as ran:
        try:
            yield ran
        finally:
            ran.kill()


def heard(ran: subprocess.Popen[str], words: str) -> str:
    """The line in which a process says this."""
    assert ran.stderr is not None
    for line in ran.stderr:
        if words in line:
            return line
    raise AssertionError(f"it ended before it said '{words}'")


@contextmanager
def scheduler() -> Iterator[tuple[str, subprocess.Popen[str]]]:
    with process("dask_scheduler", "--host", "127.0.0.1", "--port", "0") as ran:
        yield heard(ran, "Scheduler at:").split()[-1], ran


def worker(address: str) -> AbstractContextManager[subprocess.Popen[str]]:
    return process("dask_worker", address, "--no-nanny", "--nthreads", "1", "--host", "127.0.0.1")


def test_two_workers_make_the_same_rows_and_another_program_none(monkeypatch: pytest.MonkeyPatch) -> None:
    captures, ask = found(*NAMES), settle()
    with scheduler() as (address, _), worker(address) as first, worker(address) as second:
        heard(first, "Registered to"), heard(second, "Registered to")
        rows = {one.file: row for one, row in cluster.judged(captures, ask, address)}
        own = {one.file: row for one, row in here(captures, ask)}
        assert {name: {**row, "judged_in_s": 0} for name, row in rows.items()} == {
            name: {**row, "judged_in_s": 0} for name, row in own.items()
        }
        busy = {row["reason"] for _, row in cluster.judged(found(*map("{}.log".format, range(20))), ask, address, work)}
        assert len(busy) == 2
        odd = {one.file: row for one, row in cluster.judged(found("odd.log"), ask, address, work)}
        assert "ZeroDivisionError" in str(odd["odd.log"]["reason"])
        unseen = one_found("unseen.log", CAPTURES / "stall.log")
        assert [row["decided_by"] for _, row in cluster.judged([unseen], ask, address, work)] == [cluster.UNSEEN]
        monkeypatch.setattr(cluster, "__version__", "9.9")
        with pytest.raises(ChoiceError, match=r"has relearn 0.*install the same"):
            next(cluster.judged(captures, ask, address))


def test_a_cluster_without_workers_is_a_sentence_and_no_hang(monkeypatch: pytest.MonkeyPatch) -> None:
    """The only worker dies of a capture."""
    monkeypatch.setattr(cluster, "_Watch", partial(cluster._Watch, no_worker_s=1.0))
    with scheduler() as (address, _), worker(address) as only:
        heard(only, "Registered to")
        rows = cluster.judged(found("deadly.log"), settle(), address, work)
        with pytest.raises(ChoiceError, match="no worker is left"):
            list(rows)


def test_a_scheduler_that_goes_is_a_sentence() -> None:
    with scheduler() as (address, ran), worker(address) as only:
        heard(only, "Registered to")
        rows = cluster.judged(found("a.log", "slow.log"), settle(), address, work)
        assert next(rows)[0].file == "a.log"
        ran.kill()
        with pytest.raises(ChoiceError, match="is gone"):
            next(rows)


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense://x", "nonsense", "127.0.0.1", "tcp://a:b"])
def test_nobody_at_the_address(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "CONNECT_S", 0.5)
    with pytest.raises(ChoiceError, match="there is no scheduler at"):
        next(cluster.judged(found("a.log"), settle(), address))


def test_another_program_at_the_address_is_no_scheduler() -> None:
    """Its greeting must not be taken for the length of a message that is to come."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        Thread(target=lambda: server.accept()[0].sendall(b"220 ready when you are\r\n"), daemon=True).start()
        with pytest.raises(ChoiceError, match="there is no scheduler at"):
            next(cluster.judged(found("a.log"), settle(), f"tcp://127.0.0.1:{server.getsockname()[1]}"))


def test_a_scheduler_to_which_no_worker_comes_is_told_so_and_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "FIRST_WORKER_S", 1.0)
    with (
        scheduler() as (address, _),
        pytest.raises(ChoiceError, match=r"no worker has come to the scheduler .* in 1 s"),
    ):
        list(cluster.judged(found("a.log"), settle(), address, work))

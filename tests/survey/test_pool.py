"""Processes of this computer: what dies is a row, and nothing outlives the command."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from relearn.survey import pool, table
from relearn.survey.find import Found
from relearn.survey.flow import DIED
from tests.survey.demo import found as one_found
from tests.survey.demo import here, settle
from tests.survey.odd_work import work

ROOT = Path(__file__).parents[2]


def found(*names: str) -> list[Found]:
    return [one_found(name) for name in names]


def test_the_rows_are_those_of_this_process() -> None:
    captures, ask = found("demo-after.log", "stall.log", "gone.log"), settle()
    rows = {one.file: {**row, "judged_in_s": 0} for one, row in pool.judged(captures, ask, 2)}
    assert rows == {one.file: {**row, "judged_in_s": 0} for one, row in here(captures, ask)}


def test_a_process_that_dies_is_a_row_and_the_rest_goes_on() -> None:
    names = ["a.log", "deadly.log", "b.log", "odd.log", "c.log", "d.log", "e.log"]
    rows = {one.file: row for one, row in pool.judged(found(*names), settle(), 1, work)}
    assert set(rows) == set(names)
    assert str(rows["deadly.log"]["reason"]).startswith(DIED) and rows["deadly.log"]["sha256"] == ""
    assert "ZeroDivisionError: nobody thought of this" in str(rows["odd.log"]["reason"])
    assert {rows[name]["decided_by"] for name in names if len(name) == 5} == {"done"}


@pytest.mark.parametrize(("given", "seen"), [(None, "1"), ("3", "3")])
def test_a_process_calculates_in_one_thread_unless_told_otherwise(
    given: str | None, seen: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in pool.THREADS:
        monkeypatch.setenv(name, given) if given else monkeypatch.delenv(name, raising=False)
    assert [row["reason"] for _, row in pool.judged(found("threads.log"), settle(), 1, work)] == [seen]
    assert {os.environ.get(name) for name in pool.THREADS} == {given}


def held_back() -> set[int]:
    """The signals that do not reach this thread now."""
    return set(signal.pthread_sigmask(signal.SIG_BLOCK, []))


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such masks")
def test_a_process_is_deaf_to_ctrl_c_before_its_first_line() -> None:
    """It spends most of its start importing, and would end that with a traceback among the command's own words."""
    with pool.processes(1) as started:
        assert signal.SIGINT in started.submit(held_back).result(30)
        assert signal.SIGINT not in held_back()


@contextmanager
def slow_survey(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[str], list[int], Path]]:
    """One that is two captures far and waits for slow ones; its workers, and its table."""
    folder, out = tmp_path / "captures", tmp_path / "rows.csv"
    folder.mkdir()
    for name in ("a.log", "b.log", "slow1.log", "slow2.log", "slow3.log"):
        (folder / name).write_text("x", encoding="ascii")
    command = [sys.executable, "-m", "tests.survey.odd_work", str(folder), str(out)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as ran:
        assert ran.stdout is not None
        yield ran, [int(ran.stdout.readline().split()[1]) for _ in range(2)], out


def alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C is sent to a group of consoles there")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL], ids=["interrupted", "ended", "killed"])
def test_nothing_outlives_the_command(how: signal.Signals, tmp_path: Path) -> None:
    with slow_survey(tmp_path) as (ran, workers, out):
        assert ran.stderr is not None
        ran.send_signal(how)
        assert ran.wait(20) == (-signal.SIGKILL if how is signal.SIGKILL else 2)
        said = ran.stderr.read()
    until_s = time.monotonic() + 10
    while any(map(alive, workers)) and time.monotonic() < until_s:
        time.sleep(0.05)
    assert not any(map(alive, workers))
    if how is not signal.SIGKILL:
        assert said == f"relearn: interrupted after 2 of 5 captures; what was done is kept in {out}.\n"
        assert [row["file"] for row in table.read(out, settle())] == ["a.log", "b.log"]


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C is sent to a group of consoles there")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM], ids=["interrupted", "ended"])
def test_asked_to_end_again_and_again_it_ends_as_it_was_asked_once(how: signal.Signals, tmp_path: Path) -> None:
    """Also while Python clears up after the command."""
    with slow_survey(tmp_path) as (ran, _, out):
        assert ran.stderr is not None
        until_s = time.monotonic() + 20
        while ran.poll() is None and time.monotonic() < until_s:
            ran.send_signal(how)
            time.sleep(0.02)
        assert ran.returncode == 2
        assert ran.stderr.read() == f"relearn: interrupted after 2 of 5 captures; what was done is kept in {out}.\n"
    assert [row["file"] for row in table.read(out, settle())] == ["a.log", "b.log"]

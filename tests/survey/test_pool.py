"""Processes of this computer: what dies is a row, and nothing outlives the command."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
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


def alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C is sent to a group of consoles there")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL], ids=["interrupted", "ended", "killed"])
def test_nothing_outlives_the_command(how: signal.Signals, tmp_path: Path) -> None:
    folder, out = tmp_path / "captures", tmp_path / "rows.csv"
    folder.mkdir()
    for name in ("a.log", "b.log", "slow1.log", "slow2.log", "slow3.log"):
        (folder / name).write_text("x", encoding="ascii")
    command = [sys.executable, "-m", "tests.survey.odd_work", str(folder), str(out)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as ran:
        assert ran.stdout is not None and ran.stderr is not None
        workers = [int(ran.stdout.readline().split()[1]) for _ in range(2)]
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

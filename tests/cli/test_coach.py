"""`relearn coach`: what it refuses before it opens a bus, and a whole coaching through `run` in counted time."""

from __future__ import annotations

import contextlib
import io
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from relearn.cli.coach import free_name, run
from relearn.errors import BusError
from tests.cli.run import CAPTURES, relearn
from tests.coach.car import PEDAL, coaching, demo_car
from tests.jobs.build import started


def test_an_unknown_relearn_is_one_sentence_and_opens_nothing(tmp_path: Path) -> None:
    ran = relearn("coach", "--for", "idle", "--out", tmp_path / "a.log")
    assert (ran.code, ran.out, ran.err.count("\n")) == (2, "", 1) and "after-write" in ran.err
    assert not list(tmp_path.iterdir())


def test_a_job_without_this_relearn_is_refused_before_anything_is_recorded(tmp_path: Path) -> None:
    started(tmp_path / "job", "battery-disconnected")
    ran = relearn("coach", "--for", "idle-air-volume", "--job", tmp_path / "job", "--out", tmp_path / "a.log")
    assert ran.code == 2 and "asks for no 'idle-air-volume'" in ran.err and not (tmp_path / "a.log").exists()


def test_a_recording_is_never_written_over(tmp_path: Path) -> None:
    taken = tmp_path / "a.log"
    taken.write_bytes((CAPTURES / "stall.log").read_bytes())
    ran = relearn("coach", "--for", PEDAL, "--out", taken, "--interface", "virtual", "--channel", "coach-test")
    assert ran.code == 2 and "never written over" in ran.err
    assert taken.read_bytes() == (CAPTURES / "stall.log").read_bytes()


def test_an_interface_that_is_none_is_one_sentence(tmp_path: Path) -> None:
    ran = relearn("coach", "--for", PEDAL, "--out", tmp_path / "a.log", "--interface", "no-such", "--channel", "0")
    assert (ran.code, ran.err.count("\n")) == (2, 1) and "cannot be opened" in ran.err


def test_the_default_name_says_when_and_for_what() -> None:
    assert free_name(PEDAL, datetime(2026, 5, 18, 10, 8)) == Path(f"{PEDAL}-20260518-100800.log")


class Typed(io.StringIO):
    """What a person types, once it is time."""

    def __init__(self, text: str, is_time: Callable[[], bool]) -> None:
        super().__init__(text)
        self._is_time = is_time

    def __next__(self) -> str:
        while not self._is_time():
            time.sleep(0.001)
        return super().__next__()


def ended(
    path: Path, monkeypatch: pytest.MonkeyPatch, typed: str, lost_at_s: float | None = None, typed_at_s: float = 0.0
) -> tuple[int, str, str]:
    """A coaching of the practice car to its end: exit code, stdout, stderr."""
    made, source = coaching("steps-pedal-right", PEDAL, path)
    step, began_s = source.step, made.clock.now_s()
    monkeypatch.setattr("sys.stdin", Typed(typed, lambda: made.clock.now_s() - began_s >= typed_at_s))

    def failing() -> None:
        if lost_at_s is not None and made.clock.now_s() - began_s > lost_at_s:
            raise BusError("the adapter no longer answers", remedy="check its plug")
        step()

    monkeypatch.setattr(source, "step", failing)
    out, err = io.StringIO(), io.StringIO()
    with pytest.raises(SystemExit) as left, contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        run(source, made.clock, path, PEDAL, demo_car(), None, as_lines=True)
    return int(left.value.code or 0), out.getvalue(), err.getvalue()


def test_it_ends_with_the_last_judgement(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    code, out, err = ended(tmp_path / "a.log", monkeypatch, "n the meter shows it\n")
    assert (code, err) == (0, ""), out
    assert "YES  steps done, in time" in out.splitlines()[-1]
    assert f"recorded in {tmp_path / 'a.log'}" in out and "the meter shows it" in out
    assert relearn("steps", tmp_path / "a.log", "--for", PEDAL, "--sheet", "demo-car").code == 0


def test_q_ends_it_with_the_readiness(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    code, out, _ = ended(tmp_path / "a.log", monkeypatch, "q\n", typed_at_s=5.0)
    assert code == 3 and "CANNOT TELL  ready" in out


def test_a_coaching_in_which_nobody_answered_ends_in_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    code, out, err = ended(tmp_path / "a.log", monkeypatch, "q\n")  # before the first answer
    assert (code, err) == (3, "") and out.splitlines()[-1].startswith("CANNOT TELL  no module answered")


def test_a_name_that_no_recording_may_have_is_refused_at_once(tmp_path: Path) -> None:
    ran = relearn("coach", "--for", PEDAL, "--out", tmp_path / "a.txt", "--interface", "no-such", "--channel", "0")
    assert (ran.code, ran.out, ran.err.count("\n")) == (2, "", 1) and "suffix" in ran.err


def test_a_lost_adapter_is_exit_2_with_the_file_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    code, out, err = ended(tmp_path / "a.log", monkeypatch, "", lost_at_s=9.0)
    assert code == 2 and "the adapter no longer answers" in err and "ready:" in out
    assert (tmp_path / "a.log").read_bytes().endswith(b"\n")
    assert relearn("show", tmp_path / "a.log").code == 0

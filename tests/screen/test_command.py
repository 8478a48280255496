"""`relearn screen` when it cannot: one sentence and exit code 2, whatever is wrong."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from relearn.bus.clock import MachineClock
from relearn.cli.screen import _tell_results
from relearn.drills.results import Result
from relearn.procedures.sheets import generic
from relearn.screen.desk import Desk
from relearn.screen.hall import Hall
from tests.cli.run import CAPTURES, relearn
from tests.screen.raw import HERE, asked
from tests.screen.served import command, environment, served

STALL = CAPTURES / "stall.log"
BUS = ("--interface", "virtual", "--channel", "nobody")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("no-such-folder",), "no-such-folder is no folder, no capture and no packaged scenario; name one"),
        (("no-such.log",), "no-such.log: does not exist"),
        (("empty",), "empty: there is no capture and no drill in this folder; name another"),
        (("broken.log",), "broken.log"),
        ((STALL, "--sheet", "no-such-sheet"), "no-such-sheet"),
        ((STALL, "--sheet", "broken.toml"), "broken.toml"),
        ((STALL, "--for", "no-such-relearn"), "there is no relearn called 'no-such-relearn'; choose one of"),
        ((STALL, "--for", "vin-write"), "scan data shows no step of vin-write; choose another with --for"),
        ((STALL, *BUS), "a file and a live bus cannot be shown at once; leave one of them out"),
        ((STALL, "--out", "new.log"), "--out is where a live bus is recorded to; name the bus"),
        ((*BUS, "--out", "broken.log"), "broken.log"),
        (("--interface", "no-such-interface"), "the interface no-such-interface cannot be opened"),
        ((STALL, "--share", "laptop"), "--share laptop is no address; give one as numbers"),
        ((STALL, "--share", "0.0.0.0"), "--share 0.0.0.0 is no address at which others reach this machine"),
        ((STALL, "--share", "127.0.0.1"), "--share 127.0.0.1 is no address at which others reach this machine"),
        ((STALL, "--share", "::"), "--share :: is no address"),
        ((STALL, "--port", "65536"), "65536"),
        ((STALL, "--links", "0"), "0 is not in the range"),
    ],
)
def test_what_cannot_be_shown_is_one_sentence(
    words: tuple[object, ...], says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty").mkdir()
    (tmp_path / "broken.log").write_text("no capture\n", encoding="utf-8")
    (tmp_path / "broken.toml").write_text("no sheet\n", encoding="utf-8")
    ran = relearn("screen", *words, "--no-browser")
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err
    assert "Traceback" not in ran.err
    assert sorted(one.name for one in tmp_path.iterdir()) == ["broken.log", "broken.toml", "empty"]


def test_what_the_class_has_answered_stands_in_the_terminal_at_the_end(capsys: pytest.CaptureFixture[str]) -> None:
    hall = Hall(Desk(None, "idle-air-volume", generic()), MachineClock())
    _tell_results(hall)
    assert capsys.readouterr().out == ""
    hall.results.append(
        Result("Ann", "Monday", "a.log", 31.5, "ready", "Ready?", ("yes",), ("no",), 0.0, True, seconds=4.0)
    )
    _tell_results(hall)
    assert "Ann,Monday,a.log,31.5,Is it ready?" in capsys.readouterr().out


def test_without_the_extra_it_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "nicegui", None)
    ran = relearn("screen", STALL)
    assert (ran.code, ran.out) == (2, "")
    assert 'the page needs one more package; install it with pip install "relearn[screen]".' in ran.err


def test_a_port_that_is_taken_is_one_sentence_and_the_next_is_free(tmp_path: Path) -> None:
    with served(STALL, cwd=tmp_path) as first:
        second = command("screen", STALL, "--port", first.port, "--no-browser", cwd=tmp_path)
        said, _ = second.communicate(timeout=60)
        assert (second.returncode, said.count("\n")) == (2, 1)
        assert f"port {first.port} of 127.0.0.1 is taken" in said
        assert asked(HERE, first.port, "/").status == 200
        assert first.end() == 0


def test_an_address_of_another_machine_is_one_sentence(tmp_path: Path) -> None:
    """203.0.113.0/24 is for documentation and nobody's (RFC 5737)."""
    ran = command("screen", STALL, "--port", 0, "--share", "203.0.113.9", "--no-browser", cwd=tmp_path)
    said, _ = ran.communicate(timeout=60)
    assert (ran.returncode, said.count("\n")) == (2, 1)
    assert "the page cannot be served on 203.0.113.9" in said


def test_a_judge_that_fails_ends_the_page(tmp_path: Path) -> None:
    """Else the last verdict would stand there for ever."""
    broken = (
        "import sys, relearn.screen.desk as desk; from relearn.cli import main\n"
        "desk.Desk.judge = lambda self: 1 / 0\n"
        f"sys.argv = ['relearn', 'screen', {str(STALL)!r}, '--port', '0', '--no-browser']; main()"
    )
    ran = subprocess.run(
        [sys.executable, "-c", broken],
        capture_output=True,
        text=True,
        env=environment(),
        cwd=tmp_path,
        timeout=60,
        check=False,
    )
    assert (ran.returncode, ran.stderr.count("\n")) == (2, 1)
    assert "this input was not foreseen (ZeroDivisionError" in ran.stderr

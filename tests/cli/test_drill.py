"""`relearn drill` from start to score, as a trainer and a class use it."""

import csv
import io
import os
import shutil
import signal
from concurrent.futures import Future
from contextlib import nullcontext
from itertools import count
from pathlib import Path
from types import SimpleNamespace

import pytest

from relearn.cli.drill import asked_through, in_order, when
from relearn.drills.drill_file import load, to_toml
from relearn.drills.make import LESSON, Looked, captures, make
from relearn.drills.questions import Shown, question
from tests.cli.run import CAPTURES, Ran, relearn

DRILL = """\
title = "Monday"
sheet = "demo-car"
[[stop]]
capture = "pedal-not-released.log"
at_s = 20
kind = "ready"
relearn = "throttle-closed-position"
[[stop]]
capture = "pedal-not-released.log"
at_s = 20
kind = "missing"
relearn = "throttle-closed-position"
[[stop]]
capture = "pedal-not-released.log"
at_s = 25
kind = "happened"
wording = "What is odd here?"
note = "look under the mat"
"""


@pytest.fixture
def drill(tmp_path: Path) -> Path:
    shutil.copy(CAPTURES / "pedal-not-released.log", tmp_path)
    path = tmp_path / "drill.toml"
    path.write_text(DRILL, encoding="utf-8")
    return path


def play(monkeypatch: pytest.MonkeyPatch, typed: str, *words: object) -> Ran:
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    return relearn("drill", "play", *words)


def test_made_checked_and_not_written_over(tmp_path: Path) -> None:
    shutil.copy(CAPTURES / "pedal-not-released.log", tmp_path)
    made = relearn("drill", "make", tmp_path, "--sheet", "demo-car")
    path = tmp_path / "drill.toml"
    assert (made.code, path.is_file()) == (0, True), made.err
    assert "questions about 1 capture, of " in made.out
    before = path.read_bytes()
    checked, again = relearn("drill", "check", path), relearn("drill", "make", tmp_path)
    assert checked.code == 0
    assert checked.out.startswith(f"{path}: no mistake found in ") and "Is it ready?" in checked.out
    assert (again.code, path.read_bytes()) == (2, before)
    assert "nothing is written over" in again.err


def test_made_in_processes_it_is_the_same_and_silent_without_a_terminal(tmp_path: Path) -> None:
    for name in ("pedal-not-released.log", "demo-ready-throttle.log"):
        shutil.copy(CAPTURES / name, tmp_path)
    made, path = relearn("drill", "make", tmp_path), tmp_path / "drill.toml"
    assert (made.code, made.err) == (0, "")
    assert path.read_text(encoding="utf-8") == to_toml(make(captures(tmp_path), path).file)


@pytest.mark.parametrize("asked", [signal.SIGINT, signal.SIGTERM])
def test_asked_to_end_while_it_is_made_it_says_so_and_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, asked: signal.Signals
) -> None:
    for name in ("pedal-not-released.log", "demo-ready-throttle.log"):
        shutil.copy(CAPTURES / name, tmp_path)
    pool = SimpleNamespace(submit=lambda look, one: os.kill(os.getpid(), asked))
    monkeypatch.setattr("relearn.survey.pool.processes", lambda workers: nullcontext(pool))
    ran = relearn("drill", "make", tmp_path)
    assert (ran.code, ran.err) == (2, "relearn: ended before there was an answer.\n")
    assert not (tmp_path / "drill.toml").exists()


def test_what_is_left_early_is_not_cancelled() -> None:
    done, waiting = Future[Looked](), Future[Looked]()
    done.set_result(Looked((), "empty"))
    found = in_order([done, waiting])
    assert next(found).left_out == "empty"
    found.close()
    assert not waiting.cancelled()


def test_no_more_questions_than_asked_for(tmp_path: Path) -> None:
    shutil.copy(CAPTURES / "pedal-not-released.log", tmp_path)
    made = relearn("drill", "make", tmp_path, "--sheet", "demo-car", "--questions", 1)
    assert made.code == 0, made.err
    assert "drill.toml: 1 question about 1 capture, of " in made.out
    assert len(load(tmp_path / "drill.toml").stops) == 1
    assert f"[default: {LESSON};" in relearn("drill", "make", "--help").out
    assert relearn("drill", "make", tmp_path, "--questions", 0).code == 2


def test_how_many_of_each_kind(drill: Path) -> None:
    drill.write_text(DRILL.replace('kind = "missing"', 'kind = "ready"').replace("at_s = 20", "at_s = 22", 1), "utf-8")
    checked = relearn("drill", "check", drill)
    assert (checked.code, checked.out) == (
        0,
        f"{drill}: no mistake found in 3 questions\n  2 questions  Is it ready?\n  1 question   What happened?\n",
    )


def test_a_drill_from_start_to_score(drill: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ready: no (2), right. Missing: the pedal (3) and one too many (2), ½. Happened: the pedal, right."""
    offered = [one.id for one in question(load(drill), 2).choices]
    happened = offered.index("pedal-pressed") + 1
    table = drill.with_name("class.csv")
    ran = play(monkeypatch, f"2\n2 3\n{happened}\n", drill, "--person", "=Ann", "--csv", table)
    assert ran.code == 0, ran.err
    first, shown = ran.out.index("3 of 3"), ran.out.index("You said: no\n  By the data: no\n  right, 1 of 1 point")
    assert ran.out.index("2 of 3") < shown < first  # both questions of 20 s are asked before either answer is shown
    assert "look at accelerator pedal position d, 10." in ran.out
    assert "What is odd here?" in ran.out and "note: look under the mat" in ran.out
    assert ran.out.endswith("Is it ready? 1 of 1\nWhat is missing? 0.5 of 1\nWhat happened? 1 of 1\nIn all: 2.5 of 3\n")
    assert "  partly right, 0.5 of 1 point" in ran.out
    rows = list(csv.DictReader(io.StringIO(table.read_bytes().decode("utf-8-sig"), newline="")))
    assert [(row["person"], row["kind of question"], row["points (of 1)"]) for row in rows] == [
        ("'=Ann", "Is it ready?", "1"),
        ("'=Ann", "What is missing?", "0.5"),
        ("'=Ann", "What happened?", "1"),
    ]


def test_what_is_told_fits_the_page_and_is_told_once(drill: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """pedal-not-released at 20 s: two questions at one moment, each named again; one alone at 25 s is not."""
    ran = play(monkeypatch, "2\n2\n2\n", drill)
    assert max(map(len, ran.out.splitlines())) <= 79
    assert ran.out.count("Is the car ready") == 2 and ran.out.count("What is odd here?") == 1


def test_a_moment_is_no_span() -> None:
    assert [when(Shown("supply", 76.3, to_s)) for to_s in (76.3, 80.0)] == ["76.3 s", "76.3 to 80.0 s"]


def test_nothing_and_something_is_asked_again(drill: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    nothing = len(question(load(drill), 1).choices)
    ran = play(monkeypatch, f"2\n1 {nothing}\n3\n2\n", drill)
    assert (ran.code, ran.out.count(f"{nothing} goes with no other answer")) == (0, 1)


def test_how_long_an_answer_took_is_kept(drill: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By a clock that goes on by 1.5 s each time it is looked at: once at the question, once at the answer."""
    monkeypatch.setattr("sys.stdin", io.StringIO("2\n3\n2\n"))
    times_s = count(0.0, 1.5)
    clock = SimpleNamespace(now_s=lambda: next(times_s))
    results = [one for several in asked_through(load(drill), "Ann", clock) for one in several]  # type: ignore[arg-type]
    assert [one.seconds for one in results] == [1.5, 1.5, 1.5]


def test_a_wrong_yes_is_counted(drill: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "Is it ready? 0 of 1, once yes where it was not" in play(monkeypatch, "1\n3\n2\n", drill).out


def test_what_is_no_answer_is_asked_again(drill: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ran = play(monkeypatch, "maybe\n4\n1 2\n²\n2\n3\n2\n", drill)
    assert ran.code == 0 and ran.out.count("give one number from 1 to 3") == 4


def test_left_in_the_middle_it_ends_with_a_sentence_and_keeps_what_was_answered(
    drill: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = drill.with_name("class.csv")
    ran = play(monkeypatch, "2\n3\n", drill, "--csv", table)
    assert (ran.code, ran.err) == (2, "relearn: the drill was left before its end; play it again from its start.\n")
    assert len(table.read_bytes().decode("utf-8-sig").splitlines()) == 3
    again = play(monkeypatch, "2\n3\n2\n", drill, "--csv", table)
    assert again.code == 2 and "nothing is written over" in again.err


def test_a_drill_with_a_mistake_is_not_played(drill: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drill.write_text(DRILL.replace("at_s = 25", "at_s = 2500"), encoding="utf-8")
    for ran in (play(monkeypatch, "", drill), relearn("drill", "check", drill)):
        assert (ran.code, ran.out) == (2, "")
        assert "stop.2.at_s" in ran.err and "Traceback" not in ran.err


@pytest.mark.parametrize(
    ("change", "key"),
    [
        (("pedal-not-released.log", "../a.log"), "stop.0.capture"),
        (("pedal-not-released.log", "a\\u0000.log"), "stop.0.capture"),
        (("at_s = 20", "at_s = nan"), "stop.0.at_s"),
        (("note =", '"\\u001b[31m" ='), "stop.2.\\x1b[31m"),
    ],
)
def test_a_hostile_drill_is_one_plain_sentence(
    drill: Path, monkeypatch: pytest.MonkeyPatch, change: tuple[str, str], key: str
) -> None:
    drill.write_text(DRILL.replace(change[0], change[1], 1), encoding="utf-8")
    ran = play(monkeypatch, "", drill)
    assert (ran.code, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert str(drill) in ran.err and f"'{key}'" in ran.err and ran.err.isascii()
    assert all(letter.isprintable() for letter in ran.err.rstrip("\n"))


def test_a_hostile_title_is_shown_as_escapes(drill: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drill.write_text(DRILL.replace("What is odd here?", "\\u001b]0;x\\u0007"), encoding="utf-8")
    assert "\x1b" not in play(monkeypatch, "2\n3\n2\n", drill).out

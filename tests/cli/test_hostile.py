"""Input made to mislead: nothing of it may pass for a yes or a no, and nothing of it reaches a terminal raw."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from relearn.recording import read
from tests.cli.run import CAPTURES, relearn

# A request for two parameters, its answer's second frame lost, and the first frame of the next answer lost as well:
# what is left bears the right sequence numbers (ISO 15765-2), and only the second flow control tells.
SPLICED = [
    "7E0#0722F405F442F40D", "7E8#100B62F40581F442", "7E0#300000CCCCCCCCCC", "7E0#0722F401F403F404",
    "7E0#300000CCCCCCCCCC", "7E8#21E5F4030200F404",
]  # fmt: skip


def log(path: Path, frames: list[str]) -> Path:
    path.write_text(
        "".join(f"(1700000000.{at:06d}) can0 {frame}\n" for at, frame in enumerate(frames)), encoding="ascii"
    )
    return path


def test_two_losses_that_fit_together_give_no_value(tmp_path: Path) -> None:
    found = read(log(tmp_path / "a.log", SPLICED))
    assert found.samples.empty
    assert [fault.kind for fault in found.faults][:1] == ["interrupted-message"]


def test_two_interfaces_are_two_modules(tmp_path: Path) -> None:
    """The hunting car on can0, a settled one on can1, in one log: the hunting stays a no."""
    first = (CAPTURES / "hunting.log").read_text(encoding="ascii").splitlines()
    second = (CAPTURES / "demo-after.log").read_text(encoding="ascii").splitlines()
    shift_s = float(first[0][1:18]) - float(second[0][1:18])
    moved = [f"({float(line[1:18]) + shift_s:.6f}) can1 {line.split()[2]}" for line in second]
    path = tmp_path / "both.log"
    path.write_text("\n".join(sorted([*first, *moved], key=lambda line: float(line[1:18]))) + "\n", encoding="ascii")
    assert read(path).modules == ("7E8", "7E8-bus1")
    assert relearn("settle", path, "--sheet", "demo-car").verdict == "no"
    assert relearn("settle", path, "--sheet", "demo-car", "--module", "7E8-bus1").verdict == "yes"


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "utf-8"])
def test_a_terminal_that_cannot_show_every_letter_changes_no_verdict(encoding: str) -> None:
    files = [str(CAPTURES / name) for name in ("demo-before.log", "demo-after.log")]
    ran = subprocess.run(
        [sys.executable, "-m", "relearn", "identity", *files],
        env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}, capture_output=True, check=False,
    )  # fmt: skip
    assert (ran.returncode, ran.stderr) == (0, b"")


def test_a_reader_that_stops_early_changes_no_verdict() -> None:
    command = [
        sys.executable,
        "-m",
        "relearn",
        "ready",
        str(CAPTURES / "demo-ready-idle.log"),
        "--for",
        "idle-air-volume",
    ]
    ran = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert ran.stdout is not None
    ran.stdout.close()
    assert ran.wait(60) == 0


def test_what_nobody_foresaw_is_no_no(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("by a test\x1b[31m")

    monkeypatch.setattr("relearn.recording.read", broken)
    monkeypatch.delenv("RELEARN_TRACE", raising=False)
    ran = relearn("settle", CAPTURES / "demo-after.log")
    assert (ran.code, ran.out) == (2, "")
    assert "ZeroDivisionError: by a test\\x1b[31m" in ran.err


def test_letters_that_steer_a_terminal_are_shown_and_not_sent(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("\x1b[31mred,\u202eb\n1,2\n", encoding="utf-8")
    err = relearn("show", path).err
    assert err.count("\n") == 1
    assert err.rstrip("\n").isprintable()


@pytest.mark.parametrize("rows", [["5.5,13.0"] * 120, [f"{0.01 * at:.2f},13.0" for at in range(120)]])
def test_a_supply_over_no_time_cannot_tell(rows: list[str], tmp_path: Path) -> None:
    path = tmp_path / "meter.csv"
    path.write_text("\n".join(["Time (s),Battery voltage (V)", *rows]) + "\n", encoding="ascii")
    assert relearn("supply", path).verdict == "cannot tell"


@pytest.mark.parametrize("words", [
    ("supply", CAPTURES / "demo-after.log", "--low", "nan"), ("supply", CAPTURES / "demo-after.log", "--low", "14"),
    ("supply", CAPTURES / "demo-after.log", "--high", "inf"), ("show", CAPTURES / "cold.log", "--map", "nowhere.toml"),
    ("identity", CAPTURES / "demo-before.log", CAPTURES / "demo-after.log", "--expect", " "),
    ("report", "."), ("report", CAPTURES / "demo-job.toml", "--out", "."), ("show", "x" * 300 + ".log"),
])  # fmt: skip
def test_options_that_make_no_sense_are_refused(words: tuple[object, ...]) -> None:
    ran = relearn(*words)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.count("\n") == 1 and "not foreseen" not in ran.err


@pytest.mark.parametrize("text", ["x = " + "[" * 20000, "x = " + "9" * 5000, "\ufefftitle = 'x'\nevents = []\n"])
def test_a_job_file_made_to_break_a_reader(text: str, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    ran = relearn("report", path)
    assert ran.code == 2
    assert "not foreseen" not in ran.err and len(ran.err) < 500


def test_times_beyond_all_dates_are_no_wall_clock(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(
        "Time (s),Engine speed (rpm)\n" + "".join(f"{1.7e12 + at},700\n" for at in range(30)), encoding="ascii"
    )
    assert relearn("show", path).code == 0

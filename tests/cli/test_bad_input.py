"""What a user can hand in that cannot be used: one sentence on stderr naming the file, exit code 2, nothing on
stdout."""

import gzip
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.run import CAPTURES, relearn

GOOD = (CAPTURES / "demo-ready-pedal.log").read_bytes()
LINES = GOOD.splitlines(keepends=True)
REQUESTS = b"".join(line for line in LINES if b" 7E0#" in line or b" 7DF#" in line)
BROADCAST = b"(1700000000.000000) can0 123#0011223344556677\n(1700000000.100000) can0 123#0011223344556677\n"

BAD: dict[str, tuple[str, bytes, str]] = {
    "empty": ("a.log", b"", "empty"),
    "wrong suffix": ("a.png", GOOD, "a.png"),
    "no capture": ("a.log", b"Dear diary,\ntoday the idle was fine.\n", "a.log"),
    "binary noise": ("a.log", bytes(range(256)) * 40, "a.log"),
    "binary noise as BLF": ("a.blf", bytes(range(256)) * 40, "a.blf"),
    "binary noise as MF4": ("a.mf4", bytes(range(256)) * 40, "a.mf4"),
    "noise as CSV": ("a.csv", b"\x00\x01\x02\xff" * 100, "a.csv"),
    "0-byte gzip": ("a.log.gz", b"", "a.log.gz"),
    "gzip of nothing": ("a.log.gz", gzip.compress(b"", mtime=0), "empty"),
    "broken gzip": ("a.log.gz", b"\x1f\x8b\x08\x00" + bytes(range(256)), "a.log.gz"),
    "time going backwards": ("a.log", b"".join(reversed(LINES)), "line "),
    "no diagnostics": ("a.log", BROADCAST, "none of its 2 frames"),
    "only requests": ("a.log", REQUESTS, "only requests"),
    "no time column": ("a.csv", b"Engine speed (rpm),Coolant (C)\n700,80\n", "time"),
    "header only": ("a.csv", b"Time (s),Engine speed (rpm)\n", "a.csv"),
}


def sentence(err: str) -> bool:
    return err.startswith("relearn: ") and err.count("\n") == 1 and err.endswith(".\n") and "Traceback" not in err


@pytest.mark.parametrize("name", BAD)
@pytest.mark.parametrize(
    "command",
    [("show",), ("ready", "--for", "idle-air-volume"), ("settle",), ("supply",), ("air",)],
    ids=lambda words: words[0],
)
def test_a_file_that_cannot_be_used(name: str, command: tuple[str, ...], tmp_path: Path) -> None:
    file, content, why = BAD[name]
    path = tmp_path / file
    path.write_bytes(content)
    ran = relearn(command[0], path, *command[1:])
    assert (ran.code, ran.out) == (2, ""), ran.err
    assert sentence(ran.err), ran.err
    assert file in ran.err and why in ran.err
    assert path.read_bytes() == content


@pytest.mark.parametrize(
    "words",
    [
        ("show", "nowhere.log"),
        ("show", "."),
        ("report", "nowhere.toml"),
        ("sheet", "check", "nowhere.toml"),
        ("settle", CAPTURES / "demo-after.log", "--sheet", "nowhere.toml"),
        ("ready", CAPTURES / "demo-after.log", "--for", "oil-change"),
        ("ready", CAPTURES / "demo-after.log", "--for", "idle-air-volume", "--module", "7EA"),
        ("plan", "--after", "carwash"),
        ("supply", CAPTURES / "demo-after.log", "--low", "14", "--high", "13"),
        ("show", CAPTURES / "demo-after.log", "--dbc", "nowhere.dbc"),
        ("show", CAPTURES / "sagging-supply.csv", "--map", "nowhere.toml"),
    ],
)
def test_what_is_not_there_or_not_known(words: tuple[object, ...]) -> None:
    ran = relearn(*words)
    assert (ran.code, ran.out) == (2, ""), ran.err
    assert "Traceback" not in ran.err and ran.err.count("\n") == 1


def test_usage_errors_exit_with_2() -> None:
    assert relearn("ready").code == 2
    assert relearn("nonsense").code == 2


@pytest.mark.parametrize("stop", [KeyboardInterrupt, EOFError])
def test_stopped_by_hand_is_no_verdict(stop: type[BaseException], monkeypatch: pytest.MonkeyPatch) -> None:
    """1 would be a no."""

    def stopped(*_: object) -> None:
        raise stop

    monkeypatch.setattr("relearn.recording.read", stopped)
    ran = relearn("ready", CAPTURES / "cold.log", "--for", "idle-air-volume")
    assert (ran.code, ran.out, ran.err) == (2, "", "relearn: ended before there was an answer.\n")


def test_a_malformed_line_inside_is_counted_and_the_rest_is_judged(tmp_path: Path) -> None:
    path = tmp_path / "a.log"
    path.write_bytes(b"".join([*LINES[:50], b"this is no frame\n", *LINES[50:]]))
    ran = relearn("ready", path, "--for", "accelerator-closed-position")
    assert ran.verdict == "yes"
    assert "line 51" in ran.out or "51" in relearn("show", path).out


def test_a_cut_last_line_is_told_and_the_rest_is_judged(tmp_path: Path) -> None:
    path = tmp_path / "a.log"
    path.write_bytes(b"".join(LINES[:-1]) + LINES[-1][:12])
    ran = relearn("ready", path, "--for", "accelerator-closed-position", "--json")
    assert ran.verdict == "yes"
    assert "truncated-last-line" in ran.out


@pytest.fixture
def sheet(tmp_path: Path) -> Callable[[str], Path]:
    def write(text: str) -> Path:
        path = tmp_path / "sheet.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_a_misspelt_key_in_a_sheet(sheet: Callable[[str], Path]) -> None:
    path = sheet('title = "x"\nsource = "y"\n[idle]\ntarget_rmp = 650\n')
    checked, used = relearn("sheet", "check", path), relearn("settle", CAPTURES / "demo-after.log", "--sheet", path)
    for ran in (checked, used):
        assert ran.code == 2
        assert "idle.target_rmp" in ran.err and "target_rpm" in ran.err


def test_every_mistake_in_a_sheet_is_named(sheet: Callable[[str], Path]) -> None:
    ran = relearn(
        "sheet", "check", sheet('title = "x"\nsource = "y"\n[idle]\ntarget_rmp = 650\n[warm]\ncoolant_c = [100, 70]\n')
    )
    assert ran.code == 2
    assert len(ran.err.splitlines()) == 2
    assert "warm.coolant_c" in ran.err


def test_a_good_sheet() -> None:
    assert relearn("sheet", "check", "demo-car").code == 0


def test_a_job_that_names_a_missing_capture(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text('title = "x"\nevents = ["reprogrammed"]\n[captures]\nbefore = "gone.log"\n', encoding="utf-8")
    ran = relearn("report", job)
    assert (ran.code, ran.out) == (2, "")
    assert "captures.before" in ran.err and "gone.log" in ran.err
    assert [path.name for path in tmp_path.iterdir()] == ["job.toml"]


def test_a_job_with_a_misspelt_key(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text('title = "x"\nevents = ["reprogrammed"]\n[capture]\nbefore = "gone.log"\n', encoding="utf-8")
    ran = relearn("report", job)
    assert ran.code == 2
    assert "'capture'" in ran.err

"""The captures in the repository are what the model writes, and every scenario says what it shows."""

import re
import tomllib
from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner

from relearn.errors import ProcedureError
from relearn.practice.__main__ import main
from relearn.practice.scenario import Scenario, polls, read, scenario, written
from relearn.practice.write import content, differs, write

CAPTURES = Path(__file__).parents[2] / "captures"


@pytest.mark.parametrize("name", written())
def test_a_fresh_run_writes_the_same_bytes(name):
    assert not differs(CAPTURES, scenario(name))


def test_a_changed_file_is_named_and_fails_the_check(tmp_path, monkeypatch):
    monkeypatch.setattr("relearn.practice.__main__.every", lambda: iter([scenario("demo-ready-pedal")]))
    path = write(tmp_path, scenario("demo-ready-pedal"))
    assert CliRunner().invoke(main, [str(tmp_path), "--check"]).exit_code == 0
    path.write_bytes(path.read_bytes()[:-1])
    result = CliRunner().invoke(main, [str(tmp_path), "--check"])
    assert (result.exit_code, result.output) == (1, "differs: demo-ready-pedal.log\n")


def test_every_file_is_described_and_small():
    readme = (CAPTURES / "README.md").read_text(encoding="utf-8")
    for name in written():
        path = CAPTURES / scenario(name).file
        assert f"`{path.name}`" in readme
        assert path.stat().st_size < 1_500_000


def test_every_capture_has_an_expected_answer():
    rows = tomllib.loads((CAPTURES / "expected.toml").read_text(encoding="utf-8"))["expected"]
    assert {row["verdict"] for row in rows} == {"yes", "no", "cannot tell"}
    assert {file for row in rows for file in row["files"]} == {scenario(name).file for name in written()}


def test_lines_are_in_the_form_of_candump():
    lines = content(scenario("demo-ready-pedal")).decode("ascii").splitlines()
    assert all(re.fullmatch(r"\(\d{10}\.\d{6}\) can0 [0-9A-F]{3}#[0-9A-F]{16}", line) for line in lines)
    assert lines == sorted(lines, key=lambda line: line[:19])


def test_answers_come_after_two_to_twenty_milliseconds():
    """ISO 15765-4: P2 is at most 50 ms; a tester's usual latency is shorter (common practice, no source)."""
    lines = content(scenario("demo-ready-pedal")).decode("ascii").splitlines()
    frames = [(int(line[1:11]) * 1_000_000 + int(line[12:18]), *line[20:].split()[1].split("#")) for line in lines]
    waits_us = [later[0] - asked[0] for asked, later in pairwise(frames) if (asked[1], later[1]) == ("7DF", "7E8")]
    assert len(waits_us) > 200
    assert 2_000 <= min(waits_us) < max(waits_us) <= 20_000


def test_the_long_stretch_of_polling_asks_what_it_should_as_often_as_it_should():
    text = content(scenario("lacking-parameter")).decode("ascii")
    asked = {pid: text.count(f"7DF#0201{pid:02X}") / 60.0 for pid in (0x0C, 0x11, 0x49, 0x10, 0x06, 0x05, 0x01, 0x42)}
    assert asked[0x0C] == pytest.approx(10.0, rel=0.05)
    assert all(2.0 <= round(asked[pid], 1) <= 5.0 for pid in (0x11, 0x49, 0x10, 0x06))
    assert asked[0x05] == pytest.approx(1.0, rel=0.05)
    assert asked[0x01] == pytest.approx(1.0, rel=0.1)
    assert asked[0x42] == 0.0


def test_no_request_is_longer_than_one_frame():
    assert all(1 + 2 * len(ask.ask) <= 7 for ask in polls()["by_identifier"])


def test_a_misspelt_input_is_named(tmp_path):
    path = tmp_path / "wrong.toml"
    path.write_text(
        'title="t"\nshows="s"\nseed=1\nstart=2026-01-01T00:00:00Z\nduration_s=1\nfile="x"\n'
        "[[event]]\nat_s=0\nset={ pedall = 1 }\n",
        encoding="utf-8",
    )
    with pytest.raises(ProcedureError, match="the model has no input pedall"):
        read(Scenario, path)
